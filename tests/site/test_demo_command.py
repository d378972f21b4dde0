"""`manage.py demo` as a newcomer runs it: in a process of its own, on an empty data folder."""

import json
import os
import re
import signal
import socket
import subprocess
import threading
import time
import urllib.error
import urllib.request
from datetime import UTC, datetime, timedelta

import pytest

from audit.management.commands.demo import interrupts_heard
from records import clock
from tests import started
from tests.demo_run import first_run

WORDS = {
    "Unit 1": "In service",
    "Unit 2": "In service",
    "Unit 3": "Out of service",
    "Unit 4": "Waiting for proof",
    "Barn": "In service, overdue",
    "Surgery": "Limited",
    "Front": "In service",
    "Back": "Not in use",
}


def manage(folder, *args):
    return started.run(["manage.py", *args], env={**os.environ, "STANDING_DATA": str(folder)}, timeout=900)


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    """(data folder, the finished first run)."""
    return first_run(tmp_path_factory)


def test_one_command_loads_prints_and_writes(first):
    folder, done = first
    assert done.returncode == 0, done.stderr
    assert "teacup kettle bellows" in done.stdout and "mei" in done.stdout
    binders = sorted((folder / "demo").glob("*.pdf"))
    assert len(binders) == 3
    assert all(b.read_bytes().startswith(b"%PDF-") for b in binders)


def test_no_binder_of_the_demo_is_longer_than_fifty_pages(first):
    """Four units over eighteen months with their loads: an inspector reads it in one sitting."""
    pages = [int(n) for n in re.findall(r"^(\d+) pages, ", first[1].stdout, re.MULTILINE)]
    assert len(pages) == 3 and max(pages) <= 50, pages


@pytest.mark.parametrize("label", WORDS)
def test_the_standing_printed(first, label):
    line = next(line for line in first[1].stdout.splitlines() if line.strip().startswith(f"{label}:"))
    said = line.split(":", 1)[1].split(" since ")[0].split(" [")[0].strip()
    assert said == WORDS[label]


def test_only_the_unit_with_the_unknown_option_is_asked_about(first):
    """Every other position of the demo is on record as fitted, or as none on this version."""
    done = manage(first[0], "status", "--json", "--as-of", "2026-06-15")
    units = [u for clinic in json.loads(done.stdout) for u in clinic["units"]]
    asked = [(u["label"], f["message"]) for u in units for f in u["findings"] if f["rule"] == "unknown-fit"]
    assert len(asked) == 1
    assert asked[0][0] == "Surgery" and "intake filter" in asked[0][1]


def test_a_second_run_keeps_the_demo_and_makes_the_same_bytes_before_signing(first):
    """A signature has a time and a random part; what is signed is the beginning of the file."""
    folder, told = first
    again = manage(folder, "demo", "--no-serve", "--out", str(folder / "again"))
    assert again.returncode == 0, again.stderr
    assert "loaded already" in again.stdout
    made = [re.findall(r"SHA-256 before signing ([0-9a-f]{64})", run.stdout) for run in (told, again)]
    assert len(made[0]) == 3
    assert made[0] == made[1]
    assert sorted(p.name for p in (folder / "again").glob("*.pdf")) == sorted(
        p.name for p in (folder / "demo").glob("*.pdf")
    )


def test_the_loaded_demo_passes_verify_ledger(first):
    done = manage(first[0], "verify_ledger")
    assert done.returncode == 0, done.stdout + done.stderr


def test_foreign_data_is_refused_and_left_alone(tmp_path, migrated_in):
    migrated_in(tmp_path)
    make = "from records.models import Account; Account.objects.create_user('someone')"
    assert manage(tmp_path, "shell", "-c", make).returncode == 0
    done = manage(tmp_path, "demo", "--no-serve")
    assert done.returncode == 2
    assert "someone" in done.stderr and "STANDING_DATA" in done.stderr and "Traceback" not in done.stderr
    count = "from records.models import Account, Entry; print(Account.objects.count(), Entry.objects.count())"
    assert manage(tmp_path, "shell", "--verbosity", "0", "-c", count).stdout.split() == ["1", "0"]


def test_a_busy_port_is_named_before_anything_is_loaded(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = manage(tmp_path, "demo", "--port", str(port))
    assert done.returncode == 2
    assert f"Port {port}" in done.stderr and "--port" in done.stderr
    assert not (tmp_path / "standing.sqlite3").exists()


def test_it_serves_and_ends_quietly_on_ctrl_c(first):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        started.words(["manage.py", "demo", "--port", port]),
        env={**os.environ, "STANDING_DATA": str(first[0])},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    try:
        assert answers(f"http://127.0.0.1:{port}/", seconds=60)
        server.send_signal(signal.SIGINT)
        said, _ = server.communicate(timeout=30)
    finally:
        if server.poll() is None:
            server.kill()
    assert server.returncode == 0
    assert f"http://127.0.0.1:{port}/" in said and "Traceback" not in said


def answers(address, seconds) -> bool:
    """Whether anything answers there within so many seconds; a page that is missing answers too."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            urllib.request.urlopen(address, timeout=5).close()
            return True
        except urllib.error.HTTPError as error:
            error.close()
            return error.code < 500
        except OSError:
            time.sleep(0.3)
    return False


def test_standing_at_a_moment_holds_in_every_thread_and_ticks():
    moment = datetime(2026, 6, 15, 17, 30, tzinfo=UTC)
    seen = []
    clock.stand_at(moment)
    try:
        thread = threading.Thread(target=lambda: seen.append(clock.now()))
        thread.start()
        thread.join()
        assert moment <= seen[0] < moment + timedelta(minutes=1)
        time.sleep(0.01)
        assert clock.now() > seen[0]
        with clock.at(moment - timedelta(days=3)):
            assert clock.now() == moment - timedelta(days=3)
    finally:
        clock.stand_at(None)
    assert abs(clock.now() - datetime.now(UTC)) < timedelta(minutes=1)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_an_interrupt_that_is_swallowed_is_sent_again():
    """As Ctrl-C that comes while an object is cleared away: Python ignores what is raised there."""

    class ClearedAway:
        def __del__(self):
            signal.raise_signal(signal.SIGINT)

    swallowed, before = False, signal.getsignal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        with interrupts_heard(every=0.05):
            gone = ClearedAway()
            del gone
            swallowed = True
            time.sleep(20)
    assert swallowed
    assert signal.getsignal(signal.SIGINT) is before
