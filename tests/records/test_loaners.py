"""Loaners: a company's pool, one lent in place of a clinic's unit, and back; each ledger says its own part.

| what | at the clinic | in the company's books |
| --- | --- | --- |
| lent in place of Unit 1 | a unit of its record, out of service until proved; Unit 1 is out | at which clinic |
| lent, Unit 1 taken along | Unit 1 is stored as a spare, elsewhere | and to which store it went |
| taken back | its record says that it left | in which store it stands |
| lent again to the same clinic | the same record goes on, out of service again | the second loan |
| lent to another clinic | another record; nothing of the first clinic's name | the second loan |
"""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from records import clock, log
from records.ledger import tamper_check
from records.log.loaners import pool_of
from records.log.template_content import followed, readings_of
from records.models import (
    Entry,
    FittedPart,
    Loan,
    LoanerHere,
    PartRecall,
    Placement,
    PlanLine,
    Position,
    Unit,
    UnitEvent,
)
from tests import world as build

from . import template_world as made

pytestmark = pytest.mark.django_db
ON = date(2026, 3, 10)
BACK = date(2026, 3, 12)


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


@pytest.fixture
def pool(world):
    """Keepers serve both clinics, and have one unit of a template to lend, in their store."""
    log.log_agreement(
        by=world.people["other-coordinator"], request_key=build.key(), clinic=world.other_clinic,
        company=world.company, effective_on=build.BEGIN,
    )  # fmt: skip
    who = {"by": world.people["dispatcher"], "owner": world.company}
    store = log.log_stock_place(**who, request_key=build.key(), name="Store", kind="store")
    template = made.template_of(world)
    unit = log.log_pool_unit(
        **who, request_key=build.key(), label="L-1", serial="INV-L1", place=store, on=build.BEGIN, template=template
    )
    return SimpleNamespace(world=world, store=store, template=template, unit=unit)


def lent(pool, by="technician", **more):
    world = pool.world
    values = {"by": world.people[by], "owner": world.company, "pool_unit": pool.unit, "clinic": world.clinic}
    values |= {"on": ON, "room": "Room 1", "request_key": build.key()}
    return log.lend_unit(**values | more)


def back(pool, loan, by="technician", **more):
    world = pool.world
    values = {"by": world.people[by], "owner": world.company, "loan": loan, "place": pool.store, "on": BACK}
    return log.take_back(**values | {"contamination": "declared clean", "request_key": build.key()} | more)


def record_of(loan) -> Unit:
    return Unit.objects.get(ref=loan.record)


def standing(clinic, unit, on=build.TODAY):
    said = evaluate(clinic_facts(clinic), on)
    return next(u.standing for u in said.units if u.unit == str(unit.ref))


def test_a_loaner_is_a_unit_of_the_clinic_s_record_and_out_until_it_is_proved(pool):
    world = pool.world
    loan = lent(pool, in_place_of=world.unit, cycles=412)
    here = record_of(loan)
    assert (here.label, here.serial, here.model, here.owner_id) == ("L-1", "INV-L1", "Cassette Two", world.clinic.pk)
    assert set(PlanLine.objects.filter(unit=here).values_list("code", flat=True)) == {x["code"] for x in made.PLAN}
    assert {p.code for p in Position.objects.filter(unit=here)} == set(made.FITS)
    assert followed(here).edition == 1 and len(readings_of(here, build.TODAY)) == 1
    told = standing(world.clinic, here)
    assert told.word is Word.OUT and "not installed and proved at this place yet" in told.reason
    own = standing(world.clinic, world.unit)
    assert own.word is Word.OUT and own.reason.endswith("L-1 of Keepers stands in for it")
    link = LoanerHere.objects.get(unit=here)
    assert (link.instead_of, link.company, link.loan) == (world.unit, "Keepers", loan.ref)
    came = UnitEvent.objects.get(unit=here, kind="loaner in")
    assert came.reason == "lent by Keepers in place of Unit 1"
    (line,) = pool_of(world.company)
    assert line.open_loan == loan and not line.free and loan.in_place_of == world.unit.ref
    for books in (world.clinic, world.company):
        assert tamper_check.verify(books).broken_at is None


