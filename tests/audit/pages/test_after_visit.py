"""After the visit: the report goes by mail once to each of the clinic's people, and a return visit is offered.

| who | what becomes of their mail |
| --- | --- |
| of the clinic, with an address | sent, once |
| of the clinic, without | named: no address is on file; sent once there is one and somebody asks |
| of the clinic, the mail server is down | failed, with its words; tried again, then sent once |
| left the clinic since | ended |
| of the company, of another clinic | none |
"""

from __future__ import annotations

from datetime import timedelta
from smtplib import SMTPRecipientsRefused

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.core.management import call_command
from django.urls import reverse

from audit.issue import report_mail
from audit.models import PlannedStop, ReportMail
from audit.pages import round_read
from records import clock, log
from records.models import Job, Membership, Visit
from tests import world as made
from tests.audit.pages.tools import signed_in, text_of

pytestmark = pytest.mark.django_db
PEOPLE = {"Ana Coordinator", "Pat Operator", "Pat Viewer"}


@pytest.fixture(autouse=True)
def _nothing_kept(monkeypatch):
    round_read.kept.clear()
    monkeypatch.setattr(report_mail, "in_the_background", report_mail._apart)
    monkeypatch.setattr(report_mail, "close_old_connections", lambda: None)


@pytest.fixture
def addressed(world):
    for role in ("coordinator", "operator", "technician", "other-coordinator"):
        _address(world, role)
    return world


def _address(world, role: str) -> None:
    world.people[role].email = f"{role}@clinic.example"
    world.people[role].save()


def visited(world, end="not released", by="technician", **more) -> Visit:
    conclusion = {"conclusion": end, "reason": "the pump is on order"} | more.pop("conclusion", {})
    job = {"unit": world.unit, "reason": "breakdown", "complaint": "it hisses", "contamination": "declared clean"}
    return log.log_visit(
        by=world.people[by], request_key=made.key(), clinic=world.clinic, on=made.TODAY,
        jobs=[job | {"conclusion": conclusion} | more],
    )  # fmt: skip


def states() -> dict[str, str]:
    return {m.account.full_name: m.state for m in ReportMail.objects.select_related("account")}


def page_of(world, visit) -> str:
    return reverse("visit", args=[world.clinic.slug, visit.origin])


# ------------------------------------------------------------------------------------------------ mail


def test_each_of_the_clinics_people_is_sent_it_once_with_a_link(addressed, settings):
    settings.SITE_ADDRESS = "https://units.example/"
    visit = visited(addressed)
    for _ in range(2):
        report_mail.after_entry(visit.entry)
    assert {tuple(m.to) for m in mail.outbox} == {("coordinator@clinic.example",), ("operator@clinic.example",)}
    assert len(mail.outbox) == 2 and states() == {
        "Ana Coordinator": "sent", "Pat Operator": "sent", "Pat Viewer": "no address",
    }  # fmt: skip
    sent = mail.outbox[0]
    assert sent.subject == "Visit of 16 Mar 2026: First Clinic, 1 left out of use"
    for words in ("For Ana Coordinator.", "Keepers (Pat Technician)", "Unit 1: not released, the pump is on order",
                  f"https://units.example/clinic/first/visits/{visit.origin}/"):  # fmt: skip
        assert words in sent.body, words
    assert "@" not in sent.body and sent.extra_headers == {"Auto-Submitted": "auto-generated"}


def test_the_link_opens_only_for_who_may_see_it(client, addressed):
    visit = visited(addressed)
    assert client.get(page_of(addressed, visit)).status_code == 302, "it asks to sign in"
    for role, status in (("viewer", 200), ("technician", 200), ("other-coordinator", 404), ("nobody", 404)):
        assert signed_in(client, addressed, role).get(page_of(addressed, visit)).status_code == status, role


