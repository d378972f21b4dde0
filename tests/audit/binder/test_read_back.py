"""What is on paper is what the JSON says: every text of it is read back from the pages of its section.

And odd clinics go through whole: nothing on record, nothing wrong, letters from everywhere, words without an end.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out, render
from audit.binder.pdf.page import sheet
from audit.binder.sections import EVERYTHING, MonthCalendar, StandingBox, Table, to_json
from audit.judge.evaluate import coverage_over, evaluate
from audit.judge.judgement import Severity, Word
from tests.audit.binder import full, sample
from tests.audit.binder.paper import reader
from tests.audit.binder.test_contents import cells, section, words
from tests.bench import histories


def judged(facts, first: date, as_of: date = histories.LAST):
    """The binder of these facts by the rules on file."""
    kept = coverage_over(facts, as_of, first, as_of)
    return binder_contents(facts, evaluate(facts, as_of), from_on=first, to_on=as_of, coverage=kept)


def squeezed(text: str) -> str:
    return "".join(text.split())


_PRINTED = ("text", "title", "what", "name", "caption", "label", "word", "reason", "outranked", "state", "when")


def said(value) -> list[str]:
    """Every text of a part of the JSON that stands on paper as it is."""
    if isinstance(value, list):
        return [text for each in value for text in said(each)]
    if not isinstance(value, dict):
        return []
    kind = value["kind"]
    if kind == "Cell":
        return value["text"].split("\n") if value["text"] else []
    if kind == "Table":
        head = [column["title"] for column in value["columns"]]
        return [*head, value["caption"], *said(value["rows"])] if value["rows"] else [value["empty"]]
    if kind == "KeyValues":
        keys = [key for key, _ in value["pairs"]]
        return [value["caption"], *keys, *(text for _, cell in value["pairs"] for text in said(cell))]
    if kind == "Beside":
        return [*said(value["left"]), *said(value["right"])]
    if kind == "Signed":
        return [text for title, lines in value["statements"] for text in (title, *lines)]
    if kind == "MonthCalendar":
        rows = [text for label, cells in value["rows"] for text in (label, *said(cells))]
        return [value["caption"], *rows, *(text for pair in value["key"] for text in pair), value["note"]]
    if kind in ("Paragraph", "Section", "Title", "Cautions", "CaseTimeline", "StandingBox", "TimelineStep", "Links"):
        return _plain(value)
    return []  # pictures have tests of their own


def _plain(value: dict) -> list[str]:
    out = []
    for name, each in value.items():
        if name in (
            "text",
            "title",
            "what",
            "name",
            "caption",
            "label",
            "word",
            "reason",
            "outranked",
            "when",
            "aside",
            "asks",
        ):
            out += each.split("\n")
        elif name == "lines":
            out += each
        elif name == "record":
            out += each.split(", ")
        elif name == "pairs":
            out += [text for key, cell in each for text in (key, *said(cell))]
        elif name in ("blocks", "steps", "cells"):
            out += said(each)
    return out


def ranges(binder, paper) -> dict[str, tuple[int, int]]:
    """First and last page of each section, both inclusive, as they are laid out."""
    pages = lay_out(binder, paper)
    starts = [(anchor.id, n) for n, page in enumerate(pages, start=1) for _, anchor in page.anchors]
    starts = [each for each in starts if each[0] != "contents"]
    ends = [*(n for _, n in starts[1:]), len(pages)]
    return {id: (first, max(first, end)) for (id, first), end in zip(starts, ends, strict=True)}


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_every_text_of_the_json_stands_on_the_pages_of_its_section(size):
    binder = binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO)
    told = json.loads(json.dumps(to_json(binder)))
    pages = [squeezed(page.extract_text()) for page in reader(render(binder, page_size=size)).pages]
    where = ranges(binder, sheet(size))
    checked = 0
    for part in told["sections"]:
        first, last = where[part["id"]]
        paper = "".join(pages[first - 1 : last])
        texts = said(part)[1 if part["id"] == "cover" else 0 :]  # the cover's title is the large words on it
        for text in filter(None, map(squeezed, texts)):
            assert text in paper, (part["id"], text)
            checked += 1
    assert checked > 2000


# ------------------------------------------------------------------------------------------------ odd clinics


def test_a_clinic_with_no_data_says_so_part_by_part_and_prints():
    binder = binder_contents(*sample.empty_clinic(), from_on=sample.FROM, to_on=sample.TO)
    empty = ("What is open", "Where to find it")  # these two answer in a place where nothing is on record too
    tables = [b for each in binder.sections for b in each.blocks if isinstance(b, Table) and b.rows]
    assert {block.caption for block in tables} <= set(empty)
    fresh = [each for each in binder.sections if each.level == 1 and not each.flows]
    assert len(reader(render(binder)).pages) >= len(fresh)


CALM = date(2026, 6, 7)  # a Sunday: the week with the last spore test is over


@pytest.fixture(scope="module")
def calm():
    """A gravity unit under the common base rules, tested each week, serviced each year, nothing failed."""
    unit = histories.unit(years=2, visits=4, loads=300, daily=False, type="gravity", failures=0, seed=7)
    unit = replace(unit, plan=unit.plan[:1])  # the one line that its visits keep
    facts = histories.clinic(unit, regime="us-healthcare-cdc-2008")
    return judged(facts, CALM - timedelta(days=364), CALM)


def test_a_clinic_with_nothing_wrong_says_that_and_no_more(calm):
    assert calm.forbidding == 0
    (box,) = [block for block in section(calm, "unit-1").blocks if isinstance(block, StandingBox)]
    assert box.word.startswith(f"□ {Word.IN_SERVICE.value}")
    units = next(b for b in section(calm, "cover").blocks if isinstance(b, Table) and b.caption == "The sterilizers")
    assert [row[2].text.split("\n")[0] for row in units.rows] == ["□ Yes, in service"]
    assert Severity.FORBIDS.value not in words(section(calm, "open-items")).lower()
    assert not any("failure" in each.id or "look-back" in each.id or "coverage" in each.id for each in calm.sections)
    (calendar,) = [block for block in section(calm, "unit-1").blocks if isinstance(block, MonthCalendar)]
    assert not any(cell.frame for _, row in calendar.rows for cell in row)
    measured = [b for each in calm.sections if "-job-" in each.id for b in each.blocks
                if isinstance(b, Table) and b.columns[0].title == "Measured"]  # fmt: skip
    assert measured and not any(cell.strong for block in measured for row in block.rows for cell in row)


ODD = "Żółć ñandú Ωmega "
ARABIC = "عيادة الأسنان"
ENDLESS = "Wort" * 400


def odd_clinic():
    """Names with accents, from right to left and without an end, in every place that people name."""
    facts, judgement = full.clinic()
    name = f"{ODD}{ARABIC} {ENDLESS}"
    unit = replace(facts.units[0], label=name, serial=ENDLESS, maker=ODD, model=ARABIC)
    said_of = replace(judgement.units[0], label=name)
    said_of = replace(said_of, standing=replace(said_of.standing, reason=f"{name} is not resolved"))
    terms = replace(facts.terms[0], name=name, address=f"{ARABIC}\n{ENDLESS}")
    facts = replace(facts, terms=(terms,), units=(unit, facts.units[1]))
    return facts, replace(judgement, name=name, units=(said_of, judgement.units[1])), name


def test_letters_from_everywhere_and_words_without_an_end_go_through_unchanged():
    facts, judgement, name = odd_clinic()
    binder = binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO)
    assert binder.clinic == name
    chapter = section(binder, "unit-1")
    assert name in chapter.title and ENDLESS in chapter.aside and ODD.strip() in chapter.aside
    assert json.loads(json.dumps(to_json(binder)))["clinic"] == name
    assert squeezed(ENDLESS) in squeezed("".join(page.extract_text() for page in reader(render(binder)).pages))


def test_a_table_of_many_rows_keeps_each_row_and_its_order():
    """200 parts fitted on one visit, all at the visit and, with everything on record, in the list by lot."""
    facts, judgement = full.clinic()
    unit = facts.units[0]
    job = unit.jobs[0]
    rows = full.rows()
    parts = tuple(
        replace(job.parts[0], row=rows.row(job.row.happened_on), lot=f"L{n:03}", position="") for n in range(200)
    )
    unit = replace(unit, jobs=(replace(job, parts=parts),))
    binder = binder_contents(
        replace(facts, units=(unit, facts.units[1])),
        judgement,
        from_on=sample.FROM,
        to_on=sample.TO,
        extent=EVERYTHING,
    )
    lots = [f"L{n:03}" for n in range(200)]
    block = next(b for b in section(binder, "lots").blocks if isinstance(b, Table) and "by lot" in b.caption)
    assert [row[0].text.split("\n")[0] for row in block.rows] == lots
    visit = next(b for b in section(binder, "unit-1-job-1").blocks if isinstance(b, Table))
    assert re.findall(r"lot (L\d{3})", "".join(row[3].text for row in visit.rows)) == lots
    text = "".join(page.extract_text() for page in reader(render(binder)).pages)
    assert all(text.count(lot) >= 2 for lot in lots)


def test_the_same_facts_give_the_same_contents_whatever_they_are_ordered_by():
    """Facts of a kind may come in any order."""
    facts, judgement = full.clinic()
    unit = facts.units[0]
    turned = replace(
        unit, **{n: tuple(reversed(getattr(unit, n))) for n in ("bio_tests", "loads", "checks", "events", "plan")}
    )
    one = binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO)
    facts = replace(facts, units=(turned, facts.units[1]))
    assert binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO) == one


def test_every_cell_is_text_that_can_be_seen(calm):
    assert all(isinstance(cell.text, str) for cell in cells(calm.sections))
    assert not [cell for cell in cells(calm.sections) if "None" in cell.text or "<" in cell.text]