def test_each_clinic_sees_its_own_part_alone(pool):
    world = pool.world
    first = lent(pool, in_place_of=world.unit)
    back(pool, first)
    second = lent(pool, clinic=world.other_clinic, on=BACK, label="Spare")
    here, there = record_of(first), record_of(second)
    assert here != there and there.label == "Spare"
    for clinic, other in ((world.clinic, "Other Clinic"), (world.other_clinic, "First Clinic")):
        reasons = UnitEvent.objects.filter(clinic=clinic, unit__in=(here, there)).values_list("reason", flat=True)
        assert reasons and not any(other in reason for reason in reasons)
    assert standing(world.clinic, here).word is Word.NOT_IN_USE
    assert standing(world.other_clinic, there).word is Word.OUT
    # The plan and what sits where came from the record before; what was done there did not.
    assert set(PlanLine.objects.filter(unit=there).values_list("code", flat=True)) == {x["code"] for x in made.PLAN}
    facts = next(u for u in clinic_facts(world.other_clinic).units if u.ref == str(there.ref))
    assert (facts.jobs, facts.bio_tests, facts.counters) == ((), (), ())
    (line,) = pool_of(world.company)
    assert [(each.clinic.name, bool(each.end)) for each in line.loans] == [
        ("First Clinic", True), ("Other Clinic", False),
    ]  # fmt: skip


def test_lent_again_to_the_same_clinic_the_same_record_goes_on_out_of_service(pool):
    first = lent(pool)
    back(pool, first)
    second = lent(pool, on=BACK, room="Cellar")
    here = record_of(second)
    assert here == record_of(first)
    assert Placement.objects.filter(unit=here).count() == 2
    assert Position.objects.filter(unit=here).count() == len(made.POSITIONS)
    told = standing(pool.world.clinic, here)
    assert told.word is Word.OUT and "not installed and proved" in told.reason


def test_what_was_set_up_elsewhere_meanwhile_comes_back_with_it(pool):
    world = pool.world
    first = lent(pool)
    back(pool, first, on=ON)
    second = lent(pool, clinic=world.other_clinic, on=ON)
    there = record_of(second)
    seal = Position.objects.get(unit=there, code="seal")
    who = {"by": world.people["technician"], "clinic": world.other_clinic, "unit": there}
    log.log_plan_line(
        **who, request_key=build.key(), effective_on=ON, code="replace-seal", position=seal, title="Replace the seal",
        action="replace", months=6, source="Invented bulletin",
    )  # fmt: skip
    log.log_fit(**who, request_key=build.key(), position=seal, state="missing", effective_on=BACK)
    back(pool, second)
    here = record_of(lent(pool, on=BACK))
    assert here == record_of(first)
    assert PlanLine.objects.filter(unit=here, code="replace-seal").order_by("pk").last().months == 6
    facts = next(u for u in clinic_facts(world.clinic).units if u.ref == str(here.ref))
    (code,) = (p.row.origin for p in facts.positions if p.code == "seal")
    assert [f.state for f in facts.fits if f.position == code] == ["unknown", "missing"]


def test_a_unit_taken_along_is_stored_elsewhere(pool):
    world = pool.world
    loan = lent(pool, in_place_of=world.unit, to_store=pool.store)
    told = standing(world.clinic, world.unit)
    assert told.word is Word.NOT_IN_USE and "stored as a spare" in told.reason
    placed = Placement.objects.filter(unit=world.unit).order_by("pk").last()
    assert (placed.room, placed.use) == ("taken along by Keepers", "stored as spare")
    assert loan.to_store == pool.store


def test_a_unit_that_is_out_already_is_not_taken_out_again(pool):
    world = pool.world
    log.log_unit_event(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, unit=world.unit, on=ON,
        kind="withdrawn", reason="door stiff",
    )  # fmt: skip
    lent(pool, in_place_of=world.unit)
    assert UnitEvent.objects.filter(unit=world.unit, kind="withdrawn").count() == 1


