"""The time line of a unit: a lane for each kind, a letter on each day, bars for what lasted.

There is no room for words beside the marks on a telephone: what each mark says stands in a list below the picture.
"""

from __future__ import annotations

from datetime import date

from audit.binder.pictures.laid.time_line import TimeSizes, lay_time_line
from audit.binder.pictures.values import UnitTimeLine
from audit.facts.dates import add_days

from .ink import SCREEN, inked
from .tags import WIDTH, picture

_SIZES = TimeSizes(
    width=WIDTH, gutter=0.0, head=14.0, name_above=13.0, row=15.0, most_rows=5, pad=1.5, sign=12.0, bar=8.0,
    least=3.0, tick=3.0, labels=(),
)  # fmt: skip


def time_line_svg(drawn: UnitTimeLine, ident: str) -> str:
    tall, marks = lay_time_line(drawn, _SIZES, SCREEN)
    return picture(ident, f"Time line of {drawn.caption}", drawn.alt, tall, inked(marks))


def told(drawn: UnitTimeLine) -> list[tuple[date, date | None, str, str]]:
    """(first day, last day or None, words, row) of all that the picture shows, newest first."""
    found = [(m.day, m.day, m.label, m.row) for lane in drawn.lanes for m in lane.marks]
    found += [(s.start, s.end, s.label, s.row) for lane in drawn.lanes for s in lane.spans]
    return sorted(found, key=lambda each: (each[0], each[1] or add_days(drawn.to_on, 1)), reverse=True)
