"""The strip of a duty: rows of cells with a letter in each. A long row is broken, so that a telephone shows it."""

from __future__ import annotations

from audit.binder.pictures.grid import MONTHS, QUARTERS, WEEKS
from audit.binder.pictures.laid.strips import StripSizes, lay_strip
from audit.binder.pictures.values import DutyStrip, StripPanel

from .ink import SCREEN, inked
from .tags import WIDTH, picture

_SIZES = StripSizes(
    width=WIDTH, gutter=46.0, usual_gutter=34.0,
    widest={MONTHS: 24.0, QUARTERS: 40.0}, usual_widest=30.0,
    tall={}, usual_tall=14.0, head=12.6, between={}, usual_between=2.0, joined=False,
    at_most={WEEKS: 27},  # half a year
)  # fmt: skip


def strip_svgs(strip: DutyStrip, ident: str) -> tuple[str, ...]:
    """One picture for each panel; `ident` makes their names unique on the page."""
    return tuple(_panel(strip, panel, f"{ident}-{n}") for n, panel in enumerate(strip.panels, start=1))


def _panel(strip: DutyStrip, panel: StripPanel, ident: str) -> str:
    tall, marks = lay_strip(strip, panel, _SIZES, SCREEN)
    return picture(ident, strip.caption, panel.alt, tall, inked(marks))