def test_a_return_needs_the_tests_of_its_own(pool):
    """The withdrawal on arrival ends by a return that names it; nothing proven elsewhere helps."""
    world = pool.world
    here = record_of(lent(pool))
    out = UnitEvent.objects.get(unit=here, kind="withdrawn")
    who = {"by": world.people["coordinator"], "clinic": world.clinic, "unit": here, "kind": "returned"}
    with pytest.raises(log.Refused, match="Which withdrawal"):
        log.log_unit_event(**who, request_key=build.key(), on=BACK, reason="looks fine")
    log.log_unit_event(**who, request_key=build.key(), on=BACK, reason="proved", ends=out)
    assert standing(world.clinic, here).word is not Word.OUT


def test_the_same_request_twice_lends_once_and_another_content_is_told(pool):
    key = build.key()
    loan = lent(pool, request_key=key, in_place_of=pool.world.unit)
    before = Entry.objects.count()
    assert lent(pool, request_key=key, in_place_of=pool.world.unit) == loan
    with pytest.raises(log.SubmissionConflict):
        lent(pool, request_key=key, room="Attic")
    again = build.key()
    end = back(pool, loan, request_key=again)
    assert back(pool, loan, request_key=again) == end
    assert Entry.objects.count() == before + 2


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"on": date(2027, 1, 1)}, "in the future"),
        ({"on": date(2024, 1, 1)}, "in the pool"),
        ({"room": " "}, "Where does it stand"),
        ({"to_store": "store"}, "Which unit is taken along"),
    ],
)
def test_what_is_refused(pool, more, message):
    more = {k: pool.store if v == "store" else v for k, v in more.items()}
    before = Entry.objects.count()
    with pytest.raises(log.Refused, match=message):
        lent(pool, **more)
    assert Entry.objects.count() == before


def test_a_unit_of_another_clinic_or_store_is_refused(pool):
    world = pool.world
    theirs = log.log_stock_place(
        by=world.people["other-dispatcher"],
        request_key=build.key(),
        owner=world.other_company,
        name="X",
        kind="store",
    )
    with pytest.raises(log.Refused):
        lent(pool, in_place_of=world.other_unit)
    with pytest.raises(log.Refused, match="no place of Keepers"):
        lent(pool, in_place_of=world.unit, to_store=theirs)
    with pytest.raises(log.Refused, match="no place of Keepers"):
        back(pool, lent(pool), place=theirs)


def test_what_is_lent_is_not_lent_twice_nor_given_up(pool):
    loan = lent(pool)
    with pytest.raises(log.Refused, match="is at First Clinic since 2026-03-10"):
        lent(pool, clinic=pool.world.other_clinic)
    who = {"by": pool.world.people["dispatcher"], "owner": pool.world.company, "pool_unit": pool.unit}
    with pytest.raises(log.Refused, match="Take it back first"):
        log.end_pool_unit(**who, request_key=build.key(), reason="sold", on=BACK)
    with pytest.raises(log.Refused, match="lies before"):
        back(pool, loan, on=ON - timedelta(days=1))
    back(pool, loan)
    with pytest.raises(log.Refused, match="back already"):
        back(pool, loan)
    with pytest.raises(log.Refused, match="the last time"):
        lent(pool, on=ON)
    log.end_pool_unit(**who, request_key=build.key(), reason="sold", on=BACK)
    with pytest.raises(log.Refused, match="not one of those that you lend"):
        lent(pool, on=BACK)


@pytest.mark.parametrize("role", ["stores", "coordinator", "viewer", "other-dispatcher", "nobody"])
def test_only_technicians_and_dispatchers_of_the_company_lend(pool, role):
    loan = lent(pool)
    for act in (lambda: lent(pool, by=role), lambda: back(pool, loan, by=role)):
        with pytest.raises(log.NotYours):
            act()


def test_nothing_is_lent_where_the_company_does_not_serve(pool):
    world = pool.world
    elsewhere = build.clinic_of(build.account("far", "Fi", "Far"), "far", "Far Clinic")
    with pytest.raises(log.NotYours):
        lent(pool, clinic=elsewhere)
    loan = lent(pool, clinic=world.other_clinic)
    from records.models import Agreement

    agreement = Agreement.objects.get(clinic=world.other_clinic, company=world.company)
    log.end_agreement(
        by=world.people["other-coordinator"], request_key=build.key(), agreement=agreement,
        effective_on=build.TODAY, reason="ended",
    )  # fmt: skip
    # It is still the company's own: it comes back, and the clinic's own people say so in their record.
    back(pool, loan)
    assert pool_of(world.company)[0].free
    assert not UnitEvent.objects.filter(kind="loaner out").exists()


