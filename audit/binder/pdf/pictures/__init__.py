"""Pictures to pieces: own paths, letters and lines, so that a copy in black and white says the same."""

from __future__ import annotations

from audit.binder.pdf.pictures.charts import chart_pieces
from audit.binder.pictures.values import Charts

BUILDERS = {Charts: chart_pieces}

__all__ = ["BUILDERS"]
