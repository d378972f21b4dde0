"""A return to use that the clinic refused keeps the unit out until the clinic takes it back.

A refusal says that somebody who looked did not find it fit. The technician's release alone does not outweigh that.
Common practice, no source.
"""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, PERMITS, TESTED, history, holds
from tests.fact_builders import bio, conclude, event, job, outcome, row, sign

DAY, LATER = "2025-06-23", "2025-06-25"


def at(fact, time, day=DAY):
    return replace(fact, row=row(day, at=time))


def visit(*signatures, day=DAY, **more):
    done = {"outcomes": (outcome(day),), "signatures": (sign(day), *signatures)}
    return job(day, **(done | more))


def told(words, *jobs, word=Word.WAITING, events=(), **more):
    never = PERMITS if word is Word.WAITING else ()
    opens = ("return-refused",) if word is Word.WAITING else ()
    return history(words, jobs=jobs, word=word, never=never, opens=opens, events=(BEGUN, *events), **more)


REFUSED, BACK = sign(DAY, "refused"), sign(DAY, "returned to use")
GOOD = Word.IN_SERVICE

ROWS = [
    told("released, and the clinic refused to take it back", visit(REFUSED), says=("return to use was refused",)),
    told("released, nobody was there: an open item", visit(sign(DAY, "nobody present")), word=GOOD),
    told("refused, and taken back afterwards", visit(sign(DAY, "refused"), sign(DAY, "returned to use")),
         word=GOOD),
    told("taken back, and refused afterwards", visit(BACK, sign(DAY, "refused"))),
    told("taken back at 9 and refused at 10", visit(at(REFUSED, "10:00"), at(BACK, "09:00"))),
    told("refused at 9 and taken back at 10", visit(at(BACK, "10:00"), at(REFUSED, "09:00")), word=GOOD),
    told("refused, taken back two days later in the same visit", visit(sign(LATER, "returned to use"), REFUSED),
         word=GOOD),
    told("refused, and a later visit taken back", visit(REFUSED), visit(sign(LATER, "returned to use"), day=LATER),
         word=GOOD),
    told("refused, a later visit released and not taken back", visit(REFUSED), visit(day=LATER)),
    told("a visit taken back, a later one refused", visit(BACK), visit(sign(LATER, "refused"), day=LATER)),
    told("refused, another visit of that day taken back, times not known", visit(REFUSED), visit(BACK)),
    told("refused, returned by hand the day after", visit(REFUSED), events=(event("2025-06-24", "returned"),),
         word=GOOD),
    told("refused, returned by hand on that day, order not known", visit(REFUSED), events=(event(DAY, "returned"),)),
    told("returned by hand the day before, then refused", visit(REFUSED), events=(event("2025-06-22", "returned"),)),
    told("refused, a return that ends a withdrawal for another reason", visit(REFUSED),
         events=(replace(event("2025-06-20", "withdrawn", "door"), row=row("2025-06-20", ref="out")),
                 replace(event("2025-06-24", "returned"), ends="out"))),
    told("refused, with a limitation", visit(REFUSED, conclusion=conclude(DAY, "limited", "one programme only"))),
    told("refused, a pending result accepted", visit(REFUSED, conclusion=conclude(
        DAY, "pending", acceptor="C. Manager", deadline="2025-07-10")), bio_tests=(*TESTED[:-1], bio(LATER))),
    told("refused after nothing was done to it", visit(REFUSED, outcomes=(), end="not worked on"), word=GOOD),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_since_is_the_day_on_which_it_was_taken_back():
    one = told("taken back", visit(REFUSED, sign(LATER, "returned to use")), word=GOOD).values[0]
    assert str(one.judged().standing.since) == LATER


def test_a_return_signed_before_a_failure_was_proven_again_takes_nothing_back():
    failed = bio("2025-06-24", result="growth", known="2025-06-25")
    again = bio("2025-06-26", result="pass", known="2025-06-27", purpose="repeat")
    early = event("2025-06-26", "returned")
    holds(told("too early", visit(REFUSED), events=(early,), bio_tests=(*TESTED[:-1], failed, again)).values[0])
