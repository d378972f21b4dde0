"""A kit of which one part stays unused, a loaner and back, a recall over three clinics, a new clinic with two units
of a template: what was typed is on record.

In the devices of the walk (`walked_device.js`), the network cut as in `test_browser_stories.py`.
"""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse

from records import clock, log
from records.log.kit_rules import kits_of
from records.models import (
    Agreement,
    Clinic,
    ClinicTerms,
    CounterReading,
    Fit,
    FittedPart,
    JobConclusion,
    Loan,
    LoanEnd,
    LoanerHere,
    PartLot,
    PartRecall,
    Placement,
    PlanLine,
    PoolUnit,
    Position,
    RecallTold,
    StockPlace,
    TaskOutcome,
    Unit,
    UnitEvent,
    UnitFromTemplate,
    Visit,
)
from tests import visit_world
from tests import world as made
from tests.kept import kept
from tests.records import template_world

from . import walked_device
from .test_browser import browser  # noqa: F401 (fixture)
from .test_browser_stories import (
    BUTTONS,
    MOST_STEPS,
    PLANNED,
    RELEASED,
    Phone,
    cuts,
    nothing_waits,
    told_again,
    visit,
    work,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

KIT = "Two-year kit"
CAME = date(2026, 2, 2)
FITTED = date(2026, 3, 2)


@kept
def keepers() -> walked_device.Taken:
    """A company of three clinics: a kit in the van, a loaner in the store, a gasket of one lot at each clinic."""
    built = visit_world.make()
    world = built.world
    with clock.at(made.NOW):
        who = {"by": world.people["stores"], "owner": world.company}
        stocked = {"receipt_lot": "R-9", "on": CAME}
        log.log_stock_place(**who, request_key=made.key(), name="Store", kind="store")
        keeper = world.people["technician"].full_name
        van = log.log_stock_place(**who, request_key=made.key(), name="Van 1", kind="van", keeper=keeper)
        parts = [
            log.log_part(**who, request_key=made.key(), name=name, component=component, number=number)
            for name, component, number in (
                ("Bag gasket", "gasket", "B-1"),
                ("Bag filter", "air filter", "B-2"),
                ("Soft gasket", "gasket", "S-1"),
            )
        ]  # fmt: skip
        kit = log.log_kit(**who, request_key=made.key(), name=KIT, components=[(parts[0], 1), (parts[1], 2)])
        lots = {row.origin: {"lot": f"LOT-{n}"} for n, row in enumerate(kits_of(world.company)[0].list)}
        log.receive_kit(**who, **stocked, request_key=made.key(), kit=kit, kits=1, place=van, lots=lots)
        soft = log.log_part_lot(
            **who, **stocked, request_key=made.key(), part=parts[2], lot="L-77", quantity=5, place=van
        )
        gasket = {"part": built.lots["door-gasket"].part, "receipt_lot": "R-OLD", "lot": "OLD-9", "on": CAME}
        log.log_part_lot(**who, **gasket, request_key=made.key(), quantity=1, place=van, expiry=made.TODAY)
        _loaner_in_store(world)
        for clinic, unit in _three_clinics(world):
            part = {"part_lot": soft, "action": "replaced on condition", "old_part": "scrapped"}
            job = {"unit": unit, "reason": "breakdown", "contamination": "declared clean", "parts": [part]}
            job |= {"complaint": "leaks", "conclusion": {"conclusion": "not released", "reason": "tests to come"}}
            log.log_visit(by=world.people["technician"], request_key=made.key(), clinic=clinic, on=FITTED, jobs=[job])
        return walked_device.taken_along(world, [built.unit], [[built.unit]], PLANNED, ("kit-1", "kit-2"))


def _loaner_in_store(world) -> None:
    log.log_pool_unit(
        by=world.people["dispatcher"], request_key=made.key(), owner=world.company, on=made.BEGIN, label="L-1",
        serial="INV-L1", template=template_world.template_of(world), place=StockPlace.objects.get(name="Store"),
    )  # fmt: skip


def _three_clinics(world) -> list[tuple]:
    third = made.clinic_of(world.people["coordinator"], "third", "Third Clinic")
    for clinic, by in ((third, "coordinator"), (world.other_clinic, "other-coordinator")):
        log.log_agreement(
            by=world.people[by], request_key=made.key(), clinic=clinic, company=world.company,
            effective_on=made.BEGIN,
        )  # fmt: skip
    unit = made.unit_at(third, world.people["coordinator"], "Third unit")
    return [(world.clinic, world.unit), (world.other_clinic, world.other_unit), (third, unit)]


@pytest.fixture
def at(browser, settings, tmp_path):  # noqa: F811
    settings.BLOBS_DIR = tmp_path
    with walked_device.opened_for(browser, keepers) as opened:
        yield opened


# ------------------------------------------------------------------------------------ a kit with one part unused


def with_the_kit(phone: Phone, ending: dict[str, str], reason: str) -> None:
    """Before the first task the bag is accounted for; two tasks take their part out of it."""
    step = phone.step
    if step.startswith("task-") and not phone.units[-1]:
        task = phone.told["url"]
        phone.at.call("visit", "A", re.sub(r"/task-[^/]*/", "/kit-1/", task))
        _account_for_the_bag(phone)
        phone.at.call("visit", "A", re.sub(r"/kit-1/|/task-[^/]*/", "/tasks/", phone.told["url"]))
        assert phone.at.call("follow", "A", "Account for a kit") and phone.step == "kit-2", phone.told["url"]
        phone.at.call("visit", "A", task)
        phone.units[-1]["kit"] = ""
    elif step in ("task-replace-gasket", "task-replace-filter"):
        phone.choose("from_kit", KIT)
        phone.press(*BUTTONS)
    else:
        work(phone, ending, reason)


def _account_for_the_bag(phone: Phone) -> None:
    fields = phone.fields()
    phone.choose("kit", KIT)
    for n, place in enumerate(("door-gasket", "air-filter")):
        phone.choose(f"k0p{n}_fate", "fitted")
        phone.choose(f"k0p{n}_lot", fields[f"k0p{n}_lot"][1][0])
        phone.choose(f"k0p{n}_old", "scrapped")
        phone.choose(f"k0p{n}_position", str(Position.objects.get(code=place, unit=phone.at.units[0]).origin))
    phone.choose("k0p2_fate", "left out")
    phone.choose("k0p2_lot", fields["k0p2_lot"][1][0])
    phone.press(*BUTTONS)


def test_a_kit_of_which_one_part_stays_unused_is_recorded_piece_by_piece(at):
    def story(phone, cut_at, for_steps):
        visit(phone, at.units, RELEASED, cut_at, for_steps, do=with_the_kit)
        job = Visit.objects.get(happened_on=made.TODAY).jobs.get()
        rows = FittedPart.objects.filter(job=job, kit=KIT).order_by("line")
        assert [(r.name, r.lot, r.quantity, r.kit_fate, r.old_part) for r in rows] == [
            ("Bag gasket", "LOT-0", 1, "fitted", "scrapped"), ("Bag filter", "LOT-1", 1, "fitted", "scrapped"),
            ("Bag filter", "LOT-1", 0, "left out", "not known"),
        ]  # fmt: skip
        others = FittedPart.objects.filter(job=job).exclude(kit=KIT)
        assert [(p.position.code, p.lot, p.old_part) for p in others] == [("fill-valve", "L-P-9", "scrapped")]
        assert sorted(o.plan_line.code for o in TaskOutcome.objects.filter(job=job)) == sorted(PLANNED)
        assert JobConclusion.objects.get(job=job).conclusion == "released"
        nothing_waits(phone)

    for cut in cuts(16):
        told_again(at, story, *cut)


# ------------------------------------------------------------------------------------ a lot that expires overnight


def with_the_old_lot(phone: Phone, ending: dict[str, str], reason: str) -> None:
    """The lot that was good as the pages were taken along is told at its step, and is in all the same."""
    if phone.step != "task-replace-gasket":
        work(phone, ending, reason)
        return
    phone.choose("lot", str(PartLot.objects.get(lot="OLD-9").origin))
    phone.choose("old_part", "scrapped")
    at = phone.told["url"]
    assert any(phone.at.call("press", "A", each) for each in BUTTONS)
    assert phone.told["url"] == at and "It expired on 2026-03-16. Fit another one" in phone.told["main"]
    phone.choose("expired_fitted", "on")
    phone.press(*BUTTONS)
    phone.units[-1]["replace-gasket"] = "scrapped"


def test_a_lot_that_expires_between_taking_along_and_fitting_is_told_at_its_step(at):
    def story(phone, cut_at, for_steps):
        at.now = made.NOW + timedelta(days=1)
        clock.stand_at(at.now)
        owner = str(at.server.world.people[walked_device.OWNER].ref)
        at.call("reset", at.now.timestamp() * 1000, list(walked_device.NAMES), owner, at.server.taken.along)
        visit(phone, at.units, RELEASED, cut_at, for_steps, do=with_the_old_lot)
        done = Visit.objects.get(happened_on=made.TODAY + timedelta(days=1))
        part = FittedPart.objects.get(job__visit=done, lot="OLD-9")
        assert (part.expiry, part.old_part, part.position.code) == (made.TODAY, "scrapped", "door-gasket")
        assert sorted(o.plan_line.code for o in TaskOutcome.objects.filter(job__visit=done)) == sorted(PLANNED)
        nothing_waits(phone)

    told_again(at, story, 0, MOST_STEPS)


# ------------------------------------------------------------------------------------ forms of the company


class Desk:
    """Somebody of the company at device A; of the forms sent in turn one is sent without a signal."""

    def __init__(self, phone: Phone, who: str, cut_at: int) -> None:
        self.phone, self.at, self.cut_at, self.sent = phone, phone.at, cut_at, 0
        self.at.server.sign_in("A", who)
        self.at.call("signed_in", "A")

    def send(self, page: str, /, button: str = "Record", **typed: str) -> None:
        self.at.call("visit", "A", page)
        for name, text in typed.items():
            assert self.at.call("type", "A", name, text), (name, self.phone.told["main"][:600])
        is_cut, self.sent = self.sent == self.cut_at, self.sent + 1
        self.at.call("network", "A", not is_cut)
        assert self.at.call("press", "A", button), self.phone.told["main"][:600]
        if is_cut:
            assert "Kept on this device, not recorded yet" in self.phone.told["main"], self.phone.told["main"][:600]
            self.at.call("network", "A", True)
        self.at.wait(70)
        assert self.phone.told["items"] == [], self.phone.told["main"][:1500]


def test_a_loaner_stands_in_and_comes_back(at):
    world = at.server.world
    unit, loaner = at.units[0], PoolUnit.objects.get()
    store = StockPlace.objects.get(name="Store")

    def story(phone, cut_at, _):
        desk = Desk(phone, "technician", cut_at)
        lend = f"{reverse('lend-loaner', args=[world.clinic.slug])}?unit={unit.ref}"
        desk.send(
            lend, pool_unit=str(loaner.ref), to_store=str(store.ref), room="Room 9", cycles="412", on="2026-03-13"
        )
        loan = Loan.objects.get()
        assert (loan.pool_unit, loan.clinic, loan.in_place_of) == (loaner, world.clinic, unit.ref)
        assert (loan.to_store, loan.happened_on) == (store, date(2026, 3, 13))
        here = Unit.objects.get(ref=loan.record)
        assert (here.serial, CounterReading.objects.get(unit=here).shown) == ("INV-L1", 412)
        assert Placement.objects.get(unit=here).room == "Room 9"
        assert LoanerHere.objects.get().instead_of == unit
        events = UnitEvent.objects.filter(unit=here).order_by("id")
        assert [e.kind for e in events] == ["loaner in", "withdrawn"]
        desk.send(reverse("loaner-back", args=["keepers", loaner.ref]), contamination="declared contaminated",
                  note="one tray is bent", brought_by="Van Driver", on="2026-03-16")  # fmt: skip
        end = LoanEnd.objects.get()
        assert (end.loan, end.place, end.contamination) == (loan, store, "declared contaminated")
        assert (end.note, str(end.brought_by), end.happened_on) == ("one tray is bent", "Van Driver", made.TODAY)
        assert [e.kind for e in UnitEvent.objects.filter(unit=here).order_by("id")][-1] == "loaner out"

    for cut_at, _ in cuts(2):
        told_again(at, story, cut_at, MOST_STEPS)


def test_a_recall_is_told_to_three_clinics(at):
    clinics = [each.clinic for each in Agreement.objects.filter(company=at.server.world.company).order_by("id")]
    assert len(clinics) == 3
    notice = {"part": "Soft gasket", "number": "S-1", "lot": "L-77", "issued_by": "Invented Works",
              "reason": "too soft", "action": "replace"}  # fmt: skip

    def story(phone, cut_at, _):
        desk = Desk(phone, "dispatcher", cut_at)
        desk.send(reverse("enter-part-recall", args=["keepers"]), **notice)
        row = PartRecall.objects.get()
        assert {name: getattr(row, name) for name in notice} == notice
        page = reverse("part-recall", args=["keepers", row.ref])
        desk.at.call("visit", "A", page)
        assert "3 open, 0 done" in phone.told["main"] and "2 left" in phone.told["main"], phone.told["main"][:800]
        for n, clinic in enumerate(clinics):
            assert clinic.name in phone.told["main"]
            told = {"told_to": f"Person {n}", "how": "telephone", "said": f"stops until {n}"}
            desk.send(reverse("recall-told", args=["keepers", row.ref, clinic.slug]), **told)
            desk.at.call("visit", "A", page)
        rows = RecallTold.objects.order_by("id")
        assert [(r.clinic, str(r.told_to), r.how, r.said) for r in rows] == [
            (clinic, f"Person {n}", "telephone", f"stops until {n}") for n, clinic in enumerate(clinics)
        ]
        assert "Not told yet" not in phone.told["main"]

    for cut_at, _ in cuts(4):
        told_again(at, story, cut_at, MOST_STEPS)


def test_a_new_clinic_begins_with_two_units_of_a_template(at):
    world = at.server.world
    template = PoolUnit.objects.get().template
    terms = {"programme": "dental", "address": "9 Invented Road", "time_zone": "Europe/Dublin", "week_start": "0",
             "regime": "ie"}  # fmt: skip
    typed = [
        {"label": "Steri 1", "serial": "INV-Q1", "room": "Cellar", "cycles": "412", "udi": "", "battery": "none"},
        {"label": "Steri 2", "serial": "INV-Q2", "room": "Room 2", "cycles": "90", "udi": "Q-2", "battery": "yes"},
    ]

    def story(phone, cut_at, _):
        desk = Desk(phone, "dispatcher", cut_at)
        told = {"name": "Quay Dental", "slug": "quay", "scope": "all sterilizers", "effective_on": "2026-03-13"}
        desk.send(reverse("open-clinic", args=["keepers"]), button="Open the record", **told, **terms)
        clinic = Clinic.objects.get(slug="quay")
        row = ClinicTerms.objects.get(clinic=clinic)
        assert {name: str(getattr(row, name)) for name in terms} == terms
        assert (row.name, row.effective_on) == ("Quay Dental", date(2026, 3, 13))
        agreement = Agreement.objects.get(clinic=clinic)
        assert (agreement.company, agreement.scope) == (world.company, "all sterilizers")
        desk = Desk(phone, "technician", cut_at - 1)
        for each in typed:
            fields = {name: text for name, text in each.items() if name != "battery"}
            register = reverse("register-from", args=["quay", template])
            desk.send(register, **fields, fit_battery=each["battery"], on="2026-03-14")
        units = list(Unit.objects.filter(placements__clinic=clinic).order_by("id"))
        assert [(u.label, u.serial, u.udi) for u in units] == [(t["label"], t["serial"], t["udi"]) for t in typed]
        for unit, each in zip(units, typed, strict=True):
            assert (unit.maker, unit.model, unit.chamber_litres) == ("Invented Works", "Cassette Two", 2)
            assert Placement.objects.get(unit=unit).room == each["room"]
            counter = CounterReading.objects.get(unit=unit)
            assert (counter.shown, counter.happened_on) == (int(each["cycles"]), date(2026, 3, 14))
            fits = dict(Fit.objects.filter(unit=unit).values_list("position__code", "state"))
            assert fits == {"seal": "yes", "air-filter": "yes", "battery": each["battery"]}
            lines = set(PlanLine.objects.filter(unit=unit).values_list("code", "months", "cycles"))
            assert lines == {(x["code"], x["months"], x.get("cycles")) for x in template_world.PLAN}
            assert [e.kind for e in UnitEvent.objects.filter(unit=unit)] == ["installed"]
        assert UnitFromTemplate.objects.filter(clinic=clinic, edition=1).count() == 2

    for cut_at, _ in cuts(3):
        told_again(at, story, cut_at, MOST_STEPS)
