"""The pictures in the file: their words are text, each has its alternate text, same values same bytes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from io import BytesIO

import pikepdf
import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import render
from audit.binder.pictures.unit import chart_blocks, spore_strips, strip_blocks, time_line_blocks
from audit.binder.pictures.values import Charts, DutyStrip, UnitTimeLine
from audit.binder.scope import scope
from audit.binder.sections import Binder, Section, Title, to_json
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder.paper import holds, texts
from tests.fact_builders import (
    bio,
    clinic,
    counter,
    event,
    installed,
    job,
    leak,
    load,
    measured,
    part,
    position,
    unit,
    weekly,
)

FIRST, LAST = date(2025, 1, 1), date(2025, 12, 31)


def facts():
    visit = job("2025-03-04", parts=(part("2025-03-04"),), readings=(measured("2025-03-04", found="131.9"),))
    one = unit(
        "2024-01-01",
        events=(installed("2024-01-01"), event("2025-03-03", "withdrawn", "door"), event("2025-03-05", "returned")),
        positions=(position(),),
        jobs=(visit,),
        bio_tests=(*weekly("2025-01-06", "2025-11-24"), bio("2025-12-02", result="growth")),
        leaks=(leak("2025-04-04"), leak("2025-05-05", "fail")),
        counters=(counter("2025-02-02", 900), counter("2025-06-06", 20, 950)),
    )
    return clinic(one)


def asked(first=FIRST, last=LAST):
    made = facts()
    return scope(made, evaluate(made, last), first, last, coverage_over(made, last, first, last))


def binder() -> Binder:
    held = asked()
    unit = held.units[0]
    blocks = (*strip_blocks(held, unit), *time_line_blocks(held, unit), *chart_blocks(held, unit))
    cover = Section("cover", "Cover", 1, (Title("Binder", "Example", ("2025",)),))
    return Binder(
        "A binder", "Example", "2025", FIRST, LAST, LAST, None, 0, (cover, Section("p", "Pictures", 1, blocks))
    )


@pytest.fixture(scope="module", params=["letter", "a4"])
def content(request):
    return render(binder(), page_size=request.param)


def alternates(content: bytes) -> list[str]:
    """The alternate text of every figure in the structure tree, in reading order."""
    with pikepdf.open(BytesIO(content)) as pdf:
        todo, found = [pdf.Root.StructTreeRoot], []
        while todo:
            node = todo.pop()
            if not isinstance(node, pikepdf.Dictionary):
                continue
            if node.get("/S") == "/Figure":
                found.append(str(node.Alt))
            kids = node.get("/K", [])
            todo += reversed(list(kids) if isinstance(kids, pikepdf.Array) else [kids])
        return found


def alts_of(value) -> list[str]:
    """Every alternate text in the blocks as they stand in the JSON, in order."""
    if isinstance(value, dict):
        own = [value["alt"]] if "alt" in value else []
        return own + [alt for each in value.values() for alt in alts_of(each)]
    return [alt for each in value for alt in alts_of(each)] if isinstance(value, list) else []


def test_the_words_of_the_pictures_are_text(content):
    for text in (
        "Spore test (biological indicator)",
        "done, and it failed",
        "planned, routine",
        "seal, lot P1",
        "withdrawn: door",
        "131.9",
        "≥ 134",
        "≤ 0.13",
        "0.20",
        "6 Jun 2025: 950 added from here",
        "Counter of cycles, life total",
    ):
        assert holds(content, text), text


def test_each_figure_has_the_words_that_the_json_has(content):
    said = alts_of(to_json(binder().sections[1]))
    assert len(said) == 5 and all(said)
    assert alternates(content) == said


def test_what_goes_on_over_a_page_names_its_duty_again():
    """Ten years of days of use take several pages; the words are decoration, read aloud once only."""
    made = clinic(unit("2016-01-01", loads=(load("2020-01-01"),)), regime="ca-on-dental")
    first = date(2016, 1, 1)
    held = scope(made, evaluate(made, LAST), first, LAST, coverage_over(made, LAST, first, LAST))
    blocks = tuple(b for b in strip_blocks(held, held.units[0]) if getattr(b, "form", "") == "days")
    assert blocks
    content = render(replace(binder(), sections=(binder().sections[0], Section("p", "Pictures", 1, blocks[:1]))))
    heads = [text for text in texts(content) if f"{blocks[0].caption}, continued" in text]
    assert len(heads) == len(texts(content)) - 3  # cover, contents and the first page of the strip


def test_the_same_facts_give_the_same_bytes():
    assert render(binder()) == render(binder())


def test_the_indicator_record_has_its_own_strip_only_where_the_weeks_do_not_reach_back():
    assert spore_strips(*both(asked())) == ()
    early = asked(date(2023, 1, 1), LAST)
    assert [block.caption for block in spore_strips(*both(early))] == ["Spore test (biological indicator)"]


def test_the_chapter_of_a_unit_and_the_indicator_record_hold_them():
    made, first = facts(), date(2023, 1, 1)
    whole = binder_contents(
        made, evaluate(made, LAST), from_on=first, to_on=LAST, coverage=coverage_over(made, LAST, first, LAST)
    )
    kinds = {section.id: {type(block) for block in section.blocks} for section in whole.sections}
    of_unit = set().union(*(held for id, held in kinds.items() if id.startswith("unit-1")))
    assert {DutyStrip, UnitTimeLine, Charts} <= of_unit
    assert DutyStrip in kinds["indicators-1"]


def both(held):
    return held, held.units[0]
