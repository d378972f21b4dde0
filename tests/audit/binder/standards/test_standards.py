"""A binder claims PDF/UA-1 and PDF/A-3a: what open checkers and own rules say, and that each can fail."""

from __future__ import annotations

import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import render
from audit.binder.pdf.finish import finished
from audit.issue.seal.embed import embed
from tests import programs
from tests.audit.binder import full, sample
from tests.audit.binder.standards import outside
from tests.audit.binder.standards.checks import ALL, findings
from tests.audit.binder.standards.defects import DEFECTS, spoilt
from tests.audit.binder.standards.small import AS_OF, FILE, good
from tests.in_turn import in_turn


def made(source, size: str) -> bytes:
    binder = binder_contents(*source(), from_on=sample.FROM, to_on=sample.TO)
    return finished(render(binder, page_size=size), lambda pdf: embed(pdf, (FILE,), AS_OF))


def test_a_small_binder_is_in_order():
    assert findings(good()) == {}


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("source", [sample.clinic, full.clinic, sample.empty_clinic], ids=["sample", "full", "empty"])
def test_a_binder_is_in_order(source, size):
    assert findings(made(source, size)) == {}


@pytest.mark.parametrize("name", in_turn(list(DEFECTS), 3))
def test_a_defect_is_noticed_by_its_checks_and_no_others(name):
    assert set(findings(spoilt(good(), name))) == DEFECTS[name].noticed & set(ALL)


@pytest.mark.parametrize("package", ["qpdf", "poppler-utils"])
def test_programs_made_by_others_look_at_the_files_too(package):
    """Where one is missing the tests above do without it, and this one says so."""
    programs.wanted(package)
    noticed = {"qpdf": outside.syntax, "poppler-utils": outside.poppler_reads_the_same}[package]
    assert noticed in ALL.values()


def test_every_check_can_fail():
    assert set().union(*(each.noticed for each in DEFECTS.values())) >= set(ALL)
