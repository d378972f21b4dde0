"""The bar of a look-back: pass, failure and loads by cycle number, told apart by their shape and in words."""

from __future__ import annotations

from dataclasses import replace

import pikepdf
import pytest

from audit.binder.cycle_bar import cycle_bar
from audit.binder.pdf import render
from audit.binder.pdf.cycles import cycle_pieces
from audit.binder.pdf.marks import Box, Dot, DrawnLine, Text
from audit.binder.pdf.measure import width
from audit.binder.pdf.page import sheet
from audit.binder.scope import UnitScope
from audit.binder.sections import CycleBar, CycleMark
from tests.audit.binder import sample
from tests.audit.binder.paper import spaced
from tests.audit.binder.shapes import every_shape

MARKS = (
    CycleMark(5724, "passed", "1 Jun 2026"),
    CycleMark(5726, "load", "2 Jun 2026"),
    CycleMark(5742, "failed", "9 Jun 2026"),
    CycleMark(5743, "load", "9 Jun 2026"),
    CycleMark(5745, "failed", "10 Jun 2026"),
)


def failed_unit(proof_cycle: str = "4455", failed_cycle: str = "4471"):
    """The unit of the sample with its failure; loads 4461 to 4463 lie between the tests."""
    facts, judgement = sample.clinic()
    unit, said = facts.units[0], judgement.units[0]
    back, case = said.look_backs[0], said.cases[0]
    named = {back.after: proof_cycle, sample.FAILED: failed_cycle}
    tests = tuple(replace(t, cycle_number=named.get(t.row.happened_on, t.cycle_number)) for t in unit.bio_tests)
    proof = next(t.row.ref for t in tests if t.row.happened_on == back.after)
    return UnitScope(replace(unit, bio_tests=tests), said, "unit-1", "indicators-1"), back, case, proof


def test_the_proof_the_failure_and_the_loads_between_stand_by_their_numbers():
    unit, back, case, proof = failed_unit()
    (bar,) = cycle_bar(unit, back, proof, case)
    assert [(mark.number, mark.state) for mark in bar.marks] == [
        (4455, "passed"), (4461, "load"), (4462, "load"), (4463, "load"), (4471, "failed"),
    ]  # fmt: skip
    assert spaced(bar.alt) == (
        "A bar of the cycles 4455 to 4471. cycle 4455, 26 Jan 2026, passed; cycle 4471, 2 Feb 2026, failed; "
        "loads on record: 4461, 4462, 4463; 12 other cycles of these numbers not among them."
    )


@pytest.mark.parametrize(("proof", "failed"), [("", ""), ("A-1", "A-2")])
def test_without_plain_numbers_of_tests_there_is_no_bar(proof, failed):
    assert cycle_bar(*failed_unit(proof, failed)[:2], failed_unit()[3], failed_unit()[2]) == ()


def test_what_no_test_put_in_doubt_has_no_bar():
    unit, back, _, _ = failed_unit()
    assert cycle_bar(unit, back, "", None) == ()


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_marks_differ_by_shape_and_stand_by_number(size):
    paper = sheet(size)
    figure, key = cycle_pieces(CycleBar(MARKS, "words"), paper)
    (run,) = figure.runs
    assert run.element.role == "Figure" and run.element.alt == "words"
    dots = [mark.x for mark in run.marks if isinstance(mark, Dot)]
    boxes = [mark.x + mark.width / 2 for mark in run.marks if isinstance(mark, Box)]
    (stroke,) = [mark.x1 for mark in run.marks if isinstance(mark, DrawnLine) and mark.x1 == mark.x2]
    assert len(dots) == 2 and len(boxes) == 2 and stroke < dots[0] < boxes[0] < dots[1] < boxes[1]
    assert (dots[0] - stroke) / (boxes[1] - stroke) == pytest.approx(2 / 21)
    assert all(mark.grey in (0, 1) for mark in run.marks if isinstance(mark, DrawnLine))
    texts = [mark for mark in run.marks if isinstance(mark, Text)]
    assert {"cycle 5724", "cycle 5745"} <= {mark.text for mark in texts}
    spans = sorted((mark.y, mark.x, mark.x + width(mark.text, mark.style)) for mark in texts)
    assert all(0 <= left and right <= paper.text_width for _, left, right in spans)
    assert all(a[0] != b[0] or a[2] < b[1] for a, b in zip(spans, spans[1:], strict=False)), "labels overlap"
    assert "■" in "".join(mark.text for run in key.runs for mark in run.marks)


def test_the_file_holds_it_as_a_figure_with_its_words(tmp_path):
    (tmp_path / "a.pdf").write_bytes(render(every_shape()))
    with pikepdf.open(tmp_path / "a.pdf") as pdf:
        alts = [str(each.get("/Alt", "")) for each in pdf.objects
                if isinstance(each, pikepdf.Dictionary) and each.get("/S") == "/Figure"]  # fmt: skip
    assert [alt for alt in alts if alt.startswith("A bar of the cycles 5724 to 5745")]
