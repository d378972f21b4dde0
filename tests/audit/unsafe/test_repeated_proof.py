"""Nothing is proven twice by one cycle, and nothing by a test that did not end well."""

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.fact_builders import bio

FAILED = (
    bio("2025-06-20", result="growth", known="2025-06-21"),
    bio("2025-06-23", result="growth", purpose="repeat"),
)

ROWS = [
    history(
        "a positive spore test with nothing after it",
        "CDC 2003 (MMWR 52 RR-17) VI.F",
        never=PERMITS,
        word=Word.OUT,
        bio_tests=(*TESTED[:-1], FAILED[0]),
    ),
    history(
        "a positive spore test and a positive repeat with nothing after them",
        "CDC 2003 (MMWR 52 RR-17) VI.F",
        never=PERMITS,
        bio_tests=(*TESTED[:-1], *FAILED),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)
