"""What a record shows outweighs what is ticked beside it: a failed test, a rate over its limit, a missing part."""

from dataclasses import replace
from decimal import Decimal

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, history, holds
from tests.fact_builders import check, fit, job, leak, outcome, part, position

DAY, LATER, AS_OF = "2025-06-23", "2025-06-24", "2025-06-27"
TRADE = "common practice, no source"
LEAKS = "EN 13060 as quoted in public: rate and limit in kPa per minute; that both agree: common practice, no source"
GOOD = Word.IN_SERVICE
PLACES = tuple(map(position, ("relief-valve", "latch", "seal", "thing")))


def told(words, *, word=None, source=TRADE, **more):
    never = () if word in PERMITS else PERMITS
    return history(words, source, as_of=AS_OF, never=never, word=word, **more)


def looked(*tests, end="not worked on", day=DAY, **more):
    held = {"outcomes": (outcome(day, what="not due"),)} | more
    return job(day, tests=tests, end=end, signed=False, **held)


def failed(code):
    return check(DAY, code, "fail")


def rate(of, limit="0.13", result="pass"):
    held = replace(leak(DAY), rate=Decimal(of), limit=Decimal(limit), result=result)
    return {"type": "dynamic air removal", "leaks": (held,), "source": LEAKS}


def missing(where, *jobs, state="missing", more=()):
    return {"positions": PLACES, "fits": (fit(where, state, DAY), *more), "jobs": jobs}


def fitted(where, day=LATER):
    parts = (part(day, where, "replaced on condition", where.replace("-", " ")),)
    return job(day, reason="breakdown", tests=("V1", "V4", "V6"), parts=parts)


ROWS = [
    told("the interlock check failed, the visit closed as not worked on", jobs=(looked(failed("V6")),)),
    told("the function cycle failed, the visit closed as not worked on", jobs=(looked(failed("V1")),)),
    told("the electrical test failed, nothing else in the visit", jobs=(looked(failed("V5"), outcomes=()),)),
    told("the interlock check passed, not worked on", jobs=(looked("V6"),), word=GOOD),
    told("failed, and passed the day after", jobs=(looked(failed("V6")), looked("V6", day=LATER)), word=GOOD),
    told("failed, and another test passed the day after", jobs=(looked(failed("V6")), looked("V1", day=LATER))),
    told("a leak test ticked as passed, its rate above the limit", **rate("0.14")),
    told("a leak test ticked as passed, ten times the limit", **rate("1.3")),
    told("a leak test at its limit", **rate("0.13"), word=GOOD),
    told("a leak test under its limit that is ticked as failed", **rate("0.05", result="fail")),
    told("the relief valve is missing", **missing("relief-valve"), word=Word.OUT),
    told("the latch is missing", **missing("latch"), word=Word.OUT),
    told("a thing that nobody knows is missing", **missing("thing"), word=Word.OUT),
    told("the seal is missing: an open item", **missing("seal"), word=GOOD, opens=("missing-part",)),
    told("this unit has no relief valve", **missing("relief-valve", state="none"), word=GOOD),
    told("it was missing, and is there since the day after", word=GOOD,
         **missing("relief-valve", more=(fit("relief-valve", "yes", LATER),))),
    told("missing, and fitted the day after with its tests", word=GOOD,
         **missing("relief-valve", fitted("relief-valve"))),
    told("missing, and another part fitted", word=Word.OUT, **missing("relief-valve", fitted("latch"))),
    told("missing, fitted the day before", word=Word.OUT, **missing("latch", fitted("latch", "2025-06-22"))),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)
