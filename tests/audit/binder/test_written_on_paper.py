"""Days and frequencies in words, weeks side by side in one row."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from audit.binder.indicator import _runs
from audit.binder.written_on_paper import dated, how_often
from audit.judge.judgement import WeekCell


@pytest.mark.parametrize(
    ("written", "printed"),
    [
        ("known 2026-06-10; the repeat failed", "known 10 Jun 2026; the repeat failed"),
        ("2025-06-08 to 2025-06-14.", "8 Jun 2025 to 14 Jun 2025."),
        ("lot 2026-03-01, used 2026-03-09", "lot 2026-03-01, used 9 Mar 2026"),
        ("serial A-2026-03-09, file x/2026-03-09", "serial A-2026-03-09, file x/2026-03-09"),
        ("2026-02-30 is no day", "2026-02-30 is no day"),
        ("no day", "no day"),
    ],
)
def test_days_of_the_judgement_read_like_all_others_and_lots_stay_as_printed(written, printed):
    assert dated(written) == printed
    assert dated(printed) == printed


def test_a_frequency_reads_as_one_says_it():
    assert how_often("rolling-days", 14) == "every 14 days"
    assert how_often("rolling-days", 1) == "every day"
    assert how_often("calendar-week", 1) == "once in each calendar week"


def _week(n: int, result: str, note: str = "") -> WeekCell:
    start = date(2026, 1, 4) + timedelta(weeks=n)
    return WeekCell(start=start, end=start + timedelta(days=6), result=result, note=note, tests=())


def test_only_neighbouring_weeks_of_which_the_same_is_known_share_a_row():
    weeks = [_week(0, "exempt", "a"), _week(1, "exempt", "a"), _week(2, "exempt", "b"), _week(3, "missed", "b")]
    weeks += [_week(5, "missed", "b")]
    assert [len(run) for run in _runs(weeks)] == [2, 1, 1, 1]
    assert [week for run in _runs(weeks) for week in run] == weeks
