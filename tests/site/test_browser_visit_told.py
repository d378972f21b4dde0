"""What a device tells without a signal of the tests that the work asks and of how it may end: as the judge says it.

| answered on the device | told there |
| --- | --- |
| a seal renewed | class routine, V1 asked and missing; pending or not released |
| the same, V1 passed with its values | nothing missing; released is offered |
| the same, V1 failed | only not released |
| a part to be replaced that is not there, all else proven | with a limit, or not released |
| a name that nobody on the device knows | that it is not known there; every ending, judged when sent |
"""

from __future__ import annotations

import json
import random
from types import SimpleNamespace

import pytest

from audit.facts.names import TESTS
from audit.pages.opened import opened
from audit.pages.visit.drafts import DraftedVisit, blank
from audit.pages.visit.guide.job import reading_key
from audit.pages.visit.units import VisitUnit
from records import access, clock
from records.forms import EntryContext
from records.log import may_be_logged
from tests import visit_world

from .offline_page import signed_in
from .test_browser import browser  # noqa: F401 (fixture)
from .test_browser_visit import kettle, plain_phone  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

CASES = 240
OUTCOMES = ("done", "done", "done", "not due", "not possible")
DECISIONS = ("", "", "leave", "clean", "adjust", "replace", "repair kit", "part awaited", "condemn")


@pytest.fixture
def unit(kettle):  # noqa: F811
    """Makes the unit of the visit with what is typed of it."""
    account = kettle.world.people["technician"]
    clinic = may_be_logged.clinic_with_zone(kettle.world.clinic.slug)
    ground = EntryContext(clinic, account, access.rights(account, clinic), may_be_logged.zone_today(clinic))
    request = SimpleNamespace(GET={}, user=account, headers={})
    page = opened(request, ground, str(kettle.unit.ref))
    first = DraftedVisit(request, ground, blank(ground, [page.facts.units[0]], ""), page).units[1]
    lots, boxes = list(first.lots), {"biological": [], "chemical": []}

    def make(held: dict) -> VisitUnit:
        return VisitUnit(first.about, 1, held, technician="P. T.", now=clock.now(), lots=lambda: lots,
                         boxes=boxes.__getitem__, kits=list, asked=list)  # fmt: skip

    return make


def typed(draw: random.Random, unit) -> dict:  # noqa: F811
    """Answers as they may be typed, complete and in order: what is refused on a page never comes to the last one."""
    plain = unit({})
    pages = {"safe": {"reason": draw.choice(["planned", "planned", "breakdown", "installation"])}}
    origins = ["", *(p.row.origin for p in plain.about.unit.positions)]
    for code in draw.sample(list(plain.lines), draw.randint(0, 4)):
        pages[f"task-{code}"] = _task(draw, plain, plain.lines[code].action == "replace")
    if draw.random() < 0.4:
        said = {"what": "Look", "action": draw.choice(["inspect", "replace", "calibrate", "clean"])}
        pages["extra-1"] = said | _task(draw, plain, False) | {"position": draw.choice(origins)}
    pages["found"], pages["prove"] = _readings(draw, plain)
    for code in draw.sample(list(TESTS), draw.randint(0, 6)):
        pages["prove"][code] = draw.choice(["pass", "pass", "pass", "fail", "not applicable"])
        if draw.random() < 0.5:
            pages["prove"][f"{code}_value"] = draw.choice(["135.1 °C", "as asked"])
    for code in ("V1", "V4"):
        if pages["prove"].get(code) and draw.random() < 0.3:
            whole = {"temperature_low": "134.5", "band_low": "134", "minutes": "4", "minutes_needed": "3.5"}
            pages["prove"] |= {f"{code}_{k}": v for k, v in draw.sample(list(whole.items()), draw.randint(1, 4))}
    if draw.random() < 0.4:
        pages["end"] = {"class_stated": draw.choice("ABCX"), "class_reason": draw.choice(["", "as agreed"])}
    return pages


