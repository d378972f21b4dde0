"""The file made from the record, with its papers, data and manifest, is in order and read as its contents stand."""

from __future__ import annotations

from datetime import date

import pytest

from audit.issue.make import make
from audit.issue.wish import Wish
from records import clock, log
from tests import paper_files
from tests import world as build
from tests.audit.binder.standards.checks import findings
from tests.audit.binder.standards.opened import Opened
from tests.audit.binder.standards.reading import read
from tests.audit.binder.standards.spoken import apart, binder_spoken

pytestmark = pytest.mark.django_db

PAPERS = {"answer.pdf": paper_files.drawn(pages=2), "scan.png": paper_files.see_through()}


@pytest.fixture(params=["letter", "a4"])
def made(request):
    with clock.at(build.NOW):
        world = build.tested_for_seven_weeks()
        for filename, content in (
            ("answer.pdf", paper_files.drawn(pages=2)),
            ("scan.png", paper_files.see_through()),
        ):
            log.log_document(
                by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, kind="procedure",
                title=f"How we answer, {filename}", valid_from=date(2026, 1, 5), content=content, filename=filename,
            )  # fmt: skip
        return make(world.clinic, Wish(date(2025, 9, 1), date(2026, 3, 16), page=request.param))


def test_it_is_in_order_and_read_as_it_states(made):
    assert findings(made.body) == {}
    with Opened(made.body) as opened:
        assert apart(binder_spoken(made.binder), [each.text for each in read(opened)]) == ""
