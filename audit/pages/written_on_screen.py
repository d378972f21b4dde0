"""How days, states and proof read on the pages of judgement, in the words of `audit.binder.written_on_paper`.

Templates reach them by `{% load screen %}`.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from audit.binder import written_on_paper
from audit.facts import names
from audit.gather.proofs import Proofs
from audit.judge import failures_said  # noqa: F401 (its words are filters too)
from audit.judge.judgement import Word
from audit.judge.year import COUNTED
from audit.planning.round import said as round_said  # noqa: F401
from audit.regimes.held import in_brackets  # noqa: F401
from records.writing import preferences
from records.writing.preferences import day_text

_ISO = re.compile(r"\b(\d{4})-(\d{2})-(\d{2})\b")

SLUGS = {
    Word.IN_SERVICE: "in-service",
    Word.OVERDUE: "overdue",
    Word.LIMITED: "limited",
    Word.WAITING: "waiting",
    Word.OUT: "out",
    Word.NOT_IN_USE: "not-in-use",
}
# One letter a week, so that nothing rests on colour alone; the text behind it says the rest.
WEEK_MARKS = {
    "passed": "P",
    "failed": "F",
    "invalid": "I",
    "missed": "M",
    "late": "L",
    "awaited": "A",
    "exempt": "–",
    "open": "·",
    "before": " ",
}


def day(value: date | None, none: str = "no day on record") -> str:
    """9 Mar 2026, or as whoever looks writes it, with the day for machines beside it; `none` where there is none."""
    if value is None:
        return none
    return format_html('<time datetime="{}">{}</time>', value.isoformat(), day_text(value))


def plain_day(value: date | None) -> str:
    """The day as text, for titles and labels."""
    return "no day on record" if value is None else day_text(value)


def said(text: str) -> str:
    """A sentence of judgement for the screen: ISO days in it read as on paper, first letter large."""
    return written_on_paper.first_upper(_ISO.sub(_written, str(text or "")))


def mid(text: str) -> str:
    """The same in the middle of a sentence: the first letter stays as it is."""
    return _ISO.sub(_written, str(text or ""))


def when(clock, day: date) -> str:
    """By when a due item is asked, and how late it is on that day."""
    return mid(clock.when(day))


def packs(recall: str) -> str:
    """What is said of packs after a failure, as a sentence of its own."""
    text = mid(recall)
    return written_on_paper.first_upper(text if text.startswith(("recall", "no recall")) else f"packs: {text}")


def _written(match: re.Match) -> str:
    try:
        return day_text(date(*map(int, match.groups())))
    except ValueError:
        return match.group()


def moment(value: datetime | None, zone: str = "UTC") -> str:
    """A moment on the clinic's clock, to the minute."""
    if value is None:
        return "time not known"
    local = value.astimezone(ZoneInfo(zone))
    text = f"{day_text(local.date())}, {local:%H:%M}"
    return format_html('<time datetime="{}">{}</time>', value.isoformat(), text)


def number(value) -> str:
    return written_on_paper.number(value)


def measured(value, reading) -> str:
    """A value of a reading with its unit, as whoever looks writes it and, where that differs, as it was recorded."""
    return preferences.measured(value, reading.unit_of_measure, reading.quantity)


def repair_class(value: str) -> str:
    return names.repair_class(value)


def test_title(code: str) -> str:
    return names.test_title(code)


def grade(value: int) -> str:
    return names.GRADES.get(value, str(value))


def standing_slug(word: str) -> str:
    """The part of the class name that belongs to a standing's word; an unknown word is shown like "waiting"."""
    try:
        return SLUGS[Word(word)]
    except ValueError:
        return "waiting"


def state_slug(state: str) -> str:
    return str(state).replace(" ", "-").replace("forbids-use", "forbids")


def week_mark(result: str) -> str:
    return WEEK_MARKS.get(result, "?")


def week_words(result: str) -> str:
    """What a week of that result is called beside the year."""
    return COUNTED.get(result, result)


def lookup(mapping, key):
    """The value under a key that is only known in the template; None where there is none."""
    return mapping.get(key)


def proof(context, evidence, text: str = "") -> str:
    """One piece of evidence, with a link to its record where the row is one of the clinic's."""
    shown = said(text or evidence.text)
    found: Proofs | None = context.get("proofs")
    place = found.place(evidence.ref) if found else None
    if place is None:
        return shown
    return format_html('<a href="{}">{}</a>', reverse("record", args=[found.slug, *place]), shown)


def checked(context, source) -> str:
    """When a source was checked, as it could be known on the day asked about: "; checked 25 Nov 2026".

    Of each source once on a page; "" later, where no day is stated, and where it was checked only after that day.
    """
    day = context.get("as_of") or getattr(context.get("judgement"), "as_of", None)
    known = source.checked_by(day) if day is not None else ""
    request = context.get("request")
    told = request.__dict__.setdefault("sources_told", set()) if request is not None else set()
    if not known or source.citation in told:
        return ""
    told.add(source.citation)
    return f"; checked {day_text(date.fromisoformat(known))}"


def record_link(context, fact, text: str = "record") -> str:
    """A link from a fact to its record with all versions."""
    found: Proofs | None = context.get("proofs")
    place = found.place(fact.row.ref) if found else None
    if place is None:
        return ""
    about = format_html('<span class="hidden"> of {}</span>', day_text(fact.row.happened_on))
    return format_html('<a href="{}">{}{}</a>', reverse("record", args=[found.slug, *place]), text, about)


def flags(fact, parent=None) -> str:
    """What a reader must know of how a row came in: late, from paper, corrected.

    A part of the same entry as `parent`, beside which it stands, came in the same way: that is not said again.
    """
    row = fact.row
    told = parent is not None and parent.row.number == row.number
    found = []
    if row.late and not told:
        found.append(f"late entry, logged {day_text(timezone.localtime(row.logged_at).date())}")
    if row.paper and not told:
        found.append(f"transcribed from paper: {row.paper}")
    if row.corrected:
        found.append("corrected since")
    if not found:
        return ""
    return format_html('<span class="flag">{}</span>', mark_safe("; ").join(found))
