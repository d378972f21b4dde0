"""Answers about how far back the record reaches, by kind of record, and about the gaps in it.

A gap is a time of use, closures left out, longer than the duty of that kind allows between two; where none asks that
kind at regular times, longer than 31 days for tests, checks and loads, and than 15 months for service and validation
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from itertools import pairwise

from audit.facts import UnitFacts, in_order
from audit.facts.dates import ONE_DAY, add_months
from audit.judge.judgement import Evidence
from audit.judge.retention import kept_until, names_kind
from audit.judge.usage import Usage
from audit.regimes.model import Retention

from .asked import IN_PART, NOT_ASKED, YES, AskedPlace, AskedQuestion, Reply, View, cited, day_of, joined, none_found
from .cycles import cycles_run

_DAYS, _MONTHS = 31, 15
_MOST = 12  # pieces of evidence beside an answer about many kinds
SPORE, LOADS, SERVICE, VALIDATION = "spore tests", "loads", "service", "validation"
# Kinds of test and check, with the subject of the duty that asks them and where their rows are.
_CHECKS = ("automatic control", "safety check", "thermometer comparison", "water", "air detector")
_TESTS: dict[str, tuple[str, Callable[[UnitFacts], Sequence]]] = {
    SPORE: ("biological", lambda u: u.bio_tests),
    "air-removal tests": ("air removal", lambda u: u.air_removal),
    "air-leak tests": ("air leak", lambda u: u.leaks),
    **{f"{k} checks": (k, lambda u, k=k: [c for c in u.checks if c.kind == k]) for k in _CHECKS},
}
_OTHERS: dict[str, Callable[[UnitFacts], Sequence]] = {
    LOADS: lambda u: u.loads,
    SERVICE: lambda u: u.jobs,
    VALIDATION: lambda u: [d for d in u.documents if d.kind == "validation report"],
}
_AFTER = ("installation", "after repair")  # purposes of a test
# The most days from the first day of one period to the last of the next, less one.
_APART = {
    "calendar-week": 13,
    "calendar-week-with-patients": 13,
    "calendar-month": 61,
    "calendar-quarter": 183,
    "calendar-year": 730,
}


def records_kept(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the records of the kinds `about` reach as far back as the rules, or the question, ask, without gaps.

    `about`: kinds with commas between; "tests" are those that the rules ask of the unit and those on record.
    """
    kinds = _kinds(place, view, question)
    held = {kind: _rows(place, view.facts, kind) for kind in kinds}
    if not any(held.values()):
        return none_found(question, "No such record is on file.")
    reach = {kind: _reach(place, question, kind) for kind in kinds}
    told = "; ".join(_told(kind, held[kind]) for kind in kinds)
    words, proof = f"On record: {told}", tuple(dict.fromkeys(e for kind in kinds for e in _proof(held[kind])))
    asked = {kind: day for kind, day in reach.items() if day is not None}
    if not asked:
        return Reply(NOT_ASKED, f"{words}; the rules followed ({place.regime.title}) name no length.", proof)
    usage = view.usage
    first = max(min(asked.values()), usage.begin)
    words += f"; asked from {first.isoformat()} on" + (", the begin of use." if first > min(asked.values()) else ".")
    named = question.about.split(", ")  # a test that nothing asks leaves no gap
    looked = [kind for kind in asked if kind in named or _asked(place, view, _TESTS[kind][0])]
    missing = [m for kind in looked for m in _missing(place, view, kind, held[kind], max(asked[kind], usage.begin))]
    if not usage.begin_known and usage.begin > min(asked.values()):
        missing.append(f"it is on record from {usage.begin.isoformat()}; whether it was used before is not known")
    if LOADS in asked and held[LOADS]:
        run = cycles_run(view.facts, max(asked[LOADS], usage.begin), place.as_of)
        missing += [f"{run.words.rstrip('.')}: {run.missing:,} cycles are not in the log"] if run.missing else []
    gaps = [g for g in (*view.facts.gaps, *_own_gaps(place, view)) if g.to_on >= first]
    missing += [f"{g.from_on.isoformat()} to {g.to_on.isoformat()}: {g.what}, {g.why}" for g in gaps]
    proof += cited((g, f"known gap: {g.what}") for g in gaps)
    words += f" {joined(m[:1].upper() + m[1:] for m in missing)}." if missing else ""
    gap = f"{joined(missing)}; {question.gap}" if missing else ""
    return Reply(IN_PART if missing else YES, words, proof[:_MOST], gap)


def _kinds(place: AskedPlace, view: View, question: AskedQuestion) -> list[str]:
    """The kinds of record that are looked at, in order."""
    named = [part for part in question.about.split(", ") if part]
    out = [kind for kind in named if kind in (*_TESTS, *_OTHERS)]
    if "tests" in named:
        asked = {place.subject(c.duty) for c in view.said.coverage}
        out = [k for k, (subject, rows) in _TESTS.items() if subject in asked or rows(view.facts)] + out
    return list(dict.fromkeys(out))


