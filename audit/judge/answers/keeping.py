"""Answers about the record itself: how far back it reaches, what it holds, which units there are."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from audit.facts import in_order
from audit.facts.dates import ONE_DAY, add_days, add_months
from audit.judge.judgement import Evidence
from audit.judge.retention import kept_until
from audit.judge.usage import usage_of
from audit.regimes.model import Retention

from .asked import (
    IN_PART,
    NOT_ASKED,
    YES,
    AskedPlace,
    Question,
    Reply,
    View,
    cited,
    day_of,
    joined,
    none_found,
    number,
    share,
)

_GRACE_DAYS = 31  # the first record may come so long after the begin of use; common practice, no source
_KINDS = {
    "tests": ("bio_tests", "air_removal", "leaks", "checks"),
    "loads": ("loads",),
    "service": ("jobs",),
    "": ("bio_tests", "air_removal", "leaks", "checks", "loads", "jobs"),
}
_LATER = ("service",)  # kinds that need not begin with the use of a unit


def records_kept(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the record of the kind `about` reaches as far back as the rules, or the question, ask."""
    rows = [in_order(getattr(view.facts, name)) for name in _KINDS[question.about]]
    rows = sorted((r for held in rows if held for r in (held[0], held[-1])), key=lambda r: r.row.happened_on)
    if not rows:
        return none_found(question, "No such record is on file.")
    begin, asked = usage_of(view.facts).begin, _reach(place, question)
    oldest, newest = rows[0], rows[-1]
    words = f"The record reaches from {day_of(oldest)} to {day_of(newest)}"
    proof = tuple(dict.fromkeys(cited((r, f"record of {day_of(r)}") for r in (oldest, newest))))
    if asked is None:
        return Reply(NOT_ASKED, f"{words}; the rules followed ({place.regime.title}) name no length.", proof)
    needed = max(asked, begin)
    words += f"; asked from {needed.isoformat()} on" + (", the begin of use." if needed > asked else ".")
    gaps = [g for g in (*view.facts.gaps, *_own_gaps(place, view)) if g.to_on >= needed]
    missing = [f"{g.from_on.isoformat()} to {g.to_on.isoformat()}: {g.what}, {g.why}" for g in gaps]
    if question.about not in _LATER and oldest.row.happened_on > add_days(needed, _GRACE_DAYS):
        missing.insert(0, f"nothing from {needed.isoformat()} to {(oldest.row.happened_on - ONE_DAY).isoformat()}")
    proof += cited((g, f"known gap: {g.what}") for g in gaps)
    gap = f"{joined(missing)}; {question.gap}" if missing else ""
    return Reply(IN_PART if missing else YES, words, proof, gap)


def _own_gaps(place: AskedPlace, view: View) -> list:
    return [g for g in place.clinic.gaps if g.unit in ("", view.facts.ref)]


def _reach(place: AskedPlace, question: Question) -> date | None:
    """The oldest day whose records must still be there; date.min for all of them, None where no length is named."""
    if question.months:
        own = Retention("records", question.months, 0, "record", "", question.source)
        return _oldest(own, place.as_of)
    days = [_oldest(rule, place.as_of) for rule in place.regime.retention]
    days = [day for day in days if day is not None]
    return min(days) if days else None


def _oldest(rule: Retention, as_of: date) -> date | None:
    """The oldest day of which a record may not go yet under one rule."""
    if rule.calendar_years:
        return date(as_of.year - rule.calendar_years, 1, 1)
    if not rule.months:
        return None
    if rule.starts != "record":
        return date.min  # counted from the last entry or the end of the unit's life: nothing may go while it is used
    day = add_months(as_of, -rule.months) - ONE_DAY
    while kept_until(rule, day) <= as_of:  # short months: counted back, the day may come out too early
        day += ONE_DAY
    return day


# ------------------------------------------------------------------------------------------------ what it holds


