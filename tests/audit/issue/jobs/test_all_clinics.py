"""`binder --all COMPANY`: every clinic's binder, in parallel processes; what fails takes nothing else with it."""

from __future__ import annotations

import hashlib
import re
import sys
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from audit.issue.jobs import all_clinics, queue, run, workers
from audit.issue.seal import keys
from audit.issue.wish import Wish
from audit.models import BinderJob
from records import clock, log
from records import models as m
from records.ledger import tamper_check
from tests import world as made

from . import process

pytestmark = pytest.mark.django_db
# Other processes see only what is committed.
committed = pytest.mark.django_db(transaction=True)
PERIOD = {"from_on": "2026-01-01", "to_on": "2026-03-16"}


@pytest.fixture
def key(folders):
    return keys.make_key("Keepers", made.NOW)


@pytest.fixture(autouse=True)
def dying(monkeypatch, settings, folders):
    """Workers stand on the test's database; so many of them die where the test says."""
    left = [0, 0]

    def command() -> list[str]:
        left[1] -= 1
        return process.command("--once", die_at=left[0] if left[1] >= 0 else 0)

    def die(at, times: int = 1) -> None:
        left[:] = [at, times]

    monkeypatch.setattr(workers, "command", command)
    for name, value in process.environment().items():
        monkeypatch.setenv(name, value)
    settings.BINDER_SILENCE_SECONDS = process.SILENCE
    return die


@pytest.fixture
def served(world):
    """Three clinics of one company."""
    third = made.clinic_of(world.people["coordinator"], "third", "Third Clinic")
    for by, clinic in (("other-coordinator", world.other_clinic), ("coordinator", third)):
        log.log_agreement(
            by=world.people[by], request_key=made.key(), clinic=clinic, company=world.company, effective_on=made.BEGIN
        )
    return world


def binders(folder, **options):
    """Run it; the exit status, what it said, and what it said on standard error."""
    out, err = StringIO(), StringIO()
    with pytest.raises(SystemExit) as left:
        call_command("binder", all_of="keepers", out=folder, stdout=out, stderr=err, **PERIOD | options)
    return left.value.code, out.getvalue(), err.getvalue()


def files_in(folder) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


@committed
def test_every_clinic_gets_its_signed_file_and_the_record_is_told_by_whom(served, key, tmp_path):
    folder = tmp_path / "out"
    status, said, err = binders(folder, processes=2, by="technician", page="a4")
    assert (status, err) == (0, "") or status == 1
    assert files_in(folder) == [f"{slug}-2026-01-01-to-2026-03-16.pdf" for slug in ("first", "other", "third")]
    assert re.findall(r"^(\d) of 3  \w+: \d+ pages", said, re.MULTILINE) == ["1", "2", "3"]
    assert "Keepers: 3 of 3 binders in" in said and "not issued" not in said
    issues = {i.clinic.slug: i for i in m.BinderIssue.objects.select_related("clinic", "entry")}
    assert sorted(issues) == ["first", "other", "third"]
    for slug, issue in issues.items():
        content = (folder / f"{slug}-2026-01-01-to-2026-03-16.pdf").read_bytes()
        assert hashlib.sha256(content).hexdigest() == issue.file_sha256
        assert issue.file_sha256 in said and f"entry {issue.entry.number}," in said
        assert (str(issue.issued_by), issue.entry.logged_for_id) == ("Pat Technician", served.company.pk)
        assert (issue.happened_at.date(), issue.as_of, issue.page) == (made.TODAY, made.TODAY, "a4")
        assert tamper_check.verify(issue.clinic).whole


@committed
def test_without_an_account_the_files_are_signed_but_not_issued_and_it_says_so(served, key, tmp_path):
    folder = tmp_path / "out"
    _, said, _ = binders(folder, processes=1)
    assert len(files_in(folder)) == 3 and all(b"/ByteRange" in p.read_bytes() for p in folder.iterdir())
    assert "signed but not issued" in said and "--by ACCOUNT" in said
    assert not m.BinderIssue.objects.exists()


@committed
def test_a_unit_that_forbids_use_is_told_and_is_exit_status_1(served, key, tmp_path):
    made.spore_test(served, made.BEGIN.replace(year=2026, month=2), test="growth")
    status, said, _ = binders(tmp_path / "out", processes=1)
    assert status == 1 and re.search(r"first: .*forbids use: [1-9]", said)


@committed
def test_a_clinic_that_fails_is_named_and_the_others_are_made(served, key, tmp_path):
    folder = tmp_path / "out"
    (folder / "other-2026-01-01-to-2026-03-16.pdf").mkdir(parents=True)  # no file can take its place
    status, said, err = binders(folder, processes=2, by="dispatcher")
    assert status == 3
    assert "other: not made" in said and "Keepers: 2 of 3 binders" in said
    assert err.startswith("Not made: other.") and "cannot be written" in err
    assert sum(p.is_file() for p in folder.iterdir()) == 2


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"all_of": "nobody"}, "There is no service company “nobody”. Known: keepers, strangers."),
        ({"all_of": "strangers"}, "Strangers serves no clinic today"),
        ({"by": "ghost"}, "there is no account “ghost”"),
        ({"by": "other-dispatcher"}, "may not record for Keepers today"),
        ({"processes": 0}, "choose a number from 1 to 64"),
        ({"from_on": "2026-03-17"}, "--from 2026-03-17 is after --to 2026-03-16"),
        ({"from_on": "soon"}, "--from “soon” is not a day"),
        ({"unsigned": True}, "--unsigned is for one clinic"),
        ({"json": True}, "--json is for one clinic"),
        ({"as_of": "2099-01-01"}, "has not come yet"),
    ],
)
def test_bad_input_is_refused_and_nothing_is_written(served, key, tmp_path, options, told):
    folder, out, err = tmp_path / "out", StringIO(), StringIO()
    with pytest.raises(SystemExit) as left:
        call_command(
            "binder", **{"all_of": "keepers", "out": folder, "stdout": out, "stderr": err} | PERIOD | options
        )
    assert left.value.code == 2 and told in err.getvalue()
    assert not folder.exists()


