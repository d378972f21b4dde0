"""Playing the story: every event in the order of logging, at its moment, through the writers of `records.log`."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time
from pathlib import Path

from django.contrib.auth.hashers import make_password
from django.db import transaction

from records import clock, log
from records.models import Account, Clinic, Organisation, Person, PersonText, ServiceCompany

from .names import Names
from .routine import routine_events
from .story import Story, StoryError, StoryEvent
from .usage import numbered

# Moments of day in a story, with the day that each belongs to.
TIMES = {"at": "on", "departed_at": "on", "known_at": "known_on", "done_at": "done_on"}
BOOKS = {"log_credential", "log_instrument", "log_calibration", "log_part_recall"}
STOCK = {"log_stock_place", "log_stock_move", "log_recall_told"}
OF_COMPANY = {"open_clinic", "open_company", "log_membership", "log_part", "log_part_lot", "log_kit", "log_template"}
NO_CLINIC = {*OF_COMPANY, *BOOKS, *STOCK, "correct", "sign", "void"}
NO_DAY = {
    "open_clinic", "open_company", "log_membership", "log_agreement", "log_local_duty", "log_closure", "log_gap",
    "log_terms", "log_fit", "place_unit", "log_plan_line", "log_program", "log_part", "log_credential",
    "log_stock_place", "log_kit", "log_template", "correct", "sign", "void",
}  # fmt: skip


def load(story: Story, folder: Path, tell: Callable[[str], None] = lambda text: None) -> int:
    """Load the whole story into an empty database, all of it or nothing. Returns the number of entries.

    Raises StoryError when a writer refuses an event: a story tells only what could be logged.
    """
    events = in_order(story)
    # The clock stands until after the commit: whoever is told of entries then knows that nobody is reading yet.
    with clock.at(story.now), transaction.atomic():
        _people(story)
        names = Names(story, folder)
        month = ""
        for event in events:
            if month != (month := event.logged.strftime("%Y-%m")) and month.endswith(("01", "07")):
                tell(f"  {month} …")
            _play(story, names, event)
    return len(events)


def in_order(story: Story) -> list[StoryEvent]:
    """Written and routine events by the moment of logging, numbered; those of one moment in the order told."""
    return sorted(numbered(story, (*story.events, *routine_events(story))), key=lambda e: e.logged)


def _people(story: Story) -> None:
    """Fixed refs and salts for everybody named, so that two loads give the same hashes."""
    for told in story.organisations:
        model = Clinic if told["kind"] == "clinic" else ServiceCompany
        ref = story.ref("organisation", told["slug"])
        model.objects.create(ref=ref, slug=told["slug"], name=told["name"])
    password = make_password(story.password)
    for told in story.accounts:
        person = _person(story, told["username"], told["name"], None)
        first, last = told["name"].split(" ", 1)
        Account.objects.create(
            ref=story.ref("account", told["username"]),
            username=told["username"],
            first_name=first,
            last_name=last,
            person=person,
            password=password,
            date_joined=story.now,
        )
    for told in story.people:
        place = Organisation.objects.get(slug=told["place"])
        _person(story, f"{told['place']}/{told['name']}", told["name"], place)


def _person(story: Story, key: str, name: str, place) -> Person:
    ref = story.ref("person", key)
    person = Person.objects.create(ref=ref, organisation=place)
    PersonText.named(person, name, salt=story.ref("salt", key).hex)
    return person


def _play(story: Story, names: Names, event: StoryEvent) -> None:
    with clock.at(event.logged):
        args = names.resolved(event)
        if event.do not in NO_DAY:
            args.setdefault("on", event.logged.date())
        _with_days(story, event, args)
        if event.do not in NO_CLINIC:
            args["clinic"] = names.organisation(event.place)
        args |= {"by": names.account(event.by), "request_key": story.ref("event", event.place, event.id)}
        try:
            names.keep(event.id, getattr(log, event.do)(**args))
        except (log.Refused, log.SubmissionConflict, TypeError, AttributeError) as error:
            raise StoryError(f"Event “{event.id}” ({event.do}, {event.logged:%Y-%m-%d}): {error}") from error


def _with_days(story: Story, event: StoryEvent, args: dict) -> None:
    """Times of day become moments on the day they belong to, where the organisation is."""
    for name, day_name in TIMES.items():
        value = args.get(name)
        if isinstance(value, time):
            day = args.get(day_name) or args["on"]
            args[name] = datetime.combine(day, value.replace(tzinfo=None), story.zone(event.place))
    if isinstance(args.get("written_at"), datetime) and args["written_at"].tzinfo is None:
        args["written_at"] = args["written_at"].replace(tzinfo=story.zone(event.place))
