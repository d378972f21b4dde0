"""Which duties hold for a unit on a day: those of the rules, and the clinic's own beside them.

A duty of the clinic's own names a duty by its id. It never takes the place of one of the rules, nor of another of the
clinic's own: each stands beside the others with a due day of its own, whatever its frequency, so the strictest of
them holds on any day. It ends only where its entry is struck out. Common practice, no source.
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
COUNTED = ("rolling-days", "rolling-months", "stated-date")  # frequencies of which a clinic states a count
# Words under which a duty may stand on record, beside its own: what was recorded is never changed.
ALSO_KNOWN_AS = {"water": "water-check", "validation-report": "validation"}


def duties_on(regime: Regime, clinic: ClinicFacts, unit: UnitFacts | None, day: date) -> tuple[Duty, ...]:
    """The duties that hold for the unit on `day`: of the rules, in their order, then the clinic's own.

    For None those of the whole place. Duties that do not apply to the unit's type of equipment are left out.
    """
    held = regime.duties
    if clinic.local_duties:
        held = (*held, *_own(held, clinic, day))
    if unit is None:
        return tuple(d for d in held if d.subject in WHOLE_PLACE)
    return tuple(d for d in held if d.subject not in WHOLE_PLACE and applies(d, unit.equipment_type))


def applies(duty: Duty, equipment_type: str) -> bool:
    """Whether the duty holds for the type; a test of air removal or leakage never does without a vacuum."""
    if duty.subject in ("air removal", "air leak") and equipment_type in WITHOUT_VACUUM:
        return False
    return not duty.equipment or equipment_type in duty.equipment


def main_test(duties) -> Duty | None:
    """The repeating spore test among the duties, that of the rules before the clinic's own, or None."""
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
        own = by_id.get(_id_of(local))
        if local.effective_on <= day and not _known(local, own):
            yield local, f"{local.duty}, {local.every!r} (count {local.count}) is not a duty known here", own


def _own(duties: tuple[Duty, ...], clinic: ClinicFacts, day: date) -> Iterator[Duty]:
    """The clinic's own duties in effect, each frequency of each once, in order of the day they took effect."""
    by_id = {d.id: d for d in duties}
    known = [d for d in clinic.local_duties if d.effective_on <= day and _known(d, by_id.get(_id_of(d)))]
    newest: dict[tuple, LocalDutyFact] = {}
    for local in sorted(known, key=lambda d: (d.effective_on, d.row.number, d.row.line)):
        newest[_id_of(local), local.every, _count(local)] = local
    many: dict[str, int] = {}
    for (id, _, _), local in newest.items():
        many[id] = many.get(id, 0) + 1
        yield _added(local, by_id.get(id), many[id])


def _id_of(local: LocalDutyFact) -> str:
    """The duty that is meant, by its id here."""
    return ALSO_KNOWN_AS.get(local.duty, local.duty)


def _count(local: LocalDutyFact) -> int:
    return local.count if local.every in COUNTED else 1


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


def _added(local: LocalDutyFact, theirs: Duty | None, nth: int) -> Duty:
    """The `nth` of the clinic's own duties of one id; `theirs` is that of the rules.

    The first keeps the plain id where the rules have none of it. What counts (a signature, the type of equipment) is
    as the rules have it; that use is forbidden before is theirs alone.
    """
    id = _id_of(local)
    subject, title, equipment = LOCAL[id] if theirs is None else (theirs.subject, theirs.title, theirs.equipment)
    numbered = f"{id}-own" if nth == 1 else f"{id}-own-{nth}"
    own_id = id if nth == 1 and theirs is None else numbered
    own_title = title if own_id == id else f"{title}, the clinic's own rule"
    plain = plain_duty(own_id, subject, own_title, local.every, _count(local), _asked(local), _source(local))
    if theirs is not None:
        plain = replace(plain, signed=theirs.signed, lead_days=theirs.lead_days)
    return replace(plain, equipment=equipment)


def _asked(local: LocalDutyFact) -> str:
    return FREQUENCIES[local.every].format(count=local.count, hours=0, events="")


def _source(local: LocalDutyFact) -> Source:
    return Source(f"the clinic's own rule: {local.source}")