def _task(draw: random.Random, plain, replaces: bool) -> dict:
    said = {"outcome": draw.choice(OUTCOMES), "found": "worn", "grade": "1", "reason": "no time", "old_part": "kept"}
    said["decision"] = draw.choice(DECISIONS)
    if replaces and said["outcome"] == "done" and said["decision"] == "part awaited":
        said["outcome"] = "not possible"
    part = (replaces and said["outcome"] == "done") or said["decision"] in ("replace", "repair kit")
    if part and said["decision"] != "part awaited":
        said |= draw.choice([
            {"lot": str(draw.choice(plain.lots).origin)}, {"part_name": "Gasket 17", "lot_state": "not printed"},
            {"part_name": "Gasket 17", "lot_state": "not printed", "quantity": "0"},
        ])  # fmt: skip
    if said["decision"] == "part awaited":
        said["bring"] = "Gasket 17"
    return {name: value for name, value in said.items() if value}


def _readings(draw: random.Random, plain) -> tuple[dict, dict]:
    found, left = {}, {}
    for reading in plain.readings:
        inside, outside = ("134.5", "131") if reading.unit_of_measure == "°C" else ("210", "150")
        for page in (found, left):
            if draw.random() < 0.5:
                page[reading_key(reading)] = draw.choice([inside, inside, outside])
    if draw.random() < 0.3:
        found |= {"x0_quantity": draw.choice(["earth bond", "exposure time"]), "x0_unit_of_measure": "u"}
        left["x0"] = "3"
        if draw.random() < 0.5:
            found |= {"x0_lower": draw.choice(["1", "5"]), "x0_limit_source": "booklet"}
    return found, left


def test_the_device_tells_what_the_judge_says(plain_phone, live_server, kettle, unit):  # noqa: F811
    phone = plain_phone
    phone.set_default_navigation_timeout(60000)
    signed_in(phone, live_server, kettle.world.people["technician"])
    phone.goto(f"{live_server.url}/clinic/{kettle.world.clinic.slug}/visit/of/{kettle.unit.ref}/end/")
    draw, seen, checked = random.Random(20), set(), 0
    for _ in range(CASES):
        pages = typed(draw, unit)
        held = unit(pages)
        if any(form.errors for page, form in held.forms.items() if page not in ("safe", "identify")):
            continue  # refused at its page, on the device as on the server
        proof = held.proof
        here = phone.evaluate(
            "pages => VisitTold.amountTo(JSON.parse(document.querySelector('form[data-visit]').dataset.told), pages)",
            json.loads(json.dumps(pages)),
        )
        if here["unsure"]:
            assert set(here["unsure"]) <= {"Look"}, here["unsure"]
            continue
        told = pages, here
        assert here["endings"] == list(proof.endings), told
        assert here["letter"] == (proof.work.repair_class or "A"), told
        assert here["asked"] == list(proof.codes), told
        assert [word.split()[0] for word in here["missing"]] == [word.split()[0] for word in proof.missing], told
        assert sorted(here["failed"]) == sorted(proof.work.failed), told
        assert here["awaited"] == list(proof.awaited), told
        assert len(here["outside"]) == len(proof.outside), told
        assert here["why"].split(":")[0] == proof.why_not.split(":")[0], told
        seen.add((here["letter"], tuple(here["endings"])))
        checked += 1
    assert checked > CASES / 2 and len(seen) > 8, (checked, seen)


def test_a_name_that_the_device_does_not_know_is_told_and_decides_nothing(plain_phone, live_server, kettle, unit):  # noqa: F811
    phone = plain_phone
    assert visit_world.PLAN
    phone.set_default_navigation_timeout(60000)
    signed_in(phone, live_server, kettle.world.people["technician"])
    phone.goto(f"{live_server.url}/clinic/{kettle.world.clinic.slug}/visit/of/{kettle.unit.ref}/end/")
    said = {"outcome": "done", "part_name": "Flux thing", "lot_state": "not printed", "old_part": "kept"}
    here = phone.evaluate(
        "pages => VisitTold.amountTo(JSON.parse(document.querySelector('form[data-visit]').dataset.told), pages)",
        {"task-replace-gasket": said},
    )
    assert here["unsure"] == ["flux thing"]
