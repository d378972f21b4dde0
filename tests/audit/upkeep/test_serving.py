"""What `serve` keeps running beside the pages, what it refuses, and what a machine gets on which nothing is set."""

from __future__ import annotations

import logging
import time
from datetime import timedelta

import pytest

from audit.management.commands import serve
from audit.site import own_machine
from audit.upkeep import place as p
from audit.upkeep import serving
from records import clock


@pytest.fixture(autouse=True)
def _soon(monkeypatch, settings, tmp_path):
    monkeypatch.setattr(serving, "AGAIN_SECONDS", 0.02)
    settings.DATA_DIR = tmp_path


def until(true) -> None:
    end = time.monotonic() + 30
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


def lines(file) -> int:
    return file.read_text().count("\n") if file.exists() else 0


def writes_a_line(file, then="exit 0") -> list[str]:
    return ["/bin/sh", "-c", f"echo x >> {file}; {then}"]


def test_a_worker_that_ends_is_begun_again_and_waits_longer_each_time(tmp_path, caplog):
    kept = serving.KeptRunning({"worker": writes_a_line(tmp_path / "begun", "exit 7")})
    assert kept.pause == 0.02
    kept.start()
    until(lambda: lines(tmp_path / "begun") >= 3)
    kept.end()
    assert kept.pause >= 4 * 0.02
    assert "The worker ended with status 7" in caplog.text and caplog.records[0].levelno == logging.ERROR


def test_what_was_begun_ends_with_the_server(tmp_path):
    kept = serving.KeptRunning({"worker": writes_a_line(tmp_path / "begun", "exec sleep 60")})
    kept.start()
    # It may have begun before it is noted here that it was.
    until(lambda: lines(tmp_path / "begun") == 1 and "worker" in kept.running)
    process = kept.running["worker"]
    assert process.poll() is None
    kept.end()
    assert process.poll() is not None and not kept.thread.is_alive()


@pytest.mark.parametrize(("hours", "made"), [(None, 1), (24, 1), (23, 0)])
def test_a_backup_is_made_when_the_last_is_a_day_old(tmp_path, hours, made):
    if hours is not None:
        at = clock.real() - timedelta(hours=hours)
        p.note(tmp_path / p.LAST_BACKUP, {"made_at": at.isoformat(), "file": "x"})
    kept = serving.KeptRunning(
        {"backup": writes_a_line(tmp_path / "made"), "worker": writes_a_line(tmp_path / "begun")}
    )
    kept.start()
    until(lambda: lines(tmp_path / "begun") >= 3)
    kept.end()
    assert lines(tmp_path / "made") == made


def test_a_backup_that_fails_is_said_and_not_tried_again_at_once(tmp_path, caplog):
    commands = {"backup": writes_a_line(tmp_path / "made", "exit 3"), "worker": writes_a_line(tmp_path / "begun")}
    kept = serving.KeptRunning(commands)
    kept.start()
    until(lambda: lines(tmp_path / "begun") >= 4)
    kept.end()
    assert lines(tmp_path / "made") == 1 and "The backup ended with status 3" in caplog.text


GIVEN = {
    "bind": "127.0.0.1", "port": 8000, "threads": 8, "behind_proxy": False, "no_worker": False, "backup_to": None,
}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "debug", "redirects", "says"),
    [
        ({}, True, True, "STANDING_DEBUG=1"),
        ({"bind": "everywhere"}, False, True, "is no address"),
        ({"bind": "0.0.0.0"}, False, False, "sign in over plain HTTP"),
        ({"port": 65536}, False, True, "from 0 to 65535"),
        ({"threads": 0}, False, True, "from 1 to 64"),
    ],
)
def test_what_is_not_safe_to_serve_is_refused(settings, changes, debug, redirects, says):
    settings.DEBUG, settings.SECURE_SSL_REDIRECT = debug, redirects
    with pytest.raises(serve.o.BadInput, match=says):
        serve._wanted(GIVEN | changes)


def test_what_is_safe_is_served(settings):
    settings.DEBUG, settings.SECURE_SSL_REDIRECT = False, False
    assert serve._wanted(GIVEN).worker and not serve._wanted(GIVEN | {"no_worker": True}).worker
    settings.SECURE_SSL_REDIRECT = True
    assert serve._wanted(GIVEN | {"bind": "0.0.0.0"}).host == "0.0.0.0"


@pytest.mark.django_db
def test_nothing_is_served_while_a_restore_is_half_done(tmp_path):
    p.note(tmp_path / p.RESTORING, {})
    with pytest.raises(serving.CannotServe, match="not whole"):
        serving.refuse_unfit()


def test_a_machine_on_which_nothing_is_set_gets_a_key_of_its_own_and_answers_itself_alone(tmp_path):
    folder = tmp_path / "data"
    given = {"STANDING_DATA": str(folder)}
    own_machine.prepare(given, tmp_path / "other", "8123")
    assert (given["STANDING_DEBUG"], given["STANDING_HOSTS"]) == ("0", "localhost,127.0.0.1,[::1]")
    assert given["STANDING_ADDRESS"] == "http://localhost:8123" and len(given["STANDING_SECRET_KEY"]) > 60
    assert (folder / "secret-key").stat().st_mode & 0o077 == 0 and len(list(folder.iterdir())) == 1
    again = {"STANDING_DATA": str(folder)}
    own_machine.prepare(again, tmp_path / "other")
    assert again["STANDING_SECRET_KEY"] == given["STANDING_SECRET_KEY"]
    another = {"STANDING_DATA": str(tmp_path / "another")}
    own_machine.prepare(another, tmp_path)
    assert another["STANDING_SECRET_KEY"] != given["STANDING_SECRET_KEY"]


@pytest.mark.parametrize("name", ["STANDING_DEBUG", "STANDING_SECRET_KEY"])
def test_a_server_is_left_as_it_is_set(tmp_path, name):
    given = {name: "1", "STANDING_DATA": str(tmp_path / "data")}
    before = dict(given)
    own_machine.prepare(given, tmp_path)
    assert given == before and not (tmp_path / "data").exists()
