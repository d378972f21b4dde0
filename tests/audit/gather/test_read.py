"""From rows to facts: a fixed number of queries, only what the clinic recorded, nothing that may change unseen."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from audit.facts.names import GIVEN
from audit.gather import rows, standings
from audit.gather.read import clinic_facts, day_at
from audit.judge.evaluate import evaluate
from audit.models import Standing
from records import clock, log
from records import models as m
from records.log import signatures
from tests import world as build

pytestmark = pytest.mark.django_db

# One a table of the clinic, and organisations, units of its placements, entered in error, lots with their owners,
# the newest entry. A new table raises it by one; the size of a clinic never does.
QUERIES = 54


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make()


def queries(world, **how) -> int:
    with CaptureQueriesContext(connection) as captured:
        clinic_facts(world.clinic, **how)
    return len(captured)


def rows_in(value) -> list:
    """Every `Row` anywhere in the facts."""
    if isinstance(value, tuple):
        return [r for v in value for r in rows_in(v)]
    if not is_dataclass(value):
        return []
    own = [value] if hasattr(value, "origin") else []
    return own + [r for f in fields(value) for r in rows_in(getattr(value, f.name))]


def test_the_number_of_queries_is_fixed(world):
    assert queries(world) == QUERIES
    assert queries(world, known_at=build.NOW + timedelta(hours=1)) == QUERIES


def test_the_number_of_queries_does_not_grow_with_the_clinic(world):
    for n in (2, 3):
        build.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
    for days in range(50, 0, -1):
        build.spore_test(world, build.TODAY - timedelta(days=days))
    for days in range(1, 6):
        build.seal_replaced(world, build.TODAY - timedelta(days=days))
    test = build.spore_test(world, build.TODAY, test="")
    who = {"by": world.people["coordinator"], "request_key": build.key()}
    log.correct(**who, row=test, changes={"cycle_number": "7"}, reason="misread")
    facts = clinic_facts(world.clinic)
    assert len(facts.units) == 3
    assert sum(len(u.bio_tests) for u in facts.units) == 51 and sum(len(u.jobs) for u in facts.units) == 5
    assert queries(world) == QUERIES


def test_a_clinic_without_units_or_entries_is_gathered_too(world):
    empty = m.Clinic.objects.create(slug="empty", name="Empty")
    facts = clinic_facts(empty)
    assert (facts.units, facts.terms, facts.heads, facts.slug) == ((), (), (), "empty")
    assert day_at(facts, build.NOW) == build.TODAY


def test_judging_asks_the_database_nothing(world):
    facts = clinic_facts(world.clinic)
    with CaptureQueriesContext(connection) as captured:
        evaluate(facts, build.TODAY)
    assert len(captured) == 0


def test_what_was_logged_comes_back_as_it_was(world):
    build.seal_replaced(world, build.TODAY - timedelta(days=1))
    build.spore_test(world, build.TODAY - timedelta(days=2))
    (unit,) = clinic_facts(world.clinic).units
    (job,) = unit.jobs
    (part,), (reading,), (finding,) = job.parts, job.readings, job.findings
    assert (part.name, part.number, part.lot, part.lot_state) == ("Cassette seal", "INV-77", "S-9", "printed")
    assert (reading.as_found, reading.as_left) == (Decimal("134.6"), Decimal("134.9"))
    assert (reading.unit_of_measure, reading.instrument) == ("°C", "T-1")
    assert (finding.grade, finding.decision) == (2, "replace")
    assert [(s.meaning, s.name) for s in job.signatures] == [
        ("released", "Pat Technician"), ("returned to use", "Ana Coordinator"),
    ]  # fmt: skip
    assert (job.servicer, job.row.logged_for, job.conclusion.conclusion) == ("Keepers", "Keepers", "released")
    positions = {p.row.origin: p.code for p in unit.positions}
    assert positions[part.position] == positions[job.outcomes[0].position] == "seal"
    (test,) = unit.bio_tests
    assert (test.lot.lot, test.lot.incubation_hours, test.control_lot) == ("B-100", 24, test.lot)
    assert [(r.test, r.control, r.row.happened_on) for r in test.readings] == [
        ("no growth", "growth", build.TODAY - timedelta(days=1)),
    ]  # fmt: skip
    assert [c.shown for c in unit.counters] == [Decimal(1200)]


def test_facts_of_two_clinics_never_mix(world):
    build.spore_test(world, build.TODAY - timedelta(days=2), test="growth")
    other = {"by": world.people["other-coordinator"], "request_key": build.key(), "clinic": world.other_clinic}
    log.log_chemical(**other, unit=world.other_unit, on=build.TODAY, type=5, result="pass")
    ours, theirs = clinic_facts(world.clinic), clinic_facts(world.other_clinic)
    assert [u.label for u in ours.units] == ["Unit 1"] and [u.label for u in theirs.units] == ["Stranger"]
    assert ours.units[0].chemical == () and len(theirs.units[0].chemical) == 1
    assert theirs.units[0].bio_tests == theirs.units[0].cases == ()
    our_refs, their_refs = ({r.origin for r in rows_in(facts)} for facts in (ours, theirs))
    assert our_refs and their_refs and not our_refs & their_refs
    assert {e.ledger.organisation_id for e in m.Entry.objects.filter(number=ours.heads[0].number)} >= {
        world.clinic.pk
    }


def test_another_clinics_rows_change_nothing_here(world):
    before = clinic_facts(world.clinic)
    other = {"by": world.people["other-coordinator"], "request_key": build.key(), "clinic": world.other_clinic}
    log.log_unit_event(**other, unit=world.other_unit, kind="withdrawn", on=build.TODAY, reason="leaks")
    log.log_closure(**other | {"request_key": build.key()}, from_on=build.TODAY, to_on=build.TODAY, why="holiday")
    assert clinic_facts(world.clinic) == before


# ------------------------------------------------------------------------------------------------ what may change


def scramble(world) -> None:
    """Change everything that is not a fact, and keep nothing of it."""
    for n, organisation in enumerate(m.Organisation.objects.filter(clinic__isnull=False)):
        m.Organisation.objects.filter(pk=organisation.pk).update(name=f"scrambled {n}", phone=f"{n}")
    m.Organisation.objects.filter(servicecompany__isnull=False).update(phone="0")
    m.Account.objects.update(
        first_name="scrambled", last_name="scrambled", email="scrambled@example.org", password="!", is_active=False,
        is_staff=True, is_superuser=True, last_login=timezone.now(), date_joined=timezone.now(),
    )  # fmt: skip
    m.Ledger.objects.update(number=9999, hash="f" * 64, logged_at=timezone.now())
    m.Person.objects.update(organisation=None)
    Standing.objects.update(word="scrambled", rule="R0", reason="scrambled", since=date(2000, 1, 1), heads="0" * 64)
    moments = {"expire_date": timezone.now(), "began_at": timezone.now(), "seen_at": timezone.now()}
    m.Sitting.objects.create(session_key="s", session_data="scrambled", **moments)
    m.DoorEvent.objects.create(what="scrambled", at=timezone.now())


def test_scrambling_what_may_change_leaves_the_facts_equal(world):
    build.weekly_tests(world, 4)
    build.seal_replaced(world, build.TODAY - timedelta(days=3))
    standings.refresh([world.clinic], build.TODAY)
    before = clinic_facts(world.clinic)
    judged = evaluate(before, build.TODAY)
    scramble(world)
    world.clinic.refresh_from_db()
    assert world.clinic.name.startswith("scrambled")
    after = clinic_facts(world.clinic)
    assert after == before
    assert evaluate(after, build.TODAY) == judged


def test_a_company_that_changes_its_name_changes_no_judgement(world):
    """Whose entry it is reads by the company's present name; what was done, and every verdict, does not move."""
    build.seal_replaced(world, build.TODAY - timedelta(days=3))
    before = evaluate(clinic_facts(world.clinic), build.TODAY)
    m.ServiceCompany.objects.filter(pk=world.company.pk).update(name="Renamed")
    facts = clinic_facts(world.clinic)
    assert facts.units[0].jobs[0].servicer == "Keepers", "as it was written then"
    assert evaluate(facts, build.TODAY) == before


