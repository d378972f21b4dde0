"""Whole visits with the network cut at every step in turn: what was typed is what is recorded.

They run in the devices of the walk (`walked_device.js`). STANDING_CUTS=every cuts at every step, STANDING_CUTS=3,7 at
those; an ordinary run at one that is drawn, and at those where something was lost before. What fails names its cut.
"""

from __future__ import annotations

import os
import random
from decimal import Decimal

import pytest
from django.db import transaction

from audit.models import VisitDraft
from audit.pages.visit.guide.job import READING_KEY
from records import clock
from records.models import (
    CounterReading,
    FittedPart,
    Job,
    JobConclusion,
    Reading,
    TaskOutcome,
    VerificationTest,
    Visit,
)
from tests import visit_world
from tests import world as made
from tests.kept import kept

from . import walked_device
from .test_browser import browser  # noqa: F401 (fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

CUTS = os.environ.get("STANDING_CUTS", "")
MOST_TAPS, MOST_TYPED = 45, 60
PLANNED = [code for code, *_ in visit_world.PLAN]
PLACE = {code: position for code, position, *_ in visit_world.PLAN}
LOT = {position: f"L-{number}" for position, _, number in visit_world.PARTS}
BUTTONS = ("Go on", "Done: replaced", "Done as planned")


@kept
def three_kettles() -> walked_device.Taken:
    """Three units of one plan, and what a phone took along of them."""
    built = visit_world.make()
    others = [visit_world.another(built, *each) for each in (("Second", "INV-K2"), ("Third", "INV-K3"))]
    units = [built.unit, *others]
    with clock.at(made.NOW):
        return walked_device.taken_along(built.world, units, [units[:1], units], PLANNED)


@pytest.fixture
def kettles(browser, settings, tmp_path):  # noqa: F811
    """A phone to work on them."""
    settings.BLOBS_DIR = tmp_path
    with walked_device.opened_for(browser, three_kettles) as opened:
        yield opened


class Phone:
    """One finger on device A, that counts its taps, and its characters with the key to the next field among them."""

    def __init__(self, at) -> None:
        self.at, self.taps, self.typed, self.in_field = at, 0, 0, False
        self.units: list[dict] = []  # of each unit of the visit what was done: line of the plan to lot and fate or ""

    @property
    def told(self) -> dict:
        return self.at.told["A"]

    def choose(self, name: str, value: str) -> None:
        assert self.at.call("type", "A", name, value), (name, value, self.told["main"][:500])
        self.taps += 1
        self.in_field = False

    def type(self, name: str, text: str) -> None:
        assert self.at.call("type", "A", name, text), (name, text, self.told["main"][:500])
        self.typed += len(text) + self.in_field
        self.taps += not self.in_field
        self.in_field = True

    def press(self, *words: str) -> None:
        self.in_field = False
        self.taps += 1
        was = self.told["url"]
        assert any(self.at.call("press", "A", each) for each in words), (words, self.told["main"][:500])
        assert self.told["url"] != was or not self.told["isOpen"] or "Record" in words[0], self.told["main"][:1500]

    def fields(self) -> dict[str, tuple[str, list[str]]]:
        return {name: (kind, values) for name, kind, values in self.at.call("fields", "A")}

    @property
    def step(self) -> str:
        return self.told["url"].split("?")[0].rstrip("/").rpartition("/")[2]


def work(phone: Phone, ending: dict[str, str], reason: str = "planned") -> None:
    """Do what the page asks, and go on."""
    fields, step = phone.fields(), phone.step
    if step == "identify":
        phone.units.append({})
    elif step.startswith("task-"):
        phone.units[-1][step.removeprefix("task-")] = "scrapped" if "task-replace" in step else ""
    readings = [name for name in fields if READING_KEY.fullmatch(name)]
    if step == "identify":
        phone.choose("plate", "same")
        phone.choose("positions", "same")
        phone.type("cycles", "5012")
    elif step == "safe":
        phone.choose("reason", reason)
        phone.choose("contamination", "declared clean")
        for name, (kind, _) in fields.items():
            if kind == "checkbox" and name.startswith("s_") and not name.endswith("_none"):
                phone.choose(name, "on")
        if reason == "breakdown":
            phone.type("complaint", "Stops in drying")
    elif step in ("found", "prove"):
        for name, value in zip(readings, ("134.4", "211") if step == "found" else ("134.8", "212"), strict=False):
            phone.type(name, value)
        if step == "prove":
            phone.choose("V1", "pass")
    elif step.startswith("task-replace"):
        phone.choose("lot", fields["lot"][1][0])
        phone.choose("old_part", "scrapped")
    elif step == "end":
        for name, value in ending.items():
            (phone.type if fields[name][0] in ("text", "textarea") else phone.choose)(name, value)
    phone.press(*BUTTONS)


RELEASED = {
    "conclusion": "released",
    "technician": "on",
    "clinic": "returned to use",
    "clinic_name": "Ana Coordinator",
}
LEFT = {"conclusion": "not released", "reason": "Valve is on order"}
MOST_STEPS = 60


