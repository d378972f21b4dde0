"""The device refuses on a page of a visit what the server would refuse there, and nothing else: both are asked."""

from __future__ import annotations

import json

import pytest

from audit.models import VisitDraft
from tests import visit_world

from .offline_page import signed_in
from .test_browser import browser  # noqa: F401 (fixture)
from .test_browser_visit import kettle, phone  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SAFE = {"reason": "planned", "contamination": "declared clean"}
# Page to what is typed on it; K stands for the first reading asked there. Which endings the work allows is judged,
# and so is whether what was measured is a pass: no page asks that by itself.
TYPED = {
    "identify": [
        {}, {"plate": "same", "positions": "same"}, {"plate": "same", "positions": "same", "cycles": "50,5"},
        {"plate": "same", "positions": "same", "cycles": "50.55"},
        {"plate": "same", "positions": "same", "cycles": "-5"},
        {"plate": "same", "positions": "same", "note": "x" * 501},
        {"plate": "same", "positions": "same", "cycles": "12x"},
    ],
    "safe": [
        {}, SAFE, SAFE | {"reason": "breakdown"}, SAFE | {"s_cool": "on", "s_cool_no": "hot"},
        SAFE | {"s_cool_at": "25:00"},
    ],
    "found": [
        {}, {"K": "134,9"}, {"K": "134.9"}, {"K": ".5"}, {"K": "1."}, {"K": "134.99999"}, {"K": "12345678901"},
        {"K": "1234567890.1234"}, {"x0_as_found": "3"}, {"x0_lower": "3", "x0_quantity": "resistance"},
        {"x1_upper": "a", "x1_quantity": "b"}, {"x2_as_found": "1", "x2_quantity": "q", "x2_unit_of_measure": "Ω"},
        {"calibration_due": "2026-02-30"}, {"calibration_due": "2026-02-28"}, {"instrument": "i" * 121},
    ],
    "task-inspect-latch": [
        {}, {"outcome": "done"}, {"outcome": "deferred"}, {"outcome": "not possible", "reason": "no key"},
        {"outcome": "done", "decision": "replace"},
        {"outcome": "done", "decision": "clean", "grade": "0", "found": "dry"},
        {"outcome": "done", "lot_printed": "Z-1"}, {"outcome": "done", "receipt_lot": "R", "part_name": "p"},
        {"outcome": "done", "quantity": "1.5"}, {"outcome": "done", "quantity": "1000"},
    ],
    "task-replace-gasket": [
        {"outcome": "done"}, {"outcome": "not due"}, {"outcome": "done", "lot_printed": "l-g-17"},
        {"outcome": "done", "lot_printed": "L-F-2", "old_part": "kept"},
        {"outcome": "done", "lot_printed": "L-F-2", "lot_state": "printed", "part_name": "Other", "old_part": "kept"},
        {"outcome": "done", "lot_state": "not printed", "part_name": "Gasket", "old_part": "scrapped"},
        {"outcome": "done", "part_name": "Gasket", "old_part": "scrapped"},
    ],
    "extra-1": [{}, {"what": "Look", "action": "inspect", "outcome": "done"}, {"what": "w" * 121, "outcome": "done"}],
    "prove": [{}, {"V1": "not done"}, {"V2": "not applicable", "V2_why": "none"}, {"K": "1,2"}, {"V1_minutes": "x"}],
    "end": [
        {}, {"conclusion": "pending"}, {"conclusion": "not released"},
        {"conclusion": "not released", "reason": "r"},
        {"conclusion": "pending", "technician": "on", "clinic": "refused", "acceptor": "Ana"},
        {"conclusion": "pending", "technician": "on", "clinic": "nobody present", "clinic_reason": "closed"},
        {"conclusion": "not released", "reason": "r", "class_stated": "B"},
        {"conclusion": "pending", "deadline": "no"},
    ],
}  # fmt: skip


def test_device_and_server_refuse_the_same_fields_with_the_same_words(phone, live_server, kettle):  # noqa: F811
    assert visit_world.PLAN
    technician = kettle.world.people["technician"]
    signed_in(phone, live_server, technician)
    phone.goto(f"{live_server.url}/clinic/{kettle.world.clinic.slug}/visit/of/{kettle.unit.ref}/identify/")
    at = phone.url.removesuffix("identify/")
    checked = 0
    for step, cases in TYPED.items():
        phone.goto(f"{at}{step}/")
        keys = phone.locator(".visit-reading input")
        key = keys.first.get_attribute("name") if keys.count() else ""
        for each in cases:
            data = {key if name == "K" else name: value for name, value in each.items()}
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
    assert checked > 50 and VisitDraft.objects.count() == 0


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