def logbook_headings(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether something stands under each heading of a logbook: tests, plant history, cycles, training, pressure."""
    unit = view.facts
    papers = (*unit.documents, *(d for d in place.clinic.documents if d.unit in ("", unit.ref)))
    trained = [c for c in place.clinic.credentials if c.holder == "clinic" and c.kind == "training"]
    return _headings(
        question,
        {
            "periodic tests": (*unit.bio_tests, *unit.air_removal, *unit.leaks, *unit.checks),
            "plant history": unit.jobs,
            "cycles": unit.loads,
            "training": (*trained, *(d for d in papers if d.kind == "training")),
            "pressure examination": [d for d in papers if d.kind == "pressure examination"],
        },
    )


def stages_apart(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether installation, commissioning, validation, periodic tests and maintenance are each on record."""
    unit = view.facts
    papers = (*unit.documents, *(d for d in place.clinic.documents if d.unit == unit.ref))
    first = [j for j in unit.jobs if j.reason == "installation" and j.tests]
    return _headings(
        question,
        {
            "installation": [e for e in unit.events if e.kind in ("installed", "loaner in")],
            "commissioning": (*first, *(d for d in papers if "commission" in d.title.casefold())),
            "validation": [d for d in papers if d.kind == "validation report"],
            "periodic tests": (*unit.bio_tests, *unit.air_removal, *unit.leaks, *unit.checks),
            "maintenance": [j for j in unit.jobs if j.reason != "installation"],
        },
    )


def _headings(question: Question, held: dict[str, Iterable]) -> Reply:
    found = {name: in_order(rows) for name, rows in held.items()}
    empty = [name for name, rows in found.items() if not rows]
    if len(empty) == len(found):
        return none_found(question, "Nothing is on record under any of the headings.")
    words = "; ".join(f"{name}: {len(rows)}" for name, rows in found.items())
    proof = cited(
        (rows[-1], f"{name}: newest of {len(rows)}, {day_of(rows[-1])}") for name, rows in found.items() if rows
    )
    gap = f"nothing under {', '.join(empty)}; {question.gap}" if empty else ""
    return Reply(share(len(found) - len(empty), len(found)), f"On record: {words}.", proof, gap)


# ------------------------------------------------------------------------------------------------ which units


def units_on_record(place: AskedPlace, question: Question) -> Reply:
    """Which units there are, and whether each may be used on the day."""
    if not place.views:
        return none_found(question, "No unit is on record.")
    told = joined(f"{_named(v)}, serial {v.facts.serial}: {v.said.standing.word}" for v in place.views)
    usable = sum(_usable(v) for v in place.views)
    words = f"{number(len(place.views), 'unit')} on record, {usable} may be used: {told}."
    out = [f"{_named(v)}: {v.said.standing.lifted_by}" for v in place.views if not _usable(v)]
    return Reply(share(usable, len(place.views)), words, _units(place), joined(out))


def two_units(place: AskedPlace, question: Question) -> Reply:
    """Whether at least two units may be used on the day."""
    if not place.views:
        return none_found(question, "No unit is on record.")
    usable = [v for v in place.views if _usable(v)]
    words = f"{len(usable)} of {number(len(place.views), 'unit')} on record may be used on {place.as_of.isoformat()}."
    gap = "" if len(usable) >= 2 else f"{number(2 - len(usable), 'more unit')} that may be used; {question.gap}"
    return Reply(share(min(len(usable), 2), 2), words, _units(place), gap)


def _named(view: View) -> str:
    """ "unit A", and not "unit Unit 1"."""
    label = view.facts.label
    return label if label.lower().startswith("unit") else f"unit {label}"


def _usable(view: View) -> bool:
    return view.said.standing.word.may_be_used


def _units(place: AskedPlace) -> tuple[Evidence, ...]:
    return cited((v.facts, f"{_named(v)}: {v.said.standing.word}, {v.said.standing.reason}") for v in place.views)