def test_a_clinic_and_all_of_them_are_two_orders(served, key, tmp_path):
    err = StringIO()
    with pytest.raises(SystemExit) as left:
        call_command("binder", "first", all_of="keepers", out=tmp_path / "out", stderr=err, **PERIOD)
    assert left.value.code == 2 and "Name a clinic or --all, not both" in err.getvalue()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({}, "Name a clinic by its short name"),
        ({"by": "dispatcher"}, "--by goes with --all"),
        ({"processes": 2}, "--processes goes with --all"),
    ],
)
def test_what_belongs_to_all_clinics_is_refused_without_it(tmp_path, options, told):
    err = StringIO()
    with pytest.raises(SystemExit) as left:
        call_command("binder", out=tmp_path / "one.pdf", stderr=err, **PERIOD | options)
    assert left.value.code == 2 and told in err.getvalue()


def test_a_folder_that_is_a_file_is_refused(served, key, tmp_path):
    (tmp_path / "out").write_text("a file")
    status, _, err = binders(tmp_path / "out")
    assert status == 2 and "cannot be a folder" in err


def test_without_a_key_nothing_is_made_and_the_way_out_is_told(served, tmp_path):
    status, _, err = binders(tmp_path / "out")
    assert status == 2 and "make_seal_key" in err
    assert not (tmp_path / "out").exists()


# -------------------------------------------------------------------------------------- processes that are killed


@committed
def test_a_killed_worker_is_followed_by_another_and_no_binder_is_lost(served, key, tmp_path, dying):
    dying(2)  # the first process, at its second telling
    status, _, err = binders(tmp_path / "out", processes=2, by="dispatcher")
    assert status in (0, 1) and err == ""
    assert len(files_in(tmp_path / "out")) == m.BinderIssue.objects.count() == 3
    assert sorted(BinderJob.objects.values_list("state", "attempts")) == [("done", 1), ("done", 1), ("done", 2)]


@committed
def test_one_that_kills_its_process_each_time_is_given_up_and_the_others_are_made(served, key, tmp_path, dying):
    dying("other", times=9)
    status, said, err = binders(tmp_path / "out", processes=1)
    assert status == 3 and "other: not made" in said and "Keepers: 2 of 3 binders" in said
    assert err.startswith("Not made: other. It was begun 3 times, and each time the process")
    assert files_in(tmp_path / "out") == [f"{slug}-2026-01-01-to-2026-03-16.pdf" for slug in ("first", "third")]


@committed
def test_workers_that_end_before_they_begin_are_not_started_for_ever(served, key, tmp_path, monkeypatch):
    monkeypatch.setattr(workers, "command", lambda: [sys.executable, "-c", "raise SystemExit(1)"])
    status, said, err = binders(tmp_path / "out", processes=1)
    assert status == 3 and "Keepers: 0 of 3 binders" in said
    assert "3 processes ended with a fault of the program" in err and "make_binders --once" in err
    assert files_in(tmp_path / "out") == []


@committed
def test_a_binder_that_nobody_issues_is_on_no_page(served, key, tmp_path, client):
    binders(tmp_path / "out", processes=1)
    client.force_login(served.people["coordinator"])
    jobs = BinderJob.objects.all()
    assert [(j.state, j.asked_by, j.company, j.issue_ref) for j in jobs] == [("done", None, None, None)] * 3
    assert client.get("/clinic/first/binders/").status_code == 200
    ref = jobs.get(clinic=served.clinic).ref
    assert client.get(f"/clinic/first/binders/{ref}/").status_code == 404


@committed
def test_a_worker_that_died_after_issuing_is_followed_by_one_that_writes_the_file_that_is_kept(
    served, key, tmp_path, monkeypatch
):
    wish = Wish(made.BEGIN.replace(year=2026), made.TODAY)
    batch = all_clinics.ask(served.company, [served.clinic], wish, tmp_path, served.people["dispatcher"])
    first = queue.take_next("another-machine 17")
    with monkeypatch.context() as dead:
        dead.setattr(run, "write_whole", lambda *args: 1 / 0)
        dead.setattr(queue, "fail", lambda *args: False)
        run.run_job(first, "another-machine 17")
    issue, file = m.BinderIssue.objects.get(), Path(first.file)
    assert not file.exists()
    later = clock.real() + timedelta(seconds=61)
    monkeypatch.setattr(clock, "real", lambda: later)
    run.run_job(queue.take_next("machine 1"), "machine 1")
    assert hashlib.sha256(file.read_bytes()).hexdigest() == issue.file_sha256
    job = BinderJob.objects.get(batch=batch)
    assert (job.state, job.issue_ref, job.made["pages"]) == ("done", issue.ref, issue.pages)
