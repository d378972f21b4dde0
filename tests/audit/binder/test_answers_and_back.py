"""From an answer to its evidence and back again; what is missing, and who accepted that."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.sections import KeyValues, Links
from audit.judge import judgement as j
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import section, table, words

WEEK = date(2025, 9, 15), date(2025, 9, 21)


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


@pytest.fixture(scope="module")
def binder():
    return made(*full.clinic())


def back(section) -> list[tuple[str, str]]:
    """(number, section) of the links back from a section to answers."""
    return [(c.text, c.to) for block in section.blocks if isinstance(block, Links) for c in block.cells]


def pairs(binder, id: str) -> list[tuple[str, str]]:
    return [(key, cell.text) for b in section(binder, id).blocks if isinstance(b, KeyValues) for key, cell in b.pairs]


# ------------------------------------------------------------------------------------------------ and back


def test_every_section_an_answer_leads_to_names_that_answer_and_no_other_does(binder):
    """Read both ways: the pairs (answer, section) of the evidence are those of the links back."""
    there = {
        (each.id, cell.to)
        for each in binder.sections
        if each.id.startswith("answer-")
        for block in each.blocks
        if isinstance(block, KeyValues)
        for _, cell in block.pairs
        if cell.to
    }
    again = {(to, each.id) for each in binder.sections for _, to in back(each)}
    assert there == again
    assert len(there) >= 4


def test_a_link_back_shows_the_number_of_the_answer_it_leads_to(binder):
    assert back(section(binder, "unit-1-job-1")) == [("2", "answer-2")]
    assert back(section(binder, "indicators-1")) == [("1", "answer-1")]
    assert back(section(binder, "people")) == [("4", "answer-4")]


def test_the_links_back_stand_first_in_their_section_and_once(binder):
    for each in binder.sections:
        at = [n for n, block in enumerate(each.blocks) if isinstance(block, Links)]
        assert at in ([], [0]), each.id


def test_without_answers_nothing_leads_back():
    assert not any(back(each) for each in made(*sample.clinic()).sections)


def test_an_answer_says_the_day_it_holds_and_how_old_its_newest_evidence_is(binder):
    told = dict(pairs(binder, "answer-2"))["Held by, as of"]
    assert told == "Service company, 31 May 2026; its newest evidence is of 4 Mar 2026"
    assert dict(pairs(binder, "answer-5"))["Held by, as of"] == "Insurer, 31 May 2026"


def test_answers_that_say_the_same_of_several_units_are_one_with_all_their_names():
    """Asked of both units: the one no is said once, the yes of the first by itself."""
    facts, judgement = full.clinic()
    one, two = (unit.ref for unit in facts.units)
    no = j.Answer("a", "Is there a lid?", "no record found", "None is on record.", (), "clinic", full.REGIME, one)
    yes = replace(no, id="b", question="Is there a door?", answer="yes", words="There is.")
    answers = (no, replace(no, unit=two), yes, replace(yes, unit=two, words="There are two."))
    binder = made(facts, replace(judgement, answers=answers))
    block = table(section(binder, "answers"), "Every question")
    assert [[row[0].text, row[2].text] for row in block.rows] == [["1", "S1 Łódź, S2"], ["2", "S1 Łódź"], ["3", "S2"]]
    assert section(binder, "answer-1").title == "1. Is there a lid? (S1 Łódź, S2)"
    assert dict(pairs(binder, "cover"))["Answers"] == "2 no record found, 2 yes"


def test_the_same_words_to_two_questions_stay_two_answers():
    facts, judgement = full.clinic()
    one = j.Answer("a", "Is there a lid?", "yes", "Yes.", (), "clinic", full.REGIME)
    binder = made(facts, replace(judgement, answers=(one, replace(one, id="b", question="Is there a door?"))))
    assert len(table(section(binder, "answers"), "Every question").rows) == 2


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
    told = dict(pairs(binder, "answer-1"))
    assert told["Accepted"].startswith(TOLD)
    assert dict(pairs(binder, "answer-5"))["Missing"].endswith("Accepted by nobody: no known gap is recorded for it.")


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
    told = dict(pairs(made(*with_gap(gap(from_on=from_on, to_on=to_on))), "answer-1"))
    assert ("Accepted" in told) is touches is ("Accepted by nobody" not in told["Missing"])


def test_a_gap_named_as_evidence_is_told_whatever_days_the_answer_names():
    held = gap()
    facts, judgement = with_gap(held, missing="the paper log")
    first, *rest = judgement.answers
    first = replace(first, evidence=(j.Evidence(held.row.ref, "known gap: log sheet lost"),))
    told = dict(pairs(made(facts, replace(judgement, answers=(first, *rest))), "answer-1"))
    assert told["Accepted"].startswith(TOLD)


def test_an_answer_with_nothing_missing_names_no_gap():
    assert "Accepted" not in dict(pairs(made(*with_gap(gap())), "answer-2"))


@pytest.mark.parametrize("accepted_on", [date(2026, 6, 1), date(2026, 6, 20)])
def test_a_gap_accepted_after_the_day_of_the_answer_is_not_told(accepted_on):
    held = gap(row=full.rows().row(accepted_on))
    assert "log sheet lost" not in words(made(*with_gap(held)))


def test_a_gap_of_another_unit_is_not_behind_this_ones_answer():
    facts, judgement = with_gap(gap())
    other = facts.units[1].ref
    facts = replace(facts, gaps=(replace(facts.gaps[0], unit=other),))
    assert "Accepted by nobody" in dict(pairs(made(facts, judgement), "answer-1"))["Missing"]


def test_the_weeks_of_a_gap_say_so_where_they_stand():
    """In the strip's table, in the lapses of the duty, at a glance, and in a frame at the head of the record."""
    binder = made(*with_gap(gap()))
    row = str(gap().row.number)
    weeks = table(section(binder, "indicators-1"), "Weeks other than tested")
    (missed,) = [cells for cells in weeks.rows if cells[1].text == "missed"]
    assert TOLD in missed[2].text and row in missed[3].text
    lapses = table(section(binder, "unit-1-coverage"), "Lapses, and what was exempt")
    (lapse,) = [cells for cells in lapses.rows if cells[0].text == "Spore test" and cells[2].text == "missed"]
    assert TOLD in lapse[3].text and row in lapse[4].text
    glance = table(section(binder, "glance-1"), "Any week by date, from its spore tests")
    assert "from 15 Sep\nmissed\nknown gap" in [cell.text for cells in glance.rows for cell in cells]
    assert TOLD in words(section(binder, "indicators-1").blocks[1])


def test_a_gap_excuses_nothing():
    before, after = made(*full.clinic()), made(*with_gap(gap()))
    counts = [
        [[cell.text for cell in row] for row in section(b, "unit-1-coverage").blocks[0].rows] for b in (before, after)
    ]
    assert counts[0] == counts[1]


def test_the_cover_counts_known_gaps():
    cover = dict(pairs(made(*with_gap(gap())), "cover"))
    assert cover["Known gaps"] == "1 gap accepted for days of the period"
    none = dict(pairs(made(*sample.empty_clinic()), "cover"))
    assert none["Known gaps"] == "none declared for the period"
