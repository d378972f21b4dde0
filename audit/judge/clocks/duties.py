"""Which duties hold for a unit on a day: those of the rules, and the clinic's own where they are stricter.

A duty of the clinic's own names a duty by its id. Where the rules have that duty the stricter of the two holds; where
they have none it is added; a looser one is not used. What is stricter follows from the longest time that a frequency
roughly allows between two tests, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from audit.facts import ClinicFacts, LocalDutyFact, UnitFacts, in_order
from audit.regimes.model import FREQUENCIES, SUBJECTS, WITHOUT_VACUUM, Duty, Regime
from audit.regimes.source import Source

TEST = "biological-test"
EVENT, IMPLANT = "after-event", "each-implant-load"
WHOLE_PLACE = ("training", "insurance", "procedure")  # documents asked of the place, not of a unit

_NEVER = 1e9
_LONGEST = {
    "day-of-use-and-cycle-type": 0.5,
    "day-of-use": 1.0,
    "calendar-week": 7.25,
    "calendar-week-with-patients": 7.5,
    "calendar-month": 31.25,
    "calendar-quarter": 92.25,
    "calendar-year": 366.25,
}
_VACUUM = ("dynamic air removal", "cassette")
# The duties a clinic may set itself: subject, title, equipment types ("": all)
LOCAL = {
    TEST: ("biological", "Spore test (biological indicator)", ()),
    "air-removal-test": ("air removal", "Air-removal test", ("dynamic air removal",)),
    "air-leak-test": ("air leak", "Air-leak test", _VACUUM),
    "automatic-control-test": ("automatic control", "Automatic control test", ()),
    "safety-check": ("safety check", "Safety check", ()),
    "thermometer-comparison": ("thermometer comparison", "Thermometer comparison", ()),
    "water-check": ("water", "Water check", ()),
    "servicing": ("servicing", "Servicing", ()),
    "validation": ("validation report", "Validation", ()),
    "pressure-examination": ("pressure examination", "Pressure examination", ()),
    "training": ("training", "Training", ()),
    "insurance": ("insurance", "Insurance", ()),
    "procedure": ("procedure", "Written procedure", ()),
    "instructions": ("instructions", "Maker's instructions", ()),
}
# Words under which a duty may stand on record, beside its own: what was recorded is never changed.
ALSO_KNOWN_AS = {"water": "water-check", "validation-report": "validation"}


def strictness(every: str, count: int) -> float:
    """The longest days between two tests that the frequency roughly allows; smaller is stricter."""
    if every in ("rolling-days", "hours-or-days"):
        return float(count) - (0.25 if every == "hours-or-days" else 0.0)
    if every in ("rolling-months", "stated-date"):
        return count * 30.5 - (0.25 if every == "stated-date" else 0.0)
    return _LONGEST.get(every, _NEVER)


def duties_on(regime: Regime, clinic: ClinicFacts, unit: UnitFacts | None, day: date) -> tuple[Duty, ...]:
    """The duties that hold for the unit on `day`, in the order of the rules; for None those of the whole place.

    Duties that do not apply to the unit's type of equipment are left out.
    """
    held = regime.duties
    if clinic.local_duties:
        held = _with_local(held, clinic, day)
    if unit is None:
        return tuple(d for d in held if d.subject in WHOLE_PLACE)
    return tuple(d for d in held if d.subject not in WHOLE_PLACE and applies(d, unit.equipment_type))


def applies(duty: Duty, equipment_type: str) -> bool:
    """Whether the duty holds for the type; a test of air removal or leakage never does without a vacuum."""
    if duty.subject in ("air removal", "air leak") and equipment_type in WITHOUT_VACUUM:
        return False
    return not duty.equipment or equipment_type in duty.equipment


def main_test(duties) -> Duty | None:
    """The repeating spore test among the duties, or None."""
    found = [d for d in duties if d.subject == "biological" and d.every not in (EVENT, IMPLANT)]
    return next((d for d in found if d.id == TEST), found[0] if found else None)


def plain_duty(id: str, subject: str, title: str, every: str, count: int, words: str, source: Source) -> Duty:
    """A repeating duty without any condition."""
    return Duty(id, subject, title, every, count, 0, (), 1, "any", False, 0, (), False, False, 0, words, "", source)


# ------------------------------------------------------------------------------------------------ the clinic's own


def local_problems(
    clinic: ClinicFacts, regime: Regime, day: date
) -> Iterator[tuple[LocalDutyFact, str, Duty | None]]:
    """The clinic's own duties in effect that cannot be used: (fact, why in words, the duty of the rules or None)."""
    by_id = {d.id: d for d in regime.duties}
    for local in in_order(clinic.local_duties):
        if local.effective_on > day:
            continue
        own = by_id.get(_id_of(local))
        if not _known(local, own):
            yield local, f"{local.duty}, {local.every!r} (count {local.count}) is not a duty known here", own
        elif own is not None and not _comparable(local, own):
            yield local, f"{_asked(local)!r} cannot be compared with {own.words!r}", own
        elif own is not None and strictness(local.every, local.count) > strictness(own.every, own.count):
            yield local, f"{_asked(local)!r} is looser than {own.words!r}", own


