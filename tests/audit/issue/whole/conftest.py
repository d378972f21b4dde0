"""A clinic with a little of everything, in a place of its own, and the file with everything of it."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import connection

from audit.issue.whole.write import write
from records import clock, log
from records import models as m
from records.ledger import triggers
from tests import world as made
from tests.kept import GIVEN, kept
from tests.paper_files import drawn

AT = made.NOW


@kept(folder="BLOBS_DIR")
def a_bit_of_everything() -> made.World:
    """Tests, a visit, a lot and an instrument of the company, a paper, a correction, a row entered in error."""
    world = made.make()
    by, key = world.people["coordinator"], made.key
    made.weekly_tests(world, 3)
    made.seal_replaced(world, date(2026, 2, 3))
    common = {"by": world.people["dispatcher"], "request_key": key()}
    instrument = log.log_instrument(
        **common, owner=world.company, name="Invented thermometer", kind="thermometer", serial="T-1",
        on=made.BEGIN,
    )  # fmt: skip
    log.log_calibration(
        by=world.people["dispatcher"], request_key=key(), owner=world.company, instrument=instrument,
        on=date(2026, 1, 5), certificate="INV-9", result="in tolerance", as_found="within its limits",
        valid_to=date(2027, 1, 5),
    )  # fmt: skip
    log.log_document(
        by=by, request_key=key(), clinic=world.clinic, kind="other", title="=1+1 “Füße”, ../../paper",
        valid_from=date(2026, 1, 5), content=drawn(), filename="../Füße & Co.pdf",
    )  # fmt: skip
    tests = list(m.BioTest.objects.order_by("pk"))
    log.correct(by=by, request_key=key(), row=tests[0], changes={"cycle_type": "unwrapped"}, reason="misread")
    log.void(by=by, request_key=key(), row=tests[1], reason="another unit's test")
    return world


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(AT):
        yield


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    """Nothing is written outside the test's folder, and no page starts a process."""
    settings.BLOBS_DIR, settings.SEAL_DIR = tmp_path / "blobs", tmp_path / "seal"
    settings.DATA_DIR, settings.BINDER_WORKER = tmp_path, "none"
    return tmp_path


@pytest.fixture
def world(folders):
    return a_bit_of_everything()


@pytest.fixture
def file(world, tmp_path):
    """The file with everything of the first clinic."""
    path = tmp_path / "everything.zip"
    write(world.clinic, path, by="Ana Coordinator", at=AT)
    return path


def empty(settings, folder) -> None:
    """Take every row away, as in a place that nobody has begun, with a folder of its own for files."""
    settings.BLOBS_DIR = folder
    tables = set(connection.introspection.table_names()) - GIVEN - {"django_migrations"}
    with triggers.lifted(connection), connection.cursor() as cursor:
        for table in sorted(tables):
            cursor.execute(f'DELETE FROM "{table}"')
        if connection.vendor == "sqlite":
            cursor.execute("DELETE FROM sqlite_sequence")