def visit(
    phone: Phone, units: list, ending: dict, cut_at: int, for_steps: int, reason: str = "planned", do=work
) -> int:
    """Begin, do every page and record; without a signal from the step `cut_at` on, for so many. Returns the steps."""
    phone.at.call("visit", "A", phone.at.server.address)
    place = 0
    is_along = False
    while place < MOST_STEPS:
        if place == cut_at:
            phone.at.call("network", "A", False)
        if place == cut_at + for_steps:
            phone.at.call("network", "A", True)
        if place == 0:
            for unit in units:
                assert phone.at.call("choose_unit", "A", str(unit.ref))
            phone.press("Begin")
        elif phone.step == "record":
            phone.press("Record the visit")
            place += 1
            break
        else:
            do(phone, ending, reason)
        place += 1
        if not is_along and (draft := VisitDraft.objects.filter(recorded_at=None).first()):
            owner = str(phone.at.server.world.people[walked_device.OWNER].ref)
            phone.at.call("keep", "A", owner, phone.at.server.pages_of(draft))
            is_along = True
        phone.at.wait(5)
    phone.at.call("network", "A", True)
    phone.at.wait(70)
    return place


def is_on_record(phone: Phone, units: list, conclusion: str, visits: int = 1) -> None:
    """Row by row what was tapped and typed, once."""
    assert Visit.objects.filter(happened_on=made.TODAY).count() == visits
    jobs = list(Job.objects.filter(visit__happened_on=made.TODAY).order_by("pk"))
    assert [job.unit for job in jobs] == units * visits and len(phone.units) == len(jobs)
    assert all(set(done) == set(PLANNED) for done in phone.units[: len(units)])
    for job, done in zip(jobs, phone.units, strict=True):
        outcomes = [(o.plan_line.code, o.outcome) for o in TaskOutcome.objects.filter(job=job)]
        assert sorted(outcomes) == sorted((code, "done") for code in done)
        parts = [(p.position.code, p.lot, p.old_part) for p in FittedPart.objects.filter(job=job)]
        fitted = [(PLACE[code], LOT[PLACE[code]], fate) for code, fate in done.items() if fate]
        assert sorted(parts) == sorted(fitted)
        read = {(r.as_found, r.as_left) for r in Reading.objects.filter(job=job)}
        assert read == {(Decimal("134.4"), Decimal("134.8")), (Decimal(211), Decimal(212))}
        assert {(t.code, t.result) for t in VerificationTest.objects.filter(job=job)} == {("V1", "pass")}
        assert CounterReading.objects.get(job=job).shown == Decimal(5012)
        assert [done.split(" at ")[0] for _, done in job.make_safe].count("done") >= 10
    concluded = [JobConclusion.objects.get(job=job).conclusion for job in jobs[-len(units) :]]
    assert concluded == [conclusion] * len(units)


def nothing_waits(phone: Phone) -> None:
    """Also not once a page of visits is opened again, which puts away what the queue sent."""
    phone.at.call("visit", "A", phone.at.server.address)
    kept = [key for key in phone.told["storage"] if key.startswith("visit:")]
    assert (phone.told["items"], kept) == ([], []), phone.told["main"][:1000]


def told_again(at, story, cut_at: int, for_steps: int) -> None:
    """One telling of a story, undone afterwards."""
    print(f"without a signal from step {cut_at} on, for {for_steps}")
    undo = transaction.atomic()
    undo.__enter__()
    try:
        clock.stand_at(made.NOW)
        at.start()
        story(Phone(at), cut_at, for_steps)
        at.is_clean = True
    finally:
        transaction.set_rollback(True)
        undo.__exit__(None, None, None)


def cuts(steps: int, some: tuple[int, ...] = ()) -> list[tuple[int, int]]:
    """(at which step the signal goes, for how many steps): `some` in every run."""
    if CUTS and CUTS != "every":
        return [(int(k), long) for k in CUTS.split(",") for long in (1, MOST_STEPS)]
    if CUTS:
        return [(k, long) for k in range(steps) for long in (1, MOST_STEPS)]
    drawn = (random.SystemRandom().randrange(steps), random.SystemRandom().choice((1, MOST_STEPS)))
    return [*((k, 1) for k in some), drawn]


def test_a_two_year_maintenance_of_one_unit_is_recorded_wherever_the_signal_goes(kettles):
    def story(phone, cut_at, for_steps):
        steps = visit(phone, kettles.units[:1], RELEASED, cut_at, for_steps)
        print(f"{steps} steps, taps: {phone.taps}, typed characters: {phone.typed}")
        is_on_record(phone, kettles.units[:1], "released")
        nothing_waits(phone)
        assert phone.taps <= MOST_TAPS and phone.typed <= MOST_TYPED, (phone.taps, phone.typed)

    for cut in [(MOST_STEPS, 0), *cuts(15, (12,))]:
        told_again(kettles, story, *cut)


@pytest.mark.skipif(not CUTS, reason="takes long: on demand")
def test_three_units_of_one_visit_are_recorded_wherever_the_signal_goes(kettles):
    def story(phone, cut_at, for_steps):
        visit(phone, kettles.units, RELEASED, cut_at, for_steps)
        is_on_record(phone, kettles.units, "released")
        nothing_waits(phone)

    for cut in cuts(41):
        told_again(kettles, story, *cut)


def test_a_breakdown_left_out_of_use_and_the_visit_that_returns(kettles):
    def story(phone, cut_at, for_steps):
        units = kettles.units[:1]
        steps = visit(phone, units, LEFT, cut_at, for_steps, reason="breakdown")
        is_on_record(phone, units, "not released")
        job = Job.objects.get(visit__happened_on=made.TODAY)
        assert job.complaint == "Stops in drying"
        assert JobConclusion.objects.get(job=job).reason == "Valve is on order"
        nothing_waits(phone)
        visit(phone, units, RELEASED, cut_at - steps, for_steps, reason="planned")
        is_on_record(phone, units, "released", visits=2)
        nothing_waits(phone)

    for cut in cuts(28):
        told_again(kettles, story, *cut)