def _with_local(duties: tuple[Duty, ...], clinic: ClinicFacts, day: date) -> tuple[Duty, ...]:
    by_id = {d.id: d for d in duties}
    for id, local in _in_effect(clinic, by_id, day).items():
        own = by_id.get(id)
        if own is None:
            by_id[id] = _added(local)
        elif _comparable(local, own) and strictness(local.every, local.count) < strictness(own.every, own.count):
            by_id[id] = replace(
                own, every=local.every, count=local.count, hours=0, words=_asked(local), source=_source(local)
            )
    return tuple(by_id.values())


def _in_effect(clinic: ClinicFacts, by_id: dict[str, Duty], day: date) -> dict[str, LocalDutyFact]:
    """The newest of the clinic's own duties in effect for each id; one that is not known is passed over."""
    newest: dict[str, LocalDutyFact] = {}
    known = [d for d in clinic.local_duties if d.effective_on <= day and _known(d, by_id.get(_id_of(d)))]
    for local in sorted(known, key=lambda d: (d.effective_on, d.row.number, d.row.line)):
        newest[_id_of(local)] = local
    return newest


def _id_of(local: LocalDutyFact) -> str:
    """The duty that is meant, by its id here."""
    return ALSO_KNOWN_AS.get(local.duty, local.duty)


def _known(local: LocalDutyFact, own: Duty | None) -> bool:
    """Whether the duty and its frequency mean something together: hours of use and events cannot be stated."""
    if local.every not in FREQUENCIES or local.every in (EVENT, "hours-or-days") or local.count < 1:
        return False
    subject = own.subject if own else LOCAL.get(_id_of(local), ("",))[0]
    if local.every == IMPLANT:
        return subject == "biological"
    if local.every == "stated-date":
        return SUBJECTS.get(subject) == "document"
    return bool(subject)


def _comparable(local: LocalDutyFact, own: Duty) -> bool:
    """A frequency of time is never stricter or looser than one of events or of implants."""
    return own.every != EVENT and (local.every == IMPLANT) == (own.every == IMPLANT)


def _added(local: LocalDutyFact) -> Duty:
    subject, title, equipment = LOCAL[_id_of(local)]
    plain = plain_duty(_id_of(local), subject, title, local.every, local.count, _asked(local), _source(local))
    return replace(plain, equipment=equipment)


def _asked(local: LocalDutyFact) -> str:
    return FREQUENCIES[local.every].format(count=local.count, hours=0, events="")


def _source(local: LocalDutyFact) -> Source:
    return Source(f"the clinic's own rule: {local.source}")
