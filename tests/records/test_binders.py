"""Issued binders and links for an inspector: written, refused, repeated, and never changed."""

from __future__ import annotations

import hashlib
from datetime import date, datetime, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from audit.gather.read import clinic_facts
from records import clock, log
from records import models as m
from records.files import blobs
from records.ledger import tamper_check
from records.log.binders import digest_of, why_closed
from records.views.fact_in_words import filled
from tests import world as build

from .one_of_each import binder_issued

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        yield build.make()


def link(world, issue=None, role="coordinator", **changes):
    fields = {
        "by": world.people[role], "request_key": build.key(), "issue": issue or binder_issued(world),
        "for_whom": "Invented Board", "expires_on": build.TODAY + timedelta(days=14), "token": "a secret",
    }  # fmt: skip
    return log.log_inspector_link(**fields | changes)


def refusal(write, *args, **kwargs) -> dict[str, str]:
    """What the writer refuses, by field; nothing may have been written."""
    before = m.Entry.objects.count()
    with pytest.raises(log.Refused) as refused:
        write(*args, **kwargs)
    assert m.Entry.objects.count() == before
    return {p.field: p.message for p in refused.value.problems}


def test_an_issue_keeps_the_file_and_says_who_when_and_what(world):
    content = b"a signed file"
    known = build.NOW - timedelta(hours=1)
    issue = binder_issued(world, "technician", content=content, known_at=known, company_ledger_number=7)
    issue.refresh_from_db()
    assert issue.file_sha256 == hashlib.sha256(content).hexdigest() and issue.size == len(content)
    assert blobs.read(world.clinic, issue.file_sha256) == content
    assert (str(issue.issued_by), issue.entry.logged_for_id) == ("Pat Technician", world.company.pk)
    assert (issue.happened_at, issue.happened_on) == (build.NOW, build.TODAY)
    assert (issue.known_at, issue.company_ledger_number) == (known, 7)
    assert issue.filename == "binder-first-2026-03-09-to-2026-03-16-as-of-2026-03-16.pdf"
    assert tamper_check.verify(world.clinic).whole


def test_the_day_of_an_issue_is_that_of_the_clinic(world):
    # Three in the morning in UTC is still the evening before in Chicago.
    with clock.at(datetime.fromisoformat("2026-03-18T03:00+00:00")):
        issue = binder_issued(world)
    assert issue.happened_on == date(2026, 3, 17)


def test_the_same_request_with_another_signature_is_the_issue_that_stands(world):
    key = build.key()
    first = binder_issued(world, request_key=key, content=b"signed once")
    again = binder_issued(world, request_key=key, content=b"signed again")
    assert again == first and again.file_sha256 == hashlib.sha256(b"signed once").hexdigest()
    assert m.BinderIssue.objects.count() == 1
    with pytest.raises(log.SubmissionConflict):
        binder_issued(world, request_key=key, to_on=build.TODAY - timedelta(days=1))


@pytest.mark.parametrize(
    ("changes", "field", "told"),
    [
        ({"from_on": date(2026, 3, 16), "to_on": date(2026, 3, 9)}, "to_on", "lies before"),
        ({"as_of": date(2026, 3, 17)}, "as_of", "in the future"),
        ({"as_of": None}, "as_of", "missing"),
        ({"known_at": build.NOW + timedelta(hours=1)}, "as_of", "has not come yet"),
        ({"content": b""}, "content", "empty"),
        ({"ledger_number": 0}, "ledger_number", "read entry 0"),
        ({"ledger_number": 9999}, "ledger_number", "the clinic's last entry is"),
        ({"page": "folio"}, "page", "not a valid choice"),
    ],
)
def test_an_issue_that_cannot_be_is_refused(world, changes, field, told):
    assert told in refusal(binder_issued, world, **changes)[field]


