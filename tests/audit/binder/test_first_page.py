"""The first page: yes, no or not yet, what is open worst first, who answers for the place; no code and no hash."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.cover import SHORT_CAUTION
from audit.binder.pdf import lay_out
from audit.binder.pdf.page import sheet
from audit.binder.sealing import Sealing
from audit.binder.sections import Beside, KeyValues, Masthead, Paragraph, Table
from audit.facts.heads import LedgerHead
from audit.facts.responsible import AgreementFact, CoordinatorFact, Responsible
from audit.judge import judgement as j
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import column, section, words

HEADS = (LedgerHead("c" * 32, "Example Clinic (invented)", 936, "ab" * 32),)
SEALING = Sealing("Example Keepers (invented)", "Ida Lund", datetime(2026, 6, 1, 15, 30, tzinfo=UTC), "cd" * 32, True,
                  "https://standing.example/check")  # fmt: skip


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


@pytest.fixture(scope="module")
def binder():
    return made(*full.clinic(), heads=HEADS, sealing=SEALING)


def blocks(binder) -> list:
    """Everything on the first page, and on the second where it goes on there."""
    found = []
    for each in binder.sections:
        if each.id.startswith("cover"):
            for block in each.blocks:
                found += [*block.left, *block.right] if isinstance(block, Beside) else [block]
    return found


def named(binder, caption: str):
    return next(b for b in blocks(binder) if isinstance(b, Table | KeyValues) and b.caption == caption)


def lead(binder) -> str:
    return next(b.text for b in blocks(binder) if isinstance(b, Paragraph) and b.style == "lead")


def opened(binder) -> list[str]:
    return [row[0].text for row in named(binder, "What is open").rows]


def with_words(*standings: j.UnitStanding):
    """The full clinic with one unit for each standing, all like the first."""
    facts, judgement = full.clinic()
    unit, said = facts.units[0], judgement.units[0]
    units, judged = [], []
    for n, standing in enumerate(standings, start=1):
        row = replace(unit.row, ref=f"{n:032d}", origin=f"{n:032d}")
        units.append(replace(unit, row=row, label=f"Unit {n}"))
        judged.append(replace(said, unit=row.origin, label=f"Unit {n}", standing=standing))
    return replace(facts, units=tuple(units)), replace(judgement, units=tuple(judged))


def standing(word: j.Word, proof=True, reason="why it is so") -> j.UnitStanding:
    evidence = full.clinic()[1].units[0].standing.proof if proof else ()
    return j.UnitStanding(word, "R4", reason, date(2026, 5, 2), evidence, "somebody, by a test", None)


# ------------------------------------------------------------------------------------------------ what it answers


@pytest.mark.parametrize(
    ("word", "mark"),
    [
        (j.Word.IN_SERVICE, "□ Yes"),
        (j.Word.OVERDUE, "□ Yes"),
        (j.Word.LIMITED, "□ Yes"),
        (j.Word.WAITING, "◩ Not yet"),
        (j.Word.OUT, "■ No"),
        (j.Word.NOT_IN_USE, "■ No"),
    ],
)
def test_each_word_of_the_answer_has_its_mark_and_its_short_word(word, mark):
    (cell,) = column(named(made(*with_words(standing(word))), "The sterilizers"), "May it be used?")
    assert cell.startswith(mark) and "2 May 2026" in cell.replace("\u00a0", " ")


def test_an_answer_that_permits_and_rests_on_nothing_is_not_yet():
    binder = made(*with_words(standing(j.Word.IN_SERVICE, proof=False)))
    (cell,) = column(named(binder, "The sterilizers"), "May it be used?")
    assert cell == "◩ Not yet\nno proof on record"
    assert lead(binder) == "The one sterilizer may not be used yet."
    assert opened(binder)[0].startswith("◩ Unit\u00a01 may not be used yet. No proof is on record")


def test_a_unit_that_was_not_judged_is_not_yet():
    facts, judgement = with_words(standing(j.Word.IN_SERVICE), standing(j.Word.IN_SERVICE))
    binder = made(facts, replace(judgement, units=judgement.units[:1]))
    assert column(named(binder, "The sterilizers"), "May it be used?")[1] == "◩ Not yet\nnot judged"
    assert lead(binder) == "One of the two sterilizers may be used today; Unit\u00a02 not yet."


def test_the_sentence_counts_the_units_by_answer_and_names_those_that_may_not():
    permitted, out, waits = (standing(w) for w in (j.Word.IN_SERVICE, j.Word.OUT, j.Word.WAITING))
    assert lead(made(*with_words(permitted, permitted))) == "Both sterilizers may be used today."
    assert lead(made(*with_words(*[permitted] * 3))) == "All three sterilizers may be used today."
    assert lead(made(*with_words(out, waits))) == (
        "No sterilizer may be used today; Unit\u00a01 may not, Unit\u00a02 not yet."
    )
    said = lead(made(*with_words(permitted, out, waits, out)))
    assert said == "One of the four sterilizers may be used today; Units\u00a02 and 4 may not, Unit\u00a03 not yet."


def test_what_permits_use_within_limits_is_told_in_the_sentence_and_with_its_limit():
    limited, late = standing(j.Word.LIMITED, reason="wrapped packs alone"), standing(j.Word.OVERDUE)
    binder = made(*with_words(limited, late))
    assert lead(binder) == (
        "Both sterilizers may be used today, Unit\u00a01 within limits, Unit\u00a02 with something overdue."
    )
    assert opened(binder)[0].startswith("□ Unit\u00a01 may be used within limits. Wrapped packs alone.")
    assert lead(made(*with_words(limited))) == "The one sterilizer may be used, within limits."


def test_a_place_without_units_says_that_nothing_may_be_used():
    binder = made(*sample.empty_clinic())
    assert "nothing may be used" in lead(binder) and not named(binder, "The sterilizers").rows
    told = dict((key, cell.text) for key, cell in named(binder, "Who is responsible").pairs)
    assert told["Infection control"].startswith("nobody on record") and "no agreement on record" in told["Service"]
    assert " yes" not in words(section(binder, "cover")).lower()


# ------------------------------------------------------------------------------------------------ what is open


def test_what_forbids_use_comes_first_then_what_is_overdue_then_what_is_to_be_put_right(binder):
    kinds = [re.sub(r"^[■◩] ", "", line) for line in opened(binder)]
    order = [
        0 if "may not be used" in k or k.startswith("Forbids") else 1 if k.startswith("Overdue") else 2 for k in kinds
    ]
    assert order == sorted(order) and {0, 1} <= set(order)


def test_why_a_unit_may_not_be_used_is_told_in_the_words_of_the_judgement():
    binder = made(*with_words(standing(j.Word.OUT, reason="spore test of 2026-05-02: failed; the repeat failed too")))
    first = opened(binder)[0].replace("\u00a0", " ")
    why = "Spore test of 2 May 2026: failed; the repeat failed too."
    assert first == f"■ Unit 1 may not be used. {why} Way out: somebody, by a test."


def test_what_has_no_room_is_counted_and_units_that_may_not_be_used_are_named():
    long = standing(j.Word.OUT, reason="a reason of many words " * 20)
    binder = made(*with_words(*[long] * 12))
    lines = opened(binder)
    assert len(lines) < 13 and "may not be used, or not yet" in lines[-1] and "12" in lines[-1]


def test_points_of_several_units_that_begin_alike_are_one():
    facts, judgement = with_words(*[standing(j.Word.IN_SERVICE)] * 2)
    point = j.Finding("recalled", j.Severity.PUT_RIGHT, None, "a lot was recalled", "inspect it", (), None, "clinic")
    units = tuple(
        replace(unit, findings=(replace(point, message=f"{point.message}; fitted in year {n}"),), clocks=())
        for n, unit in enumerate(judgement.units)
    )
    lines = opened(made(facts, replace(judgement, units=units, clocks=())))
    assert "To put right. Units\u00a01 and 2: a lot was recalled." in lines


def test_what_is_overdue_is_not_told_again_as_a_point_to_put_right():
    facts, judgement = with_words(standing(j.Word.OVERDUE))
    clock = j.Clock(
        j.DueKind.PLAN, "seal", "Replace the seal", j.State.NO_EVIDENCE, None, None, None, "", full.REGIME
    )
    point = j.Finding("plan", j.Severity.PUT_RIGHT, None, "Replace the seal: no record found", "do it", (), None, "")
    unit = replace(judgement.units[0], clocks=(clock,), findings=(point,))
    told = [line for line in opened(made(facts, replace(judgement, units=(unit,), clocks=()))) if "seal" in line]
    assert told == ["Overdue. Unit\u00a01: Replace the seal, no evidence on record."]


# ------------------------------------------------------------------------------------------------ who, sealed


def test_who_answers_for_the_place_on_the_day_with_how_they_are_reached():
    row = full.rows().row
    people = Responsible(
        (
            CoordinatorFact(row(date(2020, 1, 1)), "Old Name", date(2020, 1, 1), date(2026, 5, 31)),
            CoordinatorFact(row(date(2026, 5, 31)), "Ida Lund", date(2026, 5, 31)),
        ),
        (AgreementFact(row(date(2024, 1, 1)), "Keepers (invented)", "555 0140", "all units", date(2024, 1, 1)),),
        "555 0100",
    )
    told = dict((k, c.text) for k, c in named(made(*full.clinic(), responsible=people), "Who is responsible").pairs)
    assert told["Infection control"].startswith(
        "Ida Lund, coordinator, 555 0100; training: none on record that holds"
    )
    assert "Old Name" not in told["Infection control"]
    assert told["Service"] == "Keepers (invented), 555 0140; agreement since 1\u00a0Jan\u00a02024, all units"


def test_no_record_number_and_no_hash_stands_on_the_first_page(binder):
    said = words(section(binder, "cover"))
    assert "ab" * 8 not in said and "cd" * 8 not in said
    assert not re.search(r"\[\d|#\d", said)
    assert not any(cell.proof for b in blocks(binder) if isinstance(b, Table) for row in b.rows for cell in row)


def test_the_box_says_when_and_by_whom_it_is_sealed_or_that_it_is_not(binder):
    box = dict(section(binder, "cover").blocks[0].box)
    assert isinstance(section(binder, "cover").blocks[0], Masthead)
    assert box["Sealed"] == "1\u00a0Jun\u00a02026, by Example Keepers (invented)"
    bare = dict(section(made(*full.clinic()), "cover").blocks[0].box)
    assert bare["Sealed"].startswith("not sealed") and "Check it" not in bare


def test_the_short_cautions_stand_on_the_first_page(binder):
    assert any(isinstance(b, Paragraph) and b.text == SHORT_CAUTION for b in section(binder, "cover").blocks)


@pytest.mark.parametrize("count", [1, 2, 4, 6, 7, 12])
@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_first_page_is_one_page(count, size):
    """Of many units what comes after what is open stands on a second one; never is there a third."""
    permitted, out = (
        standing(j.Word.IN_SERVICE),
        standing(j.Word.OUT, reason="a reason of some length, as they are " * 3),
    )
    facts, judgement = with_words(*([permitted, out] * 6)[:count])
    short = tuple(replace(unit, maker="Maker", model=f"Model {n}") for n, unit in enumerate(facts.units))
    facts = replace(facts, units=short)
    binder = made(facts, judgement, heads=HEADS, sealing=SEALING)
    covers = [each.id for each in binder.sections if each.id.startswith("cover")]
    alone = replace(binder, sections=tuple(each for each in binder.sections if each.id.startswith("cover")))
    assert lay_out(alone, sheet(size)).count == len(covers) <= 2


def test_known_gaps_and_cycles_that_are_not_logged_are_told_where_evidence_begins():
    facts, judgement = full.clinic()
    gap = f.GapFact(
        full.rows().row(date(2025, 7, 1)), "", date(2019, 1, 1), date(2023, 1, 1), "slips", "lost", "I. L."
    )
    told = [
        (k, c.text)
        for k, c in named(made(replace(facts, gaps=(gap,)), judgement), "From when there is evidence").pairs
    ]
    assert ("Known gap", "slips, 1\u00a0Jan\u00a02019 to 1\u00a0Jan\u00a02023; accepted by I. L.") in told
    assert told[-1][0] == "Loads"


def test_goods_in_doubt_come_first_among_what_is_to_be_put_right_each_with_the_page_it_stands_on():
    facts, judgement = with_words(*[standing(j.Word.IN_SERVICE)] * 2)
    point = j.Finding("told", j.Severity.PUT_RIGHT, None, "a return was told", "sign it", (), None, "clinic")
    doubt = replace(point, rule="look-back-open", message="3 loads affected")
    one, other = judgement.units
    units = (replace(one, findings=(point,), clocks=()), replace(other, findings=(point, doubt), clocks=()))
    rows = named(made(facts, replace(judgement, units=units, clocks=())), "What is open").rows
    told = [(row[0].text, row[1].page) for row in rows if row[0].text.startswith("To put right")]
    assert told == [
        ("To put right. Unit\u00a02: 3\u00a0loads affected.", "unit-2:open:1"),
        ("To put right. Units\u00a01 and 2: a return was told.", "unit-1:open:0"),
    ]


def test_the_days_of_grace_of_what_is_overdue_are_told():
    facts, judgement = with_words(standing(j.Word.OVERDUE))
    clock = j.Clock(
        j.DueKind.PLAN, "valve", "Test the valve", j.State.OVERDUE, date(2026, 5, 1), date(2026, 5, 16), None, "",
        full.REGIME,
    )  # fmt: skip
    units = (replace(judgement.units[0], clocks=(clock,), findings=()),)
    (line,) = [text for text in opened(made(facts, replace(judgement, units=units, clocks=()))) if "valve" in text]
    assert "due by 1\u00a0May\u00a02026, allowed to 15\u00a0May\u00a02026" in line


def test_questions_name_who_coordinates_and_what_is_agreed_with_whom():
    row, day = full.rows().row, date(2024, 1, 1)
    people = Responsible(
        (CoordinatorFact(row(day), "Ida Lund", day),),
        (AgreementFact(row(day), "Keepers (invented)", "", "all units", day),),
    )
    facts, judgement = full.clinic()
    asked = replace(judgement.answers[0], id="coordinator", unit="", answer="no record found", words="None.", gap="")
    made_ = made(facts, replace(judgement, answers=(asked,), regime="us-dental-cdc-2003"), responsible=people)
    assert made_.questions[0].words.startswith("Ida Lund coordinates at the clinic since 1\u00a0Jan\u00a02024.")
    (contract,) = [one for one in made_.not_asked if one.subject == "a maintenance contract"]
    assert contract.told.startswith(
        "Agreement with Keepers (invented) since 1\u00a0Jan\u00a02024: all units; no paper"
    )
