"""The structure tree is kept apart in the last pass and is the same behind it."""

from __future__ import annotations

from io import BytesIO

import pikepdf
import pytest

from audit.binder.pdf import apart, render
from audit.binder.pdf.finish import finished
from tests.audit.binder.shapes import every_shape
from tests.audit.binder.standards.opened import Opened
from tests.audit.binder.standards.reading import read


@pytest.fixture(scope="module")
def drawn() -> bytes:
    return render(every_shape())


def _told(content: bytes) -> list:
    """Each element with its text, its attributes and the page and place of its annotations, in order."""
    with Opened(content) as found:
        return [
            (node.role, found.text(node), str(node.obj.get("/Alt", "")), str(node.obj.get("/A", "")),
             [(held.page, [float(edge) for edge in held.obj.Rect]) for held in node.annotated])
            for node in found.nodes
        ]  # fmt: skip


def _shuffled(pdf) -> None:
    """Objects that come before the pages change the numbers of all."""
    pdf.Root.Extra = pdf.make_indirect(pikepdf.Array([pdf.make_stream(b"x") for _ in range(50)]))


def test_elements_texts_and_links_are_those_that_were_drawn(drawn):
    told = _told(drawn)
    assert len(told) > 900
    assert _told(finished(drawn, _shuffled)) == _told(finished(drawn)) == told
    with Opened(drawn) as before, Opened(finished(drawn, _shuffled)) as after:
        assert read(before) == read(after)


def test_the_steps_see_no_element(drawn):
    seen = []
    finished(drawn, lambda pdf: seen.append((list(pdf.Root.StructTreeRoot.keys()), len(pdf.objects))))
    with pikepdf.open(BytesIO(drawn)) as whole:
        ((keys, count),) = seen
        assert keys == ["/Type"] and count < len(whole.objects) / 4


def test_the_same_file_gives_the_same_bytes(drawn):
    assert finished(drawn) == finished(drawn)
    assert finished(drawn, _shuffled) != finished(drawn)


def test_a_file_without_the_mark_is_finished_as_it_is():
    out = BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.save(out)
    assert apart.parted(out.getvalue()) is None
    with pikepdf.open(BytesIO(finished(out.getvalue()))) as pdf:
        assert len(pdf.pages) == 1
