"""Days and frequencies in words."""

from __future__ import annotations

import pytest

from audit.binder.written_on_paper import NO_BREAK, dated, how_often


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
    assert dated(written).replace(NO_BREAK, " ") == printed
    assert dated(dated(written)) == dated(written)


def test_a_frequency_reads_as_one_says_it():
    assert how_often("rolling-days", 14) == f"every 14{NO_BREAK}days"
    assert how_often("rolling-days", 1) == "every day"
    assert how_often("calendar-week", 1) == "once in each calendar week"
