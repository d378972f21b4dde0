"""Reads one duty of a rules file: each key checked, and whether its frequency gives each a meaning."""

from __future__ import annotations

from .model import EVENTS, FREQUENCIES, SUBJECTS, WITHOUT_VACUUM, Duty
from .table import RegimeTable

EQUIPMENT = ("gravity", "dynamic air removal", "cassette")
CHAMBERS = ("any", "empty", "full")
SITES = ("any", "laboratory")
COUNTED = ("rolling-days", "rolling-months", "hours-or-days", "stated-date")  # frequencies with a `count`
AFTER_EVENT = ("events", "passes", "each_cycle_type", "idle_days")  # keys for "after-event" alone
EVENT_WORDS = {
    "installed": "installation",
    "relocated": "relocation",
    "loaner in": "the arrival of a loaner",
    "major repair": "a major repair",
    "repair": "a repair or breakdown",
    "planned part": "a part replaced on plan",
}


def duty_of(t: RegimeTable) -> Duty:
    """A duty. Raises RegimeError, also for keys that its frequency gives no meaning."""
    every = t.get("every", str, among=FREQUENCIES)
    events = t.words("events", EVENTS)
    count, hours, idle_days = t.get("count", int, 1), t.get("hours", int, 0), t.get("idle_days", int, 0)
    out = Duty(
        id=t.get("id", str),
        subject=t.get("subject", str, "biological", SUBJECTS),
        title=t.get("title", str),
        every=every,
        count=count,
        hours=hours,
        events=events,
        passes=t.get("passes", int, 1),
        chamber=t.get("chamber", str, "any", CHAMBERS),
        each_cycle_type=t.get("each_cycle_type", bool, False),
        idle_days=idle_days,
        equipment=t.words("equipment", EQUIPMENT),
        forbids=t.get("forbids", bool, False),
        signed=t.get("signed", bool, False),
        lead_days=t.get("lead_days", int, 0),
        words=FREQUENCIES[every].format(count=count, hours=hours, events=event_words(events, idle_days)),
        note=t.get("note", str, ""),
        source=t.source(),
        site=t.get("site", str, "any", SITES),
        place=t.get("place", str, ""),
    )
    _frequency_holds(t, out)
    _events_hold(t, out)
    _equipment_holds(t, out)
    _conditions_hold(t, out)
    return out


def event_words(events: tuple[str, ...], idle_days: int) -> str:
    """The events as a sentence has them: "installation, a major repair or more than 14 days unused"."""
    said = [EVENT_WORDS.get(e, f"more than {idle_days} days unused") for e in events]
    return " or ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)


def _frequency_holds(t: RegimeTable, duty: Duty) -> None:
    if duty.count < 1:
        t.fail("count", f"is {duty.count}", "It must be 1 or more")
    if duty.every in COUNTED and "count" not in t.raw:
        t.fail("count", "is missing", f"Say how many: {FREQUENCIES[duty.every]}")
    if duty.every not in COUNTED and "count" in t.raw:
        t.fail("count", f"means nothing with {duty.every!r}", f"Take it out, or use one of: {', '.join(COUNTED)}")
    if duty.every == "hours-or-days" and duty.hours < 1:
        t.fail("hours", "is missing or 0", "Say after how many hours of use")
    if duty.every != "hours-or-days" and "hours" in t.raw:
        t.fail("hours", f"means nothing with {duty.every!r}", "Take it out, or use 'hours-or-days'")
    if duty.every == "each-implant-load" and duty.subject != "biological":
        t.fail("subject", f"is {duty.subject!r}", "'each-implant-load' is for the subject 'biological'")
    if duty.every == "stated-date" and SUBJECTS[duty.subject] != "document":
        t.fail("subject", f"is {duty.subject!r}", "'stated-date' is for a document: only a report states a date")


def _events_hold(t: RegimeTable, duty: Duty) -> None:
    if duty.every != "after-event":
        for key in AFTER_EVENT:
            if key in t.raw:
                t.fail(key, f"means nothing with {duty.every!r}", "Take it out, or use 'after-event'")
        return
    if not duty.events:
        t.fail("events", "is missing", "Say after which events")
    if duty.passes < 1:
        t.fail("passes", f"is {duty.passes}", "It must be 1 or more")
    if "idle" in duty.events and duty.idle_days < 1:
        t.fail("idle_days", "is missing or 0", "Say after more than how many days unused")
    if "idle" not in duty.events and duty.idle_days:
        t.fail("idle_days", f"is {duty.idle_days}, without the event 'idle'", "Add 'idle' to events, or take it out")


def _equipment_holds(t: RegimeTable, duty: Duty) -> None:
    """No air-removal test but with dynamic air removal, no leak test without a vacuum."""
    if duty.subject == "air removal" and duty.equipment != ("dynamic air removal",):
        t.fail("equipment", f"is {list(duty.equipment)!r}", "An air-removal test holds for ['dynamic air removal']")
    without = [e for e in (duty.equipment or EQUIPMENT) if e in WITHOUT_VACUUM]
    if duty.subject == "air leak" and without:
        t.fail("equipment", f"covers {without[0]!r}", "A leak test holds for units with a vacuum: name these")


def _conditions_hold(t: RegimeTable, duty: Duty) -> None:
    """Who reads a test, how full the chamber is and where in it the test lies are recorded of spore tests alone."""
    for key in ("site", "place", *(() if duty.every == "after-event" else ("chamber",))):
        if key in t.raw and duty.subject != "biological":
            t.fail(key, f"means nothing with {duty.subject!r}", "Take it out, or use the subject 'biological'")
