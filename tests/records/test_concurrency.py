"""Several processes on one ledger, and a process killed in the middle: every entry whole, in one unbroken chain."""

from __future__ import annotations

import signal
import uuid

import pytest

from records import clock
from records import models as m
from records.ledger import tamper_check
from tests import world as build

from . import worker

pytestmark = pytest.mark.django_db(transaction=True)

PROCESSES, ENTRIES = 4, 15


@pytest.fixture
def committed():
    """The small world, visible to other processes."""
    with clock.at(build.NOW):
        yield build.make()


def counts() -> dict[str, int]:
    """How many rows every table has, names of people and ledgers included."""
    kept = [*m.fact_models(), m.Entry, m.Ledger, m.Person, m.PersonText]
    return {k.__name__: k.objects.count() for k in kept}


def test_processes_on_one_ledger_all_succeed_and_the_chain_holds(committed):
    head = m.Ledger.objects.get(organisation=committed.clinic).number
    roles = ("coordinator", "operator", "technician", "dispatcher")
    assert len(roles) == PROCESSES
    running = [worker.start("many", role, ENTRIES) for role in roles]
    numbers = [worker.answer(process) for process in running]

    every = sorted(n for own in numbers for n in own)
    assert every == list(range(head + 1, head + 1 + PROCESSES * ENTRIES))
    assert all(own == sorted(own) for own in numbers)
    moments = list(m.Entry.objects.filter(ledger__organisation=committed.clinic).order_by("number"))
    assert all(a.logged_at < b.logged_at for a, b in zip(moments, moments[1:], strict=False))
    verdict = tamper_check.verify(committed.clinic)
    assert verdict.whole and verdict.entries == head + PROCESSES * ENTRIES


def test_one_request_sent_by_several_processes_at_once_is_one_entry(committed):
    before = counts()
    key = uuid.uuid4()
    running = [worker.start("same", key) for _ in range(PROCESSES)]
    refs = {worker.answer(process) for process in running}
    assert len(refs) == 1
    assert refs == {str(m.ChemicalResult.objects.get().ref)}
    assert counts()["Entry"] == before["Entry"] + 1
    assert tamper_check.verify(committed.clinic).whole


def test_of_two_people_correcting_one_version_at_once_one_is_told_of_the_other(committed):
    test = build.spore_test(committed, build.TODAY, test="")
    running = [worker.start("correct", test.ref, role, n) for n, role in enumerate(("coordinator", "operator"), 41)]
    answers = [worker.answer(process) for process in running]
    assert sorted(a == "ok" for a in answers) == [False, True]
    refusal = next(a for a in answers if a != "ok")
    stands = m.BioTest.objects.newest().get()
    assert stands.cycle_number == ("41" if answers[0] == "ok" else "42")
    assert str(stands.entry.logged_by) in refusal and f"{stands.entry.logged_at:%Y-%m-%d %H:%M}" in refusal
    assert m.BioTest.objects.count() == 2
    assert tamper_check.verify(committed.clinic).whole


# Rows of the visit written before the kill: the entry alone, the visit, some of the job's rows, all of them.
@pytest.mark.parametrize("after", ["0", "1", "6", "end"])
def test_a_kill_in_the_middle_of_a_visit_leaves_nothing_of_it(committed, after):
    before = counts()
    key = uuid.uuid4()
    process = worker.start("killed", key, after)
    process.communicate(timeout=120)
    assert process.returncode == -signal.SIGKILL
    assert counts() == before
    assert tamper_check.verify(committed.clinic).whole

    visit = worker.visit(committed, key)
    assert visit.jobs.get().taskoutcomes.count() == 1
    assert counts()["Entry"] == before["Entry"] + 1
    assert tamper_check.verify(committed.clinic).whole
    assert worker.visit(committed, key) == visit, "the same request once more is the same visit"
