"""The strip of a duty: which letter stands in which cell, and what is said of it."""

from __future__ import annotations

from datetime import date

from audit.binder.pictures.strips import duty_strip, form_of
from audit.facts import LocalDutyFact
from audit.judge.clocks.calendar_weeks import Weeks
from audit.judge.evaluate import coverage_over, evaluate_under
from audit.judge.judgement import Coverage
from audit.regimes import load_regime
from tests.audit.binder.paper import spaced
from tests.fact_builders import (
    bio,
    clinic,
    document,
    installed,
    load,
    on,
    placed,
    row,
    terms,
    unit,
    user_check,
    weekly,
)

MONDAYS = Weeks.of(())


def coverages(facts, first, last, as_of="") -> dict[str, Coverage]:
    made = coverage_over(facts, on(as_of or last), on(first), on(last))
    return {each.duty: each for each in made["unit-1"]}


def rows(coverage: Coverage, weeks: Weeks = MONDAYS) -> list[tuple[str, str]]:
    strip = duty_strip(coverage, weeks)
    return [(row.label, row.marks) for panel in strip.panels for row in panel.rows]


def dental(*tests, **more):
    return clinic(unit("2025-01-01", events=(installed("2025-01-01"),), bio_tests=tests, **more))


def test_a_letter_for_each_week_by_the_rules_that_ask_one():
    """Weekly spore tests: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003."""
    tests = (
        bio("2025-03-03", result="pass"),
        bio("2025-03-10", result="growth"),
        bio("2025-03-25", result="invalid"),
        bio("2025-04-01"),
    )
    weekly_test = coverages(dental(*tests), "2025-03-03", "2025-04-06")["biological-test"]
    strip = duty_strip(weekly_test, MONDAYS)
    # the weeks from 3, 10, 17, 24 and 31 March; after the failure the unit was out of use
    assert rows(weekly_test) == [("2025", "TFEIA")]
    assert strip.form == "weeks"
    assert [mark for mark, _ in strip.legend] == ["T", "F", "I", "A", "E"]
    (panel,) = strip.panels
    assert spaced(panel.alt) == (
        "Spore test (biological indicator), 3 Mar 2025 to 6 Apr 2025, 5 weeks: 1 tested, 1 failed, 1 with nothing "
        "that counts, 1 awaited, 1 not asked. Failed: week of 10 Mar 2025. With nothing that counts: week of "
        "24 Mar 2025. Awaited: week of 31 Mar 2025."
    )
    assert "Rows: in the indicator record" in strip.rows


def test_weeks_begin_on_the_clinics_own_first_day():
    """A test on Sunday belongs to the week that begins that day where weeks begin on Sunday. Common practice."""
    facts = dental(bio("2025-03-09", result="pass"))
    sunday = clinic(*facts.units, terms=(terms(week_start=6),))
    assert rows(coverages(facts, "2025-03-03", "2025-03-16", "2025-03-20")["biological-test"]) == [("2025", "TM")]
    said = coverages(sunday, "2025-03-02", "2025-03-15", "2025-03-20")["biological-test"]
    assert rows(said, Weeks.of(sunday.terms)) == [("2025", "MT")]


def test_a_change_of_the_first_day_of_the_week_cuts_no_earlier_week_again():
    """From Monday to Sunday on Wednesday 19 March 2025: the week from the 17th stays whole, the first new one begins
    on Sunday the 23rd, its last day. Common practice, as `calendar_weeks` has it."""
    tests = (
        bio("2025-03-03", result="pass"),
        bio("2025-03-16", result="pass"),  # the Sunday that ends the week from the 10th
        bio("2025-03-18", result="growth"),
        bio("2025-03-23", result="pass"),  # in the last old week and in the first new one
    )
    changed = (terms(), terms(day="2025-03-19", week_start=6))
    facts = dental(*tests)
    weeks = Weeks.of(changed)
    said = coverages(clinic(*facts.units, terms=changed), "2025-03-03", "2025-04-05")["biological-test"]
    strip = duty_strip(said, weeks)
    (row,) = strip.panels[0].rows
    assert row.weeks == tuple(date(2025, 3, d) for d in (3, 10, 17, 23, 30))
    assert row.marks[:4] == "TTFT", "the weeks before the change are those of Monday, as before it"
    before = coverages(facts, "2025-03-03", "2025-03-16", "2025-04-05")["biological-test"]
    assert rows(before) == [("2025", "TT")]


def test_what_fills_a_week_that_shares_days_with_the_next_stands_in_that_week_alone():
    """No test at all: the weeks from 17 and from 23 March are each missed once, and the day they share makes none."""
    changed = (terms(), terms(day="2025-03-19", week_start=6))
    facts = clinic(*dental(*weekly("2025-01-06", "2025-03-10")).units, terms=changed)
    said = coverages(facts, "2025-03-10", "2025-03-29", "2025-04-05")["biological-test"]
    assert rows(said, Weeks.of(changed)) == [("2025", "TMM")]
    tested = clinic(*dental(*weekly("2025-01-06", "2025-03-17")).units, terms=changed)
    said = coverages(tested, "2025-03-10", "2025-03-29", "2025-04-05")["biological-test"]
    assert rows(said, Weeks.of(changed)) == [("2025", "TTM")]


