"""Days and frequencies in words, weeks side by side in one row."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from audit.binder.written_on_paper import (
    NO_BREAK,
    counted,
    dated,
    day,
    days,
    how_often,
    moment,
    month,
    quantity,
    tied,
)  # fmt: skip
from tests.audit.binder.paper import spaced


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
    assert spaced(dated(written)) == printed
    assert dated(dated(written)) == dated(printed) == dated(written)


def test_a_frequency_reads_as_one_says_it():
    assert spaced(how_often("rolling-days", 14)) == "every 14 days"
    assert how_often("rolling-days", 1) == "every day"
    assert how_often("calendar-week", 1) == "once in each calendar week"


@pytest.mark.parametrize(
    "text",
    [
        "known 10_Jun_2026, cycle_311 at 134_°C",
        "0.13_kPa per minute, limit 3_min, 24_h, 2_MΩ and 18.0_litres",
        "2_tests and 41_packs of Unit_3 in 17_weeks; entry_486",
        "lot 26 AB, serial 5 L-9, 3 of 7 and 10 000 more",
        "5_s later; 12_Jun alone; in June 2026",
    ],
)
def test_value_and_unit_day_and_month_noun_and_number_stand_together_and_nothing_else(text):
    """Each _ is a no-break space; every other space stays one at which a line may end."""
    assert tied(text.replace("_", " ")) == text.replace("_", NO_BREAK)


def test_days_moments_counts_and_quantities_are_never_torn():
    on = date(2026, 6, 10)
    made = (
        day(on), month(on), days(3), counted(2, "spore test"), moment(datetime(2026, 6, 10, 9, 5, tzinfo=UTC)),
        quantity(Decimal("134.20"), "°C"),
    )  # fmt: skip
    assert made == tuple(
        text.replace("_", NO_BREAK)
        for text in ("10_Jun_2026", "Jun_2026", "3_days", "2_spore tests", "10_Jun_2026 09:05_UTC", "134.20_°C")
    )
    assert quantity(None, "°C") == "not stated" and quantity(Decimal(3), "") == "3"
