"""What holds for every picture: in its frame, no words on other words, nothing lost in thinning."""

from __future__ import annotations

from datetime import date
from itertools import groupby

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.binder.pdf.page import sheet
from audit.binder.pictures.strips import duty_strip
from audit.binder.pictures.thin import high, low, thinned
from audit.facts.dates import add_days
from audit.judge.clocks.calendar_weeks import Weeks
from tests.audit.binder.pictures import drawn, values
from tests.examples import examples
from tests.fact_builders import terms

SHEETS = st.sampled_from(("letter", "a4")).map(sheet)


@st.composite
def weeks(draw) -> Weeks:
    """The weeks of a clinic that may have changed the first day of the week once."""
    first, then = draw(st.tuples(st.integers(0, 6), st.integers(0, 6)))
    on = draw(st.dates(date(2015, 1, 1), date(2026, 12, 31)))
    return Weeks.of((terms(week_start=first, day="2000-01-01"), terms(week_start=then, day=on.isoformat())))


calm = settings(max_examples=examples(60), deadline=None, suppress_health_check=[HealthCheck.too_slow])


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
@given(values.coverages(), weeks())
def test_every_day_of_the_period_has_one_cell(coverage, weeks):
    """Read back from the rows: as many cells as the grid has, each row going on where the one before ends; of weeks
    a change of the first day may lay two over each other, never leave a day between them."""
    strip = duty_strip(coverage, weeks)
    rows = [row for panel in strip.panels for row in panel.rows]
    assert all(set(row.marks) <= {mark for mark, _ in strip.legend} for row in rows)
    if strip.form == "days":
        assert sum(len(row.marks) for row in rows) == (coverage.last - coverage.first).days + 1
        assert all(row.column == row.first.day - 1 for row in rows)
        assert [key for key, _ in groupby((r.first.year, r.first.month) for r in rows)] == [
            (r.first.year, r.first.month) for r in rows
        ]
    if strip.form == "weeks":
        cut_again = [row for row in rows if row.weeks]
        assert len(cut_again) <= (0 if weeks.unchanged else 1)
        assert all(row.first == row.weeks[0] and len(row.weeks) == len(row.marks) for row in cut_again)
        apart = [[add_days(row.first, 7 * n) for n in range(len(row.marks))] for row in rows]
        starts = [start.toordinal() for row, days in zip(rows, apart, strict=True) for start in row.weeks or days]
        steps = [b - a for a, b in zip(starts, starts[1:], strict=False)]
        assert all(0 < step <= 7 for step in steps)
        assert sum(step < 7 for step in steps) <= (0 if weeks.unchanged else 1)
        assert starts[0] <= coverage.first.toordinal() < starts[0] + 7
        assert starts[-1] <= coverage.last.toordinal() < starts[-1] + 7