@pytest.mark.parametrize("role", ["viewer", "other-coordinator", "nobody"])
def test_who_may_not_record_issues_no_binder_and_makes_no_link(world, role):
    issue = binder_issued(world)
    for write, about in ((binder_issued, None), (link, issue)):
        with pytest.raises(log.NotYours):
            write(world, role=role) if about is None else write(world, about, role=role)
    assert m.BinderIssue.objects.count() == 1 and not m.InspectorLink.objects.exists()


def test_judgement_reads_nothing_of_binders(world):
    before = clinic_facts(world.clinic)
    made = link(world)
    log.log_link_opening(request_key=build.key(), link=made, what="binder")
    after = clinic_facts(world.clinic)
    assert (after.units, after.documents, after.corrections) == (before.units, before.documents, before.corrections)
    assert after.heads[0].number == before.heads[0].number + 3


def test_a_link_keeps_the_digest_of_its_secret_and_never_the_secret(world):
    made = link(world, token="never stored")
    assert made.digest == hashlib.sha256(b"never stored").hexdigest() == digest_of("never stored")
    stored = [str(getattr(made, f.attname)) for f in made._meta.concrete_fields]
    assert not any("never stored" in value for value in stored)


def test_the_same_request_for_a_link_with_another_secret_is_the_link_that_stands(world):
    key, issue = build.key(), binder_issued(world)
    first = link(world, issue, request_key=key, token="one")
    with clock.at(build.NOW + timedelta(days=30)):
        assert link(world, issue, request_key=key, token="two") == first
    assert m.InspectorLink.objects.get().digest == digest_of("one")


@pytest.mark.parametrize(
    ("changes", "field", "told"),
    [
        ({"for_whom": " "}, "for_whom", "Who is it for?"),
        ({"expires_on": None}, "expires_on", "Until which day"),
        ({"expires_on": date(2026, 3, 15)}, "expires_on", "is past"),
        ({"expires_on": date(2026, 6, 15)}, "expires_on", "Choose 2026-06-14 or earlier"),
    ],
)
def test_a_link_that_cannot_be_is_refused(world, changes, field, told):
    assert told in refusal(link, world, binder_issued(world), **changes)[field]


@pytest.mark.parametrize("day", [date(2026, 3, 16), date(2026, 6, 14)])
def test_a_link_may_open_today_only_and_for_ninety_days(world, day):
    assert link(world, expires_on=day).expires_on == day


def test_a_link_opens_up_to_its_last_day_and_until_it_is_ended(world):
    made = link(world, expires_on=date(2026, 3, 20))
    assert why_closed(made, date(2026, 3, 20)) == ""
    assert "expired on 2026-03-20" in why_closed(made, date(2026, 3, 21))
    who = {"by": world.people["coordinator"], "link": made}
    log.end_inspector_link(**who, request_key=build.key(), reason="the inspection is over")
    assert "was ended" in why_closed(made, date(2026, 3, 16))
    told = refusal(log.end_inspector_link, **who, request_key=build.key(), reason="once more")
    assert "ended already" in told[""]


def test_a_link_is_ended_with_a_reason_by_who_may_record(world):
    made = link(world)
    who = {"request_key": build.key(), "link": made}
    assert "reason" in refusal(log.end_inspector_link, by=world.people["coordinator"], reason=" ", **who)
    with pytest.raises(log.NotYours):
        log.end_inspector_link(by=world.people["viewer"], reason="none of my business", **who)
    assert why_closed(made, build.TODAY) == ""


def test_an_opening_is_entered_as_the_links_and_not_under_who_made_it(world):
    made = link(world, role="technician")
    row = log.log_link_opening(request_key=build.key(), link=made, what="answers", agent="Invented Browser 1.0")
    assert (row.what, row.agent, row.happened_at) == ("answers", "Invented Browser 1.0", build.NOW)
    assert row.entry.what == "opened through the inspector's link"
    assert str(row.entry.logged_by) == "inspector's link, for Invented Board" and row.entry.logged_for is None
    account = row.entry.account
    assert account not in world.people.values() and not account.is_active and not account.has_usable_password()
    assert not world.people["technician"].person.texts.filter(pk=row.entry.logged_by_id).exists()
    assert tamper_check.verify(world.clinic).whole


