"""The engine against published cases: history, rules and day in; the answer out. Sources in monitoring_cases.toml.

Every case goes through the open file format. Cases of the same collection that cannot be expressed, and why:
a second sterilizer that tested negative as a ground against closure (Minn. Stat. 146B.05) is a decision of the
authority over a place, not of a unit's standing; the device identifier in a maker's servicing record (21 CFR
820.35(b)) binds makers, not an independent servicer; a second signature within one session (21 CFR 11.200(a)(1)) is
about signing in, not about records.
"""

import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from audit.judge.evaluate import evaluate_under
from audit.judge.retention import kept_until
from audit.regimes import load_regime
from records.log.indicators import leak_rate, leak_result
from tests.reference.histories import facts_of

CASES = tomllib.loads((Path(__file__).parent / "monitoring_cases.toml").read_text(encoding="utf-8"))["case"]
EXPECTED = {
    "standing", "standing_not", "rule", "phase", "recall", "recall_has", "passes", "lifted_by", "week", "week_before",
    "duty", "finding", "clock", "clock_not", "due", "notify_due",
}  # fmt: skip


def judged(one):
    as_of = date.fromisoformat(one.get("as_of", "2025-03-16"))
    return evaluate_under(facts_of(one), load_regime(one["rules"]), as_of).units[0]


@pytest.mark.parametrize("one", CASES, ids=lambda one: one["id"])
def test_published_case(one):
    said = judged(one)
    clocks = {c.id: c for c in said.clocks}
    word, case = str(said.standing.word), said.cases[-1] if said.cases else None
    assert "rule-failed" not in {f.rule for f in said.findings} and "not-judged" not in {
        f.rule for f in said.findings
    }
    assert one.get("standing", word) == word, said.standing
    assert one.get("standing_not") != word, said.standing
    assert one.get("rule", said.standing.rule) == said.standing.rule
    if "phase" in one:
        assert case.phase == one["phase"]
    assert case is None or case.recall.startswith(one.get("recall", ""))
    if "recall_has" in one:
        assert one["recall_has"] in case.recall
    if "passes" in one:
        assert case.passes == one["passes"]
    assert one.get("lifted_by", "") in said.standing.lifted_by
    if "week" in one:
        assert said.weeks[-1].result == one["week"]
    if "week_before" in one:
        assert said.weeks[-2].result == one["week_before"]
    if "duty" in one:
        assert clocks["duty:biological-test"].state == one["duty"]
    if "finding" in one:
        assert one["finding"] in [f.rule for f in said.findings]
    for id, state in one.get("clock", {}).items():
        assert clocks[id].state == state, clocks[id]
    for id, state in one.get("clock_not", {}).items():
        assert clocks[id].state != state, clocks[id]
    for id, day in one.get("due", {}).items():
        assert str(clocks[id].due_on) == day, clocks[id]
    if "notify_due" in one:
        assert one["notify_due"] in [str(s.due_on) for s in case.steps if s.action == "notify"], case.steps


def test_the_cases_asked_for_are_all_here():
    ids = {one["id"].split(",")[0] for one in CASES}
    published = (1, 2, 3, 4, 5, 6, 8, 9, 10, 11, 12, 15, 16, 17, 19, 20, 27, 28, 29, 30, 32)
    assert {f"X-{n}" for n in published} <= ids
    assert all(one["source"] for one in CASES)
    assert all(EXPECTED & set(one) for one in CASES), "a case that expects nothing"


@pytest.mark.parametrize(
    ("rise", "limit", "rate", "result"),
    [
        ("5", "0.13", "0.0500", "pass"),  # 60 to 65 mbar in 10 min: 0.5 mbar/min
        ("13", "0.13", "0.1300", "pass"),  # at the limit, "not more than"
        ("13.1", "0.13", "0.1310", "fail"),  # 1.31 mbar/min
        ("13.1", "0.1333", "0.1310", "pass"),  # 1 mmHg/min is 1.333 mbar/min
    ],
)
def test_leak_rates(rise, limit, rate, result):
    """EN 285 8.2.3 and EN 13060: 1.3 mbar/min (0.13 kPa/min) over 10 min; 1 mmHg = 1.333 mbar. Derived arithmetic."""
    found = leak_rate(Decimal(rise), "mbar", Decimal(10))
    assert found == Decimal(rate)
    assert leak_result(found, Decimal(limit)) == result


def test_how_long_a_record_is_kept_in_oregon():
    """OAR 818-012-0040: the current calendar year and the two before it."""
    rule = load_regime("us-or-dental").retention[0]
    free = kept_until(rule, date(2023, 3, 15))
    assert date(2025, 2, 1) < free <= date(2026, 2, 1)
