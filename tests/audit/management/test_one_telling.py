"""One fact, one telling: page, list, command, file, binder and stored answer say the same of a unit."""

from __future__ import annotations

import json
import re
from datetime import timedelta

import pytest
from django.core.management import call_command

from audit.gather import standings
from audit.planning import calendar_file, digest, reach
from records import clock, log
from tests import world as build
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db
DAY = build.TODAY.isoformat()
KEEPERS = "Keepers"  # the company that serves the clinic


@pytest.fixture
def world(settings, tmp_path):
    """Four units: in service, out after a failure, withdrawn by hand, and never tested."""
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        made = build.make(units=4)
        build.weekly_tests(made, 6)
        build.seal_replaced(made, build.TODAY - timedelta(days=3), unit=made.units[0])
        build.spore_test(made, build.TODAY - timedelta(days=5), test="growth", unit=made.units[1])
        build.weekly_tests(made, 2, unit=made.units[2])
        log.log_unit_event(
            by=made.people["coordinator"], request_key=build.key(), clinic=made.clinic, unit=made.units[2],
            kind="withdrawn", on=build.TODAY, reason="door jams",
        )  # fmt: skip
        yield made


def plain(text: str) -> str:
    """Without days, blanks and signs: a page writes them as the clinic does, a file as data."""
    words = re.sub(r"\d{4}-\d{2}-\d{2}|\d{1,2}\s[A-Z][a-z]{2,8}\s\d{4}", "DAY", text)
    return re.sub(r"\W+", " ", words.replace("’", "'")).strip().casefold()


def _next_and_then(unit: dict) -> list[str]:
    """What is next by whom and by when, and from when the answer is another: whole sentences, where there are any."""
    told = [unit["next"]["words"]] if unit["next"] else []
    return told + ([unit["standing"]["changes"]] if unit["standing"]["holds_until"] else [])


def test_every_way_to_ask_gives_the_same_answer(world, command, client, tmp_path):
    _, out, _ = command("status", world.clinic.slug, "--json")
    (told,) = json.loads(out)
    said = {u["label"]: (u["standing"]["word"], u["standing"]["reason"]) for u in told["units"]}
    assert len({word for word, _ in said.values()}) >= 2

    stored = standings.standings_for([world.clinic], build.TODAY)
    assert {s.label: (s.word, s.reason) for s in stored} == said

    file = tmp_path / "clinic.json"
    call_command("export", world.clinic.slug, out=str(file))
    _, out, _ = command("evaluate", file, "--regime", "us-dental-cdc-2003", "--as-of", DAY, "--json")
    of_file = json.loads(out)
    assert {u["label"]: (u["standing"]["word"], u["standing"]["reason"]) for u in of_file["units"]} == said

    signed_in(client, world, "coordinator")
    page = plain(text_of(get(client, "clinic", world.clinic.slug)))
    for unit in told["units"]:
        word, what = unit["standing"]["word"], unit["next"]["what"] if unit["next"] else ""
        assert plain(word) in page and plain(unit["short"]) in page and plain(what) in page, unit["label"]
        own = plain(text_of(get(client, "unit", world.clinic.slug, unit["unit"])))
        assert plain(word) in own and plain(unit["standing"]["reason"]) in own, unit["label"]

    _, out, _ = command("binder", world.clinic.slug, "--from", DAY, "--to", DAY, "--json")
    binder = plain(out)
    for label, (word, reason) in said.items():
        assert plain(reason) in binder and plain(word) in binder, label

    every = {u["label"]: (u["short"], *_next_and_then(u)) for u in told["units"]}
    assert f"Clinic or {KEEPERS}: return it" in every["Unit 3"][1], "the company is named that serves the clinic"
    _, listed, _ = command("status", world.clinic.slug)
    at = next(reach.reached(world.people["coordinator"]))
    mail = plain(digest.text_of("A", [digest.part_of(at, digest.DAY)], lambda name: name))
    for label, words in every.items():
        assert all(plain(each) in plain(listed) for each in words), label
        unit = next(u for u in at.judgement.units if u.label == label)
        assert all(plain(each) in plain(calendar_file.answer_words(at, unit)) for each in words), label
        if not unit.standing.word.may_be_used:
            assert all(plain(each) in mail and plain(each) in binder for each in words), label
        own = plain(text_of(get(client, "unit", world.clinic.slug, unit.unit)))
        assert all(plain(each) in page and plain(each) in own for each in words), label

    for unit in world.units:
        _, out, _ = command("explain", world.clinic.slug, unit.label)
        word, reason = said[unit.label]
        assert word in out and plain(reason)[:60] in plain(out), unit.label
