"""The sheets of a day and of a week: what the rules ask stands in them, what was done never."""

from __future__ import annotations

import pytest

from audit.binder.blank_forms import NoUnit
from audit.regimes import all_regimes
from records.models import AirRemovalTest, BioTest, LeakTest, UserCheck
from records.wording import PURPOSES
from tests import fact_builders as b
from tests.audit.binder.blank_forms.told import TODAY, boxes, entries, first_lines, form, forms, table, tables, text
from tests.audit.binder.paper import spaced

ENGLAND = "gb-eng-dental-htm0105"
RESULTS = {"pass", "fail", "not done", "growth", "no growth", "released", "rejected", "yes", "no"}


def vacuum(**more):
    return b.unit("2024-01-01", type="dynamic air removal", events=(b.installed("2024-01-01"),), **more)


def gravity(**more):
    return b.unit("2024-01-01", events=(b.installed("2024-01-01"),), **more)


# ------------------------------------------------------------------------------------------------ what is asked


def test_the_tests_of_each_day_are_those_of_the_rules():
    """HTM 01-05 (2013): automatic control test and, with vacuum, steam penetration test on each day of use; air
    leakage and safety checks weekly (its tables of periodic tests)."""
    day = form("day", vacuum(), regime=ENGLAND)
    asked = first_lines(table(day, "Test or check"))
    assert {"Automatic control test", "Steam penetration test"} <= set(asked)
    plain = first_lines(table(form("day", gravity(), regime=ENGLAND), "Test or check"))
    assert (
        "Automatic control test" in plain and "Steam penetration test" not in plain and "Air-leak test" not in plain
    )


def test_a_weekly_test_stands_on_the_day_sheet_while_its_week_lacks_it():
    lacking = form("day", vacuum(leaks=(b.leak("2026-03-09"),)), regime=ENGLAND)
    met = form("day", vacuum(leaks=(b.leak("2026-03-16"),)), regime=ENGLAND)
    assert "Air-leak test" in first_lines(table(lacking, "Test or check"))
    assert "Air-leak test" not in first_lines(table(met, "Test or check"))


def test_a_spore_test_has_its_place_on_the_day_sheet_until_the_week_has_one():
    last_week, this_week = b.bio("2026-03-10", result="pass"), b.bio("2026-03-17", result="pass")
    assert boxes(form("day", gravity(bio_tests=(last_week,))), "Spore test")
    assert not boxes(form("day", gravity(bio_tests=(last_week, this_week))), "Spore test")
    ahead = form("day", gravity(bio_tests=(this_week,)), on=b.on("2026-03-25"))
    assert boxes(ahead, "Spore test"), "next week asks another one"
    assert boxes(form("week", gravity(bio_tests=(this_week,))), "Spore test"), "a week's sheet always holds one"


def test_rules_without_a_spore_test_leave_it_out():
    regime = all_regimes()[ENGLAND]
    assert not [d for d in regime.duties if d.subject == "biological"]
    assert not boxes(form("week", vacuum(), regime=ENGLAND), "Spore test")


def test_a_check_that_must_be_signed_says_so():
    lines = table(form("day", vacuum(), regime=ENGLAND), "Test or check").rows
    (control,) = [row for row in lines if row[0].printed.startswith("Automatic control test")]
    assert "doesn't count unless signed" in control[0].printed


def test_the_limit_of_the_leak_test_is_the_one_on_record():
    week = form("week", vacuum(leaks=(b.leak("2026-03-09"),)), regime=ENGLAND)
    (leak,) = [row for row in table(week, "Less often").rows if row[0].printed.startswith("Air-leak test")]
    assert "at most 0.13 kPa a minute (invented instructions)" in leak[0].printed


