"""A recall notice follows a unit that moves to another clinic: its part stays in doubt there, as their own entry."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from records import clock, log
from records.ledger import tamper_check
from records.models import Entry, FittedPart, PartRecall, PersonText, Position
from tests import world as build

pytestmark = pytest.mark.django_db
FITTED, KNOWN, ON = date(2026, 2, 2), date(2026, 3, 2), date(2026, 3, 10)
STOP = {"part": "Cassette seal", "number": "INV-77", "lot": "S-9", "action": "stop use"}


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


@pytest.fixture
def world():
    """The company serves the other clinic too; so does it enter notices in its own books."""
    made = build.make()
    log.log_agreement(
        by=made.people["other-coordinator"], request_key=build.key(), clinic=made.other_clinic, company=made.company,
        effective_on=build.BEGIN,
    )  # fmt: skip
    return made


def fit(world, on=FITTED, **part):
    said = {"name": "Cassette seal", "number": "INV-77", "lot": "S-9", "lot_state": "printed", "old_part": "scrapped"}
    seal = Position.objects.get(unit=world.unit, code="seal")
    row = said | {"action": "replaced on plan", "position": seal} | part
    job = {"unit": world.unit, "reason": "planned", "contamination": "declared clean", "parts": [row]}
    job |= {
        "tests": [{"code": "V1", "result": "pass", "value": "134.5 °C"}],
        "conclusion": {"conclusion": "released"},
    }
    return log.log_visit(
        by=world.people["technician"], request_key=build.key(), clinic=world.clinic, on=on, jobs=[job],
        confirmed=("recalled-part", "no-lot"),
    )  # fmt: skip


def notice(world, owner="clinic", **more):
    who, books = {"clinic": ("coordinator", world.clinic), "company": ("technician", world.company)}[owner]
    said = STOP | {"issued_by": "Invented Works", "reason": "cracks, told to First Clinic"} | more
    return log.log_part_recall(
        by=world.people[who], request_key=build.key(), owner=books.organisation_ptr, on=KNOWN, **said
    )  # fmt: skip


def move(world, by="dispatcher", key=None, on=ON):
    return log.hand_over_unit(
        by=world.people[by], request_key=key or build.key(), unit=world.unit, clinic=world.clinic, label="Ours",
        to=world.other_clinic, on=on, room="Cellar", reason="bought second-hand",
    )  # fmt: skip


def judged(world, on=build.TODAY):
    (said,) = [u for u in evaluate(clinic_facts(world.other_clinic), on).units if u.label == "Ours"]
    return said


def recalled(said):
    return [f for f in said.findings if f.rule == "recalled-part-in-use"]


# whose books hold the notice, what it says, what was fitted, whether it follows, whether it stops use
FOLLOWS = [
    ("clinic", {}, {}, True),
    ("company", {}, {}, True),
    ("clinic", {"action": "inspect"}, {}, True),
    ("clinic", {"action": "replace"}, {}, True),
    ("clinic", {"lot": "s 09"}, {}, True),
    ("clinic", {"lot": "S-8"}, {}, False),
    ("clinic", {"lot": "S-8"}, {"lot": "", "lot_state": "unreadable"}, True),
    ("clinic", {"lot": "", "made_from": FITTED, "made_to": FITTED}, {}, True),
    ("company", {"lot": "", "made_from": FITTED, "made_to": FITTED}, {}, True),
    ("company", {"lot": "", "made_from": FITTED, "made_to": FITTED}, {"lot": "", "lot_state": "unreadable"}, True),
    ("clinic", {"lot": "", "made_from": FITTED + timedelta(days=1)}, {}, False),
    ("clinic", {"number": "INV-78"}, {}, False),
]


@pytest.mark.parametrize(("owner", "said", "part", "follows"), FOLLOWS)
def test_a_notice_follows_the_part_it_means(world, owner, said, part, follows):
    fit(world, **part)
    notice(world, owner, **said)
    move(world)
    said_there = judged(world)
    assert bool(recalled(said_there)) is follows
    assert len(recalled(said_there)) == follows, "one notice is one item"
    if follows and said.get("action", "stop use") == "stop use":
        assert (said_there.standing.word, said_there.standing.rule) == (Word.OUT, "R2")
        assert "stop use" in said_there.standing.reason
    assert tamper_check.verify(world.other_clinic).broken_at is None


def test_what_came_out_before_the_move_does_not_follow(world):
    fit(world)
    notice(world)
    fit(world, FITTED + timedelta(days=30), lot="S-10")
    move(world)
    assert not recalled(judged(world)) and not PartRecall.objects.filter(owner=world.other_clinic.pk).exists()


def test_of_two_seals_of_one_day_neither_is_shown_to_have_come_out(world):
    fit(world)
    notice(world)
    fit(world, lot="S-10")
    move(world)
    assert recalled(judged(world))


def test_without_a_notice_the_unit_comes_without_a_part(world):
    fit(world)
    before = Entry.objects.count()
    here = move(world)
    assert Entry.objects.count() == before + 2
    assert not FittedPart.objects.filter(unit=here).exists()


def test_the_new_entry_has_text_lot_day_and_what_is_asked_and_names_nobody(world):
    fit(world)
    notice(world)
    here = move(world)
    (row,) = PartRecall.objects.filter(owner=world.other_clinic.pk)
    assert (row.part, row.number, row.lot, row.action, row.happened_on) == (
        "Cassette seal", "INV-77", "S-9", "stop use", KNOWN,
    )  # fmt: skip
    assert row.reason.startswith("cracks, told to another place") and str(KNOWN) in row.reason
    (part,) = FittedPart.objects.filter(unit=here)
    assert (part.action, part.lot, part.position.unit_id) == ("found in place", "S-9", here.pk)
    entry = row.entry
    assert entry.ledger.organisation_id == world.other_clinic.pk and entry == part.entry
    told = " ".join(
        str(v) for fact in (row, part, part.job, *part.job.jobconclusions.all()) for v in vars(fact).values()
    )
    assert "First Clinic" not in told and "Ana" not in told
    people = set(PersonText.objects.filter(pk__in=[part.job.worked_by_id]).values_list("value", flat=True))
    assert people == {str(world.people["dispatcher"].signed())}


def test_the_same_request_twice_carries_it_once(world):
    fit(world)
    notice(world)
    key = build.key()
    first, before = move(world, key=key), Entry.objects.count()
    assert move(world, key=key) == first and Entry.objects.count() == before


def test_nothing_was_done_there_and_nothing_of_it_counts_as_work(world):
    fit(world)
    notice(world, action="replace")
    move(world)
    facts = clinic_facts(world.other_clinic)
    unit = next(u for u in facts.units if u.label == "Ours")
    said = judged(world)
    assert [j.conclusion.conclusion for j in unit.jobs] == ["not worked on"]
    assert not {"make-safe-not-recorded", "conclusion-missing", "not-released"} & {f.rule for f in said.findings}
    state = next(c for c in said.clocks if c.id == "plan:replace-seal").state
    assert state.value == "no evidence"


def test_it_stays_until_the_part_comes_out_there(world):
    fit(world)
    notice(world)
    here = move(world)
    row = {"name": "Cassette seal", "number": "INV-77", "lot": "S-10", "lot_state": "printed", "old_part": "scrapped"}
    row |= {"action": "replaced on condition", "position": Position.objects.get(unit=here, code="seal")}
    job = {"unit": here, "reason": "part recall", "contamination": "declared clean", "parts": [row]}
    job["conclusion"] = {"conclusion": "released"}
    log.log_visit(
        by=world.people["technician"], request_key=build.key(), clinic=world.other_clinic, on=build.TODAY, jobs=[job]
    )
    said = judged(world)
    assert not recalled(said) and said.standing.rule == "R4", "still not installed and proved there"


def test_the_loads_run_there_are_in_doubt_until_it_comes_out(world):
    fit(world)
    notice(world)
    here = move(world)
    log.log_load(
        by=world.people["technician"], request_key=build.key(), clinic=world.other_clinic, unit=here, on=ON,
        cycle_number="1", program="wrapped", contents="3 packs",
        confirmed=("unit-out",),
    )  # fmt: skip
    backs = [b for b in judged(world).look_backs if "part recall" in b.trigger]
    assert len(backs) == 1


# ------------------------------------------------------------------------------------------------ a later notice

# who may enter it: somebody who may record where the unit stands now too
LATER = [
    ("company", {}, {}, True),
    ("company", {"action": "inspect"}, {}, True),
    ("company", {"lot": "s 09"}, {}, True),
    ("company", {"lot": "S-8"}, {}, False),
    ("company", {"lot": "S-8"}, {"lot": "", "lot_state": "unreadable"}, True),
    ("company", {"lot": "", "made_from": FITTED, "made_to": FITTED}, {}, True),
    ("company", {"lot": "", "made_from": FITTED + timedelta(days=1)}, {}, False),
    ("company", {"number": "INV-78"}, {}, False),
]


def notice_by(world, who, books, **more):
    said = STOP | {"issued_by": "Invented Works", "reason": "cracks, told to First Clinic"} | more
    key = said.pop("key", None) or build.key()
    return log.log_part_recall(
        by=world.people[who], request_key=key, owner=books.organisation_ptr, on=build.TODAY, **said
    )  # fmt: skip


@pytest.mark.parametrize(("owner", "said", "part", "follows"), LATER)
def test_a_notice_received_after_the_move_reaches_the_part(world, owner, said, part, follows):
    fit(world, **part)
    move(world)
    notice_by(world, "technician", world.company, **said)
    there = judged(world)
    assert len(recalled(there)) == follows
    if follows and said.get("action", "stop use") == "stop use":
        assert (there.standing.word, there.standing.rule) == (Word.OUT, "R2")
    assert tamper_check.verify(world.other_clinic).broken_at is None


def test_a_later_notice_in_the_books_of_the_place_it_left_follows_as_the_other_one_s_own(world):
    """Entered by somebody who records at both places: the notice too is carried, and names nobody."""
    fit(world)
    here = move(world)
    notice_by(world, "coordinator", world.clinic)
    assert not recalled(judged(world)), "who enters it may not record at the other place"
    log.log_membership(
        by=world.people["other-coordinator"], request_key=build.key(), organisation=world.other_clinic,
        account=world.people["coordinator"], role="operator", effective_on=build.BEGIN,
    )  # fmt: skip
    notice_by(world, "coordinator", world.clinic)
    assert len(recalled(judged(world))) == 1
    (row,) = PartRecall.objects.filter(owner=world.other_clinic.pk)
    assert (row.lot, row.action, row.happened_on) == ("S-9", "stop use", build.TODAY)
    assert row.reason.startswith("cracks, told to another place")
    (part,) = FittedPart.objects.filter(unit=here)
    told = " ".join(str(v) for fact in (row, part, part.job) for v in vars(fact).values())
    assert "First Clinic" not in told


def test_a_later_notice_of_what_came_out_before_the_move_reaches_nothing(world):
    fit(world)
    fit(world, FITTED + timedelta(days=20), lot="S-10")
    move(world)
    notice_by(world, "technician", world.company)
    assert not recalled(judged(world))


def test_what_came_out_after_the_move_is_in_doubt_until_that_day_and_stops_no_use(world):
    fit(world)
    here = move(world)
    row = {"name": "Cassette seal", "number": "INV-77", "lot": "S-10", "lot_state": "printed", "old_part": "scrapped"}
    row |= {"action": "replaced on condition", "position": Position.objects.get(unit=here, code="seal")}
    job = {"unit": here, "reason": "planned", "contamination": "declared clean", "parts": [row]}
    job["conclusion"] = {"conclusion": "released"}
    log.log_visit(
        by=world.people["technician"], request_key=build.key(), clinic=world.other_clinic, on=build.TODAY, jobs=[job]
    )
    notice_by(world, "technician", world.company)
    said = judged(world)
    assert not recalled(said) and said.standing.rule == "R4", "not installed and proved there"
    assert [b for b in said.look_backs if "part recall" in b.trigger]


def test_the_same_notice_sent_twice_and_a_second_notice_carry_the_part_once(world):
    fit(world)
    here = move(world)
    key = build.key()
    first = notice_by(world, "technician", world.company, key=key)
    entries = Entry.objects.count()
    assert notice_by(world, "technician", world.company, key=key) == first and Entry.objects.count() == entries
    notice_by(world, "technician", world.company, action="replace")
    assert FittedPart.objects.filter(unit=here).count() == 1
    assert len(recalled(judged(world))) == 2
    (part,) = FittedPart.objects.filter(unit=here)
    assert part.happened_on == ON and part.entry.ledger.organisation_id == world.other_clinic.pk


def test_a_unit_that_did_not_move_gets_one_entry_for_a_notice(world):
    fit(world)
    before = Entry.objects.count()
    notice_by(world, "technician", world.company)
    assert Entry.objects.count() == before + 1
