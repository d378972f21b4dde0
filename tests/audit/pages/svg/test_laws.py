"""What holds of every picture on the screen, whatever it shows.

It is one image with a name and words, its looks are classes, it stays inside its frame, and it shows its values.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

from hypothesis import given, settings

from audit.binder.pictures.strips import duty_strip
from audit.judge.clocks.calendar_weeks import Weeks
from audit.pages.svg import counter_svg, reading_svg, strip_svgs, time_line_svg
from audit.pages.svg.tags import LETTER, WIDTH
from audit.pages.svg.time_line import told
from tests.audit.binder.pictures.values import counter_charts, coverages, reading_charts, time_lines
from tests.examples import examples

SVG = "{http://www.w3.org/2000/svg}"
ALLOWED = {
    "class", "x", "y", "x1", "x2", "y1", "y2", "width", "height", "cx", "cy", "r", "points", "text-anchor", "id",
    "role", "viewBox", "aria-labelledby", "aria-describedby",
}  # fmt: skip
few = settings(max_examples=examples(60), deadline=None)


def opened(svg: str) -> ElementTree.Element:
    """The picture as a tree, after what holds of all of them was asked."""
    # Inside a page of HTML the name space is implied; only an XML reader has to be told.
    root = ElementTree.fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))
    assert root.get("role") == "img"
    for attribute, tag in (("aria-labelledby", "title"), ("aria-describedby", "desc")):
        meant = root.find(f"{SVG}{tag}")
        assert meant.get("id") == root.get(attribute) and meant.text and meant.text.strip()
    for each in root.iter():
        assert set(each.attrib) <= ALLOWED, each.attrib
        assert each.tag != f"{SVG}a", "what is inside an image cannot be reached"
    _inside(root)
    return root


def _inside(root) -> None:
    _, _, wide, tall = map(float, root.get("viewBox").split())
    assert wide == WIDTH
    for each in root.iter():
        at = each.attrib
        xs = [float(at[n]) for n in ("x", "x1", "x2", "cx") if n in at]
        ys = [float(at[n]) for n in ("y", "y1", "y2", "cy") if n in at]
        if "width" in at:
            assert float(at["width"]) >= 0 and float(at["height"]) >= 0
            xs.append(xs[0] + float(at["width"]))
            ys.append(ys[0] + float(at["height"]))
        for pair in at.get("points", "").split():
            x, y = pair.split(",")
            xs.append(float(x))
            ys.append(float(y))
        assert all(-4 <= x <= wide + 4 for x in xs), (each.tag, at)
        assert all(-4 <= y <= tall + 4 for y in ys), (each.tag, at)


def letters(root, look: str) -> str:
    return "".join(t.text for t in root.iter(f"{SVG}text") if t.get("class", "").startswith(look))


@few
@given(coverages())
def test_a_strip_has_a_letter_for_each_cell(coverage):
    strip = duty_strip(coverage, Weeks.of(()))
    if strip is None or not strip.caption.strip():
        return
    for panel, svg in zip(strip.panels, strip_svgs(strip, "s"), strict=True):
        root = opened(svg)
        expected = "".join(row.marks for row in panel.rows).replace(" ", "")
        assert letters(root, "cell-letter") == expected
        assert len([r for r in root.iter(f"{SVG}rect")]) == len(expected)
        assert root.find(f"{SVG}desc").text == panel.alt
        assert letters(root, "pic-text pic-strong") == "".join(row.label for row in panel.rows)


def _is_tick(each) -> bool:
    return each.get("x1") == each.get("x2") and round(abs(float(each.get("y1")) - float(each.get("y2"))), 1) == 3


@few
@given(time_lines())
def test_a_time_line_has_each_thing_once_as_a_sign_a_bar_or_a_tick(drawn):
    root = opened(time_line_svg(drawn, "t"))
    signs = letters(root, "pic-letter")
    bars = [r for r in root.iter(f"{SVG}rect") if r.get("class", "").startswith("pic-bar")]
    things = sum(len(lane.marks) + len(lane.spans) for lane in drawn.lanes)
    # A tick stands for what has no room; the hatching of a bar has lines too, which lean or are shorter.
    ticks = [each for each in root.iter(f"{SVG}line") if each.get("class") == "pic-line" and _is_tick(each)]
    assert len(signs) + len(bars) + len(ticks) == things
    every = sorted(mark.mark for lane in drawn.lanes for mark in lane.marks)
    assert not [s for s in set(signs) if signs.count(s) > every.count(s)], "no sign that stands for nothing"
    assert len(told(drawn)) == things, "the list below says all of it"


@few
@given(reading_charts())
def test_a_chart_marks_each_value_beyond_its_limit(chart):
    if not chart.caption.strip():
        return
    root = opened(reading_svg(chart, "r"))
    bad = sum(
        s.outside(v) or (s.failed and v == s.last) for s in chart.samples for v in (s.found, s.left) if v is not None
    )
    diamonds = [p for p in root.iter(f"{SVG}polygon") if p.get("class", "").startswith("pic-bad")]
    assert len(diamonds) == bad
    assert root.find(f"{SVG}desc").text == chart.alt or not chart.alt.strip()


@few
@given(counter_charts())
def test_a_counter_has_a_point_for_each_reading(chart):
    if not chart.caption.strip():
        return
    root = opened(counter_svg(chart, "c"))
    assert len(list(root.iter(f"{SVG}circle"))) == len(chart.points)
    slips = [c for c in root.iter(f"{SVG}circle") if "pic-dot--open" in c.get("class")]
    assert len(slips) == sum(p.slip for p in chart.points)
    ahead = [p for p in root.iter(f"{SVG}polygon") if "pic-bad" in p.get("class")]
    assert len(ahead) == len(chart.projected)


def test_the_letters_are_as_tall_as_the_style_sheet_draws_them():
    """360 pixels less the margins of the page are 328: a unit is 0.95 pixel, a letter at least 9 pixels."""
    from tests.test_layout import ROOT

    style = (ROOT / "records/static/records/style.css").read_text(encoding="utf-8")
    found = re.search(r"\.cell-letter \{ fill: currentColor; font-size: (\d+)px; \}", style)
    assert float(found[1]) == LETTER and LETTER * 328 / WIDTH >= 9
