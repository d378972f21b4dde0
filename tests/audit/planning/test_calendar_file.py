"""The calendar file, read back with the icalendar library, and who gets it. RFC 5545 where a section is named."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.urls import reverse
from icalendar import Calendar

from audit.judge.judgement import Clock, DueKind, State
from audit.models import CalendarFeed
from audit.planning.calendar_file import MOST, calendar_of, digest_of, new_token, uid_of
from audit.planning.reach import Due, due_of, reached
from audit.regimes.source import Source
from records import clock, log
from records.models import Entry, Ledger, Membership
from tests import world as made

pytestmark = pytest.mark.django_db
LATER = made.TODAY + timedelta(days=7)


@pytest.fixture(autouse=True)
def _now():
    with clock.at(made.NOW):
        yield


@pytest.fixture
def world():
    built = made.make(units=2)
    made.weekly_tests(built, 3)
    return built


def make_address(client, account) -> str:
    client.force_login(account)
    page = client.post(reverse("my-calendar"), {"do": "make"}).content.decode()
    address = re.search(r"http://testserver(/calendar/[\w-]{43}\.ics)<", page)
    assert address, page
    client.logout()
    return address[1]


def events_of(answer):
    return [part for part in Calendar.from_ical(answer.content).walk("VEVENT")]


def changes_of(events):
    return [e for e in events if e["SUMMARY"].startswith("Answer changes: ")]


def test_the_file_is_read_back_whole(client, world):
    answer = client.get(make_address(client, world.people["coordinator"]))
    assert answer.status_code == 200 and answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "private, no-store"
    calendar = Calendar.from_ical(answer.content)
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"] and "METHOD" not in calendar
    assert calendar.errors == []
    events = events_of(answer)
    due = [d for at in reached(world.people["coordinator"]) for d in due_of(at)]
    assert len(events) - len(changes_of(events)) == len(due) > 4
    for event in events:
        assert event.errors == []
        assert isinstance(event.decoded("dtstart"), date) and event["DTSTART"].params["VALUE"] == "DATE"
        # The end of a whole day is not part of it (3.6.1).
        assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(days=1)
        assert event["TRANSP"] == "TRANSPARENT"
        assert event.decoded("dtstamp").utcoffset() == timedelta(0), "3.8.7.2: in UTC"
    seal = [e for e in events if "Replace cassette seal, Unit 1" in e["SUMMARY"]]
    assert len(seal) == 1
    told = str(seal[0]["DESCRIPTION"])
    for words in ("Rule: ", "Source: Invented manual, section 7", "Where: Room 1, First Clinic, 1 Invented Street"):
        assert words in told, told
    assert "licensed practice outrank" in told
    assert seal[0]["URL"].endswith(reverse("unit", args=["first", world.unit.origin]))


def test_an_answer_that_changes_stands_on_its_day_with_what_it_becomes_and_why(client, world):
    """Weekly tests in the three weeks before: with nothing new the week of 16 March ends without one on the 23rd."""
    (at,) = reached(world.people["coordinator"])
    (unit,) = [u for u in at.judgement.units if u.standing.holds_until]
    assert (unit.label, unit.standing.holds_until) == ("Unit 1", date(2026, 3, 23))
    events = events_of(client.get(make_address(client, world.people["coordinator"])))
    (event,) = changes_of(events)
    assert event.decoded("dtstart") == date(2026, 3, 23) and event.errors == []
    then = "In service, overdue since 23 Mar 2026 (1 day): Spore test"
    assert event["SUMMARY"].startswith(f"Answer changes: {then}")
    assert event["SUMMARY"].endswith("(Unit 1, First Clinic)")
    said = f"Answer changes: from 23 Mar 2026 on, with nothing new logged: {then}"
    for told in (event, next(e for e in events if "Replace cassette seal, Unit 1" in e["SUMMARY"])):
        assert "May it be used? On 16 Mar 2026: In service. " in told["DESCRIPTION"]
        assert said in told["DESCRIPTION"] and "until" not in said
    assert event["URL"].endswith(reverse("unit", args=["first", world.unit.origin]))
    assert not [e for e in changes_of(events) if "Unit 2" in e["SUMMARY"]], "its answer does not change by itself"


def test_lines_are_folded_at_75_bytes_and_end_in_crlf(client, world):
    """3.1: no line is longer than 75 octets, each ends in CR LF."""
    body = client.get(make_address(client, world.people["coordinator"])).content
    lines = body.split(b"\r\n")
    assert lines[-1] == b"" and b"\n" not in body.replace(b"\r\n", b"")
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines), "something was long enough to be folded"


def awkward(world, **changes) -> Due:
    at = next(iter(reached(world.people["coordinator"])))
    source = Source("Manual; section 7, “ß”\nnext line")
    title = "Check a, b; c\\d “Ünï” " + "é" * 80
    item = Clock(DueKind.PLAN, "x", title, State.OK, made.TODAY, LATER, None, "r", source)
    return Due(at, at.judgement.units[0], replace(item, **changes))


def test_commas_semicolons_backslashes_and_line_ends_come_back(world):
    item = awkward(world)
    body = calendar_of("A, B; C", [item], lambda _: "https://x.example/?a=1;b=2,3")
    calendar = Calendar.from_ical(body)
    event = calendar.walk("VEVENT")[0]
    assert str(calendar["X-WR-CALNAME"]) == "Due items of A, B; C"
    assert event["SUMMARY"].startswith("Check a, b; c\\d “Ünï” " + "é" * 80)
    assert "Manual; section 7, “ß”\nnext line" in event["DESCRIPTION"]
    assert event["URL"] == "https://x.example/?a=1;b=2,3"
    assert rb"\, b\; c\\d" in body, "3.3.11: escaped in the file"
    assert max(map(len, body.split(b"\r\n"))) <= 75
    assert body.decode(), "no letter is cut in two by a fold that a reader would not join"


@pytest.mark.parametrize(
    ("due", "overdue", "starts", "on"),
    [
        (1, 8, "Check", 1),
        (0, 7, "Check", 0),
        (-3, 4, "Due since 13 Mar 2026: Check", 0),
        (-9, -2, "Overdue since 14 Mar 2026: Check", 0),
        (None, None, "No record found: Check", 0),
    ],
)
def test_what_is_late_stands_on_today_and_names_its_day(world, due, overdue, starts, on):
    days = [None if n is None else made.TODAY + timedelta(days=n) for n in (due, overdue)]
    state = State.NO_EVIDENCE if due is None else State.OK
    item = awkward(world, due_on=days[0], overdue_on=days[1], state=state)
    event = Calendar.from_ical(calendar_of("A", [item], lambda _: "https://x.example/")).walk("VEVENT")[0]
    assert event["SUMMARY"].startswith(starts)
    assert event.decoded("dtstart") == made.TODAY + timedelta(days=on)
    if due == -9:
        assert "Due 7 Mar 2026, 3 days overdue." in event["DESCRIPTION"]


def test_an_item_keeps_its_name_and_says_when_the_record_last_grew(client, world):
    address = make_address(client, world.people["coordinator"])
    before = events_of(client.get(address))
    names = {e["UID"] for e in before}
    assert len(names) == len(before), "each its own"
    head = Ledger.objects.get(organisation=world.clinic)
    assert all(e.decoded("last-modified") == head.logged_at.replace(microsecond=0) for e in before)
    with clock.at(made.NOW + timedelta(hours=1)):
        made.seal_replaced(world, made.TODAY)
        after = events_of(client.get(address))
    head.refresh_from_db()
    assert {e["UID"] for e in after} == names
    assert {e.decoded("last-modified") for e in after} == {head.logged_at.replace(microsecond=0)}
    # What is overdue stands on another day tomorrow though nothing is entered: a reader's old copy must give way.
    with clock.at(made.NOW + timedelta(days=1)):
        late = events_of(client.get(address))
    assert all(e.decoded("last-modified") > head.logged_at for e in late)
    assert all(e.decoded("last-modified") <= made.NOW + timedelta(days=1) for e in late), "never ahead of the clock"
    one = awkward(world)
    assert uid_of(one) == uid_of(replace(one, clock=replace(one.clock, due_on=date(2027, 1, 1))))


def test_the_file_is_bounded_and_says_so(world):
    one = awkward(world)
    many = [replace(one, clock=replace(one.clock, code=str(n))) for n in range(MOST + 5)]
    calendar = Calendar.from_ical(calendar_of("A", many, lambda _: "https://x.example/"))
    assert len(calendar.walk("VEVENT")) == MOST
    assert f"The earliest {MOST} of {MOST + 5} items" in calendar["X-WR-CALDESC"]


def test_only_a_check_sum_of_the_token_is_kept(client, world):
    address = make_address(client, world.people["coordinator"])
    token = address.removeprefix("/calendar/").removesuffix(".ics")
    held = CalendarFeed.objects.get()
    assert held.digest == digest_of(token) and token not in str(vars(held))
    assert len(new_token()) == 43, "32 bytes in base64 without padding"
    client.force_login(world.people["coordinator"])
    assert token not in client.get(reverse("my-calendar")).content.decode(), "shown once"


def test_a_new_address_ends_the_old_and_an_ended_one_is_unknown(client, world):
    old = make_address(client, world.people["coordinator"])
    new = make_address(client, world.people["coordinator"])
    assert client.get(old).status_code == 404 and client.get(new).status_code == 200
    client.force_login(world.people["coordinator"])
    client.post(reverse("my-calendar"), {"do": "end"})
    client.logout()
    ended, unknown = client.get(new), client.get(reverse("calendar-file", args=[new_token()]))
    assert ended.status_code == unknown.status_code == 404
    assert ended.content == unknown.content, "nothing tells that there was one"


def test_a_closed_account_has_no_calendar(client, world):
    person = world.people["operator"]
    address = make_address(client, person)
    person.is_active = False
    person.save()
    assert client.get(address).status_code == 404


def test_rights_are_those_of_the_moment_it_is_fetched(client, world):
    person = world.people["technician"]
    address = make_address(client, person)
    assert events_of(client.get(address))
    log.end_membership(
        by=world.people["dispatcher"], request_key=made.key(), effective_on=made.TODAY, reason="left",
        membership=Membership.objects.get(person=person.person),
    )  # fmt: skip
    answer = client.get(address)
    assert answer.status_code == 200 and events_of(answer) == []


def test_nobody_gets_the_items_of_another_clinic(client, world):
    for role, foreign in (("coordinator", "Other Clinic"), ("other-coordinator", "First Clinic")):
        body = client.get(make_address(client, world.people[role])).content.decode()
        assert foreign not in body.replace("\r\n ", "")


def test_asking_changes_no_record_and_takes_no_post(client, world):
    address, entries = make_address(client, world.people["coordinator"]), Entry.objects.count()
    assert client.get(address).status_code == 200 and client.post(address).status_code == 405
    assert Entry.objects.count() == entries
    assert client.get(reverse("my-calendar")).status_code == 302, "the page itself is for who is signed in"
    client.force_login(world.people["coordinator"])
    assert client.post(reverse("my-calendar"), {}).status_code == 422


def test_what_is_of_units_put_away_is_left_out(world):
    account = world.people["coordinator"]
    log.log_unit_event(
        by=account, request_key=made.key(), clinic=world.clinic, unit=world.units[1], kind="decommissioned",
        reason="worn out", on=made.TODAY,
    )  # fmt: skip
    about = {d.about for at in reached(account) for d in due_of(at)}
    assert "Unit 1" in about and "Unit 2" not in about


def test_a_spore_test_to_read_stands_at_the_end_of_its_incubation(client, world):
    address = make_address(client, world.people["coordinator"])
    assert not [e for e in events_of(client.get(address)) if "Read the spore test" in e["SUMMARY"]]
    at = made.NOW - timedelta(hours=2)
    run = made.spore_test(world, made.TODAY, test="", at=at)
    (event,) = [e for e in events_of(client.get(address)) if "Read the spore test" in e["SUMMARY"]]
    assert event.decoded("dtstart") == at + timedelta(hours=run.lot.incubation_hours)
    assert event.decoded("duration") == timedelta(minutes=15) and event.errors == []
    assert event["URL"].endswith(reverse("day", args=["first"]))
    made.spore_test(world, made.TODAY, test="")  # the hour of the run is not known: a whole day
    two = [e.decoded("dtstart") for e in events_of(client.get(address)) if "Read the spore test" in e["SUMMARY"]]
    assert date(2026, 3, 17) in two
