"""Points of an inspection: open until their own entry, in the trade's words. Common practice, no source.

Days are inclusive: a point due by a day is not overdue on it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.facts import InspectionFact, InspectionPointFact, PointMetFact
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Severity
from tests import fact_builders as build

CAME = date(2026, 3, 2)


def judged(as_of: date, *points) -> list:
    inspection = InspectionFact(
        row=build.row(CAME), visitor="Iva Inspector", office="Invented Board", occasion="", asked="", binder=None,
        report="", points=tuple(points),
    )  # fmt: skip
    clinic = replace(build.clinic(), inspections=(inspection,))
    return [f for f in evaluate(clinic, as_of).findings if f.rule == "inspection-point-open"]


def point(what="hang up the certificate", due_on=None, named=CAME, met=None, **more):
    done = PointMetFact(build.row(met), "it hangs", "Pat Doer", "") if met else None
    said = {"unit": "", "citation": ""} | more
    return InspectionPointFact(row=build.row(named), what=what, due_on=due_on, met=done, **said)


ASKED = "asked to be corrected at the inspection of 2026-03-02 (Invented Board): hang up the certificate"
TABLE = [
    # as of,            due by,            met on,           the open item; None: none
    (date(2026, 3, 1), None, None, None),
    (date(2026, 3, 2), None, None, f"{ASKED}; no day was set"),
    (date(2026, 3, 15), date(2026, 3, 16), None, f"{ASKED}; due by 2026-03-16"),
    (date(2026, 3, 16), date(2026, 3, 16), None, f"{ASKED}; due by 2026-03-16"),
    (date(2026, 3, 17), date(2026, 3, 16), None, f"{ASKED}; due by 2026-03-16, 1 day overdue"),
    (date(2026, 3, 26), date(2026, 3, 16), None, f"{ASKED}; due by 2026-03-16, 10 days overdue"),
    (date(2026, 3, 9), date(2026, 3, 16), date(2026, 3, 10), f"{ASKED}; due by 2026-03-16"),
    (date(2026, 3, 10), date(2026, 3, 16), date(2026, 3, 10), None),
    (date(2027, 3, 10), date(2026, 3, 16), date(2026, 3, 20), None),
]


@pytest.mark.parametrize(("as_of", "due_on", "met", "message"), TABLE)
def test_a_point_is_open_until_its_own_entry(as_of, due_on, met, message):
    found = judged(as_of, point(due_on=due_on, met=met))
    assert [f.message for f in found] == ([message] if message else [])
    assert all((f.severity, f.since, f.owner) == (Severity.PUT_RIGHT, CAME, "clinic") for f in found)


def test_each_point_is_an_item_of_its_own_with_its_rule_and_one_named_later_begins_on_its_day():
    later = date(2026, 3, 9)
    points = point(), point("label the racks", named=later, citation="Invented code 9")
    assert len(judged(date(2026, 3, 8), *points)) == 1
    one, two = judged(later, *points)
    assert "label the racks (Invented code 9); no day was set" in two.message
    assert one.evidence != two.evidence, "each names its own row"


def test_a_later_inspection_that_names_nothing_meets_no_point():
    first = InspectionFact(build.row(CAME), "Iva Inspector", "Invented Board", "", "", None, "", (point(),))
    second = replace(first, row=build.row(date(2026, 4, 2)), points=())
    clinic = replace(build.clinic(), inspections=(first, second))
    found = [f for f in evaluate(clinic, date(2026, 5, 1)).findings if f.rule == "inspection-point-open"]
    assert len(found) == 1
