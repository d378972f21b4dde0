"""The log of loads on screen and as a table file: the lines of the binder, the newest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.core.paginator import Paginator
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.load_lines import LoadLine, lines_of
from audit.facts import unit_by_day
from audit.judge.judgement import UnitJudgement
from records.forms import EntryContext
from records.views.base import at_clinic

from .exposure_on_screen import reached_on_screen
from .opened import OpenedClinic, opened
from .table_files import CSV, table_file

A_PAGE = 20
# The heads of the table file, with the field of a line that each holds.
FILE = (
    ("cycle", "cycle"), ("day", "day"), ("start", "start"), ("unit", "unit"), ("program", "program"),
    ("wrapped packs", "held_packs"), ("pouches", "held_pouches"), ("cassettes", "held_cassettes"),
    ("contents", "contents"), ("implant", "implant"), ("exposure min", "exposure_minutes"),
    ("exposure °C", "exposure_temperature"), ("exposure kPa gauge", "exposure_pressure"),
    ("gauges and printout", "mechanical"), ("recorded cycle", "recorded"),
    ("chemical indicators", "chemical"), ("packs", "packs"),
    ("wrapping", "pack_condition"), ("spore test", "spore"), ("use min", "minutes"), ("loaded by", "loaded_by"),
    ("started by", "run_by"), ("decision", "decision"), ("decided by", "decided_by"), ("decided at", "decided"),
    ("how it was given", "given"), ("reason", "reason"), ("out of the ordinary", "against"), ("record", "record"),
    ("record of the decision", "decision_record"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _OnScreen:
    """A line with the unit that it is of."""

    label: str
    unit: str
    line: LoadLine

    @property
    def load(self):
        return self.line.load

    @property
    def exposure(self) -> str:
        """What it reached, in the units of whoever looks; "" where nothing is recorded."""
        return reached_on_screen(self.line.load)

    @property
    def held(self) -> str:
        return "; ".join(part for part in (self.line.held, self.line.load.contents) if part)


@at_clinic("look")
@require_safe
def loads_page(request, ground: EntryContext):
    """The loads of the place, or of `?unit=`, up to the day asked for; `?odd=1` only those out of the ordinary."""
    page = opened(request, ground)
    chosen, odd = _asked(request)
    lines = _chosen(page, chosen, odd)
    pages = Paginator(lines, A_PAGE)
    shown = pages.get_page(request.GET.get("page"))
    query = request.GET.copy()
    query.pop("page", None)
    context = page.context() | {
        "lines": shown, "count": len(lines), "chosen": chosen, "odd": odd, "carried": query.urlencode(),
        "units": [(u.ref, u.label) for u in page.facts.units],
    }  # fmt: skip
    return render(request, "audit/loads.html", context, status=400 if page.problem else 200)


@at_clinic("look")
@require_safe
def loads_file(request, ground: EntryContext, ending: str = CSV):
    """The loads that the page would show, all pages of it, oldest first, in the units of the record.

    A table of commas, or a workbook. A day that cannot be read is refused on the page.
    """
    page = opened(request, ground)
    if page.problem:
        return loads_page(request, ground.clinic.slug)
    rows = [_as_row(each) for each in reversed(_chosen(page, *_asked(request)))]
    cells = [[row[name] for _, name in FILE] for row in rows]
    name = f"loads-{ground.clinic.slug}-{page.as_of.isoformat()}"
    return table_file(ending, name, [head for head, _ in FILE], cells)


def _asked(request) -> tuple[str, bool]:
    """The ref of the unit chosen, "" for all; whether only loads out of the ordinary are."""
    return request.GET.get("unit", ""), request.GET.get("odd") == "1"


def _chosen(page: OpenedClinic, unit: str, odd: bool) -> list[_OnScreen]:
    return [x for x in _lines(page) if unit in ("", x.unit) and not (odd and x.line.plain)]


def _as_row(each: _OnScreen) -> dict:
    line, load = each.line, each.line.load
    decided = load.released_row
    return {name: getattr(load, name) for _, name in FILE if hasattr(load, name)} | {
        "mechanical": line.mechanical, "recorded": line.recorded,
        "cycle": load.cycle_number, "day": line.on.isoformat(), "start": line.start, "unit": each.label,
        "implant": line.implant, "chemical": line.chemical, "spore": line.spore, "decision": line.decision,
        "decided": line.decided, "given": load.given_words, "against": "; ".join(line.against),
        "record": load.row.number, "decision_record": decided.number if decided else "",
    }  # fmt: skip


def _lines(page: OpenedClinic) -> list[_OnScreen]:
    """Every load up to the day, the newest day first; of one day by unit and there by cycle number."""
    judged = {each.unit: each for each in page.judgement.units}
    found = [each for unit in page.facts.units for each in _of_unit(page, unit, judged.get(unit.ref))]
    return sorted(found, key=lambda x: (x.line.on, x.label, x.line.number, x.load.row.number), reverse=True)


def _of_unit(page: OpenedClinic, unit, judged: UnitJudgement | None) -> Iterator[_OnScreen]:
    verdicts = {v.test: v for v in judged.verdicts} if judged else {}
    for line in lines_of(unit_by_day(unit, page.as_of), verdicts, page.zone):
        yield _OnScreen(unit.label, unit.ref, line)