def test_a_recorded_visit_sends_it_by_itself(addressed, monkeypatch, django_capture_on_commit_callbacks):
    monkeypatch.setattr(clock, "is_fixed", lambda: False)
    with django_capture_on_commit_callbacks(execute=True):
        visited(addressed)
    assert len(mail.outbox) == 2
    mail.outbox.clear()
    with django_capture_on_commit_callbacks(execute=True):
        visited(addressed, by="coordinator")
        made.spore_test(addressed, made.TODAY, test="")
    assert mail.outbox == [], "the clinic's own entry, and what is no visit"


def test_history_and_a_demo_send_nothing(addressed, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        visited(addressed)
    assert mail.outbox == [] and not ReportMail.objects.exists()


class Down(EmailBackend):
    """A mail server that takes nothing."""

    def send_messages(self, messages):
        raise SMTPRecipientsRefused({m.to[0]: (550, b"no such mailbox") for m in messages})


def test_a_mail_server_that_is_down_is_said_and_tried_again(client, addressed, settings, capsys):
    backend = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = f"{__name__}.Down"
    visit = visited(addressed)
    report_mail.after_entry(visit.entry)
    assert states()["Ana Coordinator"] == "failed"
    seen = text_of(signed_in(client, addressed, "technician").get(page_of(addressed, visit)))
    assert "Ana Coordinator: not sent" in seen and "no such mailbox" in seen
    assert "Pat Viewer: not sent : no mail address is on file" in seen
    with pytest.raises(SystemExit) as end:
        call_command("mail_reports")
    assert end.value.code == 1 and "0 mails sent, 2 failed" in capsys.readouterr().out
    settings.EMAIL_BACKEND = backend
    for _ in range(2):
        call_command("mail_reports")
    assert len(mail.outbox) == 2 and states()["Ana Coordinator"] == "sent"


def test_what_is_older_than_a_week_is_sent_only_when_somebody_asks(client, addressed, settings):
    visit = visited(addressed)
    report_mail.queue(visit)
    with clock.at(made.NOW + report_mail.TRIED_FOR + timedelta(minutes=1)):
        call_command("mail_reports")
        assert mail.outbox == []
        client = signed_in(client, addressed, "technician")
        assert client.post(reverse("visit-mail", args=["first", visit.origin])).status_code == 302
    assert len(mail.outbox) == 2


def test_of_two_processes_one_sends(addressed):
    visit = visited(addressed)
    first, *_ = report_mail.queue(visit)
    other = ReportMail.objects.get(pk=first.pk)
    assert [report_mail._one(each) for each in (first, other)] == ["sent", "sending"]
    assert len(mail.outbox) == 1


def test_what_was_cut_off_is_said_and_sent_anew_only_when_asked(client, addressed):
    visit = visited(addressed)
    report_mail.queue(visit)
    ReportMail.objects.filter(state="waiting").update(state="sending", tried_at=made.NOW)
    with clock.at(made.NOW + timedelta(minutes=11)):
        call_command("mail_reports")
        assert mail.outbox == []
        client = signed_in(client, addressed, "technician")
        assert "nobody knows whether it arrived" in text_of(client.get(page_of(addressed, visit)))
        client.post(reverse("visit-mail", args=["first", visit.origin]))
    assert len(mail.outbox) == 2


def test_who_left_or_has_no_address_gets_none_until_there_is_one(client, addressed):
    visit = visited(addressed)
    report_mail.queue(visit)
    membership = Membership.objects.get(person=addressed.people["operator"].person)
    log.end_membership(
        by=addressed.people["coordinator"], request_key=made.key(), membership=membership,
        effective_on=made.TODAY, reason="left",
    )  # fmt: skip
    _address(addressed, "viewer")
    again = reverse("visit-mail", args=["first", visit.origin])
    client = signed_in(client, addressed, "technician")
    for _ in range(2):
        assert client.post(again).status_code == 302
    assert states() == {"Ana Coordinator": "sent", "Pat Operator": "ended", "Pat Viewer": "sent"}
    assert len(mail.outbox) == 2


def test_nothing_is_sent_of_a_visit_entered_in_error(addressed):
    visit = visited(addressed)
    report_mail.queue(visit)
    log.void(by=addressed.people["technician"], request_key=made.key(), row=visit, reason="another clinic")
    call_command("mail_reports")
    assert mail.outbox == [] and set(states().values()) == {"ended"}


@pytest.mark.parametrize(
    ("role", "status"),
    [("technician", 302), ("dispatcher", 302), ("coordinator", 302), ("stores", 403), ("operator", 403),
     ("viewer", 403), ("other-dispatcher", 404), ("other-coordinator", 404)],
)  # fmt: skip
def test_who_may_ask_that_it_is_sent(client, addressed, role, status):
    visit = visited(addressed)
    address = reverse("visit-mail", args=["first", visit.origin])
    assert signed_in(client, addressed, role).post(address).status_code == status
    assert bool(mail.outbox) is (status == 302)
    assert client.get(address).status_code in (405, status)


# ------------------------------------------------------------------------------------------------ return visit


def test_a_return_visit_is_offered_filled_in_and_planned_by_one_tap(client, addressed):
    visit = visited(addressed)
    client = signed_in(client, addressed, "technician")
    answer = client.get(page_of(addressed, visit))
    seen = text_of(answer)
    assert "Return visit: left out of use on" in seen and "Plan it for Pat Technician" in seen
    sent = {
        "clinic": "first", "item": f"{addressed.unit.origin}|return:{_job_of(visit)}",
        "given_to": addressed.people["technician"].ref, "on": "2026-03-17",
    }  # fmt: skip
    for name, value in sent.items():
        assert f'name="{name}"' in answer.content.decode() and f'value="{value}"' in answer.content.decode(), name
    for _ in range(2):  # a second tap plans the same stop
        assert client.post(reverse("work", args=[addressed.company.slug]), sent).status_code == 302
    stop = PlannedStop.objects.get()
    assert (stop.given_to, stop.on.isoformat()) == (addressed.people["technician"], "2026-03-17")
    after = text_of(client.get(page_of(addressed, visit)))
    assert "Plan it for" not in after and "not agreed with the clinic yet" in after


def _job_of(visit) -> str:
    return str(Job.objects.get(visit=visit).origin)


@pytest.mark.parametrize(
    ("end", "conclusion", "on"),
    [
        ("released", {}, None),
        ("not released", {}, "2026-03-17"),
        ("not worked on", {}, "2026-03-17"),
        ("pending", {"acceptor": "Ana", "deadline": made.TODAY + timedelta(days=4)}, "2026-03-20"),
        ("pending", {"acceptor": "Ana", "deadline": made.TODAY}, "2026-03-17"),
    ],
)
def test_which_ending_offers_which_day(client, addressed, end, conclusion, on):
    visit = visited(addressed, end, conclusion=conclusion)
    answer = signed_in(client, addressed, "dispatcher").get(page_of(addressed, visit)).content.decode()
    assert ("Return visit" in answer) is (on is not None)
    assert on is None or f'id="return-on" name="on"\n    value="{on}"' in answer


def test_on_a_friday_the_next_weekday_is_monday(client, addressed):
    with clock.at(made.NOW + timedelta(days=4)):
        visit = visited(addressed)
        answer = signed_in(client, addressed, "dispatcher").get(page_of(addressed, visit)).content.decode()
    assert 'value="2026-03-23"' in answer


@pytest.mark.parametrize("role", ["coordinator", "operator", "viewer", "stores"])
def test_only_who_plans_the_companys_work_is_offered_it(client, addressed, role):
    visit = visited(addressed)
    seen = text_of(signed_in(client, addressed, role).get(page_of(addressed, visit)))
    assert "Visit on 16 Mar 2026" in seen and "Plan it for" not in seen
