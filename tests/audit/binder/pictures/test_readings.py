"""Readings over time: which values come out of the records, what is marked, what is said."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from audit.binder.pdf.marks import Dot, DrawnLine, Shape
from audit.binder.pdf.page import sheet
from audit.binder.pictures.readings import limit_words, reading_charts
from audit.binder.pictures.thin import thinned
from audit.binder.pictures.values import Charts, ReadingChart, Sample
from audit.binder.scope import scope
from audit.judge.evaluate import evaluate
from tests.audit.binder.paper import spaced
from tests.audit.binder.pictures import drawn
from tests.fact_builders import clinic, job, leak, measured, on, unit, user_check

FIRST, LAST = on("2025-01-01"), on("2025-12-31")


def asked(**records):
    facts = clinic(unit("2024-01-01", **records))
    return scope(facts, evaluate(facts, LAST), FIRST, LAST)


def charts(**records):
    held = asked(**records)
    return reading_charts(held, held.units[0])


def sample(day, left, lower=None, upper=None, found=None, failed=False) -> Sample:
    value = lambda v: None if v is None else Decimal(v)  # noqa: E731
    return Sample(on(day), value(found), value(left), value(lower), value(upper), "row", failed)


def chart(*samples: Sample, total=0) -> ReadingChart:
    return ReadingChart("Anything", "°C", FIRST, LAST, samples, total or len(samples), True, "alt", total > 0)


def shown(made: ReadingChart, size="letter"):
    found = drawn.pieces(Charts("", (made,), (), ""), sheet(size))
    drawn.obey(found, sheet(size))
    return found


def test_a_chart_for_each_quantity_from_jobs_leak_tests_and_checks():
    made = charts(
        jobs=(
            job("2025-03-04", readings=(measured("2025-03-04", found="133.1", left="134.2"),)),
            job("2025-09-04", readings=(measured("2025-09-04", left="135.0"),)),
        ),
        leaks=(leak("2025-04-01"), leak("2025-04-08", "fail")),
        checks=(user_check("2025-05-05", value="134.7", unit="°C"), user_check("2025-05-06")),
    )
    assert [(c.caption, c.unit, c.total, c.pairs) for c in made] == [
        ("Temperature, drain", "°C", 2, True),
        ("Air leakage test, rate", "kPa/min", 2, False),
        ("Automatic control, user check", "°C", 1, False),
    ]
    first, second = made[0].samples
    assert (first.found, first.left) == (Decimal("133.1"), Decimal("134.2"))
    assert (first.outside(first.found), first.outside(first.left)) == (True, False)
    assert (second.found, second.last) == (None, Decimal("135.0"))
    assert [s.is_outside for s in made[1].samples] == [False, True]
    assert all(s.row for c in made for s in c.samples)


def test_the_words_hold_extremes_limits_and_what_was_outside_with_its_day():
    (made,) = charts(
        jobs=(
            job("2025-03-04", readings=(measured("2025-03-04", found="133.1", left="134.2"),)),
            job("2025-09-04", readings=(measured("2025-09-04", left="135.0"),)),
        )
    )
    assert spaced(made.alt) == (
        "Temperature, drain in °C: 2 readings from 4 Mar 2025 to 4 Sep 2025; lowest 133.1 on 4 Mar 2025, highest "
        "135.0 on 4 Sep 2025, last as left 135.0 °C; limits: ≥ 134 and ≤ 137. Outside or failed, 1: 4 Mar 2025 "
        "as found 133.1, as left 134.2 °C (limit ≥ 134 and ≤ 137)."
    )


def test_a_value_at_its_limit_is_inside():
    """Limits are inclusive, as they are for the judgement of a reading. Common practice, no source."""
    at = sample("2025-03-03", "137", "134", "137")
    assert not at.is_outside
    assert sample("2025-03-03", "137.01", "134", "137").is_outside
    assert sample("2025-03-03", "133.99", "134", None).is_outside
    assert not sample("2025-03-03", "999", "134", None).is_outside


@pytest.mark.parametrize(
    ("lower", "upper", "text"),
    [
        (None, None, "no limit stated"),
        ("2", None, "≥ 2"),
        (None, "0.130", "≤ 0.130"),
        ("134", "137", "≥ 134 and ≤ 137"),
    ],
)
def test_limits_in_words(lower, upper, text):
    assert limit_words(lower and Decimal(lower), upper and Decimal(upper)) == text


def test_what_is_outside_has_another_mark_and_its_value_printed():
    made = chart(
        sample("2025-03-03", "134.5", "134", "137", found="131.9"), sample("2025-06-03", "136", "134", "137")
    )
    found = shown(made)
    marks = [mark for piece in found for mark in drawn.marks(piece)]
    (bad,) = [mark for mark in marks if isinstance(mark, Shape)]
    assert bad.fill == 1.0, "as found is open"
    assert [dot.filled for dot in marks if isinstance(dot, Dot)] == [True, True]
    assert {"131.9", "136", "≥ 134", "≤ 137", "2 readings"} <= set(drawn.words(found))


def test_a_failure_that_no_limit_explains_is_marked_too():
    found = shown(chart(sample("2025-03-03", "134.5", failed=True)))
    marks = [mark for piece in found for mark in drawn.marks(piece)]
    assert [mark.fill for mark in marks if isinstance(mark, Shape)] == [0.0]
    assert not [mark for mark in marks if isinstance(mark, Dot)]


def test_a_limit_that_changed_is_drawn_as_it_was():
    made = chart(sample("2025-03-03", "230", None, "240"), sample("2025-09-03", "230", None, "235"))
    found = shown(made)
    limits = [m for p in found for m in drawn.marks(p) if isinstance(m, DrawnLine) and m.thick == 0.8]
    assert len(limits) == 2
    assert limits[0].y1 < limits[1].y1, "the higher limit stands higher"
    assert limits[0].x2 == pytest.approx(limits[1].x1)
    assert {"≤ 240", "≤ 235"} <= set(drawn.words(found))


@pytest.mark.parametrize("values", [["5"], ["0"], ["-3"], ["134.5"] * 6, ["0.0001", "120000"]])
@pytest.mark.parametrize("size", ["letter", "a4"])
def test_one_value_the_same_values_and_far_apart_values_have_an_axis(values, size):
    made = chart(*(sample(f"2025-{n:02}-03", value) for n, value in enumerate(values, 1)))
    found = shown(made, size)
    dots = [mark for piece in found for mark in drawn.marks(piece) if isinstance(mark, Dot)]
    assert len(dots) == len(values)
    assert values[-1] in drawn.words(found)


def test_many_readings_are_a_band_and_those_outside_are_counted():
    """Ten a day for a year: no single points; the values that have no room are counted in the heading."""
    days = [FIRST + timedelta(days=n % 365) for n in range(3650)]
    many = tuple(
        sample(day.isoformat(), "140" if n % 100 == 0 else str(134 + n % 3), "134", "137")
        for n, day in enumerate(sorted(days))
    )
    found = shown(chart(*thinned(many), total=len(many)))
    marks = [mark for piece in found for mark in drawn.marks(piece)]
    assert not [mark for mark in marks if isinstance(mark, Dot)]
    diamonds = [mark for mark in marks if isinstance(mark, Shape) and len(mark.points) == 4]
    (band,) = [mark for mark in marks if isinstance(mark, Shape) and len(mark.points) > 4]
    tall = [y for _, y in band.points]
    assert max(tall) - min(tall) > 40, "from the lowest, 134, to the highest, 140"
    named = sum(text.text == "140" and text.style.bold for text in drawn.texts(found))
    heading = next(text for text in drawn.words(found) if text.startswith("3650 readings"))
    assert named and f"{len(diamonds) - named} marked without number" in heading