def test_a_test_for_each_cycle_type_has_a_line_for_each_and_one_for_another():
    """As Ontario's dental rules ask of spore tests: on each day of use, for each cycle type. Here a check asks it."""
    from dataclasses import replace

    from audit.binder.blank_forms import paper_forms
    from audit.judge.evaluate import evaluate

    regime = all_regimes()[ENGLAND].on(TODAY)
    duties = tuple(
        replace(d, every="day-of-use-and-cycle-type") if d.subject == "automatic control" else d
        for d in regime.duties
    )
    loads = (b.load("2026-03-02", "11", program="Wrapped 134"), b.load("2026-03-03", "12", program="Unwrapped 134"))
    facts = b.clinic(vacuum(loads=loads), regime=ENGLAND)
    (day,) = paper_forms(facts, evaluate(facts, TODAY), replace(regime, duties=duties), "day", on=TODAY).forms
    asked = [row[0] for row in table(day, "Test or check").rows if "Automatic control" in row[0].printed]
    assert [e.printed.split("\n")[0] for e in asked] == [
        "Automatic control test, cycle type Unwrapped 134",
        "Automatic control test, cycle type Wrapped 134",
        "Automatic control test",
    ]
    assert asked[-1].room and "another cycle type" in asked[-1].hint


# ------------------------------------------------------------------------------------------------ what stands in it


@pytest.mark.parametrize("kind", ["day", "week", "visit"])
@pytest.mark.parametrize("regime", ["us-dental-cdc-2003", ENGLAND, "ca-on-dental", "us-mt-body-art"])
def test_no_result_is_ever_filled_in(kind, regime):
    """A place with boxes to tick holds no print, and no printed place is one of the results."""
    loads = (b.load("2026-03-02", "11"),)
    sheet = form(kind, vacuum(loads=loads, bio_tests=(b.bio("2026-03-10", result="pass"),)), regime=regime)
    for entry in entries(sheet):
        assert not (entry.ticks and entry.printed), entry
        assert entry.printed.strip().lower() not in RESULTS


def test_label_serial_and_standing_stand_in_the_head():
    day = form("day", gravity(bio_tests=(b.bio("2026-03-17", result="pass"),)))
    printed = {spaced(e.label): spaced(e.printed) for e in entries(day)}
    assert (printed["Unit"], printed["Serial number"]) == ("1", "S-1")
    assert printed["Maker, model"] == "Invented Maker, Model One" and printed["Day"] == "18 Mar 2026"
    assert printed["May it be used? As of 18 Mar 2026"].startswith("In service: ")
    assert "outrank this answer" in text(day)


def test_a_unit_out_of_service_says_so_on_its_sheet():
    day = form("day", gravity(bio_tests=(b.bio("2026-03-10", result="growth"),)))
    (told,) = [e.printed for e in entries(day) if e.label.startswith("May it be used?")]
    assert told.startswith("Out of service: ")


def test_the_last_box_of_indicators_is_a_hint_and_no_entry():
    tests = (
        b.bio("2026-03-03", result="pass", lot_=b.lot("OLD")),
        b.bio("2026-03-10", result="pass", lot_=b.lot("NEW")),
    )
    (spore,) = boxes(form("week", gravity(bio_tests=tests)), "Spore test")
    (lot,) = [e for line in spore.lines for e in line if e.label == "Lot, expiry of the test"]
    assert spaced(lot.hint) == "last box: NEW, expires 31 Dec 2030" and lot.writable and not lot.printed


def test_a_spore_test_that_waits_has_a_place_for_its_reading():
    day = form("day", gravity(bio_tests=(b.bio("2026-03-17", cycle="207"),)))
    (row,) = table(day, "Spore test to read").rows
    run = spaced(row[0].printed)
    assert run.startswith("run 17 Mar 2026, cycle 207") and "24 hours at least" in run
    assert row[2].ticks == row[3].ticks == ("growth", "no growth")
    read = form("day", gravity(bio_tests=(b.bio("2026-03-16", result="pass", cycle="207"),)))
    assert not tables(read, "Spore test to read")


