"""Pictures to pieces: own paths, letters and greys, so that a copy in black and white says the same."""

from __future__ import annotations

from audit.binder.pdf.pictures.charts import chart_pieces
from audit.binder.pdf.pictures.strips import strip_pieces
from audit.binder.pdf.pictures.time_line import time_line_pieces
from audit.binder.pictures.values import Charts, DutyStrip, UnitTimeLine

BUILDERS = {DutyStrip: strip_pieces, UnitTimeLine: time_line_pieces, Charts: chart_pieces}

__all__ = ["BUILDERS"]
