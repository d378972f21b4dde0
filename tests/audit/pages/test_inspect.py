"""What an inspector's link opens, for whom, how long; and that every opening is entered in the record."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from importlib import import_module

import pytest
from django.test import Client
from django.urls import reverse

from audit.issue.contents_told import NoContents, contents_in, told
from records import clock, log
from records.files import blobs
from records.models import Entry, InspectorLinkOpening
from tests import world as made
from tests.audit.pages.issued import issue_of, link_to
from tests.audit.pages.tools import text_of

pytestmark = pytest.mark.django_db
PHONE = "Invented telephone browser/1.0"


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    return tmp_path


@pytest.fixture
def tested(world):
    made.weekly_tests(world, 4)
    return world


@pytest.fixture
def issue(tested):
    return issue_of(tested)


@pytest.fixture
def opened(tested, issue):
    """The link, its token, and a browser nobody is signed in with."""
    link, token = link_to(tested, issue)
    return link, token, Client(headers={"user-agent": PHONE})


def address(token: str, name: str = "inspect") -> str:
    return reverse(name, args=[token])


# -------------------------------------------------------------------------------------------- what it shows


def test_the_page_says_what_the_file_of_the_issue_says(opened, issue):
    """Read apart out of the kept file: each standing and each answer of it stands on the page, and no other."""
    link, token, client = opened
    page = client.get(address(token))
    states = told(contents_in(blobs.read(issue.clinic, issue.file_sha256)))
    text = text_of(page)
    assert page.status_code == 200
    assert states.clinic == "First Clinic" and len(states.units) == 1 and len(states.answers) > 10
    for unit in states.units:
        assert unit.title in text and unit.word in text
    for answer in states.answers:
        assert f"{answer.number}. {answer.question}" in _plain(text), answer.question
    assert len(re.findall(r'<li id="answer-\d+"', page.content.decode())) == len(states.answers)
    assert "A. Inspector, Invented County" in text and "outrank" in text


def _plain(text: str) -> str:
    return text.replace("&#x27;", "'").replace("&quot;", '"').replace("&amp;", "&")


def test_a_gap_is_shown_as_a_gap_with_who_accepted_it(opened):
    _, token, client = opened
    page = client.get(address(token))
    states = told(contents_in(blobs.read(opened[0].clinic, opened[0].issue.file_sha256)))
    gaps = [a for a in states.answers if a.missing]
    assert gaps, "this clinic has no papers on file, so something is missing"
    text = text_of(page)
    assert text.count("Missing: ") == len(gaps)
    assert all(f'href="#answer-{a.number}"' in page.content.decode() for a in gaps if a.answer.lower() != "yes")


def test_what_is_logged_after_the_issue_does_not_change_the_page(opened, tested):
    _, token, client = opened
    before = client.get(address(token)).content
    made.spore_test(tested, made.TODAY - timedelta(days=1), test="growth")
    assert client.get(address(token)).content == before


def test_the_binder_offered_is_the_very_file_that_was_kept(opened, issue):
    _, token, client = opened
    answer = client.get(address(token, "inspect-binder"))
    assert answer["Content-Type"] == "application/pdf" and "attachment" in answer["Content-Disposition"]
    assert answer.content == blobs.read(issue.clinic, issue.file_sha256)
    assert reverse("check-binder") in client.get(address(token)).content.decode()


def test_a_lost_file_is_said_and_the_page_still_names_the_issue(opened, issue, folders):
    _, token, client = opened
    (folders / str(issue.clinic.ref) / issue.file_sha256).unlink()
    page = client.get(address(token))
    assert page.status_code == 410 and "not in its place" in text_of(page)
    assert client.get(address(token, "inspect-binder")).status_code == 410


def test_a_file_without_data_is_still_offered(tested):
    """Such as one that an older program issued."""
    import pikepdf

    out = io.BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.save(out)
    _, token = link_to(tested, issue_of(tested, out.getvalue()))
    page = Client().get(address(token))
    assert page.status_code == 410 and "cannot be read out" in text_of(page)
    assert Client().get(address(token, "inspect-binder")).content == out.getvalue()


@pytest.mark.parametrize(
    "contents", [{}, {"sections": []}, {"sections": [{"id": "cover"}], "known_at": None}, {"a": 1}]
)
def test_data_of_another_form_is_refused_not_guessed_at(contents):
    with pytest.raises(NoContents):
        told(contents)


# -------------------------------------------------------------------------------------------- who gets in, how long


@pytest.mark.parametrize("name", ["inspect", "inspect-binder"])
def test_no_other_site_and_no_search_engine_learns_of_it(opened, name):
    _, token, client = opened
    for where in (address(token, name), address("x" * 43, name)):
        answer = client.get(where)
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "noindex" in answer["X-Robots-Tag"]
        assert "no-store" in answer["Cache-Control"]


@pytest.mark.parametrize("name", ["inspect", "inspect-binder"])
def test_unknown_expired_and_ended_links_open_one_and_the_same_page(tested, issue, name):
    expired, old = link_to(tested, issue, until=made.TODAY)
    ended, over = link_to(tested, issue)
    log.end_inspector_link(by=tested.people["coordinator"], request_key=made.key(), link=ended, reason="over")
    client = Client()
    before = InspectorLinkOpening.objects.count()
    with clock.at(made.NOW + timedelta(days=1)):
        answers = [client.get(address(token, name)) for token in ("a" * 43, "short", "ä" * 43, old, over)]
    assert [a.status_code for a in answers] == [404, 404, 404, 410, 410]
    assert len({a.content for a in answers}) == 1, "the page tells nothing about why"
    assert "Ask the clinic" in text_of(answers[0]) and tested.clinic.name not in text_of(answers[0])
    assert InspectorLinkOpening.objects.count() == before


def test_a_link_that_is_ended_while_it_is_opened_is_closed_and_no_fault(opened, tested, monkeypatch):
    link, token, client = opened
    monkeypatch.setattr(import_module("audit.pages.inspect"), "why_closed", lambda *_: "")  # a moment before its end
    log.end_inspector_link(by=tested.people["coordinator"], request_key=made.key(), link=link, reason="over")
    answer = client.get(address(token))
    assert answer.status_code == 410 and "Ask the clinic" in text_of(answer)
    assert InspectorLinkOpening.objects.count() == 0


def test_it_opens_through_its_last_day_at_the_clinic(tested, issue):
    """The clinic is in Chicago, five hours behind UTC in March (its daylight time begins on the 8th)."""
    _, token = link_to(tested, issue, until=made.TODAY)
    late = made.NOW.replace(hour=23) + timedelta(hours=5)  # 04:00 UTC on the next day is 23:00 at the clinic
    with clock.at(late):
        assert Client().get(address(token)).status_code == 200
    with clock.at(late + timedelta(hours=1, minutes=1)):
        assert Client().get(address(token)).status_code == 410


def test_a_link_opens_one_binder_and_nothing_else(opened, tested):
    _, token, client = opened
    page = client.get(address(token)).content.decode()
    own = {address(token, "inspect-binder"), reverse("check-binder"), address(token)}
    inside = {link for link in re.findall(r'(?:href|src|action)="(/[^"]*)"', page) if not link.startswith("/static/")}
    assert inside <= own, "a reader without an account is led nowhere else"
    assert client.get(reverse("clinic", args=[tested.clinic.slug])).status_code == 302
    assert client.post(address(token)).status_code == 405


def test_the_token_is_kept_nowhere(opened):
    link, token, client = opened
    client.get(address(token))
    for entry in Entry.objects.all():
        assert token not in str(vars(entry))
    assert token not in str(vars(link)) and len(link.digest) == 64


# -------------------------------------------------------------------------------------------- what is entered


def openings(link):
    return [(o.what, o.agent) for o in InspectorLinkOpening.objects.filter(link=link).order_by("id")]


def counted(link):
    return {(c.what, c.times) for c in link.counts.all()}


def test_each_days_first_opening_is_entered_and_further_ones_are_counted(opened):
    link, token, client = opened
    client.get(address(token))
    client.get(address(token, "inspect-binder"))
    client.get(address(token), headers={"user-agent": "Another/2"})
    assert openings(link) == [("answers", PHONE), ("binder", PHONE)] and counted(link) == {("answers", 2)}
    entry = InspectorLinkOpening.objects.latest("id").entry
    assert "through the inspector's link" in entry.what and entry.account != link.entry.account
    assert str(entry.logged_by) == f"inspector's link, for {link.for_whom}"


def test_loading_the_page_again_within_ten_minutes_counts_once(opened):
    """Ten minutes of the clock: 14:00 to 14:09 count once, 14:10 counts again."""
    link, token, client = opened
    for minutes in (0, 3, 9):
        with clock.at(made.NOW + timedelta(minutes=minutes)):
            client.get(address(token))
    assert openings(link) == [("answers", PHONE)]
    with clock.at(made.NOW + timedelta(minutes=10)):
        client.get(address(token))
    assert openings(link) == [("answers", PHONE)] and counted(link) == {("answers", 2)}


def test_asking_for_the_head_of_a_page_opens_nothing(opened):
    link, token, client = opened
    assert client.head(address(token)).status_code == 200
    assert openings(link) == []


def test_a_browser_may_call_itself_anything(opened):
    link, token, client = opened
    client.get(address(token), headers={"user-agent": "\u202ebad\x07" + "x" * 500})
    ((what, agent),) = openings(link)
    assert what == "answers" and len(agent) == 200 and agent.isprintable()
