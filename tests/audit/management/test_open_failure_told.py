"""One pack of nine with a failed indicator: the unit goes on, and every way to ask names the open failure."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.core.management import call_command

from audit.gather import standings
from records import clock, log
from records.models import Load
from tests import world as build
from tests.audit.pages.tools import get, signed_in, text_of

from .test_one_telling import plain

pytestmark = pytest.mark.django_db
ST79 = "us-healthcare-st79-2017"
FAILED = build.TODAY - timedelta(days=1)
OPEN = f"a failure is open: chemical indicator type 5 of {FAILED.isoformat()}: failed"
DAY = build.TODAY.isoformat()


def common(world):
    return {"by": world.people["coordinator"], "request_key": build.key(), "clinic": world.clinic}


@pytest.fixture
def world(settings, tmp_path):
    """A hospital's unit under ST79, tested; cycle 9 of yesterday was right but for one indicator inside a pack."""
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        made = build.make()
        log.log_terms(
            **common(made), name="First Clinic", programme="medical", address="1 Invented Street", week_start=0,
            time_zone="America/Chicago", regime=ST79, effective_on=build.BEGIN,
        )  # fmt: skip
        build.weekly_tests(made, 6)
        build.spore_test(made, build.TODAY - timedelta(days=3))
        of_unit = common(made) | {"unit": made.unit, "on": FAILED}
        made.load = log.log_load(
            **of_unit,
            cycle_number="9",
            program="wrapped",
            contents="9 packs",
            mechanical="pass",
            confirmed=("unit-out",),
        )
        log.log_chemical(
            **common(made) | {"unit": made.unit, "on": FAILED},
            type=5,
            result="fail",
            cycle_number="9",
            where="pack 4",
        )
        yield made


def test_every_way_to_ask_names_it_in_the_same_words(world, command, client, tmp_path):
    _, out, _ = command("status", world.clinic.slug, "--json")
    (said,) = json.loads(out)[0]["units"]
    assert said["standing"]["word"] == "In service"
    reason = said["standing"]["reason"]
    assert OPEN in reason and "no open failure" not in reason
    assert {f["rule"] for f in said["findings"]} >= {"case-open"}

    _, out, _ = command("status", world.clinic.slug)
    assert plain(OPEN) in plain(out)
    assert [s.reason for s in standings.standings_for([world.clinic], build.TODAY)] == [reason]

    file = tmp_path / "clinic.json"
    call_command("export", world.clinic.slug, out=str(file))
    _, out, _ = command("evaluate", file, "--regime", ST79, "--as-of", DAY, "--json")
    assert json.loads(out)["units"][0]["standing"]["reason"] == reason

    signed_in(client, world, "coordinator")
    for page in (get(client, "clinic", world.clinic.slug), get(client, "unit", world.clinic.slug, world.unit.ref)):
        assert plain(OPEN) in plain(text_of(page))

    _, out, _ = command("binder", world.clinic.slug, "--from", DAY, "--to", DAY, "--json")
    assert plain(OPEN) in plain(out)


def test_its_load_is_not_released_until_somebody_decides_with_a_reason(world):
    decide = common(world) | {"load": world.load, "decision": "released", "on": build.TODAY}
    with pytest.raises(log.Refused) as refused:
        log.release_load(**decide)
    assert {p.confirm for p in refused.value.problems} >= {"failed-release"}
    assert "a chemical indicator" in str(refused.value) and "Keep the goods back" in str(refused.value)
    with pytest.raises(log.Refused) as again:
        log.release_load(**decide, confirmed=("failed-release",))
    assert [p.field for p in again.value.problems] == ["reason"]
    assert not Load.objects.get().releases.exists()
    log.release_load(**decide | {"decision": "rejected"}, reason="the pack is out, the others are done again")
