"""The invented clinics of the demo go round: taken out of its folder and brought into an empty one, all the same."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from django.core.management import call_command

from audit.issue.whole import check, load
from audit.issue.whole.write import write
from audit.issue.wish import Wish
from audit.upkeep import place
from records import access, clock
from records.ledger import database, tamper_check
from records.log.may_be_logged import zone_of
from records.models import Account, Clinic
from tests.demo_run import first_run
from tests.in_turn import in_turn

from .test_round_trip import PHRASE, told

CLINICS = ("wobblestone", "crumpetfield", "inklantern")


def _place(folder: Path) -> place.Place:
    own = place.own().database
    return place.Place(folder, folder / "blobs", folder / "seal", {**own, "NAME": str(folder / "standing.sqlite3")})


@pytest.mark.parametrize("slug", in_turn(CLINICS, 3))
def test_a_clinic_of_the_demo_goes_round(slug, tmp_path, tmp_path_factory, django_db_blocker):
    """Standing in two other databases than that of the tests: the demo's, which is only read, and an empty one."""
    folder, done = first_run(tmp_path_factory)
    assert done.returncode == 0, done.stderr
    file, now = tmp_path / f"{slug}.zip", clock.real()
    empty = tmp_path / "empty"
    empty.mkdir()
    with django_db_blocker.unblock(), clock.at(now):
        copy = _copied(folder, tmp_path / "demo")
        with place.standing_in(copy):
            clinic = Clinic.objects.get(slug=slug)
            by = next(a for a in Account.objects.order_by("pk") if _belongs(a, clinic))
            write(clinic, file, by="Somebody", at=now)
            day = clock.today(zone_of(clinic))
            wish = Wish(day.replace(year=day.year - 1, day=1), day, day)
            before = told(clinic, wish)
        assert check.WholeCheck(check.Zip(str(file))).run().faults == []
        with place.standing_in(_place(empty)):
            call_command("migrate", verbosity=0, interactive=False)
            found = load.bring(file, by=by.username, phrase=PHRASE, at=now)
            assert told(found.clinic, wish) == before
            assert tamper_check.verify(found.clinic).whole and database.faults() == []


def _belongs(account: Account, clinic: Clinic) -> bool:
    rights = access.rights(account, clinic)
    return rights is not None and rights.may_set_rules


def _copied(folder: Path, to: Path) -> place.Place:
    """The demo as it was left, in a folder that may be written to: answers are kept beside the record."""
    shutil.copytree(folder, to, ignore=shutil.ignore_patterns("static", "demo", "*.turn"))
    return _place(to)
