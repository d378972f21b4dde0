"""Forms made from a few facts, and what stands in them."""

from __future__ import annotations

from collections.abc import Iterator

from audit.binder.blank_forms import Boxes, FormEntry, Forms, FormTable, PaperForm, paper_forms
from audit.judge.evaluate import evaluate
from audit.regimes import all_regimes
from tests import fact_builders as b
from tests.audit.binder.paper import spaced

TODAY = b.on("2026-03-18")  # a Wednesday


def forms(kind: str, *units, regime="us-dental-cdc-2003", on=TODAY, today=TODAY, unit="", **clinic) -> Forms:
    facts = b.clinic(*units, regime=regime, **clinic)
    judgement = evaluate(facts, today)
    return paper_forms(facts, judgement, all_regimes()[regime].on(today), kind, on=on, unit=unit)


def form(kind: str, unit, **more) -> PaperForm:
    """The only sheet."""
    (only,) = forms(kind, unit, **more).forms
    return only


def tables(form: PaperForm, first_column: str) -> list[FormTable]:
    return [x for x in form.blocks if isinstance(x, FormTable) and x.columns[0].title == first_column]


def table(form: PaperForm, first_column: str) -> FormTable:
    (only,) = tables(form, first_column)
    return only


def boxes(form: PaperForm, caption: str) -> list[Boxes]:
    return [x for x in form.blocks if isinstance(x, Boxes) and x.caption.startswith(caption)]


def entries(form: PaperForm) -> Iterator[FormEntry]:
    for block in form.blocks:
        if isinstance(block, Boxes):
            yield from (entry for line in block.lines for entry in line)
        if isinstance(block, FormTable):
            yield from (entry for row in block.rows for entry in row)


def text(form: PaperForm) -> str:
    """Everything printed on it, with plain spaces."""
    found = [form.title]
    for block in form.blocks:
        found += [getattr(block, name, "") for name in ("caption", "note", "text", "title")]
        found += list(getattr(block, "lines", ())) if not isinstance(block, Boxes) else []
        found += [column.title for column in getattr(block, "columns", ())]
    found += [part for e in entries(form) for part in (e.label, e.printed, *e.ticks, e.hint)]
    return spaced("\n".join(found))


def first_lines(table: FormTable) -> list[str]:
    """The first line of each row's first place."""
    return [row[0].printed.split("\n")[0] for row in table.rows]