def test_heads_name_the_newest_entry_known(world):
    head = m.Ledger.objects.get(organisation=world.clinic)
    (known,) = clinic_facts(world.clinic).heads
    assert (known.organisation, known.number, known.hash) == ("First Clinic", head.number, head.hash)
    earlier = m.Entry.objects.get(ledger=head, number=3)
    (then,) = clinic_facts(world.clinic, known_at=earlier.logged_at).heads
    assert replace(known, number=3, hash=earlier.hash) == then


def test_a_decision_on_a_load_stands_with_it_and_tells_when_it_was_logged_apart(world):
    who = {"by": world.people["coordinator"], "clinic": world.clinic}
    cycle = {"unit": world.unit, "on": build.TODAY - timedelta(days=2), "program": "wrapped"}
    cycle |= {"mechanical": "pass", "chemical": "pass"}
    log.log_load(
        **who,
        **cycle,
        request_key=build.key(),
        cycle_number="1",
        decision="released",
    )
    later = log.log_load(**who, **cycle, request_key=build.key(), cycle_number="2")
    log.log_load(**who, **cycle, request_key=build.key(), cycle_number="3")
    before = later.entry.logged_at
    row = log.release_load(
        **who, request_key=build.key(), load=later, decision="rejected", reason="wet", on=build.TODAY
    )
    loads = {x.cycle_number: x for x in clinic_facts(world.clinic).units[0].loads}
    assert [loads[n].released for n in "123"] == ["released", "rejected", ""]
    assert loads["1"].released_row is None and loads["1"].decided == loads["1"].row and loads["3"].decided is None
    decided = loads["2"].released_row
    assert (decided.ref, decided.number, decided.happened_on) == (str(row.ref), row.entry.number, build.TODAY)
    known = {x.cycle_number: x for x in clinic_facts(world.clinic, known_at=before).units[0].loads}
    assert known["2"].released == "" and known["2"].released_row is None


