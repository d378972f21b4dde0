"""Laws that hold from the record to the judgement: corrections, and what could be known at a moment."""

import random
from datetime import timedelta

import pytest

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from audit.judge.response import ERROR
from records import clock, log
from records.models import BioReading, BioTest
from tests.examples import examples
from tests.world import NOW, TODAY, clinic_of, key, make, seal_replaced, spore_test, unit_at

SEEDS = range(examples(6))
pytestmark = pytest.mark.laws


def said(world):
    """All that is said of the clinic's units, without the names of rows: those of a corrected row differ."""
    judged = evaluate(clinic_facts(world.clinic), TODAY)
    return [
        (
            u.label,
            (u.standing.word, u.standing.rule, u.standing.reason, u.standing.since, u.standing.holds_until),
            [(c.id, c.state, c.due_on, c.overdue_on, c.note) for c in u.clocks],
            [(f.rule, f.severity, f.since, f.message) for f in u.findings],
            [(v.verdict, v.reason, v.known_on) for v in u.verdicts],
            [(c.kind, c.phase, c.failed_on, c.known_on, c.passes, c.recall) for c in u.cases if c.phase != ERROR],
            [(b.trigger, b.after, b.to, len(b.loads)) for b in u.look_backs],
            [(w.start, w.result) for w in u.weeks],
            [(c.duty, c.due, c.met, c.missed, c.invalid, c.longest_gap) for c in u.coverage],
        )
        for u in judged.units
    ]


def plan(seed):
    """Spore tests and loads of a few weeks: (days ago, kind, result)."""
    chance = random.Random(seed)
    ago = sorted(chance.sample(range(2, 60), 8), reverse=True)
    return [(n, chance.choice(["no growth", "no growth", "no growth", "growth"])) for n in ago], chance


@pytest.mark.django_db
@pytest.mark.parametrize("seed", SEEDS)
def test_a_correction_equals_having_logged_the_right_thing(seed):
    """Each test is logged twice: rightly, and wrongly with a correction. The judgements are the same."""
    tests, chance = plan(seed)
    with clock.at(NOW):
        right, wrong = make(), None
        for ago, result in tests:
            spore_test(right, TODAY - timedelta(days=ago), result)
        expected = said(right)
        wrong = second_world(right)
        for ago, result in tests:
            _wrongly(wrong, TODAY - timedelta(days=ago), result, chance)
        assert said(wrong) == expected


def second_world(first):
    """A second clinic of the same people, with a unit of the same label, where nothing is logged yet."""
    by = first.people["coordinator"]
    clinic = clinic_of(by, "second", "First Clinic")
    unit = unit_at(clinic, by, "Unit 1")
    lot = log.log_indicator_lot(
        by=by, request_key=key(), clinic=clinic, kind="biological", name="Invented spore ampoule", lot="B-100",
        on=first.lot.happened_on, incubation_hours=24, expiry=first.lot.expiry,
    )  # fmt: skip
    other = type(first)(clinic, first.other_clinic, first.company, first.other_company, first.people, [unit])
    other.lot = lot
    return other


def _wrongly(world, on, result, chance):
    """Logged with another result, cycle type or day first, then put right."""
    by = world.people["coordinator"]
    what = chance.choice(["result", "cycle type", "mechanical", "nothing"])
    wrong = {"no growth": "growth", "growth": "no growth"}[result]
    first = spore_test(
        world,
        on,
        wrong if what == "result" else result,
        cycle_type="unwrapped" if what == "cycle type" else "wrapped",
        mechanical="fail" if what == "mechanical" else "pass",
    )
    if what == "result":
        reading = BioReading.objects.get(bio_test=first)
        _correct(by, reading, {"test": result})
    elif what != "nothing":
        field = "cycle_type" if what == "cycle type" else "mechanical"
        _correct(by, BioTest.objects.get(pk=first.pk), {field: "wrapped" if field == "cycle_type" else "pass"})


def _correct(by, row, changes):
    log.correct(by=by, request_key=key(), row=row, changes=changes, reason="misread")


@pytest.mark.django_db
@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_logged_later_changes_nothing_that_could_be_known(seed):
    """The facts known at a moment are the same whatever is logged, corrected or voided afterwards."""
    tests, chance = plan(seed)
    with clock.at(NOW):
        world = make()
        for ago, result in tests:
            spore_test(world, TODAY - timedelta(days=ago), result)
    moment = NOW + timedelta(hours=1)
    with clock.at(moment + timedelta(minutes=-1)):
        before = clinic_facts(world.clinic, known_at=moment)
    with clock.at(moment + timedelta(hours=1)):
        seal_replaced(world, TODAY - timedelta(days=1))
        for test in chance.sample(list(BioTest.objects.all()), 3):
            _correct(world.people["coordinator"], test, {"cycle_type": "corrected"})
        victim = chance.choice(list(BioTest.objects.filter(amended_by=None)))
        log.void(by=world.people["coordinator"], request_key=key(), row=victim, reason="another unit's test")
        spore_test(world, TODAY - timedelta(days=2), "growth")
        assert clinic_facts(world.clinic, known_at=moment) == before
        assert clinic_facts(world.clinic) != before
