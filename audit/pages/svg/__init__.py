"""Pictures of a unit as SVG for the screen, drawn from the same values as those of the binder (`binder.pictures`).

Pure: values in, text out. Nothing is drawn with `style`: every look is a class of the style sheet, and ink is
`currentColor`, so that a picture is dark on light paper and light on a dark screen. A picture is 344 units wide and
its letters 10 units tall: on a telephone 360 pixels wide a unit is about one pixel.
"""

from .charts import counter_svg, reading_svg
from .cycles import FailedMark, cycle_svg
from .strips import strip_svgs
from .time_line import time_line_svg

__all__ = ["FailedMark", "counter_svg", "cycle_svg", "reading_svg", "strip_svgs", "time_line_svg"]
