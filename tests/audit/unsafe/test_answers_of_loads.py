"""Answers about each load: one load of three that is not as asked, field by field, and the numbers that are said.

Sources beside each question in the catalogue of questions; the fields: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from audit.facts import ChemicalFact
from tests.audit.unsafe.asked import YES, asks, holds, named
from tests.fact_builders import bio, event, load, row

NO, PART = "no", "in part"
DAYS = ("2025-06-03", "2025-06-10", "2025-06-17")
AS_OF = "2025-06-20"
GOOD = {"mechanical": "pass", "chemical": "pass"}


def strip(day=DAYS[1], cycle="2", result="pass", kind=5):
    return ChemicalFact(row(day), kind, result, cycle, "inside", "C1")


def three(**one):
    """Three loads in a row, by a named person each; the second differs by these fields."""
    made = [replace(named(load(day, str(n), **GOOD)), packs="dry") for n, day in enumerate(DAYS, start=1)]
    made[1] = replace(made[1], **one)
    return tuple(made)


def told(id, title, answer, *says, loads=None, **more):
    facts = {"events": (event("2025-06-01"),), "bio_tests": (), "loads": three() if loads is None else loads}
    return asks(id, title, never=(), answer=answer, says=says, as_of=AS_OF, regime="base", **(facts | more))


def exposed(**one):
    """The three with time and temperature of their exposure; the second differs by these fields."""
    reached = {"exposure_minutes": Decimal(4), "exposure_temperature": Decimal("134.5")}
    made = [replace(x, **reached) for x in three()]
    made[1] = replace(made[1], **one)
    return tuple(made)


EXPOSED = "load-log"
MECHANICAL, HELD, LOG, SIGNED = (
    "mechanical-each-load",
    "no-data-no-release",
    "cycles-documented",
    "load-parameters-signed",
)
CHEMICAL, TYPE_5 = "chemical-each-pack", "integrator-each-load"
PROOF, FAILED = "loads-released-on-proof", "failed-loads-not-used"
SHORT = "2 of 3 loads"
ALL_STRIPS = tuple(strip(day, str(n)) for n, day in enumerate(DAYS, start=1))

ROWS = [
    told(MECHANICAL, "all passed", YES, "3 of 3 loads"),
    told(MECHANICAL, "one failed: it was looked at", YES, loads=three(mechanical="fail")),
    told(MECHANICAL, "one not recorded", PART, SHORT, loads=three(mechanical="not recorded")),
    told(HELD, "all passed", YES),
    told(HELD, "one failed and released", PART, SHORT, loads=three(mechanical="fail")),
    told(HELD, "one failed and rejected", YES, loads=three(mechanical="fail", released="rejected")),
    told(HELD, "one not recorded", PART, SHORT, loads=three(mechanical="")),
    told(LOG, "all complete", YES),
    told(LOG, "one without a cycle number", PART, SHORT, loads=three(cycle_number="")),
    told(LOG, "one without its contents", PART, SHORT, loads=three(contents=" ")),
    told(LOG, "one without its mechanical result", PART, SHORT, loads=three(mechanical="")),
    told(LOG, "one without its chemical result", PART, SHORT, loads=three(chemical="")),
    told(LOG, "one not decided about", PART, SHORT, loads=three(released="")),
    told(LOG, "one that nobody signed, which is not asked", YES, loads=three(row=row(DAYS[1]))),
    told(SIGNED, "all by a named person", YES),
    told(SIGNED, "one that nobody signed", PART, SHORT, loads=three(row=row(DAYS[1]))),
    told(SIGNED, "one decided by a name that somebody else told", PART, SHORT, loads=three(released_given="told")),
    told(SIGNED, "one decided apart, by nobody named", PART, SHORT, loads=three(released_row=row(DAYS[1]))),
    told(SIGNED, "one decided apart, by somebody named", YES, loads=three(released_row=named(load(DAYS[1])).row)),
    told(SIGNED, "one decided by somebody named and run by nobody", PART, SHORT,
         loads=three(row=row(DAYS[1]), released_row=named(load(DAYS[1])).row)),
    told(SIGNED, "one not decided about", PART, SHORT, loads=three(released="")),
    told(EXPOSED, "each with time and temperature", YES, "Each with time and temperature", loads=exposed()),
    told(EXPOSED, "one without its time", PART, "not recorded with 1 of them", loads=exposed(exposure_minutes=None)),
    told(EXPOSED, "one without its temperature", PART, "not recorded with 1 of them",
         loads=exposed(exposure_temperature=None)),
    told(CHEMICAL, "all passed: per load, not per pack", PART, "3 of 3 loads", "per load, not per pack"),
    told(CHEMICAL, "one not read, an indicator of its cycle read", PART, "3 of 3 loads",
         loads=three(chemical=""), chemical=(strip(),)),
    told(CHEMICAL, "one not read, an indicator of its cycle not read", PART, SHORT,
         loads=three(chemical=""), chemical=(strip(result="not read"),)),
    told(CHEMICAL, "one not read, an indicator of another cycle", PART, SHORT,
         loads=three(chemical=""), chemical=(strip(cycle="3"),)),
    told(CHEMICAL, "one not read, an indicator of that number on another day", PART, SHORT,
         loads=three(chemical=""), chemical=(strip(DAYS[2]),)),
    told(TYPE_5, "one of type 5 in each", YES, chemical=ALL_STRIPS),
    told(TYPE_5, "one of them of type 4", PART, SHORT, chemical=(ALL_STRIPS[0], strip(kind=4), ALL_STRIPS[2])),
    told(TYPE_5, "one of them not read", PART, SHORT,
         chemical=(ALL_STRIPS[0], strip(result="not read"), ALL_STRIPS[2])),
    told(TYPE_5, "one of them failed: it was read", YES,
         chemical=(ALL_STRIPS[0], strip(result="fail"), ALL_STRIPS[2])),
    told(PROOF, "all passed and released", YES),
    told(PROOF, "one released with failed gauges", PART, SHORT, loads=three(mechanical="fail")),
    told(PROOF, "one released with a failed indicator", PART, SHORT, loads=three(chemical="fail")),
    told(PROOF, "one released with neither read", PART, SHORT, loads=three(mechanical="", chemical="")),
    told(PROOF, "one released wet", PART, SHORT, loads=three(packs="wet")),
    told(PROOF, "one released with torn wrapping", PART, SHORT, loads=three(pack_condition="damaged")),
    told(PROOF, "one not decided about", PART, SHORT, loads=three(released="")),
    told(PROOF, "one rejected with its indicator read", YES, loads=three(released="rejected", chemical="fail")),
    told(PROOF, "one rejected, its indicator not read", PART, SHORT, loads=three(released="rejected", chemical="")),
    told(PROOF, "one released, the spore test of its cycle positive", PART, SHORT,
         bio_tests=(bio(DAYS[1], result="growth", known=DAYS[1], cycle="2"),)),
    told(FAILED, "none failed", YES, "3 loads", "0 with a failed result"),
    told(FAILED, "one failed and released", NO, "1 with a failed result", "of which 0 rejected",
         loads=three(mechanical="fail")),
    told(FAILED, "one failed and rejected", YES, "of which 1 rejected",
         loads=three(chemical="fail", released="rejected")),
    told(FAILED, "one wet and released", NO, loads=three(packs="wet")),
    told(FAILED, "one torn and released", NO, loads=three(pack_condition="damaged")),
    told(FAILED, "one torn and rejected", YES, loads=three(pack_condition="damaged", released="rejected")),
    told(FAILED, "the indicator of the spore test of one cycle failed", NO, "1 with a failed result",
         bio_tests=(bio(DAYS[1], result="pass", cycle="2", chemical="fail"),)),
    told(FAILED, "one not read", PART, "1 without a mechanical and a chemical result", loads=three(mechanical="")),
    told(FAILED, "one not read, its indicator", PART, "1 without", loads=three(chemical="")),
    told(FAILED, "one failed and not read: counted as failed", NO, "0 without",
         loads=three(mechanical="fail", chemical="")),
    told(FAILED, "an indicator of one cycle failed", NO, "1 with a failed result", chemical=(strip(result="fail"),)),
    told(FAILED, "an indicator of another day failed", PART, "0 with a failed result",
         chemical=(strip(DAYS[0], result="fail"),)),
    told(FAILED, "gauges of the spore test of one cycle failed", NO, "1 with a failed result",
         bio_tests=(bio(DAYS[1], result="pass", cycle="2", mechanical="fail"),)),
    told(FAILED, "the spore test of one cycle passed in all", YES, "0 with a failed result",
         bio_tests=(bio(DAYS[1], result="pass", cycle="2"),)),
    told(FAILED, "gauges of a spore test without a number failed", PART, "0 with a failed result",
         loads=three(cycle_number=""), bio_tests=(bio(DAYS[1], result="pass", chemical="fail"),)),
    told(FAILED, "two failed, one of them rejected", PART, "2 with a failed result", "of which 1 rejected",
         loads=(*three(mechanical="fail", released="rejected")[:2], replace(three()[2], chemical="fail"))),
    told("cycle-numbers", "one after the other", YES, "3 cycle numbers", "none is missing"),
    told("cycle-numbers", "one left out", PART, "1 missing between them", "cycles 3:",
         loads=(*three()[:2], replace(three()[2], cycle_number="4"))),
    told("cycle-numbers", "two left out", PART, "2 missing between them", "cycles 3 to 4:",
         loads=(*three()[:2], replace(three()[2], cycle_number="5"))),
    told("cycle-numbers", "one that falls back", PART, "2 of 2025-06-10, then 1 of 2025-06-17", "1 place",
         loads=(*three()[:2], replace(three()[2], cycle_number="1"))),
    told("cycle-numbers", "one without a plain number", PART, "1 load without a plain number", "1 number",
         loads=three(cycle_number="2a")),
    told("cycle-numbers", "one number alone", "no record found", loads=three()[:1]),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_one_load_that_is_not_as_asked(row):
    holds(row)
