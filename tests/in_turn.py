"""What an ordinary run takes of many cases that are alike: those whose turn it is on that day; `STANDING_TESTS=all`
takes them all.

Everybody waits for the tests, and the eighty-first of eighty-one like cases seldom tells what the others did not. So
of some tables each day has its share, and in a few days every case had its turn. The day is that of the process which
began the run; `STANDING_TURN`, a whole number, says it is another's turn.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TypeVar

Case = TypeVar("Case")
ALL = os.environ.get("STANDING_TESTS") == "all"
# In the environment, as the processes of a run may not all begin before midnight.
TURN = int(os.environ.setdefault("STANDING_TURN", str(datetime.now(UTC).toordinal())))


def in_turn(cases: Sequence[Case], every: int, turn: int = TURN, whole: bool = ALL) -> list[Case]:
    """Each case whose number from `turn` on is divisible by `every`; all of them with `whole`, in their order.

    For any `every` turns that follow each other each case is in exactly one.
    """
    return [case for number, case in enumerate(cases) if whole or (number + turn) % every == 0]
