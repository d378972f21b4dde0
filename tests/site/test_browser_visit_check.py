"""The device refuses on a page of a visit what the server would refuse there, and nothing else: both are asked."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from audit.models import VisitDraft
from records import log
from tests import visit_world
from tests import world as made

from .offline_page import signed_in
from .test_browser import browser  # noqa: F401 (fixture)
from .test_browser_visit import kettle, plain_phone  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

AWAITED = {"decision": "part awaited", "grade": "2", "found": "torn"}
BAND = {"V1_band_low": "134", "V1_band_high": "137", "V1_minutes_needed": "3.5"}
SAFE = {"reason": "planned", "contamination": "declared clean"}
# Page to what is typed on it; K stands for the first reading asked there, a temperature from 134 to 137 °C.
TYPED = {
    "identify": [
        {}, {"plate": "same", "positions": "same"}, {"plate": "same", "positions": "same", "cycles": "50,5"},
        {"plate": "same", "positions": "same", "cycles": "50.55"},
        {"plate": "same", "positions": "same", "cycles": "-5"},
        {"plate": "same", "positions": "same", "note": "x" * 501},
        {"plate": "same", "positions": "same", "cycles": "12x"},
        {"plate": "same", "positions": "same", "cycles": "4099"},
        {"plate": "same", "positions": "same", "cycles": "4100"},
        {"plate": "same", "positions": "same", "cycles": "07", "cycles_why": "unknown"},
        {"plate": "same", "positions": "same", "cycles": "7", "cycles_add": "4100"},
    ],
    "safe": [
        {}, SAFE, SAFE | {"reason": "breakdown"}, SAFE | {"s_cool": "on", "s_cool_no": "hot"},
        SAFE | {"s_cool_at": "25:00"},
    ],
    "found": [
        {}, {"K": "134,9"}, {"K": "134.9"}, {"K": ".5"}, {"K": "1."}, {"K": "134.99999"}, {"K": "12345678901"},
        {"K": "1234567890.1234"}, {"x0_as_found": "3"}, {"x0_lower": "3", "x0_quantity": "resistance"},
        {"x1_upper": "a", "x1_quantity": "b"}, {"x2_as_found": "1", "x2_quantity": "q", "x2_unit_of_measure": "Ω"},
        {"K_with": "2"}, {"K_with": "2", "instrument2": "G2"}, {"x1_with": "3", "x1_hot": "on"},
        {"calibration_due": "2026-02-30"}, {"calibration_due": "2026-02-28"}, {"instrument": "i" * 121},
    ],
    "task-inspect-latch": [
        {}, {"outcome": "done"}, {"outcome": "deferred"}, {"outcome": "not possible", "reason": "no key"},
        {"outcome": "done", "decision": "replace"},
        {"outcome": "done", "decision": "clean", "grade": "0", "found": "dry"},
        {"outcome": "done", "lot_printed": "Z-1"}, {"outcome": "done", "receipt_lot": "R", "part_name": "p"},
        {"outcome": "done", "quantity": "1.5"}, {"outcome": "done", "quantity": "1000"},
        {"outcome": "done", "deferred_until": "2026-04-01"}, {"outcome": "done"} | AWAITED,
        {"outcome": "done", "bring": "Latch"} | AWAITED,
        {"outcome": "done", "bring": "Latch", "lot_printed": "Z"} | AWAITED,
    ],
    "task-replace-gasket": [
        {"outcome": "done", "bring": "Gasket"} | AWAITED,
        {"outcome": "not possible", "reason": "none here", "bring": "Gasket"} | AWAITED,
        {"outcome": "done"}, {"outcome": "not due"}, {"outcome": "done", "lot_printed": "l-g-17"},
        {"outcome": "done", "lot_printed": "L-F-2", "old_part": "kept"},
        {"outcome": "done", "lot_printed": "L-F-2", "lot_state": "printed", "part_name": "Other", "old_part": "kept"},
        {"outcome": "done", "lot_state": "not printed", "part_name": "Gasket", "old_part": "scrapped"},
        {"outcome": "done", "part_name": "Gasket", "old_part": "scrapped"},
    ],
    "extra-1": [{}, {"what": "Look", "action": "inspect", "outcome": "done"}, {"what": "w" * 121, "outcome": "done"}],
    "prove": [{}, {"V1": "not done"}, {"V2": "not applicable", "V2_why": "none"}, {"K": "1,2"}, {"V1_minutes": "x"},
        {"V1": "pass"} | BAND, {"V1": "pass", "V1_temperature_low": "133.9"} | BAND,
        {"V1": "pass", "V1_temperature_low": "134"} | BAND, {"V1": "fail", "V1_temperature_low": "133.9"} | BAND,
        {"V1": "pass", "V1_temperature_high": "133.9"} | BAND, {"V1": "pass", "V1_temperature_high": "137.1"} | BAND,
        {"V1": "pass", "V1_temperature_low": "137.1"} | BAND, {"V1": "pass", "V1_minutes": "3.49"} | BAND,
        {"V1": "pass", "V1_minutes": "+03.50"} | BAND, {"V1_minutes": "0"}, {"V1_minutes": "-1"},
        {"V4_temperature_low": "135", "V4_temperature_high": "134"}, {"V4_band_low": "135", "V4_band_high": "134"},
        {"V4_pressure_low": "210", "V4_pressure_high": "209"}, {"V4_pressure_high": "0"},
        {"V1": "pass", "K": "133.9"}, {"V1": "pass", "K": "134"}, {"V1": "pass", "K": "137.1"},
        {"V4": "pass", "K": "133.9"}, {"V1": "fail", "K": "133.9"}, {"V3": "pass", "K": "133.9"},
        {"x0": "3"}, {"b0_cycle_type": "wrapped"}, {"b1_place": "drain"}, {"b0_at": "8 o'clock"}, {"c0_type": "5"},
        {"c0_result": "pass"}, {"c2_type": "5", "c2_result": "not read"}, {"K": "134.6", "K_with": "4"},
        {"K_with": "4", "instrument4": "N"}, {"K_with": "2"}, {"K_with": "1"}, {"calibration_due4": "2026-05-01"},
    ],
    "end": [
        {}, {"conclusion": "pending"}, {"conclusion": "not released"},
        {"conclusion": "not released", "reason": "r"},
        {"conclusion": "pending", "technician": "on", "clinic": "refused", "acceptor": "Ana"},
        {"conclusion": "pending", "technician": "on", "clinic": "nobody present", "clinic_reason": "closed"},
        {"conclusion": "not released", "reason": "r", "class_stated": "B"},
        {"conclusion": "pending", "deadline": "no"}, {"conclusion": "released", "technician": "on"},
        {"conclusion": "limited", "limitation": "x"}, {"conclusion": "not worked on", "reason": "closed"},
        {"conclusion": "not released", "reason": "r", "clinic": "left out of use"},
        {"conclusion": "not released", "reason": "r", "clinic": "left out of use", "clinic_name": "Ana"},
        {"conclusion": "not released", "reason": "r", "clinic": "returned to use", "clinic_name": "Ana"},
        {"conclusion": "pending", "clinic": "left out of use", "clinic_name": "Ana"},
    ],
}  # fmt: skip


def with_an_expired_lot(kettle) -> list[dict]:  # noqa: F811
    """What is typed of a lot that expired yesterday: chosen, by its number, said to be in all the same."""
    world, part = kettle.world, kettle.lots["door-gasket"].part
    lot = log.log_part_lot(
        by=world.people["stores"], request_key=made.key(), owner=world.company, part=part, on=made.TODAY,
        receipt_lot="R-OLD", lot="OLD-9", expiry=made.TODAY - timedelta(days=1),
    )  # fmt: skip
    done = {"outcome": "done", "old_part": "kept"}
    typed = {"part_name": "gasket", "lot_printed": "X-1", "lot_state": "printed", "expiry": "2026-03-15"}
    named = [{"lot": str(lot.origin)}, {"lot_printed": "old-9"}, typed]
    return [*(done | each for each in named), *(done | each | {"expired_fitted": "on"} for each in named)]


def test_device_and_server_refuse_the_same_with_the_same_words(plain_phone, live_server, kettle):  # noqa: F811
    phone = plain_phone
    assert visit_world.PLAN
    technician = kettle.world.people["technician"]
    typed = TYPED | {"task-replace-gasket": TYPED["task-replace-gasket"] + with_an_expired_lot(kettle)}
    phone.set_default_navigation_timeout(60000)
    signed_in(phone, live_server, technician)
    phone.goto(f"{live_server.url}/clinic/{kettle.world.clinic.slug}/visit/of/{kettle.unit.ref}/identify/")
    at = phone.url.removesuffix("identify/")
    checked = 0
    for step, cases in typed.items():
        phone.goto(f"{at}{step}/")
        keys = phone.locator(".visit-reading input")
        key = keys.first.get_attribute("name") if keys.count() else ""
        for each in cases:
            data = {key + name[1:] if name[:1] == "K" else name: value for name, value in each.items()}
            here = phone.evaluate(
                "data => VisitCheck.problems("
                "JSON.parse(document.querySelector('form[data-visit]').dataset.rules), data)",
                data,
            )
            there = _refused_by_server(kettle, step, data)
            assert {one["name"] for one in here} == set(there), (step, each, here, there)
            same = [one for one in here if "at most" not in there[one["name"]] and "longer" not in one["message"]]
            assert all(one["message"] == there[one["name"]] for one in same), (step, each, here, there)
            checked += 1
    assert checked > 100 and VisitDraft.objects.count() == 0


def _refused_by_server(kettle, step: str, data: dict) -> dict[str, str]:  # noqa: F811
    """Field to message, by the form that the server checks the page with."""
    from types import SimpleNamespace

    from audit.pages.opened import opened
    from audit.pages.visit.drafts import DraftedVisit, blank
    from records import access
    from records.forms import EntryContext
    from records.log import may_be_logged

    account = kettle.world.people["technician"]
    clinic = may_be_logged.clinic_with_zone(kettle.world.clinic.slug)
    ground = EntryContext(clinic, account, access.rights(account, clinic), may_be_logged.zone_today(clinic))
    request = SimpleNamespace(GET={}, user=account, headers={})
    page = opened(request, ground, str(kettle.unit.ref))
    visit = DraftedVisit(request, ground, blank(ground, [page.facts.units[0]], ""), page)
    form = visit.units[1].form(step, json.loads(json.dumps(data)))
    return {name: str(messages[0]) for name, messages in form.errors.items()}