def _rows(place: AskedPlace, unit: UnitFacts, kind: str) -> list:
    rows = _TESTS[kind][1](unit) if kind in _TESTS else _OTHERS[kind](unit)
    if kind == VALIDATION:
        rows = [*rows, *(d for d in place.clinic.documents if d.unit == unit.ref and d.kind == "validation report")]
    return list(in_order(rows))


def _told(kind: str, rows: Sequence) -> str:
    return f"{kind} {day_of(rows[0])} to {day_of(rows[-1])}, {len(rows)}" if rows else f"no {kind}"


def _proof(rows: Sequence) -> tuple[Evidence, ...]:
    ends = dict.fromkeys((rows[0], rows[-1])) if rows else ()
    return cited((r, f"record of {day_of(r)}") for r in ends)


def newest_of(view: View, question: AskedQuestion) -> tuple[Evidence, ...]:
    """The newest test or check of the kind that a question counted by duties is about, () for none.

    Of tests after an event those that were run for one, of signed checks those with a name.
    """
    unit, subject = view.facts, question.about or "biological"
    if question.answers == "checks_signed":
        rows = [check for check in unit.checks if check.signed_by]
    elif question.answers == "implants_tested":
        rows = [load for load in unit.loads if load.implant]
    else:
        rows = [row for of, read in _TESTS.values() if of == subject for row in read(unit)]
    if question.answers == "tested_after_events":
        rows = [row for row in rows if row.purpose in _AFTER]
    return cited((row, f"the newest of {len(rows)}, {day_of(row)}") for row in in_order(rows)[-1:])


# ------------------------------------------------------------------------------------------------ gaps


def _missing(place: AskedPlace, view: View, kind: str, rows: Sequence, needed: date) -> list[str]:
    """What is missing of a kind from the day `needed` to the day asked about, in words."""
    if needed > place.as_of:
        return []
    if not rows:
        return [f"{kind}: nothing on record"]
    usage, shut = view.usage, _closed(place, view)
    allowed = _allowed(place, view, kind)
    days = sorted({r.row.happened_on for r in rows})
    inside = [d for d in days if d >= needed]
    before = max((d for d in days if d < needed), default=None)
    out = []
    start = needed - ONE_DAY if before is None else max(before, needed - ONE_DAY)
    for one, other in pairwise([start, *inside, place.as_of + ONE_DAY]):
        last = other == place.as_of + ONE_DAY
        end = place.as_of if last else other
        if _used_days(usage, shut, one, end) > _length(allowed, one):
            told = f"{(one + ONE_DAY).isoformat()} to {(end if last else end - ONE_DAY).isoformat()}"
            begins = one == needed - ONE_DAY and before is None and bool(inside)
            note = f" (records begin on {other.isoformat()}; use began before)" if begins else ""
            out.append(f"{kind}: nothing from {told}{note}")
    return out


def _asked(place: AskedPlace, view: View, subject: str) -> bool:
    return any(place.subject(c.duty) == subject for c in view.said.coverage)


def _allowed(place: AskedPlace, view: View, kind: str) -> int | None:
    """The most days between two that the duties of a kind at regular times allow; 31 where none does.

    None for service and validation: 15 months.
    """
    if kind in (SERVICE, VALIDATION):
        return None
    kept = place.coverage(view, _TESTS[kind][0]) if kind in _TESTS else ()
    return min((d for d in (_days(place, c.duty) for c in kept) if d), default=_DAYS)


def _days(place: AskedPlace, id: str) -> int:
    """The most days between two that a frequency allows; 0 where it names none (each day of use)."""
    every, count = place.every(id), place.count(id)
    if every in ("rolling-days", "hours-or-days"):
        return count
    if every in ("rolling-months", "stated-date"):
        return count * 31
    return _APART.get(every, 0)


def _length(allowed: int | None, after: date) -> int:
    if allowed is not None:
        return allowed
    return (add_months(after, _MONTHS) - after).days


def _closed(place: AskedPlace, view: View) -> list[tuple[date, date]]:
    return [(c.from_on, c.to_on) for c in place.clinic.closures if c.unit in ("", view.facts.ref)]


def _used_days(usage: Usage, shut: Sequence[tuple[date, date]], after: date, to: date) -> int:
    """Days after `after` up to `to` on which the unit may have been used; the day before them counts as its own."""
    idle = [*usage.unused, *shut]
    out: set[int] = set()
    first, last = after.toordinal() + 1, to.toordinal()
    for start, end in idle:
        out.update(range(max(first, start.toordinal()), min(last, end.toordinal()) + 1))
    return last - first + 1 - len(out)


def _own_gaps(place: AskedPlace, view: View) -> list:
    return [g for g in place.clinic.gaps if g.unit in ("", view.facts.ref)]


# ------------------------------------------------------------------------------------------------ how far back


def _reach(place: AskedPlace, question: AskedQuestion, kind: str) -> date | None:
    """The oldest day whose records must still be there; date.min for all of them, None where no length is named."""
    if question.months:
        own = Retention("records", question.months, 0, "record", "", question.source)
        return _oldest(own, place.as_of)
    days = [_oldest(rule, place.as_of) for rule in place.regime.retention if names_kind(rule, kind)]
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
