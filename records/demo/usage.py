"""How often each unit of the story runs: the cycle counter that its display shows on a day."""

from __future__ import annotations

import random
from datetime import date

from .story import Story


def cycles_shown(story: Story, unit: str, day: date) -> int:
    """What the cycle counter shows in the morning of that day. It never falls."""
    runs = story.units[unit]
    return runs["shown"] + int((day - runs["on"]).days * runs["per_day"])


def cycle_number(story: Story, unit: str, day: date, salt: str = "") -> str:
    """The number of a cycle on that day, the same whenever it is asked for."""
    most = max(int(story.units[unit]["per_day"]), 1)
    nth = random.Random(f"{story.seed}/{unit}/{day}/{salt}").randint(1, most)
    return str(cycles_shown(story, unit, day) + nth)
