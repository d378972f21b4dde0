"""From an empty database to the first logged visit and a signed binder, by the commands and pages that people use."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from audit.management.commands import begin
from records import access, clock
from records.ledger import tamper_check
from records.models import Account, BioTest, Clinic, IndicatorLot, Organisation, Unit, Visit
from records.wording import MAKE_SAFE_STEPS
from tests import world as build
from tests.records.page_form import form_of
from tests.records.test_people import made_link
from tests.records.typed import text_of

pytestmark = pytest.mark.django_db
PHRASE = "correct kettle bellows"
FIRST = build.TODAY - timedelta(days=14)
DAY = build.TODAY - timedelta(days=3)
QUAY = {
    "name": "Quay Dental", "slug": "quay", "programme": "dental", "address": "9 Invented Road",
    "time_zone": "America/Chicago", "week_start": "0", "regime": "us-dental-cdc-2003",
    "effective_on": FIRST.isoformat(), "scope": "maintenance",
}  # fmt: skip
UNIT = {
    "label": "Unit 1", "maker": "Invented Works", "model": "Kettle", "serial": "S-1", "room": "Steri",
    "equipment_type": "gravity", "chamber_litres": "18", "on": FIRST.isoformat(), "installed": "on",
    "positions-0-code": "seal", "positions-0-name": "Door seal", "positions-0-component": "seal",
    "positions-0-fit": "yes", "plan-1-code": "replace-seal", "plan-1-title": "Replace the seal",
    "plan-1-position": "seal", "plan-1-action": "replace", "plan-1-months": "24",
    "plan-1-source": "Invented manual",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _a_new_place(settings, tmp_path, monkeypatch):
    settings.BLOBS_DIR, settings.SEAL_DIR = tmp_path / "blobs", tmp_path / "seal"
    monkeypatch.setenv(begin.PASS_PHRASE, PHRASE)
    monkeypatch.setattr(begin.sys, "stdin", io.StringIO())
    with clock.at(build.NOW):
        yield


def run(name, *args) -> int:
    with pytest.raises(SystemExit) as end:
        call_command(name, *(str(arg) for arg in args))
    return end.value.code


def signed_in(username) -> Client:
    client = Client()
    answer = client.post(reverse("sign-in"), {"username": username, "password": PHRASE})
    assert answer.status_code == 302, text_of(answer)
    return client


def send(client, address, /, **typed):
    """What a page's form answers when so much of it is typed."""
    page = client.get(address)
    assert page.status_code == 200, (address, page.status_code)
    answer = client.post(address, form_of(page) | typed)
    assert answer.status_code == 302, text_of(answer)
    return answer


def at_quay(name, *args) -> str:
    return reverse(name, args=["quay", *args])


def work_logged(client) -> None:
    """A unit, a box of indicators, a spore test with its reading, and a visit: each on its page."""
    send(client, at_quay("register-unit"), **UNIT)
    unit = Unit.objects.get()
    box = {"kind": "biological", "name": "Invented ampoule", "lot": "B-1", "incubation_hours": "24"}
    send(client, at_quay("add-indicator-lot"), **box, on=FIRST.isoformat(), expiry="2027-06-30")
    lot = str(IndicatorLot.objects.get().ref)
    run_on = {"on": DAY.isoformat(), "unit": str(unit.ref), "lot": lot, "control_lot": lot, "cycle_type": "wrapped"}
    send(client, at_quay("log-bio"), **run_on, mechanical="pass", chemical="pass", cycle_number="7")
    read = {"on": (DAY + timedelta(days=1)).isoformat(), "test": "no growth", "control": "growth"}
    send(client, at_quay("read-bio", BioTest.objects.get().ref), **read, incubated_hours="24")
    job = {"jobs-0-job-reason": "planned", "jobs-0-job-contamination": "declared clean"}
    job |= {"jobs-0-conclusion-conclusion": "released", "report_number": "R-1", "on": DAY.isoformat()}
    job |= {f"jobs-0-safe-{key.replace(' ', '-')}-done": "done" for key, _, _ in MAKE_SAFE_STEPS}
    send(client, at_quay("log-visit") + f"?units={unit.ref}", **job)


def test_from_an_empty_database_to_a_signed_binder(tmp_path, capsys):
    person = ("--username", "mara", "--first-name", "Mara", "--last-name", "Lind")
    assert not Account.objects.exists()
    assert run("begin", *person, "--company", "North Keepers", "--since", FIRST) == 0
    mara = signed_in("mara")
    assert mara.get(reverse("home")).url == reverse("company", args=["north-keepers"])

    assert send(mara, reverse("open-clinic", args=["north-keepers"]), **QUAY).url == at_quay("clinic")
    invitation = mara.post(
        at_quay("clinic-invite"), form_of(mara.get(at_quay("clinic-invite"))) | {"name": "Nell New"}
    )
    taken = {"name": "Nell New", "username": "nell", "phrase": PHRASE, "again": PHRASE}
    assert Client().post(made_link(invitation), taken).url == at_quay("clinic")

    work_logged(mara)
    nell = signed_in("nell")
    page = text_of(nell.get(at_quay("clinic")))
    assert "Unit 1" in page and "keeps this record yet" not in page
    assert access.rights(Account.objects.get(username="nell"), Clinic.objects.get()).may_set_rules
    assert "R-1" in text_of(nell.get(at_quay("visit", Visit.objects.get().ref)))

    assert run("make_seal_key", "--name", "North Keepers") == 0
    file = tmp_path / "quay.pdf"
    days = ("--from", FIRST, "--to", build.TODAY)
    assert run("binder", "quay", *days, "--out", file) in (0, 1)  # 1: a unit may not be used, which is news
    capsys.readouterr()
    assert run("verify_binder", file) == 0
    said = capsys.readouterr().out
    assert "UNALTERED" in said and "the records still contain it" in said
    assert run("verify_ledger") == 0
    assert all(tamper_check.verify(each).whole for each in Organisation.objects.all())


def test_a_studio_of_its_own_gets_as_far_without_a_company(tmp_path):
    person = ("--username", "ines", "--first-name", "Ines", "--last-name", "Ink")
    terms = ("--programme", "body art", "--time-zone", "America/Los_Angeles", "--week-start", "Monday")
    place = ("--clinic", "Quay Studio", "--clinic-slug", "quay", "--regime", "us-ca-body-art", *terms)
    assert run("begin", *person, *place, "--since", FIRST) == 0
    ines = signed_in("ines")
    assert ines.get(reverse("home")).url == at_quay("clinic")
    work_logged(ines)
    assert run("make_seal_key", "--name", "Quay Studio") == 0
    file = tmp_path / "quay.pdf"
    assert run("binder", "quay", "--from", FIRST, "--to", build.TODAY, "--out", file) in (0, 1)
    assert run("verify_binder", file) == 0
