"""A person's due items as a calendar file (iCalendar, RFC 5545)."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, timedelta
from uuid import UUID, uuid5

from icalendar import Calendar, Event

from audit.binder.written_on_paper import OUTRANKED, first_upper
from audit.judge.judgement import UnitJudgement
from audit.judge.to_read import ReadLine
from audit.planning.reach import ClinicToday, Due
from audit.planning.written import dated, day

MOST = 500  # events in a file, the earliest due first
TOKEN_BYTES = 32
REFRESH = timedelta(hours=6)
QUARTER = timedelta(minutes=15)  # how long reading a test takes in the calendar
# Names of events stay the same from one reading to the next; made once for this program.
_NAMES = UUID("6f7c3d4e-0d5b-5a53-9f0e-0a5c7b1d2e90")


def new_token() -> str:
    """The secret part of an address: 32 random bytes as 43 letters, digits, hyphens and underscores."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def digest_of(token: str) -> str:
    """All that is kept of a token: its SHA-256 in hexadecimal digits."""
    return hashlib.sha256(token.encode()).hexdigest()


def calendar_of(
    name: str,
    items: Iterable[Due],
    address_of: Callable[[Due], str],
    to_read: Iterable[ToRead] = (),
    changes: Iterable[Change] = (),
) -> bytes:
    """The file: spore tests to read, answers that change, and due items. `address_of` gives the page of an item.

    At most `MOST` due items; the file says what it leaves out.
    """
    wanted = sorted(items, key=lambda d: (d.shown_on, d.at.clinic.slug, d.about, d.clock.id))
    calendar = Calendar()
    calendar.add("prodid", "-//Unit standing//Due items//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("x-wr-calname", f"Due items of {name}")
    calendar.add("x-wr-caldesc", _left_out(len(wanted)))
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})  # RFC 7986, 5.7, from memory
    calendar.add("x-published-ttl", "PT6H")
    for each in to_read:
        calendar.add_component(_reading(each))
    for each in changes:
        calendar.add_component(_change(each))
    for item in wanted[:MOST]:
        calendar.add_component(_event(item, address_of(item)))
    return calendar.to_ical()


@dataclass(frozen=True, slots=True)
class ToRead:
    """A spore test to be read, where, and the page on which it is."""

    at: ClinicToday
    line: ReadLine
    address: str


def _reading(each: ToRead) -> Event:
    """From when its incubation is complete; a whole day where the hour of the run is not known."""
    line, event = each.line, Event()
    event.add("uid", f"{uuid5(_NAMES, f'{each.at.facts.ref} {line.test.row.origin} read')}@unit-standing")
    event.add("dtstamp", each.at.stamped_at)
    event.add("last-modified", each.at.stamped_at)
    if line.ready_at is None:
        on = max(line.ready_on, each.at.today)
        event.add("dtstart", on)
        event.add("dtend", _day_after(on))
    else:
        event.add("dtstart", line.ready_at.astimezone(UTC))
        event.add("duration", QUARTER)
    told = f"Run {day(line.test.row.happened_on)}, {line.test.lot.incubation_hours} hours by its label."
    event.add("summary", f"Read the spore test, {line.unit.label}, {each.at.judgement.name}")
    event.add("description", f"{told} Read test and control together.\n{OUTRANKED}")
    event.add("location", ", ".join(part for part in (each.at.judgement.name, each.at.address) if part))
    event.add("url", each.address)
    event.add("transp", "TRANSPARENT")
    return event


@dataclass(frozen=True, slots=True)
class Change:
    """A unit whose answer is another from a day on with nothing new logged, and the page on which it is."""

    at: ClinicToday
    unit: UnitJudgement
    address: str


