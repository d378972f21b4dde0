"""Each open item: when it is raised, and when it is not."""

from datetime import date

import pytest

from audit.judge.evaluate import evaluate
from tests.fact_builders import (
    air,
    bio,
    check,
    clinic,
    counter,
    event,
    fit,
    job,
    leak,
    line,
    look,
    lot,
    measured,
    outcome,
    part,
    position,
    seen,
    sign,
    unit,
)

DAY = date(2025, 6, 20)
SEAL = {"positions": (position(),)}
DONE = {"outcomes": (outcome("2025-06-01"),)}


def put_off(**more):
    words = {"what": "deferred", "until": "2025-09-01", "by": "C", "why": "young"} | more
    return {"jobs": (job("2025-06-01", outcomes=(outcome("2025-06-01", **words),)),)}


def worked(**more):
    return {"jobs": (job("2025-06-01", **(DONE | more)),)}


def read(**more):
    return worked(readings=(measured("2025-06-01", **more),))


CASES = [
    # rule, facts that raise it, facts that do not
    ("unknown-fit", {"fits": (fit(state="unknown"),)}, {"fits": (fit(state="yes"),)}),
    ("unknown-fit", {"fits": ()}, {"fits": (fit(state="unknown"), fit(state="none", day="2025-01-01"))}),
    (
        "make-safe-not-recorded",
        worked(make_safe=("unplugged before the cover came off: it has no plug",)),
        worked(make_safe=("cooled down and without pressure: done", "Unplugged, plug in sight: done at 13:25")),
    ),
    ("missing-part", {"fits": (fit(state="missing"),)}, {"fits": (fit(state="none"),)}),
    ("plan-overdue", {"plan": (line(months=5),)}, {"plan": (line(months=6),)}),
    ("no-evidence", {"plan": (line(),), "events": ()}, {"plan": (line(),)}),
    (
        "invalid-test",
        {"bio_tests": (bio("2025-06-02", result="invalid"),)},
        {"bio_tests": (bio("2025-06-02", result="pass"),)},
    ),
    (
        "expired-lot-used",
        {"bio_tests": (bio("2025-06-02", result="pass", lot_=lot(expiry="2025-06-01")),)},
        {"bio_tests": (bio("2025-06-02", result="pass", lot_=lot(expiry="2025-06-02")),)},
    ),
    (
        "result-awaited-too-long",
        {"bio_tests": (bio("2025-06-11"),)},
        {"bio_tests": (bio("2025-06-12"),)},
    ),
    (
        "result-awaited-too-long",
        {"bio_tests": (bio("2025-06-05", site="laboratory"),)},
        {"bio_tests": (bio("2025-06-06", site="laboratory"),)},
    ),
    (
        "part-beyond-expiry",
        worked(parts=(part("2025-06-01", expiry="2025-05-31"),)),
        worked(parts=(part("2025-06-01", expiry="2025-06-01"),)),
    ),
    ("lot-not-known", worked(parts=(part("2025-06-01", state="unreadable"),)), worked(parts=(part("2025-06-01"),))),
    (
        "failed-part-not-replaced",
        worked(findings=(seen("2025-06-01", grade=3, decision="replace"),)),
        worked(findings=(seen("2025-06-01", grade=3, decision="replace"),), parts=(part("2025-06-01"),)),
    ),
    ("conclusion-missing", worked(end=""), worked()),
    ("verification-missing", worked(tests=()), worked(tests=("V1",))),
    ("verification-missing", worked(tests=(check("2025-06-01", "V1", "fail"),)), worked()),
    ("not-released", worked(end="not released"), worked(end="limited")),
    ("not-returned-to-use", worked(signed=False), worked()),
    (
        "not-returned-to-use",
        worked(signatures=(sign("2025-06-01"),)),
        worked(signatures=(sign("2025-06-01"), sign("2025-06-01", "nobody present"))),
    ),
    (
        "return-refused",
        worked(signatures=(sign("2025-06-01"), sign("2025-06-01", "refused"))),
        worked(signatures=(sign("2025-06-01"), sign("2025-06-01", "refused"), sign("2025-06-01", "returned to use"))),
    ),
    (
        "return-refused",
        worked(signatures=(sign("2025-06-01"), sign("2025-06-01", "refused"))),
        worked(signatures=(sign("2025-06-01"), sign("2025-06-01", "nobody present"))),
    ),
    (
        "counter-backwards",
        {"counters": (counter("2025-05-01", 100), counter("2025-06-01", 99))},
        {"counters": (counter("2025-05-01", 100), counter("2025-06-01", 0, offset=100))},
    ),
    ("reading-out-of-limits", read(left="133.9"), read(left="134")),
    ("reading-out-of-limits", read(left="137.1"), read(left="137")),
    ("reading-out-of-limits", read(left="137.1"), read(left="150", upper=None)),
    ("found-out-of-tolerance", read(found="133.9"), read(found="134")),
    ("instrument-past-calibration", read(calibrated="2025-05-31"), read(calibrated="2025-06-01")),
    ("instrument-past-calibration", read(calibrated="2025-05-31"), read(calibrated=None)),
    ("test-not-applicable", {"leaks": (leak("2025-06-01"),)}, {"leaks": (leak("2025-06-01"),), "type": "cassette"}),
    ("test-not-applicable", {"air_removal": (air("2025-06-01", "fail"),)}, {}),
    ("postponed-without-decision", put_off(by=""), put_off()),
    ("postponed-without-decision", put_off(until=None), put_off()),
    ("missed-week", {}, {"events": (event("2025-06-16"),)}),
    ("duty-overdue", {}, {"events": (event("2025-06-16"),)}),
]


def found(facts):
    held = {"events": (event("2025-01-01"),)} | SEAL | facts
    return {f.rule: f for f in evaluate(clinic(unit(**held)), DAY).units[0].findings}


@pytest.mark.parametrize(("rule", "raising", "quiet"), CASES)
def test_raised_and_not_raised(rule, raising, quiet):
    said = found(raising)
    assert rule in said and rule not in found(quiet)
    assert said[rule].message and said[rule].way_out and said[rule].owner in ("clinic", "service company")
    assert said[rule].source is not None


def test_an_early_reading_is_not_final_and_is_no_invalid_test():
    early = bio("2025-06-16", look("2025-06-17", hours="20"))
    assert "invalid-test" not in found({"bio_tests": (early,)})


def test_missed_weeks_in_a_row_are_one_item():
    said = evaluate(clinic(unit(events=(event("2025-05-26"),))), DAY).units[0].findings
    missed = [f for f in said if f.rule == "missed-week"]
    assert len(missed) == 1 and "3 in a row" in missed[0].message and missed[0].since == date(2025, 5, 26)


def test_worst_first():
    order = [
        f.severity
        for f in evaluate(clinic(unit(events=(event("2025-01-01"),), **worked(tests=()))), DAY).units[0].findings
    ]
    ranks = [["forbids use", "put right", "note"].index(s) for s in order]
    assert ranks == sorted(ranks) and ranks[0] == 0