def test_the_last_cycle_number_is_the_newest_of_loads_and_tests():
    unit = gravity(loads=(b.load("2026-03-12", "41"),), bio_tests=(b.bio("2026-03-17", result="pass", cycle="44"),))
    assert "Last on record: cycle 44 of 17 Mar 2026." in spaced(table(form("day", unit), "Cycle number").note)


def test_what_is_due_of_the_plan_is_told_not_ticked():
    unit = gravity(
        plan=(b.line("replace-seal", months=24, day="2024-01-01"),), positions=(b.position(),), fits=(b.fit(),)
    )
    day = form("day", unit)
    assert "replace seal (due 1 Jan 2026, overdue by 76 days)" in text(day), (
        "17 January days + 28 + 31 = 76 after the 1st"
    )


def test_who_must_be_told_under_the_rules_stands_with_the_first_steps():
    """Montana's body-art rules, ARM 37.112.131: a failed test is reported within one business day."""
    told = text(form("day", gravity(), regime="us-mt-body-art"))
    assert "within 1 business day" in told and "37.112" in told
    assert "These rules also ask" not in text(form("day", gravity()))
    for step in ("Stop: ", "Tag: ", "Tell: "):
        assert step in told


def test_the_sheet_names_itself_as_the_page_to_be_copied_from():
    for kind, name in (
        ("day", "Day sheet, Unit 1, 18 Mar 2026"),
        ("week", "Week sheet, Unit 1, 16 Mar 2026 to 22 Mar 2026"),
        ("visit", "Visit sheet, Unit 1, 18 Mar 2026"),
    ):
        sheet = form(kind, gravity())
        assert (
            spaced(sheet.page_name) == name and f"write “{name}”" in text(sheet) and "is no entry yet" in text(sheet)
        )
        assert len(name) <= 300, "the longest a form takes"


def test_an_undated_sheet_leaves_the_day_to_be_written():
    for kind in ("day", "week", "visit"):
        sheet = form(kind, gravity(), on=None)
        assert "____" in sheet.page_name
        (day,) = [e for e in entries(sheet) if e.label in ("Day", "Week", "Day of the visit")]
        assert day.writable and not day.printed


# ------------------------------------------------------------------------------------------------ the week


@pytest.mark.parametrize(
    ("week_start", "first", "last"), [(0, "Mon 16 Mar", "Sun 22 Mar"), (6, "Sun 15 Mar", "Sat 21 Mar")]
)
def test_a_week_starts_on_the_day_the_clinic_chose(week_start, first, last):
    week = form("week", vacuum(), regime=ENGLAND, terms=(b.terms(ENGLAND, week_start=week_start),))
    titles = [c.title for c in table(week, "Each day of use").columns]
    assert (len(titles), titles[1], titles[-1]) == (8, first, last)


def test_a_closed_day_asks_nothing():
    closures = (b.closure("2026-03-19", "2026-03-20", day="2026-03-01"),)
    week = table(form("week", vacuum(), regime=ENGLAND, closures=closures), "Each day of use")
    for row in week.rows:
        assert [e.shaded for e in row[1:]] == [False, False, False, True, True, False, False]
        assert not any(e.writable for e in row[4:6])
    assert week.rows[0][4].printed == "closed: holiday"


def test_a_week_without_a_date_names_no_day_of_the_month():
    titles = [c.title for c in table(form("week", vacuum(), regime=ENGLAND, on=None), "Each day of use").columns]
    assert titles[1:] == ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]


# ------------------------------------------------------------------------------------------------ which units


def test_each_unit_in_use_has_its_sheet_and_one_out_of_the_place_only_when_asked_for():
    first, second = gravity(ref="unit-1"), gravity(ref="unit-2")
    gone = b.unit(ref="unit-3", events=(b.installed("2024-01-01"), b.event("2026-01-01", kind="decommissioned")))
    made = forms("day", first, second, gone)
    assert len(made.forms) == 2 and len({f.id for f in made.forms}) == 2
    assert len(forms("day", first, second, gone, unit="unit-3").forms) == 1


