"""The mail of what is due: what it says, to whom it goes, and never twice on a day."""

from __future__ import annotations

from datetime import date, timedelta
from io import StringIO
from smtplib import SMTPException

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.core.management import call_command
from django.urls import reverse

from audit.models import MailDigest
from audit.planning.digest import is_wanted
from records import clock
from tests import world as made

pytestmark = pytest.mark.django_db
TODAY = made.TODAY


@pytest.fixture
def world():
    with clock.at(made.NOW):
        built = made.make(units=2)
        made.weekly_tests(built, 3)
        made.spore_test(built, TODAY - timedelta(days=3), test="growth")
    return built


def wants(world, role: str, every: str, sent_on=None) -> MailDigest:
    person = world.people[role]
    person.email = f"{role}@clinic.example"
    person.save()
    return MailDigest.objects.create(account=person, every=every, sent_on=sent_on)


def run(*args, day: int = 0):
    out, err = StringIO(), StringIO()
    status = 0
    with clock.at(made.NOW + timedelta(days=day)):
        try:
            call_command("mail_digest", *args, stdout=out, stderr=err)
        except SystemExit as end:
            status = end.code
    return status, out.getvalue(), err.getvalue()


def test_it_says_which_units_may_not_be_used_and_what_is_overdue(world, settings):
    settings.SITE_ADDRESS = "https://units.example/"
    wants(world, "coordinator", "day")
    status, out, _ = run()
    assert status == 0 and "1 mails sent" in out
    sent = mail.outbox[0]
    assert sent.to == ["coordinator@clinic.example"] and sent.content_subtype == "plain"
    assert sent.subject.startswith("Sterilizers: 1 unit not to be used, ")
    for words in (
        "For Ana Coordinator.", "First Clinic, 16 Mar 2026", "May not be used:\n- Unit 1: Out of service.",
        "Overdue, or no record found:\n- Unit 2: ", "licensed practice outrank",
        "More: https://units.example/clinic/first/", "https://units.example/mail/",
    ):  # fmt: skip
        assert words in sent.body, sent.body
    assert "Other Clinic" not in sent.body
    assert sent.extra_headers["Auto-Submitted"] == "auto-generated"


@pytest.mark.parametrize(("every", "days", "said"), [("day", 5, False), ("day", 6, True), ("week", 0, True)])
def test_an_answer_that_changes_is_said_before_with_what_it_becomes_and_why(every, days, said):
    """Unit 1's week from 16 March ends without a test: another answer from the 23rd on. Said the day before at the
    latest, in a weekly mail seven days ahead."""
    with clock.at(made.NOW):
        quiet = made.make(units=1)
        made.weekly_tests(quiet, 3)
    wants(quiet, "coordinator", every)
    run(day=days)
    line = (
        "Answers that change with nothing new logged:\n- Unit 1: In service now; from 23 Mar 2026 on, with nothing "
        "new logged: In service, overdue since 23 Mar 2026 (1 day): Spore test"
    )
    assert any(line in sent.body for sent in mail.outbox) is said
    assert any("1 answer about to change" in sent.subject for sent in mail.outbox) is said


def test_never_twice_on_a_day_and_weekly_every_seventh(world):
    wants(world, "coordinator", "day")
    wants(world, "operator", "week")
    for day, expected in ((0, 2), (0, 2), (1, 3), (1, 3), (6, 4), (7, 6), (7, 6)):
        run(day=day)
        assert len(mail.outbox) == expected, day
    assert MailDigest.objects.get(account=world.people["operator"]).sent_on == TODAY + timedelta(days=7)


@pytest.mark.parametrize(
    ("every", "sent", "wanted"),
    [
        ("day", None, True), ("day", 0, False), ("day", 1, True), ("week", 6, False), ("week", 7, True),
        ("week", None, True), ("never", None, False), ("nonsense", None, False), ("day", -1, False),
    ],
)  # fmt: skip
def test_when_it_is_wanted(every, sent, wanted):
    assert is_wanted(every, None if sent is None else TODAY - timedelta(days=sent), TODAY) is wanted


def test_a_dry_run_prints_it_sends_nothing_and_notes_nothing(world):
    held = wants(world, "coordinator", "day")
    status, out, _ = run("--dry-run")
    held.refresh_from_db()
    assert status == 0 and "May not be used:" in out and "1 mails would be sent" in out
    assert mail.outbox == [] and held.sent_on is None