def test_one_serial_is_in_the_pool_once(pool):
    who = {"by": pool.world.people["dispatcher"], "owner": pool.world.company, "place": pool.store, "on": ON}
    with pytest.raises(log.Refused, match="in the pool already"):
        log.log_pool_unit(**who, request_key=build.key(), label="L-2", serial="inv-l1", template=pool.template)
    with pytest.raises(log.Refused, match="missing"):
        log.log_pool_unit(**who, request_key=build.key(), label="L-2", serial="INV-L2")


# --------------------------------------------------------------------------------------------- recalled parts


def seal_put_on(pool, loan, lot, on):
    here, world = record_of(loan), pool.world
    part = {"name": "Cassette seal", "number": "INV-77", "lot": lot, "lot_state": "printed", "old_part": "scrapped"}
    part |= {"action": "replaced on condition", "position": Position.objects.get(unit=here, code="seal")}
    job = {"unit": here, "reason": "installation", "contamination": "declared clean", "parts": [part]}
    job["conclusion"] = {"conclusion": "not released", "reason": "tests to come"}
    log.log_visit(
        by=world.people["technician"], request_key=build.key(), clinic=loan.clinic, on=on, jobs=[job],
        confirmed=("recalled-part",),
    )  # fmt: skip


def recall(pool, lot="S-9"):
    return log.log_part_recall(
        by=pool.world.people["dispatcher"], request_key=build.key(), owner=pool.world.company, part="Cassette seal",
        number="INV-77", lot=lot, issued_by="Invented Works", reason="cracks", action="replace", on=BACK,
    )  # fmt: skip


@pytest.mark.parametrize("when", ["before", "after"])
def test_a_recalled_part_goes_along_with_the_loaner(pool, when):
    """Whether the notice comes before the unit is lent on, or after."""
    world = pool.world
    first = lent(pool)
    seal_put_on(pool, first, "S-9", ON)
    back(pool, first)
    if when == "before":
        recall(pool)
    second = lent(pool, clinic=world.other_clinic, on=BACK)
    if when == "after":
        recall(pool)
    (part,) = FittedPart.objects.filter(unit=record_of(second))
    assert (part.lot, part.action, part.position.code) == ("S-9", "found in place", "seal")
    assert "First Clinic" not in str(PartRecall.objects.filter(owner=world.other_clinic.pk).values())
    findings = next(
        u.findings for u in evaluate(clinic_facts(world.other_clinic), build.TODAY).units
        if u.unit == str(record_of(second).ref)
    )  # fmt: skip
    assert "recalled-part-in-use" in {f.rule for f in findings}


def test_a_recalled_part_that_came_out_at_the_next_clinic_does_not(pool):
    world = pool.world
    first = lent(pool, on=ON - timedelta(days=5))
    seal_put_on(pool, first, "S-9", ON - timedelta(days=4))
    back(pool, first, on=ON)
    second = lent(pool, clinic=world.other_clinic, on=ON)
    seal_put_on(pool, second, "S-10", ON)
    back(pool, second, on=BACK)
    recall(pool)
    third = build.clinic_of(world.people["other-coordinator"], "third", "Third Clinic")
    log.log_agreement(
        by=world.people["other-coordinator"], request_key=build.key(), clinic=third, company=world.company,
        effective_on=build.BEGIN,
    )  # fmt: skip
    loan = lent(pool, clinic=third, on=BACK)
    assert not FittedPart.objects.filter(unit=record_of(loan)).exists()
    assert Loan.objects.count() == 3


def test_the_clinic_itself_says_that_a_loaner_left_where_the_company_cannot_any_more(pool):
    world = pool.world
    here = record_of(lent(pool))
    log.log_unit_event(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, unit=here, on=BACK,
        kind="loaner out", reason="fetched by Keepers",
    )  # fmt: skip
    assert standing(world.clinic, here).word is Word.NOT_IN_USE