def test_a_letter_for_each_day_of_use():
    """An automatic control test on each day of use: HTM 01-05 (2013), appendix on daily tests."""
    facts = clinic(
        unit(
            "2025-01-01",
            events=(installed("2025-01-01"),),
            loads=tuple(load(f"2025-03-0{n}") for n in (3, 4, 5, 6)),
            checks=(
                user_check("2025-03-03"),
                user_check("2025-03-05", result="fail"),
                user_check("2025-03-06", signed=""),
            ),
        ),
        regime="gb-eng-dental-htm0105",
    )
    daily = coverages(facts, "2025-02-27", "2025-03-06")["automatic-control-test"]
    assert [(spaced(label), marks) for label, marks in rows(daily)] == [("Feb 2025", "··"), ("Mar 2025", "··TMFI")]
    assert dict(duty_strip(daily, MONDAYS).legend)["·"] == "no use on record"
    assert duty_strip(daily, MONDAYS).panels[0].rows[0].column == 26  # 27 February stands in the 27th column


def test_a_test_that_came_late_was_overdue_until_it_was_done():
    """At most 14 days after the last one (Toronto): due by 24 March, done on 9 April."""
    tests = [bio(day, result="pass") for day in ("2025-03-03", "2025-03-10", "2025-04-09")]
    new = unit("2025-03-01", events=(installed("2025-03-01"),), bio_tests=tuple(tests))
    facts = clinic(new, regime="ca-toronto-personal-services")
    late = coverages(facts, "2025-03-03", "2025-04-20")["biological-test"]
    assert rows(late) == [("2025", "TT·LLL·")]


def test_what_was_overdue_at_the_end_of_the_period_is_shown_though_it_is_counted_later():
    """A stretch counts where it ends; the picture shows it where it was."""
    facts = dental(*weekly("2025-01-06", "2025-02-03"))
    local = LocalDutyFact(row("2025-01-01"), on("2025-01-01"), "servicing", "rolling-months", 1, "own plan")
    facts = clinic(*facts.units, local_duties=(local,))
    said = coverages(facts, "2025-01-01", "2025-04-30", "2025-06-30")["servicing"]
    assert said.missed == 0
    assert rows(said) == [("2025", "·MMM")]


def test_work_and_papers_are_done_not_tested():
    facts = clinic(
        unit(
            "2025-01-01",
            events=(installed("2025-01-01"),),
            documents=(document("validation report", "2025-03-04"),),
        ),
        regime="gb-eng-dental-htm0105",
    )
    said = coverages(facts, "2025-01-01", "2025-06-30")["validation"]
    assert rows(said) == [("2025", "··D···")]
    assert duty_strip(said, MONDAYS).legend == (("D", "done; of a paper: begins"), ("·", "in time, nothing due"))


def test_weeks_in_store_are_not_asked():
    facts = dental(
        *weekly("2025-03-03", "2025-03-10"),
        placements=(placed("2025-01-01"), placed("2025-03-17", "stored as spare")),
    )
    assert rows(coverages(facts, "2025-03-03", "2025-03-30")["biological-test"]) == [("2025", "TTEE")]


def test_each_load_with_an_implant_stands_for_itself():
    """In every load with an implant (CDC 2003); other spore tests are no answer to it."""
    tests = (bio("2025-03-03", result="pass", cycle="7"), bio("2025-05-05", result="pass", cycle="9"))
    facts = dental(*tests, loads=(load("2025-03-03", "7", implant=True), load("2025-04-04", "8", implant=True)))
    said = coverages(facts, "2025-03-01", "2025-05-31")["implant-load-test"]
    assert rows(said) == [("2025", "TM·")]


def test_years_stand_below_one_another_and_no_week_is_lost():
    facts = dental(*weekly("2024-01-01", "2025-12-29"))
    (first, second) = rows(coverages(facts, "2025-01-01", "2026-06-30")["biological-test"])
    assert (first[0], second[0]) == ("2025", "2026")
    # 1 January 2025 is a Wednesday: the week from 30 December is the first; 2026 goes on with that from 29 December
    assert len(first[1]) == 53 or len(first[1]) == 52
    assert len(first[1]) + len(second[1]) == (date(2026, 6, 29) - date(2024, 12, 30)).days // 7 + 1


def test_ten_years_of_days_are_ten_panels_of_twelve_months():
    facts = clinic(*dental(*weekly("2016-01-04", "2016-02-01")).units, regime="ca-on-dental")
    daily = [c for c in coverages(facts, "2016-01-01", "2025-12-31").values() if form_of(c) == "days"]
    assert daily, "these rules ask a test on each day of use"
    strip = duty_strip(daily[0], MONDAYS)
    assert [len(panel.rows) for panel in strip.panels] == [12] * 10
    assert sum(len(row.marks) for panel in strip.panels for row in panel.rows) == 3653


def test_coverage_without_its_stretches_has_no_strip():
    facts = dental(*weekly("2025-01-06", "2025-02-03"))
    said = evaluate_under(facts, load_regime("us-dental-cdc-2003"), on("2025-02-10")).units[0]
    assert said.coverage and all(duty_strip(each, MONDAYS) is None for each in said.coverage)
