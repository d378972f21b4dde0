"""Lists of tests: what holds of most is said once, what differs in full or by a letter, a line for each test."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.pdf.blocks import block_pieces
from audit.binder.pdf.marks import Text
from audit.binder.pdf.page import sheet
from audit.binder.pdf.paginate import paginate
from audit.binder.sections import Cell, Column, Paragraph, Table
from audit.binder.usual import DatedLine, Kinds, People, by_date, lots_in_turn, lots_words, short_span
from audit.judge import judgement as j
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import headed, section
from tests.examples import examples


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


def changed(**changes):
    facts, judgement = full.clinic()
    return replace(facts, units=(replace(facts.units[0], **changes), facts.units[1])), judgement


def lines(part) -> list[tuple[Cell, ...]]:
    """The rows of the list by date, without the lines of its years."""
    return [row for row in headed(part, "Day").rows if len(row) > 1]


def said(part) -> str:
    return spaced(next(block.text for block in part.blocks if isinstance(block, Paragraph)))


# ------------------------------------------------------------------------------------------------ spore tests


TESTS = "indicators-1"


def test_each_spore_test_is_one_line_with_its_numbers(judged=None):
    part = section(made(*full.clinic()), TESTS)
    facts, _ = full.clinic()
    assert len(lines(part)) == len(facts.units[0].bio_tests)
    told = [spaced(cell.text) for cell in lines(part)[0]]
    assert told == ["2 Jun", "4471", "3 Jun", "24", "57", "passed", "109, 110"]
    assert [column.title for column in headed(part, "Day").columns] == [
        "Day", "Cycle", "Read", "Hours", "°C", "Result", "Record",
    ]  # fmt: skip


def test_what_holds_of_most_is_said_once_above():
    assert said(section(made(*full.clinic()), TESTS)) == (
        "Unless a line says otherwise: program 134 °C wrapped; full chamber; purpose: routine; mechanical result "
        "passed; chemical result passed; control of the same lot; the control grew; read in the clinic; run by Ilse "
        "Brandt, read by Ida Lund; lot SP-552 (Spore strip (invented), expiry 30 Sep 2026, at least 24 h at 55 to "
        "60 °C)."
    )


def test_every_test_that_is_not_plain_and_every_week_without_one_stands_in_full():
    rows = headed(section(made(*full.clinic()), TESTS), "Told in full").rows
    assert [(spaced(row[0].text), row[1].text.split(" ")[0]) for row in rows] == [
        ("15 to 21 Sep 2025", "Missed."), ("10 Nov 2025", "Invalid:"), ("22 to 28 Dec 2025", "Not"),
        ("2 Feb 2026", "Failed:"), ("5 Feb 2026", "Not"),
    ]  # fmt: skip


def test_what_is_no_pass_has_its_sign_and_the_day_of_what_is_told_above_is_bold():
    part = section(made(*full.clinic()), TESTS)
    strong = [(spaced(row[0].text), row[5].text, row[5].strong) for row in lines(part) if row[0].strong]
    assert strong == [("10 Nov", "x", True), ("2 Feb", "F", True), ("5 Feb", "?", True)]


def test_weeks_without_a_test_stand_in_their_place():
    texts = [spaced(row[0].text) for row in headed(section(made(*full.clinic()), TESTS), "Day").rows]
    at = texts.index("15 to 21 Sep 2025: missed")
    assert texts[at - 1] == "8 Sep" and texts[at + 1] == "22 Sep"
    assert [text for text in texts if text.isdigit()] == ["2025", "2026"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"implant": True}, "implant load"),
        ({"purpose": "requalification"}, "purpose: requalification"),
        ({"chamber": "empty"}, "empty chamber"),
        ({"mechanical": "not recorded"}, "mechanical result not recorded"),
        ({"control_lot": None}, "no control run"),
        ({"cycle_type": "121 °C"}, "program 121 °C"),
        ({"run_by": "Tomasz Gładyś"}, "run by Tomasz Gładyś"),
        ({"place": "lower tray"}, "placed lower tray"),
        ({"readings": ()}, "No reading yet."),
    ],
)
def test_a_test_that_differs_from_the_others_is_told_with_what_differs(change, told):
    facts, _ = full.clinic()
    tests = list(facts.units[0].bio_tests)
    tests[3] = replace(tests[3], **change)
    rows = headed(section(made(*changed(bio_tests=tuple(tests))), TESTS), "Told in full").rows
    (row,) = [cells for cells in rows if spaced(cells[0].text) == "23 Jun 2025"]
    assert told in row[1].text
    plain = "program 134 °C wrapped"
    assert plain not in row[1].text


def test_another_lot_of_the_control_names_both_lots():
    facts, _ = full.clinic()
    tests = list(facts.units[0].bio_tests)
    other = replace(sample.LOT, ref="lot-2", lot="SP-600")
    tests[3] = replace(tests[3], control_lot=other)
    rows = headed(section(made(*changed(bio_tests=tuple(tests))), TESTS), "Told in full").rows
    (row,) = [cells for cells in rows if spaced(cells[0].text) == "23 Jun 2025"]
    assert "lot SP-552 (" in row[1].text and "control of lot SP-600 (" in row[1].text


def test_a_reading_known_later_and_a_report_are_told():
    facts, _ = full.clinic()
    tests = list(facts.units[0].bio_tests)
    reading = replace(tests[3].readings[0], known_on=date(2025, 6, 30), report="Lab 7, no. 12", incubated_hours=None)
    tests[3] = replace(tests[3], readings=(reading,))
    rows = headed(section(made(*changed(bio_tests=tuple(tests))), TESTS), "Told in full").rows
    (row,) = [cells for cells in rows if spaced(cells[0].text) == "23 Jun 2025"]
    assert "known on 30 Jun 2025, report: Lab 7, no. 12:" in spaced(row[1].text)
    assert row[1].text.endswith("; hours not entered.")


def test_tests_read_by_a_laboratory_are_lines_with_their_report_and_the_day_it_came():
    """Three days in the mail: what is so of all is no exception."""
    facts, _ = full.clinic()

    def mailed(test: f.BioTestFact, n: int) -> f.BioTestFact:
        known = test.readings[0].row.happened_on + timedelta(days=3)
        plain = replace(test.readings[0], known_on=known, report=f"Lab 7, no. {n}", incubated_hours=None)
        return replace(test, readings=(plain,))

    tests = tuple(mailed(test, n) for n, test in enumerate(facts.units[0].bio_tests))
    part = section(made(*changed(bio_tests=tests)), TESTS)
    assert [column.title for column in headed(part, "Day").columns] == [
        "Day", "Cycle", "Read", "Known", "Report", "°C", "Result", "Record",
    ]  # fmt: skip
    told = [spaced(cell.text) for cell in lines(part)[1]]
    assert told == ["9 Jun", "4471", "10 Jun", "13 Jun", "Lab 7, no. 1", "57", "passed", "111, 112"]
    assert "hours of incubation not entered" in said(part) and not headed(part, "Day").halves
    assert "9 Jun 2025" not in [spaced(row[0].text) for row in headed(part, "Told in full").rows]


def test_a_way_of_testing_that_several_tests_share_has_a_letter():
    facts, _ = full.clinic()
    tests = tuple(
        replace(test, chamber="empty") if n in (3, 5, 7) else test for n, test in enumerate(facts.units[0].bio_tests)
    )
    part = section(made(*changed(bio_tests=tests)), TESTS)
    assert "; where marked b: empty chamber; " in said(part)
    assert [n for n, row in enumerate(lines(part)) if row[2].text == "b"] == [3, 5, 7]
    full_days = [spaced(row[0].text) for row in headed(part, "Told in full").rows]
    assert "23 Jun 2025" not in full_days


def test_several_persons_stand_in_each_line_by_letters():
    facts, _ = full.clinic()
    tests = tuple(
        replace(test, run_by="Danladi Frost") if n % 3 == 0 else test
        for n, test in enumerate(facts.units[0].bio_tests)
    )
    part = section(made(*changed(bio_tests=tests)), TESTS)
    assert "run and read by: IL Ida Lund, IB Ilse Brandt, DF Danladi Frost" in said(part)
    assert [row[2].text for row in lines(part)[:2]] == ["DF, IL", "IB, IL"]
    assert lines(part)[0][6].text == "✓" and "✓ passed" in part.blocks[-1].text


def test_lots_in_turn_are_named_once_with_their_last_day_and_mixed_ones_line_by_line():
    facts, _ = full.clinic()
    other = replace(sample.LOT, ref="lot-2", lot="SP-600")
    tests = facts.units[0].bio_tests
    later = tuple(replace(t, lot=other, control_lot=other) if n > 20 else t for n, t in enumerate(tests))
    part = section(made(*changed(bio_tests=later)), TESTS)
    last = tests[20].row.happened_on
    assert f"up to and with {last.day} {last:%b} {last.year}, then lot SP-600 (" in said(part)
    mixed = tuple(replace(t, lot=other, control_lot=other) if n % 2 else t for n, t in enumerate(tests))
    part = section(made(*changed(bio_tests=mixed)), TESTS)
    assert [row[2].text for row in lines(part)[:2]] == ["SP-552", "SP-600"]


# ------------------------------------------------------------------------------------------------ other tests


def kind(binder, starts: str):
    return next(each for each in binder.sections if each.title.startswith(starts))


def test_air_removal_leaks_and_strips_are_dated_lines():
    binder = made(*full.clinic())
    air = kind(binder, "Air removal tests: 9")
    assert [spaced(row[0].text) for row in lines(air)] == [f"{n} Apr" for n in range(1, 10)]
    assert [row[2].text for row in lines(air)] == ["passed"] * 4 + ["F"] + ["passed"] * 4
    assert said(air) == "Unless a line says otherwise: empty chamber; lot AR-9."
    leak = kind(binder, "Air leak tests: 1")
    assert headed(leak, "Day").columns[1].title == "kPa/min" and lines(leak)[0][1].text == "0.11"
    assert "limit 0.13 kPa/min (EN 13060)" in said(leak)


def test_each_check_is_a_line_and_a_day_nobody_signed_stands_out():
    part = kind(made(*full.clinic()), "Automatic control: 60")
    rows = lines(part)
    assert len(rows) == 60
    unsigned = [spaced(row[0].text) for row in rows if row[3].text == "none" and row[3].strong]
    assert unsigned == ["10 Feb", "11 Feb"]
    assert [row[4].text for row in rows].count("not done") == 1
    assert rows[0][2].text == "134.2" and headed(part, "Day").columns[2].title == "°C"


def test_a_check_that_failed_is_told_with_its_note_and_value():
    (row,) = headed(kind(made(*full.clinic()), "Automatic control"), "Told in full").rows
    assert spaced(row[1].text) == ("Failed. Cycle 519; 134.7 °C; holding time short by 20 s; signed by: Ida Lund.")


def test_a_failed_test_that_opened_a_case_leads_to_its_failure():
    facts, judgement = full.clinic()
    failed = facts.units[0].air_removal[4]
    case = replace(judgement.units[0].cases[0], evidence=(j.Evidence(failed.row.ref, "air-removal test failed"),))
    said_ = replace(judgement.units[0], cases=(case,))
    binder = made(facts, replace(judgement, units=(said_, judgement.units[1])))
    (row,) = headed(kind(binder, "Air removal"), "Told in full").rows
    assert row[2].to == "indicators-1-failure-1" and row[1].text.endswith("told with the failure.")


@given(st.lists(st.sampled_from(["pass", "fail", "not read"]), min_size=1, max_size=60))
@settings(max_examples=examples(20), deadline=None)
def test_whatever_the_results_each_test_is_one_line_and_each_failure_is_told(results):
    made_rows = full.rows()
    strips = tuple(
        f.ChemicalFact(made_rows.row(date(2025, 7, 1) + timedelta(days=n)), 5, result, str(n), "inside", "CI-3")
        for n, result in enumerate(results)
    )
    part = kind(made(*changed(chemical=strips)), "Chemical indicators")
    assert [row[-1].text for row in lines(part)] == [str(9001 + n) for n in range(len(results))]
    assert [row[-2].text for row in lines(part)] == [
        {"pass": "passed", "fail": "F", "not read": "not read"}[result] for result in results
    ]
    told = [b for b in part.blocks if isinstance(b, Table) and b.columns[0].title == "Told in full"]
    assert sum(len(block.rows) for block in told) == results.count("fail")


# ------------------------------------------------------------------------------------------------ the parts


def test_kinds_of_few_rows_have_no_letter():
    one, two, three = ("a", "x"), ("b", "x"), ("c", "")
    kinds = Kinds.of([one] * 5 + [two] * 3 + [three] * 2)
    assert kinds.known == (one, two) and kinds.several
    assert [kinds.letter(kind) for kind in (one, two, three)] == ["", "b", ""]
    assert kinds.words() == ["a", "x", "where marked b: b"]
    with pytest.raises(ValueError, match="without rows"):
        Kinds.of([])


def test_letters_of_persons_are_their_own():
    people = People.of(["Mei Castellanos", "Mei Castellanos", "Max Carter", "", "Cher"])
    assert people.letters == {"Mei Castellanos": "MC", "Max Carter": "MC2", "Cher": "C"}
    assert people.by("Max Carter", "", "Max Carter", "Cher") == "MC2, C"


def test_lots_that_come_again_are_not_in_turn():
    days = [date(2026, 1, n) for n in (1, 2, 3)]
    assert lots_in_turn(list(zip(days, ["A", "", "A"], strict=True))) == [("A", days[2])]
    assert lots_in_turn(list(zip(days, ["A", "B", "A"], strict=True))) is None
    turns = lots_in_turn(list(zip(days, ["A", "B", "B"], strict=True)))
    assert spaced(lots_words(turns)) == "lot A up to and with 1 Jan 2026, then lot B"


@pytest.mark.parametrize(
    ("first", "last", "told"),
    [
        (date(2026, 2, 8), date(2026, 2, 14), "8 to 14 Feb 2026"),
        (date(2026, 1, 30), date(2026, 2, 5), "30 Jan to 5 Feb 2026"),
        (date(2025, 12, 29), date(2026, 1, 4), "29 Dec 2025 to 4 Jan 2026"),
        (date(2026, 2, 8), date(2026, 2, 8), "8 Feb 2026"),
    ],
)
def test_two_days_say_what_is_the_same_once(first, last, told):
    assert spaced(short_span(first, last)) == told


def test_a_list_by_date_has_a_line_for_each_year_and_a_rule_above_each_month():
    days = [date(2025, 12, 30), date(2025, 12, 31), date(2026, 1, 1), date(2026, 2, 1)]
    block = by_date(
        "", (Column("Result", 40), Column("Record", 38)), [DatedLine(d, (Cell("x"), Cell("1"))) for d in days], ""
    )
    assert [spaced(row[0].text) for row in block.rows] == ["2025", "30 Dec", "31 Dec", "2026", "1 Jan", "1 Feb"]
    assert block.ruled == (0, 1, 3, 4, 5) and block.halves
    assert sum(column.weight for column in block.columns) == 246


def test_a_row_of_many_lines_goes_on_over_the_page_with_some_lines_on_each_side():
    many = Table(
        "Rows", (Column("No.", 30), Column("What", 480)),
        tuple((Cell(str(n)), Cell("\n".join(f"line {n}.{k}" for k in range(25)))) for n in range(4)),
    )  # fmt: skip
    paper = sheet("letter")
    pages = paginate(block_pieces(many, paper), paper.text_height)
    told = [
        [mark.text for _, piece in page.placed for run in piece.runs for mark in run.marks if isinstance(mark, Text)]
        for page in pages
    ]
    lines = [text for page in told for text in page if text.startswith("line ")]
    assert lines == [f"line {n}.{k}" for n in range(4) for k in range(25)]
    assert len(pages) == 2 and pages[0].filled > 0.95 * paper.text_height
    assert all(page.filled <= paper.text_height for page in pages)
    assert "continues …" in told[0] and "… continued" in told[1]
    cut = next(text for text in reversed(told[0]) if text.startswith("line "))
    assert 2 <= int(cut.partition(".")[2]) + 1 <= 23