def _change(each: Change) -> Event:
    """On the first day of the other answer: what it is then and why, beside what it is today."""
    standing, event = each.unit.standing, Event()
    event.add("uid", f"{uuid5(_NAMES, f'{each.at.facts.ref} {each.unit.unit} answer')}@unit-standing")
    event.add("dtstamp", each.at.stamped_at)
    event.add("last-modified", each.at.stamped_at)
    event.add("dtstart", standing.holds_until)
    event.add("dtend", _day_after(standing.holds_until))
    event.add("summary", f"Answer changes: {dated(standing.becomes)} ({each.unit.label}, {each.at.judgement.name})")
    event.add("description", f"{answer_words(each.at, each.unit)}\n{OUTRANKED}")
    event.add("location", ", ".join(part for part in (each.at.judgement.name, each.at.address) if part))
    event.add("url", each.address)
    event.add("transp", "TRANSPARENT")
    return event


def answer_words(at: ClinicToday, unit: UnitJudgement) -> str:
    """The answer on the clinic's today, why, what is next by whom, and from when it is another, what then and why."""
    standing = unit.standing
    told = [f"May it be used? On {day(at.today)}: {standing.word}. {first_upper(dated(unit.short))}"]
    told += [f"Next: {dated(unit.next.words)}"] if unit.next else []
    told += [f"Answer changes: {dated(standing.changes)}"] if standing.holds_until else []
    return "\n".join(told)


def _left_out(count: int) -> str:
    told = "Due items of the units that you may see, each on its due day; what is overdue stands on today."
    if count <= MOST:
        return told
    return f"{told} The earliest {MOST} of {count} items; the others follow as these are done."


def uid_of(item: Due) -> str:
    """The same for one due item of one unit for ever, whatever its day."""
    unit = item.unit.unit if item.unit else ""
    return f"{uuid5(_NAMES, f'{item.at.facts.ref} {unit} {item.clock.id}')}@unit-standing"


def _event(item: Due, address: str) -> Event:
    event = Event()
    event.add("uid", uid_of(item))
    # Without a METHOD both stamps say when the calendar's own copy last changed (RFC 5545, 3.8.7.2 and 3.8.7.3). A
    # new day changes it too: what is overdue moves to today, a projected day moves though nothing was entered.
    event.add("dtstamp", item.at.stamped_at)
    event.add("last-modified", item.at.stamped_at)
    event.add("dtstart", item.shown_on)
    event.add("dtend", _day_after(item.shown_on))
    event.add("summary", summary_of(item))
    event.add("description", description_of(item))
    event.add("location", ", ".join(part for part in (item.at.judgement.name, item.at.address) if part))
    event.add("url", address)
    event.add("categories", [str(item.clock.state)])
    event.add("transp", "TRANSPARENT")
    return event


def _day_after(on: date) -> date:
    """The end of a whole day is the day after, which is not part of it (RFC 5545, 3.6.1)."""
    return on + timedelta(days=1)


def summary_of(item: Due) -> str:
    """One line: overdue first, then what, which unit, where."""
    title = f"{first_upper(dated(item.clock.title))}, {item.about}, {item.at.judgement.name}"
    if item.clock.due_on is None:
        return f"No record found: {title}"
    if item.days_overdue:
        return f"Overdue since {day(item.clock.overdue_on)}: {title}"
    if item.clock.due_on < item.at.today:
        return f"Due since {day(item.clock.due_on)}: {title}"
    return title


def description_of(item: Due) -> str:
    """The due day, the rule with its source, where the unit stands, and whether it may be used."""
    clock, lines = item.clock, []
    lines.append(f"{first_upper(dated(clock.when(item.at.today)))}.")
    lines.append(f"Rule: {dated(clock.rule)}")
    if clock.note:
        lines.append(f"Note: {dated(clock.note)}")
    lines.append(f"Source: {clock.source}")
    room = item.at.room(item.unit.unit) if item.unit else ""
    lines.append(f"Where: {', '.join(p for p in (room, item.at.judgement.name, item.at.address) if p)}")
    if item.unit:
        lines.append(answer_words(item.at, item.unit))
    lines.append(OUTRANKED)
    return "\n".join(lines)
