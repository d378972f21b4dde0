"""Signing takes nothing from PDF/A-3a and PDF/UA-1: checkers made by others find the same before and after.

None of them knows the two standards in full; what a full validator says is looked at outside these tests.
"""

from __future__ import annotations

import io
import re
from datetime import date

import pikepdf
import pytest
from pdfua import validate
from pikepdf.pdfa import validate_written

from audit.issue.make import make
from audit.issue.seal.field import READABLE
from audit.issue.wish import Wish
from records import clock
from tests import world as made
from tests.audit.binder.standards import structure
from tests.audit.binder.standards.opened import Opened
from tests.audit.issue.seal import files

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def body(django_db_setup, django_db_blocker):
    from django.db import transaction

    with django_db_blocker.unblock(), transaction.atomic(), clock.at(made.NOW):
        world = made.make()
        made.weekly_tests(world, 3)
        yield make(world.clinic, Wish(date(2025, 3, 16), date(2026, 3, 16))).body
        transaction.set_rollback(True)


def pdfa(content: bytes, kinds=("violation", "unsupported")) -> set[str]:
    """What pikepdf's allow-list of PDF/A-3b finds; "unsupported" is what it does not look at."""
    found = map(str, validate_written(io.BytesIO(content), "3b").findings)
    return {re.sub(r" at obj \d+ \d+", "", each) for each in found if each.startswith(tuple(f"[{k}]" for k in kinds))}


def without_signature(content: bytes) -> bytes:
    def change(pdf):
        del pdf.Root.AcroForm, pdf.Root.Perms, pdf.Root.Extensions
        del pdf.pages[0].Annots[-1]

    return files.written_anew(content, change)


def pdfua(content: bytes, tmp_path) -> list[str]:
    path = tmp_path / "a.pdf"
    path.write_bytes(content)
    return sorted(f"{each.rule_id} {each.message}" for each in validate(str(path)).findings)


def test_the_same_findings_before_and_after(body, seal, tmp_path):
    signed = files.signed(body)
    assert pdfa(signed, ["violation"]) == pdfa(body, ["violation"])
    # The checker approves of no signature whatever; all else it approves of as before.
    assert pdfa(without_signature(signed)) == pdfa(body)
    assert pdfua(signed, tmp_path) == pdfua(body, tmp_path) == []


def test_the_field_of_the_signature_is_in_the_structure(body, seal):
    """ISO 14289-1, 7.18.4: a Form element holds it and says what it is; the rest of the tree stays as it was."""
    with Opened(body) as before, Opened(files.signed(body)) as signed:
        *rest, form = signed.nodes
        assert [node.role for node in rest] == [node.role for node in before.nodes]
        assert (form.role, form.parent.role, str(form.obj.Alt)) == ("Form", "Document", READABLE)
        (held,) = form.annotated
        widget = signed.pdf.pages[0].Annots[-1]
        assert held.obj.objgen == widget.objgen and widget.FT == pikepdf.Name.Sig
        tree = dict(pikepdf.NumberTree(signed.tree.ParentTree).items())
        assert tree[int(widget.StructParent)].objgen == form.obj.objgen
        assert signed.tree.ParentTreeNextKey == max(tree) + 1
        for check in (
            structure.tree_holds_together, structure.links_and_elements_agree, structure.parent_tree_is_complete,
        ):  # fmt: skip
            assert check(signed) == []


def test_the_comparison_can_fail(body, seal, tmp_path):
    """A file that says PDF 2.0, and one without its language, are noticed."""
    newer = files.written_anew(body, lambda pdf: pdf.Root.__setitem__("/Version", pikepdf.Name("/2.0")))
    assert any("/Version" in each for each in pdfa(newer, ["violation"]) - pdfa(body, ["violation"]))
    assert pdfua(files.written_anew(body, lambda pdf: pdf.Root.__delitem__("/Lang")), tmp_path) != []


def test_the_version_stays_one_of_pdfa_3(body, seal):
    with pikepdf.open(io.BytesIO(files.signed(body))) as pdf:
        assert str(pdf.Root.get("/Version", "/1.7")) == "/1.7"
        assert "/ESIC" in pdf.Root.Extensions
