"""What a run takes of what is slow or alike: whatever has its turn that day; `STANDING_TESTS=all` takes everything.

Everybody waits for the tests. So of the rooms in SLOW, which drive browsers, servers, processes, pages and printed
books, a run of the whole suite takes a fifth a day: within five days each test had its turn. A run that names
files, tests or a word (`-k`, `-m`) takes what it names, whole: whoever changes a room runs that room. What judges,
what records and what guards the doors is quick and is never left for another day.

The eighty-first of eighty-one like cases seldom tells what the others did not: of some tables (`in_turn`) every run
takes a share.

The day is that of the process which began the run; `STANDING_TURN`, a whole number, says it is another's turn.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TypeVar

Case = TypeVar("Case")
EVERY = 5  # days until each slow test had its turn
# Beginnings of the paths of tests that take a browser, a server, processes, many pages or whole books.
SLOW = (
    "tests/audit/binder/standards/",
    "tests/audit/binder/test_first_page",
    "tests/audit/binder/test_full_pdf",
    "tests/audit/binder/test_length",
    "tests/audit/binder/test_pdf",
    "tests/audit/binder/test_read_back",
    "tests/audit/issue/",
    "tests/audit/pages/",
    "tests/audit/upkeep/",
    "tests/faults/",
    "tests/records/files/",
    "tests/records/forms/test_forms",
    "tests/records/ledger/test_old_ledgers",
    "tests/records/ledger/test_upgrade",
    "tests/records/test_demo",
    "tests/records/test_loaners",
    "tests/records/test_open_clinic",
    "tests/records/test_people",
    "tests/records/test_record_pages",
    "tests/records/test_url_walk",
    "tests/site/test_begin_command",
    "tests/site/test_browser",
    "tests/site/test_demo_command",
    "tests/site/test_every_page",
    "tests/site/test_from_nothing",
    "tests/site/test_headers",
    "tests/site/test_log",
    "tests/site/test_served_from_nothing",
    "tests/site/test_trouble",
)
# Tests that have their turn together, as they share what one case of theirs makes: by the end of their name.
TOGETHER = ("tests/records/ledger/test_old_ledgers",)
# One share of the second pass on PostgreSQL each day.
BY_TWO = ("tests/site/test_postgresql",)
ALL = os.environ.get("STANDING_TESTS") == "all"
# In the environment, as the processes of a run may not all begin before midnight.
TURN = int(os.environ.setdefault("STANDING_TURN", str(datetime.now(UTC).toordinal())))


def in_turn(cases: Sequence[Case], every: int, turn: int = TURN, whole: bool = ALL) -> list[Case]:
    """Each case whose number from `turn` on is divisible by `every`; all of them with `whole`, in their order.

    For any `every` turns that follow each other each case is in exactly one.
    """
    return [case for number, case in enumerate(cases) if whole or (number + turn) % every == 0]


def takes_turns(config) -> bool:
    """Whether this run is one of everything, of which slow tests are taken in turn."""
    if ALL or config.option.keyword or config.option.markexpr:
        return False
    return config.args_source is config.ArgsSource.TESTPATHS


def left_for_another_day(tests: Sequence[str], turn: int = TURN) -> list[bool]:
    """Of each test, by its path and name, whether it is slow and another day is its turn; numbered in their order."""
    left = set()
    for beginnings, every in ((SLOW, EVERY), (BY_TWO, 2)):
        groups = list(dict.fromkeys(_group(test) for test in tests if test.startswith(beginnings)))
        left |= set(groups) - set(in_turn(groups, every, turn, whole=False))
    return [_group(test) in left for test in tests]


def _group(test: str) -> str:
    """The name of the test, or what it shares with those that have their turn with it."""
    return test.partition("::")[0] + test.partition("[")[2] if test.startswith(TOGETHER) else test
