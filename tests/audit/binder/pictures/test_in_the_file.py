"""The pictures in the file: their words are text, each has its alternate text, same values same bytes."""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pikepdf
import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import render
from audit.binder.pictures.unit import chart_blocks
from audit.binder.pictures.values import Charts
from audit.binder.scope import scope
from audit.binder.sections import Binder, Section, Title, to_json
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder.paper import holds
from tests.fact_builders import (
    bio,
    clinic,
    counter,
    event,
    installed,
    job,
    leak,
    measured,
    part,
    position,
    unit,
    weekly,
)

FIRST, LAST = date(2025, 1, 1), date(2025, 12, 31)


def facts():
    visits = tuple(
        job(on, parts=(part(on),), readings=(measured(on, found="131.9"),))
        for on in ("2025-03-04", "2025-06-04", "2025-09-04")
    )
    one = unit(
        "2024-01-01",
        events=(installed("2024-01-01"), event("2025-03-03", "withdrawn", "door"), event("2025-03-05", "returned")),
        positions=(position(),),
        jobs=visits,
        bio_tests=(*weekly("2025-01-06", "2025-11-24"), bio("2025-12-02", result="growth")),
        leaks=(leak("2025-04-04"), leak("2025-05-05", "fail"), leak("2025-06-05")),
        counters=(counter("2025-02-02", 900), counter("2025-06-06", 20, 950)),
    )
    return clinic(one)


def asked(first=FIRST, to=LAST):
    made = facts()
    return scope(made, evaluate(made, LAST), first, to, coverage_over(made, LAST, first, to))


def binder() -> Binder:
    held = asked()
    unit = held.units[0]
    blocks = chart_blocks(held, unit)
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


def test_the_same_facts_give_the_same_bytes():
    assert render(binder()) == render(binder())


def test_the_words_of_the_pictures_are_text(content):
    for text in ("131.9", "≥ 134", "≤ 0.13", "0.20", "outside its limits, or failed"):
        assert holds(content, text), text


def test_each_figure_has_the_words_that_the_json_has(content):
    said = alts_of(to_json(binder().sections[1]))
    assert len(said) == 2 and all(said)
    assert alternates(content) == said


def test_the_chapter_of_a_unit_holds_what_was_read_three_times_or_more():
    made = facts()
    whole = binder_contents(
        made, evaluate(made, LAST), from_on=FIRST, to_on=LAST, coverage=coverage_over(made, LAST, FIRST, LAST)
    )
    held = [block for section in whole.sections for block in section.blocks if isinstance(block, Charts)]
    captions = [chart.caption for block in held for chart in block.charts]
    assert len(captions) == 2 and all(chart.total == 3 for block in held for chart in block.charts)
    assert not any("Counter" in caption for caption in captions), "a counter is a line on the page of the unit"


def test_two_readings_have_no_chart():
    held = asked(to=date(2025, 4, 30))
    assert chart_blocks(held, held.units[0]) == ()
