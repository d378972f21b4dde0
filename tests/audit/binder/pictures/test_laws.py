"""What holds for every picture: in its frame, no words on other words, nothing lost in thinning."""

from __future__ import annotations

from itertools import groupby

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.binder.pdf.marks import DrawnLine
from audit.binder.pdf.page import sheet
from audit.binder.pictures.strips import duty_strip
from audit.binder.pictures.thin import high, low, thinned
from tests.audit.binder.pictures import drawn, values
from tests.examples import examples

SHEETS = st.sampled_from(("letter", "a4")).map(sheet)
calm = settings(max_examples=examples(60), deadline=None, suppress_health_check=[HealthCheck.too_slow])


@calm
@given(values.coverages(), st.integers(0, 6), SHEETS)
def test_a_strip_stays_in_its_frame_with_words_apart(coverage, week_start, sheet):
    drawn.obey(drawn.pieces(duty_strip(coverage, week_start), sheet), sheet)


@calm
@given(values.time_lines(), SHEETS)
def test_a_time_line_stays_in_its_frame_with_words_apart(line, sheet):
    drawn.obey(drawn.pieces(line, sheet), sheet)


@calm
@given(values.charts(), SHEETS)
def test_charts_stay_in_their_frame_with_words_apart(charts, sheet):
    drawn.obey(drawn.pieces(charts, sheet), sheet)


@calm
@given(values.samples(900, 120), st.integers(1, 30))
def test_thinning_keeps_the_extremes_and_what_lies_outside(samples, columns):
    kept = thinned(samples, columns)
    assert set(kept) <= set(samples)
    assert min(map(low, kept)) == min(map(low, samples))
    assert max(map(high, kept)) == max(map(high, samples))
    assert (kept[0], kept[-1]) == (samples[0], samples[-1])
    assert any(s.is_outside for s in kept) == any(s.is_outside for s in samples)
    bad, still = [s for s in samples if s.is_outside], [s for s in kept if s.is_outside]
    if bad:
        assert min(map(low, still)) == min(map(low, bad))
        assert max(map(high, still)) == max(map(high, bad))
    assert len(kept) <= max(2 * columns, 5 * columns + 1)


@calm
@given(values.coverages(), st.integers(0, 6))
def test_every_day_of_the_period_has_one_cell(coverage, week_start):
    """Read back from the rows: as many cells as the grid has, each row going on where the one before ends."""
    strip = duty_strip(coverage, week_start)
    rows = [row for panel in strip.panels for row in panel.rows]
    assert all(set(row.marks) <= {mark for mark, _ in strip.legend} for row in rows)
    if strip.form == "days":
        assert sum(len(row.marks) for row in rows) == (coverage.last - coverage.first).days + 1
        assert all(row.column == row.first.day - 1 for row in rows)
        assert [key for key, _ in groupby((r.first.year, r.first.month) for r in rows)] == [
            (r.first.year, r.first.month) for r in rows
        ]
    if strip.form == "weeks":
        starts = [row.first.toordinal() for row in rows]
        ends = [row.first.toordinal() + 7 * len(row.marks) for row in rows]
        assert starts[1:] == ends[:-1]
        assert starts[0] <= coverage.first.toordinal() and ends[-1] > coverage.last.toordinal()


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_two_hundred_visits_in_a_year_are_all_on_the_line(size):
    """A tick for each, labels only where there is room, and the number of those without is printed."""
    marks = tuple(
        values.TimeMark(values.FIRST + values.timedelta(days=n * 365 // 200), "R", f"visit {n}", "row")
        for n in range(200)
    )
    last = values.FIRST + values.timedelta(days=364)
    line = values.UnitTimeLine(
        "c", values.FIRST, last, last, (values.Lane("Visits", "outline", marks),), (), "", "", ""
    )
    found = drawn.pieces(line, sheet(size))
    drawn.obey(found, sheet(size))
    told = [text for text in drawn.words(found) if text.startswith("visit ")]
    ticks = {mark.x1 for mark in drawn.marks(found[1]) if isinstance(mark, DrawnLine) and mark.thick == 0.5}
    assert len(ticks) == len({mark.day for mark in marks})
    assert f"{200 - len(told)} without label" in drawn.words(found)
    assert len(told) > 20
