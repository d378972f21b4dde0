"""Each question once: answers unit by unit, pages of the evidence, what is missing, and who accepted that."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit import facts as f
from audit.binder.answers import by_question
from audit.binder.contents import binder_contents
from audit.binder.pdf import render
from audit.binder.sections import Cell, MonthCalendar
from audit.judge import judgement as j
from tests.audit.binder import full, sample
from tests.audit.binder.paper import spaced, texts
from tests.audit.binder.test_contents import headed, section, table, words

WEEK = date(2025, 9, 15), date(2025, 9, 21)


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


@pytest.fixture(scope="module")
def binder():
    return made(*full.clinic())


def row_of(binder, number: int) -> tuple[Cell, ...]:
    """The row of a question in the chapter."""
    rows = table(section(binder, "answers"), "Every question").rows
    return next(row for row in rows if row[0].text == str(number))


def said(binder, number: int) -> str:
    """What the row says beside the answers, no-break spaces as spaces."""
    return spaced(row_of(binder, number)[-3].text)


def of_units(count: int, *answers: j.Answer):
    """The full clinic with so many units and these answers."""
    facts, judgement = full.clinic()
    units = tuple(
        replace(facts.units[1], row=replace(facts.units[1].row, ref=f"u{n}", origin=f"u{n}"), label=f"Unit {n}")
        for n in range(1, count + 1)
    )
    return replace(facts, units=units), replace(judgement, units=(), answers=answers)


def answer(unit: str = "", word: str = "yes", words: str = "There is.", **more) -> j.Answer:
    plain = {"id": "a", "question": "Is there a lid?", "evidence": (), "owner": "clinic", "source": full.REGIME}
    return j.Answer(**{**plain, "answer": word, "words": words, "unit": unit, **more})


# ------------------------------------------------------------------------------ one question, one row


def test_each_question_asked_has_one_number_in_the_order_of_the_judgement(binder):
    _, judgement = full.clinic()
    asked = [each for each in judgement.answers if each.answer != "not asked here"]
    block = table(section(binder, "answers"), "Every question")
    rows = [row for row in block.rows if row[0].text.isdigit()]
    assert [(row[0].text, row[1].text) for row in rows] == [
        (str(n), each.question) for n, each in enumerate(asked, start=1)
    ]
    assert "Not asked by these rules (1 question): Are at least two working units on site?" in words(
        section(binder, "answers")
    )


def test_units_are_columns_and_each_answer_stands_in_the_column_of_its_unit():
    facts, judgement = of_units(
        4, answer("u1"), answer("u2", "in part"), answer("u3", "no"), answer("u4", "no record found")
    )
    binder = made(facts, judgement)
    titles = [each.title for each in table(section(binder, "answers"), "Every question").columns]
    assert titles[2:6] == ["Unit 1", "Unit 2", "Unit 3", "Unit 4"]
    cells = row_of(binder, 1)[2:6]
    assert [cell.text for cell in cells] == ["yes", "part", "no", "none"]
    assert [cell.frame for cell in cells] == ["", "", "black", "framed"] and cells[1].strong


def test_what_is_not_asked_of_a_unit_is_a_dot_and_never_a_yes():
    binder = made(*of_units(2, answer("u1"), answer("u2", "not asked here")))
    assert [cell.text for cell in row_of(binder, 1)[2:4]] == ["yes", "·"]
    missing = made(*of_units(2, answer("u1", "no")))
    assert [cell.text for cell in row_of(missing, 1)[2:4]] == ["no", "·"]


@pytest.mark.parametrize("answers", [[answer("")], [answer("u1"), answer("u2"), answer("u3")]])
def test_one_answer_for_all_units_or_for_the_place_stands_across_them(answers):
    row = row_of(made(*of_units(3, *answers)), 1)
    assert (row[2].text, row[2].span, len(row)) == ("yes", 3, 6)


def test_more_than_six_units_have_one_column_that_counts_and_names():
    answers = [answer(f"u{n}", "in part" if n in (3, 7) else "yes") for n in range(1, 13)]
    row = row_of(made(*of_units(12, *answers)), 1)
    assert row[2].text.replace("\u00a0", " ") == "yes 10, part: Units 3 and 7" and row[2].strong
    assert len(row) == len(table(section(made(*of_units(12, *answers)), "answers"), "Every question").columns)


def test_of_units_that_are_a_plain_yes_nothing_is_said_beside_one_that_is_not():
    binder = made(*of_units(2, answer("u1", words="77 of 77."), answer("u2", "no", "None at all.", gap="the lid")))
    assert said(binder, 1) == "Unit 2: None at all.\nMissing: Unit 2: The lid"


def test_the_same_words_with_other_numbers_are_told_once_in_turn():
    binder = made(*of_units(3, *(answer(f"u{n}", words=f"{n} of 9 loads.") for n in (1, 2, 3))))
    assert said(binder, 1) == "1, 2 and 3 of 9 loads."


def test_questions_with_the_same_words_stay_two():
    binder = made(*of_units(1, answer("u1"), answer("u1", id="b", question="Is there a door?")))
    assert [row_of(binder, n)[1].text for n in (1, 2)] == ["Is there a lid?", "Is there a door?"]


def test_the_data_say_each_answer_of_each_unit_as_the_judgement_gives_it():
    facts, judgement = of_units(2, answer("u1"), answer("u2", "no", gap="the lid"), answer("", id="b"))
    binder = made(facts, judgement)
    assert [each.answers for each in binder.questions] == [(("Unit 1", "yes"), ("Unit 2", "no")), (("", "yes"),)]
    assert len(by_question(judgement.answers)) == 2


# ------------------------------------------------------------------------------------------------ where it stands


def test_the_evidence_leads_to_the_section_that_names_its_newest_row(binder):
    job = full.clinic()[0].units[0].jobs[0]
    visits = row_of(binder, 2)[-2]
    assert visits.pages and visits.to == visits.pages[0][0]
    part = next(part for part in job.parts if "B25-118" in part.lot)
    assert visits.pages[0][1] in (str(part.row.number), str(job.row.number))
    assert row_of(binder, 4)[-2].to == "people"
    assert row_of(binder, 5)[-2].pages == () and row_of(binder, 5)[-2].to == ""


def test_the_pages_printed_are_those_on_which_the_rows_stand(binder):
    """Read out of the file: the page that stands in the row of question 2 names the visit."""
    pages = texts(render(binder))
    chapter = next(text for text in pages if "Are repair and maintenance logs present?" in text and "No." in text)
    number = int(
        chapter.split("Are repair and maintenance logs present?")[1].split("visit in the period.")[1].split()[0]
    )
    assert "B25-118" in pages[number - 1]


def test_by_whom_a_question_is_asked_stands_as_a_letter_with_its_key(binder):
    block = table(section(binder, "answers"), "Every question")
    letters = [row[-1].text for row in block.rows if row[0].text.isdigit()]
    assert letters == ["a", "b", "a", "a", "b"]
    key = section(binder, "answers").blocks[2].text
    assert key.startswith("By: a ") and "; b Common practice, no source (from memory)" in key


def test_without_answers_the_chapter_says_so():
    told = words(section(made(*sample.clinic()), "answers"))
    assert "No question is answered in this binder" in told


# ------------------------------------------------------------------------------------------------ known gaps


def gap(**changes) -> f.GapFact:
    """The week without a test, accepted on 1 December."""
    plain = {
        "row": full.rows().row(date(2025, 12, 1)), "unit": "", "from_on": WEEK[0], "to_on": WEEK[1],
        "what": "log sheet lost", "why": "water damage", "accepted_by": "Ilse Brandt",
    }  # fmt: skip
    return f.GapFact(**{**plain, **changes})


def with_gap(held: f.GapFact, missing: str = "nothing that counts for 2025-09-15 to 2025-09-21"):
    """The full clinic with one known gap of the place; the first answer names days that are missing."""
    facts, judgement = full.clinic()
    first, *rest = judgement.answers
    first = replace(first, gap=missing)
    unit = replace(facts.units[0], gaps=())
    facts = replace(facts, units=(unit, facts.units[1]), gaps=(held,))
    return facts, replace(judgement, answers=(first, *rest))


TOLD = (
    "Known gap, 15 Sep 2025 to 21 Sep 2025: log sheet lost. Why: water damage. Accepted by Ilse Brandt on 1 Dec 2025"
)


def test_a_gap_behind_an_answer_is_told_with_who_accepted_it_when_and_why():
    binder = made(*with_gap(gap()))
    assert TOLD in said(binder, 1)
    assert "Missing" in said(binder, 5) and "Known gap" not in said(binder, 5)


@pytest.mark.parametrize(
    ("from_on", "to_on", "touches"),
    [
        (date(2025, 9, 21), date(2025, 9, 21), True),
        (date(2025, 9, 15), date(2025, 9, 15), True),
        (date(2025, 9, 22), date(2025, 9, 30), False),
        (date(2025, 9, 1), date(2025, 9, 14), False),
    ],
)
def test_both_ends_of_a_gap_and_of_the_missing_days_are_inclusive(from_on, to_on, touches):
    told = said(made(*with_gap(gap(from_on=from_on, to_on=to_on))), 1)
    assert ("Accepted by" in told) is touches and "Missing" in told


def test_a_gap_named_as_evidence_is_told_whatever_days_the_answer_names():
    held = gap()
    facts, judgement = with_gap(held, missing="the paper log")
    first, *rest = judgement.answers
    first = replace(first, evidence=(j.Evidence(held.row.ref, "known gap: log sheet lost"),))
    assert TOLD in said(made(facts, replace(judgement, answers=(first, *rest))), 1)


def test_an_answer_with_nothing_missing_names_no_gap():
    assert "Accepted" not in said(made(*with_gap(gap())), 2)


@pytest.mark.parametrize("accepted_on", [date(2026, 6, 1), date(2026, 6, 20)])
def test_a_gap_accepted_after_the_day_of_the_answer_is_not_told(accepted_on):
    held = gap(row=full.rows().row(accepted_on))
    assert "log sheet lost" not in words(made(*with_gap(held)))


def test_a_gap_of_another_unit_is_not_behind_this_ones_answer():
    facts, judgement = with_gap(gap())
    other = facts.units[1].ref
    facts = replace(facts, gaps=(replace(facts.gaps[0], unit=other),))
    assert "Missing" in said(made(facts, judgement), 1) and "Accepted by" not in said(made(facts, judgement), 1)


def test_the_weeks_of_a_gap_say_so_where_they_stand():
    """Among the spore tests, where the missed week is told, and among what happened to the unit or the place."""
    binder = made(*with_gap(gap()))
    rows = headed(section(binder, "indicators-1"), "Told in full").rows
    (missed,) = [cells for cells in rows if cells[1].text.startswith("Missed.")]
    assert spaced(missed[0].text) == "15 to 21 Sep 2025"
    assert TOLD in spaced(missed[1].text) and missed[3].text == str(gap().row.number)


def test_a_gap_excuses_nothing():
    """The calendar and every list of tests are the same with it, but for the words that tell it."""
    before, after = made(*full.clinic()), made(*with_gap(gap()))
    calendars = [
        next(b for b in section(b, "unit-1").blocks if isinstance(b, MonthCalendar)) for b in (before, after)
    ]
    assert calendars[0] == calendars[1]
    kept = [calendar.note for calendar in calendars]
    assert kept[0] == kept[1] and "1 missed" in spaced(kept[0])