def test_who_belongs_nowhere_or_wants_none_or_was_closed_gets_no_daily_mail(world):
    wants(world, "nobody", "day")
    wants(world, "coordinator", "never")
    wants(world, "operator", "day")
    world.people["operator"].is_active = False
    world.people["operator"].save()
    status, out, _ = run()
    assert mail.outbox == [] and status == 0 and "1 not sent: nothing is due" in out


def test_the_weekly_mail_comes_though_nothing_is_due(world):
    wants(world, "nobody", "week")
    run()
    assert "belongs to no clinic today" in mail.outbox[0].body


def test_without_a_mail_address_it_says_what_to_do(world):
    MailDigest.objects.create(account=world.people["coordinator"], every="day")
    status, _, err = run()
    assert status == 1 and "coordinator: no mail address is on file" in err


class Broken(EmailBackend):
    def send_messages(self, messages):
        raise SMTPException("no route")


def test_a_mail_that_failed_is_tried_again(world, monkeypatch):
    held = wants(world, "coordinator", "day", sent_on=TODAY - timedelta(days=1))
    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend", Broken)
    status, _, err = run()
    held.refresh_from_db()
    assert status == 1 and "no route" in err and held.sent_on == TODAY - timedelta(days=1)
    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend", EmailBackend)
    assert run()[0] == 0 and len(mail.outbox) == 1


def test_what_is_wrong_with_one_mail_costs_nobody_else_theirs(world, monkeypatch):
    from audit.management.commands import mail_digest

    held, _ = wants(world, "coordinator", "day"), wants(world, "technician", "day")
    whole = mail_digest.reached

    def broken(account):
        if account == held.account:
            raise ValueError("a damaged row")
        return whole(account)

    monkeypatch.setattr(mail_digest, "reached", broken)
    status, out, err = run()
    held.refresh_from_db()
    assert status == 1 and "a damaged row" in err and held.account.username in err
    assert held.sent_on is None and [m.to for m in mail.outbox] == [[world.people["technician"].email]]


def test_of_two_runs_at_once_one_sends(world):
    """The second read the row before the first noted its day."""
    from audit.management.commands.mail_digest import _claim

    held = wants(world, "coordinator", "day")
    other = MailDigest.objects.get(pk=held.pk)
    assert _claim(held, TODAY) and not _claim(other, TODAY)


def test_the_page_keeps_the_choice(client, world):
    client.force_login(world.people["viewer"])
    address = reverse("my-mail")
    assert "You get no mail yet" in client.get(address).content.decode()
    bad = client.post(address, {"every": "day", "email": ""})
    assert bad.status_code == 422 and "Where should the mail go?" in bad.content.decode()
    wrong = client.post(address, {"every": "week", "email": "a@b"})
    assert wrong.status_code == 422 and 'value="a@b"' in wrong.content.decode(), "what was typed is kept"
    assert not MailDigest.objects.exists()
    assert client.post(address, {"every": "week", "email": "v@clinic.example"}).status_code == 302
    held = MailDigest.objects.get()
    assert (held.every, held.account.email) == ("week", "v@clinic.example")
    client.post(address, {"every": "never", "email": "v@clinic.example"})
    assert MailDigest.objects.get().every == "never"
    client.logout()
    assert client.get(address).status_code == 302


def test_mail_is_printed_unless_a_server_is_named():
    """The settings as a process without any environment variable has them."""
    import subprocess
    import sys

    code = "from audit.site import settings as s; print(s.EMAIL_BACKEND, s.EMAIL_HOST, s.EMAIL_PORT, s.EMAIL_USE_TLS)"
    plain = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert plain.stdout.split() == ["django.core.mail.backends.console.EmailBackend", "localhost", "25", "False"]


def test_the_day_is_that_of_the_clinic(world):
    """At 03:00 UTC on the 17th it is the 16th in Chicago."""
    wants(world, "coordinator", "day")
    with clock.at(made.NOW.replace(hour=3) + timedelta(days=1)):
        call_command("mail_digest", stdout=StringIO())
    assert MailDigest.objects.get().sent_on == date(2026, 3, 16)


def test_a_spore_test_whose_incubation_is_complete_is_to_be_read(world):
    """Run the day before with a lot of 24 hours by its label: to be read today, not the day it was run."""
    with clock.at(made.NOW):
        made.spore_test(world, TODAY - timedelta(days=1), test="", unit=world.units[1], cycle_number="0417")
    wants(world, "coordinator", "day")
    assert run()[0] == 0
    sent = mail.outbox[0]
    assert "1 spore test to read" in sent.subject
    assert "to read today, test and control together:\n- Unit 2: run 15 Mar 2026, cycle 0417, 24 hours" in sent.body