def test_without_a_unit_it_says_what_to_do():
    with pytest.raises(NoUnit, match="no unit in use.*Register a unit"):
        forms("day")
    with pytest.raises(NoUnit, match="no such unit.*Choose one"):
        forms("day", gravity(), unit="another")
    with pytest.raises(KeyError):
        forms("month", gravity())


def test_where_each_day_asks_spore_tests_each_has_a_line():
    """Ontario's dental rules: a spore test on each day of use for each cycle type (Canadian Dental Association,
    CDA Essentials 2020 issue 4)."""
    loads = (b.load("2026-03-02", "11", program="Wrapped 134"), b.load("2026-03-03", "12", program="Unwrapped 134"))
    day = table(form("day", vacuum(loads=loads), regime="ca-on-dental"), "Day, time, cycle number")
    assert [row[1].hint for row in day.rows] == ["Unwrapped 134", "Wrapped 134"]
    week = table(form("week", vacuum(loads=loads), regime="ca-on-dental"), "Day, time, cycle number")
    assert len(week.rows) == 7 and "Cycle types: Unwrapped 134, Wrapped 134" in week.note
    assert week.rows[0][8].ticks == week.rows[0][9].ticks == ("growth", "no growth")
    assert [c.title for c in week.columns[2:4]] == ["Place in the chamber", "Why it was run"]
    assert all(row[2].writable and row[3].ticks == ("routine", "other") for row in (*day.rows, *week.rows))
    assert ASKS_WHY in week.note and ASKS_WHY in day.note


# ------------------------------------------------------------------------------------------------ why it was run

ASKS_WHY = (
    "Why it was run, other than routine: write which under remarks (repeat after a failed test; after a repair or a "
    "move: it ran after that; one of the tests in a row before return to use; after installation)."
)


def test_a_spore_test_is_asked_why_it_was_run_and_where_it_stood():
    """The words to tick are those that the record knows, each of them; which is true is never filled in."""
    for kind in ("day", "week"):
        (spore,) = boxes(form(kind, gravity()), "Spore test")
        asked = {e.label: e for line in spore.lines for e in line}
        known = tuple(code for code, _ in BioTest._meta.get_field("purpose").choices)
        assert asked["Why it was run"].ticks == known == PURPOSES and not asked["Why it was run"].printed
        assert asked["Place in the chamber where the test stood"].writable


@pytest.mark.parametrize("model", [AirRemovalTest, LeakTest, UserCheck])
def test_every_other_test_and_check_is_asked_why_it_was_run(model):
    """Air removal, leak, control: the screen asks it of each, so does each line on paper, the blank one too."""
    assert tuple(code for code, _ in model._meta.get_field("purpose").choices) == PURPOSES
    day = table(form("day", vacuum(), regime=ENGLAND), "Test or check")
    rare = table(form("week", vacuum(), regime=ENGLAND), "Less often")
    for each, at in ((day, 2), (rare, 3)):
        assert each.columns[at].title == "Why it was run" and ASKS_WHY in each.note
        assert len(each.rows) > 1 and {row[at].ticks for row in each.rows} == {("routine", "other")}
    by_day = table(form("week", vacuum(), regime=ENGLAND), "Each day of use")
    assert "why it was run: repeat, requalification, after repair, installation." in by_day.note


def test_what_the_rules_ask_of_implants_stands_under_the_loads():
    """CDC 2003 (MMWR 52 RR-17) VI.F item 7: a spore test in every load that holds an implant."""
    assert "Spore test in every implant load" in table(form("day", vacuum()), "Cycle number").note
    assert "implant load" not in table(form("day", vacuum(), regime=ENGLAND), "Cycle number").note


def test_initials_have_room_on_each_day_of_the_week():
    cells = [e for row in table(form("week", vacuum(), regime=ENGLAND), "Each day of use").rows for e in row[1:]]
    assert cells and all(e.writable for e in cells)
