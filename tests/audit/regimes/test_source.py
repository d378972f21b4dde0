"""What is said of where a rule stands."""

import pytest

from audit.regimes.source import Source
from tests.fact_builders import on


@pytest.mark.parametrize(
    ("checked_on", "day", "said"),
    [
        ("2026-11-25", "2026-11-25", "2026-11-25"),
        ("2026-11-25", "2026-11-26", "2026-11-25"),
        ("2026-11-25", "2026-11-24", ""),
        ("", "2026-11-24", ""),
    ],
)
def test_a_source_is_not_said_to_have_been_checked_before_it_was(checked_on, day, said):
    assert Source("a text", checked_on, "read").checked_by(on(day)) == said
