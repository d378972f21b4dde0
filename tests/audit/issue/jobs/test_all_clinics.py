"""`binder --all COMPANY`: every clinic's binder, in parallel processes; what fails takes nothing else with it."""

from __future__ import annotations

import hashlib
import os
import re
import signal
from io import StringIO

import pytest
from django.core.management import call_command

from audit.issue.jobs import all_clinics
from audit.issue.jobs.elsewhere import Order, Outcome
from audit.issue.seal import keys
from records import log
from records import models as m
from records.ledger import tamper_check
from tests import world as made

pytestmark = pytest.mark.django_db
# Other processes see only what is committed.
committed = pytest.mark.django_db(transaction=True)
PERIOD = {"from_on": "2026-01-01", "to_on": "2026-03-16"}


@pytest.fixture
def key(folders):
    return keys.make_key("Keepers", made.NOW)


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


def make_or_die(order: Order) -> Outcome:
    """Stands for a binder whose process is killed: always at the clinic “dies”, once at “dies-once”."""
    marker = f"{order.file}.tried"
    if order.slug == "dies" or (order.slug == "dies-once" and not os.path.exists(marker)):
        open(marker, "w").close()
        os.kill(os.getpid(), signal.SIGKILL)
    return Outcome(order.slug, order.file, pages=1)


def test_a_killed_process_takes_no_other_binder_with_it(monkeypatch, tmp_path):
    monkeypatch.setattr(all_clinics, "make_one", make_or_die)
    slugs = ["a", "dies", "b", "dies-once", "c"]
    orders = [Order(s, made.BEGIN, made.TODAY, made.TODAY, None, "letter", str(tmp_path / s)) for s in slugs]
    outcomes = {each.slug: each for each in all_clinics.make_all(orders, 2)}
    assert sorted(outcomes) == sorted(slugs)
    assert [s for s in slugs if outcomes[s].problem] == ["dies"]
    assert "was killed, twice" in outcomes["dies"].problem and "--processes 1" in outcomes["dies"].problem


def test_one_that_was_not_begun_when_another_was_killed_is_tried_twice_too(monkeypatch, tmp_path):
    """In one process “dies” ends the pool before “dies-once” has had its first try."""
    monkeypatch.setattr(all_clinics, "make_one", make_or_die)
    slugs = ["dies", "a", "b", "c", "dies-once"]
    orders = [Order(s, made.BEGIN, made.TODAY, made.TODAY, None, "letter", str(tmp_path / s)) for s in slugs]
    outcomes = {each.slug: each for each in all_clinics.make_all(orders, 1)}
    assert [s for s in slugs if outcomes[s].problem] == ["dies"]
