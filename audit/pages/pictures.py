"""The pictures on a unit's page: how its duties were kept, its time line, its readings and counters, as SVG."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from django.urls import reverse
from django.utils.safestring import mark_safe

from audit.binder.pictures.counters import counter_charts
from audit.binder.pictures.readings import reading_charts
from audit.binder.pictures.strips import duty_strips
from audit.binder.pictures.time_line import time_line_words, time_lines
from audit.binder.pictures.unit import legend_of_counters, legend_of_readings
from audit.binder.scope import Scope, scope
from audit.facts.dates import add_days, add_months
from audit.gather.proofs import Proofs
from audit.judge.evaluate import coverage_over
from audit.pages.svg import counter_svg, reading_svg, strip_svgs, time_line_svg
from audit.pages.svg.ink import cell_look
from audit.pages.svg.time_line import told
from records.writing.preferences import current

from .opened import OpenedClinic
from .values_in_chosen_units import as_written
from .year_by_month import others_by_month, spore_tests_by_month

MONTHS = 24  # of what is shown, up to and including the day of the page


def pictures_of(page: OpenedClinic, proofs: Proofs) -> dict:
    """What the page of one unit shows, with links to the rows in `proofs`.

    Nothing is kept: it is drawn each time from the facts of the page.
    """
    first = add_days(add_months(page.as_of, -MONTHS), 1)
    kept = coverage_over(page.facts, page.as_of, first, page.as_of)
    units = tuple(as_written(unit, current()) for unit in page.facts.units)
    asked = scope(replace(page.facts, units=units), page.judgement, first, page.as_of, kept)
    unit = asked.units[0]
    readings, counters = reading_charts(asked, unit), counter_charts(asked, unit)
    return {
        "first": first,
        "spore_months": spore_tests_by_month(asked, unit),
        "other_months": others_by_month(asked, unit),
        "strips": [_strip(strip, n) for n, strip in enumerate(duty_strips(asked, unit), start=1)],
        **_time_line(proofs, asked, unit),
        "readings": [_chart(chart, reading_svg(chart, f"reading-{n}")) for n, chart in enumerate(readings, start=1)],
        "counters": [_chart(chart, counter_svg(chart, f"counter-{n}")) for n, chart in enumerate(counters, start=1)],
        "reading_signs": legend_of_readings(readings) if readings else (),
        "counter_signs": legend_of_counters(counters) if counters else (),
    }


def _safe(svg: str) -> str:
    return mark_safe(svg)  # noqa: S308 (every word and attribute is escaped where it is drawn)


def _chart(chart, svg: str) -> dict:
    return {
        "caption": chart.caption, "unit": chart.unit, "svg": _safe(svg), "note": getattr(chart, "note", ""),
    }  # fmt: skip


def _strip(strip, n: int) -> dict:
    return {
        "caption": strip.caption,
        "panels": [_safe(svg) for svg in strip_svgs(strip, f"strip-{n}")],
        "legend": [(mark, cell_look(mark), meaning) for mark, meaning in strip.legend],
    }


def _time_line(proofs: Proofs, asked: Scope, unit) -> dict:
    drawn, quiet = time_lines(asked, unit)
    happened = [each for line in reversed(drawn) for each in told(line)]
    places = _addresses(proofs, asked, {row for *_, row in happened})
    return {
        "time_lines": [_safe(time_line_svg(each, f"time-line-{n}")) for n, each in enumerate(drawn, start=1)],
        "time_line_legend": [pair for each in drawn for pair in each.legend],
        "time_line_words": time_line_words(len(drawn), quiet),
        "happened": [_happened(*each, places) for each in happened],
    }


def _happened(start: date, end: date | None, words: str, row: str, places: dict[str, str]) -> dict:
    shown = {"start": start, "end": _end(start, end), "lasts": end is None}
    return shown | {"words": words, "address": places.get(row)}


def _end(start: date, end: date | None) -> date | None:
    """The last day where it is another than the first."""
    return end if end != start else None


def _addresses(proofs: Proofs, asked: Scope, rows: set[str]) -> dict[str, str]:
    """The page of each of the rows by its name in short; most rows of a unit stand in no time line."""
    named = ((asked.row(ref), place) for ref, place in proofs.places.items())
    return {row: reverse("record", args=[proofs.slug, *place]) for row, place in named if row in rows}
