"""The growth of the counters: life totals, breaks, slips, what is projected."""

from __future__ import annotations

from decimal import Decimal

from audit.binder.pdf.marks import Dot, Stroke
from audit.binder.pdf.page import sheet
from audit.binder.pictures.counters import MOST_POINTS, counter_charts
from audit.binder.pictures.values import Charts
from audit.binder.scope import scope
from audit.judge.evaluate import evaluate
from tests.audit.binder.paper import spaced
from tests.audit.binder.pictures import drawn
from tests.fact_builders import clinic, counter, fit, installed, line, on, position, unit

FIRST, LAST = on("2025-01-01"), on("2025-12-31")


def charts(*counters, plan=()):
    one = unit(
        "2024-01-01",
        events=(installed("2024-01-01"),),
        positions=(position(),),
        fits=(fit(),),
        plan=plan,
        counters=counters,
    )
    facts = clinic(one)
    held = scope(facts, evaluate(facts, LAST), FIRST, LAST)
    return counter_charts(held, held.units[0])


def shown(made):
    found = drawn.pieces(Charts("", (made,), (), ""), sheet("letter"))
    drawn.obey(found, sheet("letter"))
    return found, [mark for piece in found for mark in drawn.marks(piece)]


def dashed(marks, dash):
    return [mark for mark in marks if isinstance(mark, Stroke) and mark.dash == dash]


def test_life_totals_of_each_counter():
    made = charts(counter("2025-02-01", 100), counter("2025-03-01", 200), counter("2025-03-01", 50, counter="hours"))
    assert [(c.unit, [p.total for p in c.points]) for c in made] == [("cycles", [100, 200]), ("hours", [50])]
    assert spaced(made[0].alt) == (
        "Counter of cycles, life total: 200 on 1 Mar 2025, shown 200; 2 readings since 1 Feb 2025, then 100. Grows "
        "by 100 in 28 days."
    )
    found, _ = shown(made[0])
    assert {"200", "2 readings"} <= set(drawn.words(found))


def test_a_new_board_is_a_break_and_the_life_total_goes_on():
    (made,) = charts(counter("2025-02-01", 900), counter("2025-05-01", 20, 950), counter("2025-08-01", 320, 950))
    assert [(str(b.day), b.label) for b in made.breaks] == [("2025-05-01", "950 added from here")]
    assert [p.total for p in made.points] == [900, 970, 1270]
    found, marks = shown(made)
    assert len(dashed(marks, (1.2, 1.2))) == 1
    solid = dashed(marks, ())
    assert [len(stroke.points) for stroke in solid] == [2], "the line does not cross the break"
    assert "1 May 2025: 950 added from here" in drawn.words(found)


def test_a_fall_without_a_reason_is_a_break_that_says_so():
    (made,) = charts(counter("2025-02-01", 900), counter("2025-05-01", 20), counter("2025-06-01", 60))
    assert [b.label for b in made.breaks] == ["fell from 900, no reason given"]
    assert not any(p.slip for p in made.points)
    assert "Break on 1 May 2025: fell from 900, no reason given" in spaced(made.alt)


def test_a_slip_is_left_out_of_the_line():
    """Lower than the readings around it, as the judgement of counters takes it. Common practice, no source."""
    (made,) = charts(counter("2025-02-01", 900), counter("2025-03-01", 90), counter("2025-04-01", 1000))
    assert [p.slip for p in made.points] == [False, True, False]
    assert made.breaks == ()
    _, marks = shown(made)
    assert [dot.filled for dot in marks if isinstance(dot, Dot)] == [True, False, True]
    assert "On 1 Mar 2025 read lower than before and after: 90" in spaced(made.alt)


def test_a_due_item_that_is_projected_stands_at_its_day_and_total():
    """10 a day: 900 after installation is reached 30 days after 600 was read on 1 December. Common practice."""
    readings = (counter("2024-01-01", 0), counter("2025-11-01", 300), counter("2025-12-01", 600))
    (made,) = charts(*readings, plan=(line(months=None, cycles=900),))
    assert [(str(p.day), p.total, p.label) for p in made.projected] == [("2025-12-31", Decimal(900), "replace seal")]
    found, marks = shown(made)
    assert len(dashed(marks, (2.4, 1.8))) == 1
    assert "replace seal: about 31 Dec 2025 at 900" in drawn.words(found)


def test_what_is_projected_far_ahead_is_told_below():
    readings = (counter("2024-01-01", 0), counter("2025-11-01", 300), counter("2025-12-01", 330))
    (made,) = charts(*readings, plan=(line(months=None, cycles=900),))
    assert made.projected == () and made.to_on == LAST
    assert made.note.startswith("Projected beyond this picture: replace seal at 900 about ")
    found, marks = shown(made)
    assert not dashed(marks, (2.4, 1.8))
    assert any(text.startswith("Projected beyond this picture") for text in drawn.words(found))


def test_a_limit_of_months_is_not_projected_from_a_counter():
    (made,) = charts(counter("2025-11-01", 300), counter("2025-12-01", 330), plan=(line(months=30),))
    assert made.projected == () and made.note == ""


def test_many_readings_keep_breaks_and_ends():
    readings = [
        counter(f"2025-{month:02}-{day:02}", 10 * day + 300 * month, 0 if month < 7 else 5)
        for month in range(1, 13)
        for day in range(1, 28)
    ]
    (made,) = charts(*readings)
    assert made.total == 324 and len(made.points) <= MOST_POINTS
    days = [str(p.day) for p in made.points]
    assert (days[0], days[-1]) == ("2025-01-01", "2025-12-27")
    assert {"2025-06-27", "2025-07-01"} <= set(days), "both sides of the break"
    found, _ = shown(made)
    assert f"324 readings, {len(made.points)} drawn" in drawn.words(found)
