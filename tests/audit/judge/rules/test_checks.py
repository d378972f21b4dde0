"""Checks by the people of the place."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Severity
from audit.regimes import load_regime
from audit.regimes.source import Source
from tests.audit.judge.rules.judged import DAY, items, one
from tests.fact_builders import user_check

# HTM 01-05 (2013) 11.12, England: daily and weekly records are signed by the User before the unit returns to use;
# without a signature the requirement is not met.
HTM = Source("HTM 01-05 (2013), 11.12", "2026-11-25", "quoted")


def signed_rules(equipment=(), signed=True, edition=None):
    base = load_regime("us-dental-cdc-2003")
    duty = replace(
        base.duties[0], id="act", subject="automatic control", every="day-of-use", count=1, equipment=equipment,
        signed=signed, source=HTM, events=(), hours=0, passes=0, each_cycle_type=False,
    )  # fmt: skip
    return replace(base, duties=(*base.duties, duty), **(edition or {}))


def checks(*days, **more):
    return tuple(user_check(d, **more) for d in days)


@pytest.mark.parametrize("kind", ["water", "thermometer comparison"])
def test_a_failed_check_is_to_be_put_right_until_one_passes(kind):
    """Common practice, no source."""
    bad = user_check("2025-06-03", kind, "fail", value="18.5", unit="µS/cm")
    again = user_check("2025-06-05", kind, "fail")
    said = one(rule="check-failed", checks=(bad, again))
    assert (said.severity, str(said.since), len(said.evidence)) == (Severity.PUT_RIGHT, "2025-06-03", 2)
    assert "2 time(s)" in said.message
    assert "18.5 µS/cm" in one(rule="check-failed", checks=(bad,)).message
    assert items(rule="check-failed", checks=(bad, user_check("2025-06-04", kind))) == []
    before = user_check("2025-06-02", kind)
    other = user_check("2025-06-04", "safety check")
    assert one(rule="check-failed", checks=(bad, before, other)).since == bad.row.happened_on


@pytest.mark.parametrize("kind", ["automatic control", "safety check"])
def test_a_failure_that_opens_a_case_is_not_said_twice(kind):
    assert items(rule="check-failed", checks=(user_check("2025-06-03", kind, "fail"),)) == []


def test_not_done_is_known_with_its_reason():
    skipped = replace(user_check("2025-06-03", "water", "not done"), note="meter lent out")
    said = one(rule="check-not-done", checks=(skipped,))
    assert said.severity is Severity.NOTE and "meter lent out" in said.message
    assert "no reason recorded" in one(rule="check-not-done", checks=checks("2025-06-03", result="not done")).message
    assert items(rule="check-not-done", checks=(skipped, user_check("2025-06-04", "water"))) == []


def test_a_check_without_a_signature_does_not_meet_the_duty():
    """HTM 01-05 (2013) 11.12 (England): no signature, not compliant."""
    bare = checks("2025-06-03", "2025-06-04", signed=" ")
    said = one(rule="check-not-signed", checks=bare, regime=signed_rules())
    assert (said.severity, said.source, str(said.since)) == (Severity.PUT_RIGHT, HTM, "2025-06-03")
    assert "2 time(s), last on 2025-06-04" in said.message
    later = one(rule="check-not-signed", checks=(*bare, user_check("2025-06-05")), regime=signed_rules())
    assert later.severity is Severity.NOTE and "next one was signed" in later.way_out


@pytest.mark.parametrize(
    "rules",
    [
        "us-dental-cdc-2003",  # asks no such check
        signed_rules(signed=False),
        signed_rules(equipment=("dynamic air removal",)),  # the unit has gravity displacement
    ],
)
def test_where_no_signature_is_asked_none_is_missed(rules):
    assert items(rule="check-not-signed", checks=checks("2025-06-03", signed=""), regime=rules) == []


def test_the_edition_in_force_on_the_day_of_the_check_decides():
    earlier = signed_rules(signed=False, edition={"edition": "1"})
    now = replace(signed_rules(), valid_from=DAY.replace(day=4), edition="2", earlier=(earlier,))
    said = one(rule="check-not-signed", checks=checks("2025-06-03", "2025-06-04", signed=""), regime=now)
    assert "1 time(s)" in said.message and str(said.since) == "2025-06-04"


def test_what_was_not_done_cannot_be_signed():
    skipped = checks("2025-06-03", result="not done", signed="")
    assert items(rule="check-not-signed", checks=skipped, regime=signed_rules()) == []


def test_it_speaks_of_the_newest_and_shows_the_newest_five():
    bad = tuple(user_check(f"2025-06-0{n}", "water", "fail", value=str(n)) for n in range(1, 8))
    said = one(rule="check-failed", checks=bad)
    assert "failed on 2025-06-07 (7)" in said.message and [e.ref for e in said.evidence] == [
        c.row.ref for c in bad[2:]
    ]
    skipped = [replace(user_check(f"2025-06-0{n}", "water", "not done"), note=f"reason {n}") for n in (1, 2)]
    assert "last on 2025-06-02: reason 2" in one(rule="check-not-done", checks=tuple(skipped)).message
    rows = (
        user_check("2025-06-01", "water", "fail"),
        user_check("2025-06-02", "water"),
        user_check("2025-06-03", "water", "fail"),
    )
    for checks_ in (rows, (*rows, user_check("2025-06-04", "water", "fail"))):
        assert str(one(rule="check-failed", checks=checks_).since) == "2025-06-03"


def test_the_source_is_that_of_the_day_of_the_newest_unsigned_check():
    older = Source("an older edition")
    early = signed_rules(edition={"edition": "1"})
    early = replace(early, duties=tuple(replace(d, source=older) for d in early.duties))
    now = replace(signed_rules(), valid_from=DAY.replace(day=4), edition="2", earlier=(early,))
    assert (
        one(rule="check-not-signed", checks=checks("2025-06-03", "2025-06-04", signed=""), regime=now).source == HTM
    )
