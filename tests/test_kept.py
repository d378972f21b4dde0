"""What is kept of a world comes back as it was, and a test that commits leaves nothing behind."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.db import connection, transaction

from records.ledger import tamper_check, triggers
from records.models import Clinic, Unit
from tests import kept
from tests import world as made

ROUNDS = (1, 2)


@pytest.fixture
def folder(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path / "blobs"
    return settings.BLOBS_DIR


@kept.kept(folder="BLOBS_DIR")
def small_world(units: int = 1):
    (settings.BLOBS_DIR / "deep").mkdir(parents=True)
    (settings.BLOBS_DIR / "deep" / "paper").write_bytes(b"invented")
    return made.make(units=units)


@pytest.mark.django_db
def test_rows_files_and_value_come_back_as_they_were(folder):
    found = []
    for _ in ROUNDS:
        with transaction.atomic():
            world = small_world()
            found.append((kept.rows_now(), world.unit.ref, (folder / "deep" / "paper").read_bytes()))
            assert tamper_check.verify(world.clinic).whole
            (folder / "deep" / "paper").unlink()
            (folder / "deep").rmdir()
            transaction.set_rollback(True)
    assert found[0] == found[1]
    assert [[type(v) for v in row] for _, rows in found[0][0].values() for row in rows] == [
        [type(v) for v in row] for _, rows in found[1][0].values() for row in rows
    ]
    assert len(found[0][0]) > 15


@pytest.mark.django_db
def test_what_one_changes_in_its_world_no_other_sees():
    for _ in ROUNDS:
        with transaction.atomic():
            world = made.make()
            assert world.clinic.name == "First Clinic" and "guest" not in world.people
            world.clinic.name, world.people["guest"] = "Another", None
            made.unit_at(world.clinic, world.people["coordinator"], "More")
            assert Unit.objects.filter(label="More").count() == 1
            transaction.set_rollback(True)


@pytest.mark.django_db
def test_other_arguments_are_another_world_and_a_default_is_none():
    for units in (1, 3, 1):
        with transaction.atomic():
            assert len(made.make(units=units).units) == units == Unit.objects.count() - 1
            transaction.set_rollback(True)
    with transaction.atomic():
        first = made.make().unit.ref
        transaction.set_rollback(True)
    assert made.make(1).unit.ref == first


@pytest.mark.django_db
def test_where_something_stands_already_it_is_logged_anew():
    with transaction.atomic():
        first = made.make().clinic.ref
        transaction.set_rollback(True)
    Clinic.objects.create(slug="here-before", name="Here before")
    assert made.make().clinic.ref != first


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", ROUNDS)
def test_a_test_that_commits_leaves_the_database_as_it_was_made(turn):
    assert kept.filled() == []
    assert triggers.missing(connection) == []
    world = made.make()
    assert connection.vendor != "sqlite" or world.clinic.pk == 1
    assert Clinic.objects.count() == 2
