"""The edges of the plan: which version holds, what is fitted or postponed, how a line reads, what was done late.

Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.clocks.last_valid_days import paper_clocks
from audit.judge.clocks.plan import fit_on, last_done_late, plan_clocks, plan_lines
from tests.fact_builders import clinic, counter, document, event, fit, job, line, on, outcome, part, position, unit

INSTALLED = event("2024-01-10")


def held(*plan, **more):
    facts = {"fits": (fit(),), "events": (INSTALLED,), "positions": (position(),)} | more
    return unit(plan=plan, **facts)


def clock(as_of, *plan, code="replace-seal", **more):
    return next(c for c in plan_clocks(held(*plan, **more), on(as_of)) if c.code == code)


# ------------------------------------------------------------------------------------------------ what holds


def test_the_newest_version_in_effect_holds_and_of_one_day_the_one_written_last():
    first, later, same = line(months=24), line(months=12, day="2025-01-01"), line(months=6, day="2025-01-01")
    for order in ((first, later, same), (same, later, first)):
        assert [x.months for x in plan_lines(held(*order), on("2024-12-31"))] == [24]
        assert [x.months for x in plan_lines(held(*order), on("2025-01-01"))] == [6]


def test_a_line_that_was_retired_is_none_from_that_day_on():
    plan = (line(), line("clean-seal", action="clean"), line(retired=True, day="2025-01-01"))
    assert [x.code for x in plan_lines(held(*plan), on("2024-12-31"))] == ["clean-seal", "replace-seal"]
    assert [x.code for x in plan_lines(held(*plan), on("2025-01-01"))] == ["clean-seal"]


@pytest.mark.parametrize(
    ("fits", "jobs", "as_of", "state"),
    [
        ((), (), "2025-01-01", "unknown"),
        ((), (job("2024-06-01", parts=(part("2024-06-01"),)),), "2025-01-01", "yes"),
        ((), (job("2024-06-01", parts=(part("2024-06-01", "filter"),)),), "2025-01-01", "unknown"),
        ((fit(state="none"),), (job("2024-06-01", parts=(part("2024-06-01"),)),), "2025-01-01", "none"),
        ((fit("filter", "none"),), (), "2025-01-01", "unknown"),
        ((fit(state="none"), fit(state="missing", day="2025-01-01")), (), "2024-12-31", "none"),
        ((fit(state="none"), fit(state="missing", day="2025-01-01")), (), "2025-01-01", "missing"),
    ],
)
def test_whether_a_position_is_fitted(fits, jobs, as_of, state):
    assert fit_on(held(fits=fits, jobs=jobs), "pos-seal", on(as_of)) == state


def test_what_is_not_fitted_is_owed_nothing_and_what_is_not_known_says_so():
    assert clock("2030-01-01", line(), fits=(fit(state="none"),)).state == "not applicable"
    said = clock("2030-01-01", line(), fits=())
    assert (said.state, said.note) == ("overdue", "whether fitted is unknown")
    assert clock("2030-01-01", line(position=""), fits=()).note == ""
    assert clock("2030-01-01", line(), fits=(), events=()).note == (
        "whether fitted is unknown; never done, and no installation on record"
    )


# ------------------------------------------------------------------------------------------------ how it reads

WORDS = [
    ({}, "", "replace every 24 months"),
    ({"months": None, "cycles": 1000}, "", "replace every 1000 cycles"),
    ({"months": None, "hours": 500}, "", "replace every 500 hours"),
    ({"cycles": 1000}, "", "replace every 24 months or 1000 cycles, whichever comes first"),
    (
        {"cycles": 1000},
        "when it leaks",
        "replace every 24 months or 1000 cycles, whichever comes first; when it leaks",
    ),
    ({}, "when it leaks", "replace every 24 months; when it leaks"),
    ({"months": None}, "when it leaks", "replace: when it leaks"),
    ({"months": None}, "", "replace: no interval stated"),
]


@pytest.mark.parametrize(("limits", "rule", "words"), WORDS)
def test_how_often_in_words(limits, rule, words):
    assert clock("2024-03-01", replace(line(**limits), rule=rule)).rule == words


def test_without_any_interval_nothing_is_due():
    said = clock("2030-01-01", line(months=None))
    assert (said.state, said.due_on, said.note) == ("ok", None, "no interval stated")


@pytest.mark.parametrize(
    ("edition", "source"), [("1", "invented maintenance plan, 1"), ("", "invented maintenance plan")]
)
def test_the_source_with_its_edition(edition, source):
    assert clock("2024-03-01", replace(line(), edition=edition)).source.citation == source


def test_what_it_counts_from_is_told():
    fitted = job("2025-03-01", parts=(part("2025-03-01"),))
    cleaned = job("2025-04-01", outcomes=(outcome("2025-04-01", "clean-seal", action="clean"),))
    plan = (line(), line("clean-seal", action="clean"))
    assert clock("2025-06-01", *plan).counts_from.text == "never done since installation on 2024-01-10"
    assert (
        clock("2025-06-01", *plan, jobs=(fitted,)).counts_from.text == "seal replaced on plan on 2025-03-01, lot P1"
    )
    no_lot = job("2025-03-01", parts=(part("2025-03-01", lot=""),))
    assert clock("2025-06-01", *plan, jobs=(no_lot,)).counts_from.text == "seal replaced on plan on 2025-03-01"
    both = {"jobs": (fitted, cleaned), "code": "clean-seal"}
    assert clock("2025-06-01", *plan, **both).counts_from.text == "clean done on 2025-04-01"


# ------------------------------------------------------------------------------------------------ what resets it

RESETS = [
    # what was done, action and position of the line, whether it starts anew
    ({"outcomes": (outcome("2025-06-01", "x", "", "replace"),)}, "replace", "", False),
    ({"outcomes": (outcome("2025-06-01", "", "", "replace"),)}, "replace", "", False),
    ({"outcomes": (outcome("2025-06-01", "", "seal", "replace"),)}, "lubricate", "seal", True),
    ({"outcomes": (outcome("2025-06-01", "", "seal", "replace"),)}, "calibrate", "seal", False),
    ({"outcomes": (outcome("2025-06-01", "", "seal", "clean"),)}, "inspect", "seal", False),
    ({"outcomes": (outcome("2025-06-01", "", "seal", "inspect"),)}, "inspect", "seal", True),
    ({"outcomes": (outcome("2025-06-01", "renew", ""),)}, "clean", "seal", True),  # a line that renews the seal
    ({"outcomes": (outcome("2025-06-01", "renew", ""),)}, "calibrate", "seal", False),
    ({"outcomes": (outcome("2025-06-01", "renew", ""),)}, "clean", "filter", False),
    ({"outcomes": (outcome("2025-06-01", "renew", ""),)}, "clean", "", False),
    ({"parts": (part("2025-06-01", ""),)}, "clean", "", False),
]


@pytest.mark.parametrize(("done", "action", "place", "resets"), RESETS)
def test_what_starts_a_line_anew(done, action, place, resets):
    plan = (line("own", place, action), line("renew", "seal"))
    made = {"jobs": (job("2025-06-01", **done),), "fits": (fit(), fit("filter"))}
    said = clock("2025-06-02", *plan, code="own", **made)
    assert str(said.due_on) == ("2027-06-01" if resets else "2026-01-10")


# ------------------------------------------------------------------------------------------------ postponed


def put_off(until="2026-06-01", day="2025-12-01", **more):
    where = {"plan_line": "replace-seal", "position": "seal", "action": "replace"} | more
    return outcome(day, what="deferred", until=until, by="C. Decider", why="young", **where)


@pytest.mark.parametrize(
    ("more", "counts"),
    [
        ({}, True),
        ({"plan_line": "other"}, False),
        ({"plan_line": ""}, True),
        ({"plan_line": "", "action": "clean"}, False),
        ({"plan_line": "", "position": "filter"}, False),
        ({"plan_line": "", "position": ""}, False),
        ({"position": "", "action": "clean"}, True),  # its line is named
    ],
)
def test_which_line_was_postponed(more, counts):
    said = clock("2026-02-01", line(), jobs=(job("2025-12-01", outcomes=(put_off(**more),)),))
    assert said.state == ("in grace" if counts else "overdue")


def test_a_postponement_of_the_whole_unit_names_its_line():
    unplaced = put_off(plan_line="", position="")
    plan = line(position="")
    assert clock("2026-02-01", plan, jobs=(job("2025-12-01", outcomes=(unplaced,)),)).state == "overdue"


def test_the_newest_postponement_holds():
    made = (put_off("2026-06-01"), put_off("2026-03-01", "2025-12-15"))
    jobs = tuple(job(f.row.happened_on, outcomes=(f,)) for f in made)
    said = clock("2026-02-01", line(), jobs=jobs)
    assert (str(said.overdue_on), "until 2026-03-01" in said.note) == ("2026-03-02", True)


@pytest.mark.parametrize(
    ("agreed", "words"), [("", "by C. Decider: young"), ("B. Owner", "by C. Decider, agreed by B. Owner: young")]
)
def test_who_postponed_it_and_who_agreed(agreed, words):
    made = replace(put_off(), agreed_by=agreed)
    said = clock("2026-02-01", line(), jobs=(job("2025-12-01", outcomes=(made,)),))
    assert said.note == f"postponed on 2025-12-01 until 2026-06-01 {words}"


# ------------------------------------------------------------------------------------------------ done late


def late(*plan, as_of="2027-01-01", jobs=(), **more):
    return [str(d) for d in last_done_late(held(*plan, jobs=jobs, **more), on(as_of))]


def renewed(*days):
    return tuple(job(day, parts=(part(day),)) for day in days)


@pytest.mark.parametrize(
    ("done", "grace", "said"),
    [
        (("2026-01-10",), 0, []),
        (("2026-01-11",), 0, ["2026-01-11"]),
        (("2026-01-24",), 14, []),
        (("2026-01-25",), 14, ["2026-01-25"]),
        (("2026-02-01", "2026-03-01"), 0, []),  # the last time it was in time
        ((), 0, []),
    ],
)
def test_the_day_it_was_done_after_it_was_overdue(done, grace, said):
    assert late(line(grace=grace), jobs=renewed(*done)) == said


@pytest.mark.parametrize(("until", "said"), [("2026-03-01", []), ("2026-02-28", ["2026-03-01"])])
def test_what_was_postponed_was_in_time_until_then(until, said):
    jobs = (job("2025-12-01", outcomes=(put_off(until),)), *renewed("2026-03-01"))
    assert late(line(), jobs=jobs) == said


def test_what_was_done_first_without_an_installation_was_not_late():
    assert late(line(), jobs=renewed("2026-03-01"), events=()) == []
    assert late(line(months=None), jobs=renewed("2026-03-01")) == []


def test_the_first_reading_of_a_counter_ends_that_nothing_told_it():
    plan = line(months=None, cycles=1000)
    one = {"counters": (counter("2024-03-01", 0),)}
    assert late(plan, **one) == ["2024-03-01"]
    assert late(plan, counters=(counter("2024-01-10", 0),)) == []
    other = {"counters": (counter("2024-03-01", 0, counter="hours"),)}
    assert late(plan, **other) == []
    assert late(line(), **one) == []


def test_a_counter_that_does_not_run_was_never_late():
    plan = line(months=None, cycles=1000)
    stands = tuple(counter(day, 5) for day in ("2024-01-10", "2024-02-01", "2024-02-25", "2024-06-10"))
    assert late(plan, counters=stands) == []
    assert late(plan, counters=stands[::3]) == ["2024-06-10"], "one reading tells for 28 days"
    running = tuple(counter(day, n) for day, n in (("2024-01-10", 0), ("2024-02-07", 280), ("2024-03-19", 690)))
    assert late(plan, counters=running) == []


def test_a_paper_of_the_place_is_of_the_unit_that_it_names():
    place = clinic(
        documents=tuple(document("insurance", "2025-01-01", "2026-01-01", unit=u) for u in ("unit-1", "unit-2", ""))
    )
    found = paper_clocks(unit(), on("2025-06-01"), (), place)
    assert [c.code for c in found] == [place.documents[0].row.origin]