def test_how_the_name_of_who_signed_came_in_is_a_fact(world):
    """The technician records the visit: their own name is entered, that of the clinic's person is told."""
    build.seal_replaced(world, build.TODAY - timedelta(days=3))
    (job,) = clinic_facts(world.clinic).units[0].jobs
    assert {s.meaning: s.given for s in job.signatures} == {"released": "entered", "returned to use": "told"}
    row = m.Signature.objects.get(meaning="released")
    log.sign(by=world.people["technician"], request_key=build.key(), row=row)
    (job,) = clinic_facts(world.clinic).units[0].jobs
    assert {s.meaning: s.given for s in job.signatures} == {"released": "signed", "returned to use": "told"}
    assert next(s for s in job.signatures if s.told).given_words == "told by Pat Technician, not signed"


@pytest.mark.parametrize(("form", "code"), [(5, "not asked"), (6, "told")])
def test_of_a_row_from_before_anybody_could_sign_nothing_is_held_against_it(world, form, code):
    build.seal_replaced(world, build.TODAY - timedelta(days=3))
    row = m.Signature.objects.select_related("entry__logged_by", "signed_by").get(meaning="returned to use")
    row.entry.form = form
    assert rows.given(row) == code


@pytest.mark.parametrize(
    ("name", "paper", "form", "code"),
    [
        ("", "", 6, "entered"),  # left blank: it was who is signed in
        ("pat  technician", "", 6, "entered"),
        ("C. Manager", "", 6, "told"),
        ("C. Manager", "page 7", 6, "paper"),
        ("C. Manager", "", 5, "not asked"),  # nobody could sign then
    ],
)
def test_whether_a_follow_up_was_told_by_somebody_else_is_a_fact(world, name, paper, form, code):
    build.spore_test(world, build.TODAY - timedelta(days=2), test="growth")
    by = {"by": world.people["technician"], "clinic": world.clinic, "request_key": build.key()}
    case, day = m.FailureCase.objects.get(), build.TODAY
    told = {"what": "back to use", "on": day, "done_on": day, "done_by": name, "outcome": "repeat passed"}
    log.log_follow_up(case=case, action="return", paper=paper, **told, **by)
    ((step,),) = [one.followups for one in clinic_facts(world.clinic).units[0].cases]
    assert step.done_given == code or form < rows.SIGNED_SINCE
    done = m.FollowUpDone.objects.select_related("entry__logged_by").get()
    done.entry.form = form
    assert rows.done_given(done) == code


def test_the_words_for_how_a_name_came_in_are_those_of_the_record():
    assert {c: w for c, w in GIVEN.items() if c not in ("not asked", "claimed")} == signatures.IN_WORDS | {
        "signed": signatures.SIGNINGS[signatures.SIGNED],
        "passkey": signatures.SIGNINGS[signatures.SIGNED_BY_PASSKEY],
    }  # fmt: skip


def test_a_correction_names_what_a_row_pointed_to_and_never_a_key(world):
    who = {"by": world.people["coordinator"], "request_key": build.key()}
    other = log.log_indicator_lot(
        **who, clinic=world.clinic, kind="biological", name="Invented spore ampoule", lot="B-200", on=build.BEGIN,
        incubation_hours=24, expiry=date(2027, 6, 30),
    )  # fmt: skip
    test = build.spore_test(world, build.TODAY - timedelta(days=7))
    log.correct(**who | {"request_key": build.key()}, row=test, changes={"lot": other}, reason="another box")
    build.seal_replaced(world, build.TODAY - timedelta(days=3))
    signed = m.Signature.objects.get(meaning="returned to use")
    signatures.sign(**who | {"request_key": build.key()}, row=signed)
    told = {fact.what: fact.changes for fact in clinic_facts(world.clinic).corrections}
    assert told["spore test (biological indicator)"] == (("lot", "B-100", "B-200"),)
    assert told["signature"] == (("signed by", "Ana Coordinator", "Ana Coordinator"),)
