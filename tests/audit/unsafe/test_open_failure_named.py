"""An open failure that does not stop the unit by itself is named beside every answer that permits use."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import TESTED, history, holds
from tests.fact_builders import conclude, gap, job, line, load, part, position

ST79 = "ST79 13.5.2.2.2 as quoted in public: the pack is out, a person decides about the rest"
DAY, AS_OF = "2025-06-26", "2025-06-27"
BAD = load("2025-06-26", "9", mechanical="pass", chemical="fail", released="")
SAID = "a failure is open: chemical result of cycle 9 of 2025-06-26: failed"
LIMITED = conclude("2025-06-23", "limited", "wrapped goods only")
PENDING = conclude("2025-06-26", "pending", acceptor="C. Manager", deadline="2025-06-28")
LATE_LINE = (line(months=5, day="2025-01-01"),)


def told(words, word, *, says=(SAID,), loads=(BAD,), **more):
    return history(words, ST79, as_of=AS_OF, word=word, says=says, opens=("case-open",), loads=loads, **more)


def visit(conclusion):
    day = str(conclusion.row.happened_on)
    return {"jobs": (job(day, parts=(part(day),), conclusion=conclusion),), "positions": (position(),)}


ROWS = [
    told("one load with a failed indicator", Word.IN_SERVICE),
    told("the same beside a known gap", Word.IN_SERVICE, gaps=(gap("2025-03-01", "2025-03-02"),)),
    told("the same beside overdue service", Word.OVERDUE, plan=LATE_LINE, positions=(position(),)),
    told("the same beside an overdue test", Word.OVERDUE, bio_tests=TESTED[:-3]),
    told("the same beside a limitation", Word.LIMITED, **visit(LIMITED)),
    told("the same beside a spore test that is pending after work", Word.LIMITED, **visit(PENDING)),
    told(
        "a load with a failed indicator, another with wet packs: both are counted",
        Word.IN_SERVICE,
        loads=(BAD, replace(load("2025-06-26", "10", mechanical="pass", released=""), packs="wet")),
        says=(SAID + " and 1 more",),
    ),
    history("a failed indicator, and one of the next load that is right: it is answered", ST79, as_of=AS_OF,
            word=Word.IN_SERVICE, says=("no open failure",), not_says=("a failure is open",),
            loads=(BAD, load("2025-06-27", "10", mechanical="pass", chemical="pass"))),
    history("no failure", ST79, as_of=AS_OF, word=Word.IN_SERVICE, says=("no open failure",)),
    history("no failure beside a limitation", ST79, as_of=AS_OF, word=Word.LIMITED, not_says=("failure",),
            **visit(LIMITED)),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)