def test_a_flood_of_openings_is_counted_by_day(world):
    made, before = link(world), m.Entry.objects.count()
    for n in range(40):
        log.log_link_opening(request_key=build.key(), link=made, what="binder", agent=f"browser {n}")
    log.log_link_opening(request_key=build.key(), link=made, what="answers")
    assert m.Entry.objects.count() == before + 2
    with clock.at(build.NOW + timedelta(days=1)):
        log.log_link_opening(request_key=build.key(), link=made, what="answers")
        assert m.Entry.objects.count() == before + 4
        assert log.enter_openings(made) == []
    said = [(o.what, o.happened_on.day, o.times) for o in m.InspectorLinkOpening.objects.order_by("id")]
    assert said == [("binder", 16, None), ("answers", 16, None), ("binder", 16, 40), ("answers", 17, None)]
    assert not m.InspectorLinkCount.objects.exists() and tamper_check.verify(world.clinic).whole


def test_the_same_opening_sent_again_is_not_counted(world):
    made, key = link(world), build.key()
    rows = {log.log_link_opening(request_key=key, link=made, what="binder").pk for _ in range(3)}
    assert len(rows) == 1 and not m.InspectorLinkCount.objects.exists()


def test_what_a_browser_calls_itself_is_cut_and_bare_of_what_cannot_be_seen(world):
    agent = "\x00Evil\u202e\n" + "x" * 400
    row = log.log_link_opening(request_key=build.key(), link=link(world), what="binder", agent=agent)
    assert row.agent == "Evil" + "x" * 196


def test_an_expired_or_ended_link_is_not_opened(world):
    late, ended = link(world, token="1", expires_on=build.TODAY), link(world, token="2")
    who = {"by": world.people["operator"], "request_key": build.key()}
    log.end_inspector_link(**who, link=ended, reason="sent to the wrong office")
    opening = {"request_key": uuid4(), "what": "binder"}
    assert "was ended" in refusal(log.log_link_opening, link=ended, **opening)[""]
    # Its last day ends with the day at the clinic: at four in the morning in UTC it still is that day in Chicago.
    with clock.at(datetime.fromisoformat("2026-03-17T04:00+00:00")):
        assert log.log_link_opening(link=late, **opening).happened_on == build.TODAY
    with clock.at(datetime.fromisoformat("2026-03-17T05:00+00:00")):
        assert "expired" in refusal(log.log_link_opening, link=late, request_key=uuid4(), what="binder")[""]


def test_what_the_program_wrote_is_neither_corrected_nor_entered_in_error(world):
    made = link(world)
    opening = log.log_link_opening(request_key=build.key(), link=made, what="answers")
    who = {"by": world.people["coordinator"]}
    end = log.end_inspector_link(**who, request_key=build.key(), link=made, reason="over")
    for row in (made.issue, made, opening, end):
        assert not log.changes.may_change(who["by"], row)
        told = refusal(log.void, **who, request_key=build.key(), row=row, reason="wrong")
        assert "was written by the program" in told[""]
        told = refusal(log.correct, **who, request_key=build.key(), row=row, changes={}, reason="wrong")
        assert "was written by the program" in told[""]


def test_an_issue_reads_in_plain_words(world):
    words = dict(filled(binder_issued(world)))
    assert words["First day"] == "9 Mar 2026" and words["Answers as of"] == "16 Mar 2026"
    assert words["Issued by"] == "Ana Coordinator" and words["Size of paper"] == "letter"


def test_its_page_of_the_record_offers_the_file_and_no_correction(world, client):
    issue = binder_issued(world, content=b"%PDF invented")
    client.force_login(world.people["coordinator"])

    at = reverse("record", args=["first", "binderissue", issue.ref])
    html = client.get(at).content.decode()
    assert reverse("issued-binder", args=["first", issue.ref]) in html
    assert reverse("correct", args=["first", "binderissue", issue.ref]) not in html
    for name in ("correct", "void"):
        assert client.get(reverse(name, args=["first", "binderissue", issue.ref])).status_code == 404
