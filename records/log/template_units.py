"""What of a template stands on one unit: copied when it is registered, and taken over from a later edition by hand.

A later edition changes no unit by itself. Somebody looks at each difference and takes it or leaves it; what was left
is recorded with the edition. A new position is taken with nobody knowing whether it has its part: that is settled at
the unit. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date

from records import access, clock
from records.models import (
    Fit,
    PlanLine,
    Position,
    Unit,
    UnitFromTemplate,
    UnitPart,
    UnitReading,
    UnitTemplate,
)

from . import may_be_logged
from .errors import NotYours, Problem
from .settled import plan_on, positions_by_code
from .submission import submission
from .template_content import (
    TemplateContent,
    content_of,
    followed,
    part_key,
    parts_of,
    reading_key,
    readings_of,
)
from .template_differences import GONE, LINE, READING, TemplateDifference, differences
from .templates import PLATE, offered
from .units import register_unit


def usable(rights: access.Rights, clinic) -> list[UnitTemplate]:
    """The templates from which a unit of the clinic may be registered today, by name.

    A company's people use their own company's; a clinic's own people those of the companies that service it today.
    """
    if rights.company is not None:
        return offered(rights.company)
    serving = access.agreements().filter(clinic=clinic.pk).select_related("company")
    return offered(*(each.company for each in serving))


def may_use(rights: access.Rights, clinic, template: UnitTemplate | None) -> UnitTemplate:
    """The template, where it is one of those. Raises NotYours."""
    if template is None or template.origin not in {each.origin for each in usable(rights, clinic)}:
        raise NotYours("That template is not one of those that may be used here today. Choose one of the list.")
    return template


def register_from_template(
    *, by, request_key, clinic, template, room, on: date, label, serial, fits, udi="", counters=(), installed=True
) -> Unit:
    """A unit of a known model on the register, with everything that the edition says, as of the day `on`.

    Args:
        fits: by the code of each position whether it has its part: yes, none, missing, unknown.
        counters: as of `register_unit`.

    Raises Refused, NotYours for a template that may not be used at the clinic, SubmissionConflict.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    content = content_of(may_use(rights, clinic, template))
    may_be_logged.stop_on(list(_fit_problems(content, fits)))
    positions = [
        {"code": p.code, "name": p.name, "component": p.component, "fit": fits[p.code]} for p in content.positions
    ]
    plan = [_line_fields(line) | {"position": line.position and line.position.code} for line in content.lines]
    plate = {name: getattr(template, name) for name in PLATE} | {"label": label, "serial": serial, "udi": udi}
    return register_unit(
        by=by, request_key=request_key, clinic=clinic, room=room, on=on, unit=plate, positions=positions, plan=plan,
        counters=counters, installed=installed, also=_Copying(content),
    )  # fmt: skip


def _fit_problems(content: TemplateContent, fits: dict) -> Iterator[Problem]:
    for position in content.positions:
        if not fits.get(position.code):
            words = f"Does this unit have its {position.name.lower()}? Say so, or that it is not known."
            yield Problem(f"fit_{position.code}", words)


def _line_fields(line) -> dict:
    return {"code": line.code} | {name: getattr(line, name) for name in LINE}


@dataclass(frozen=True)
class _Copying:
    """What `register_unit` writes beside positions and plan."""

    content: TemplateContent

    @property
    def said(self) -> UnitTemplate:
        """What the digest of the submission holds of it."""
        return self.content.template

    def __call__(self, s, mine: dict, places: dict[str, Position], on: date) -> None:
        s.add(_follows(self.content.template, mine))
        for part in self.content.parts:
            s.add(_part(self.content, part, places, on, mine))
        for reading in self.content.readings:
            s.add(_reading(reading, on, mine))


def _follows(template: UnitTemplate, mine: dict, kept: Collection[str] = ()) -> UnitFromTemplate:
    named = {"company": template.owner.name, "name": template.name, "edition": template.edition}
    return UnitFromTemplate(template=template.ref, kept=sorted(kept), **named, **mine)


def _part(content: TemplateContent, part, places: dict, on: date, mine: dict) -> UnitPart:
    of = {"name": part.part.name, "number": part.part.number, "quantity": part.quantity}
    position = places[part.position.code] if part.position else None
    return UnitPart(position=position, kit=content.kits_with(part.part), effective_on=on, **of, **mine)


def _reading(reading, on: date, mine: dict) -> UnitReading:
    named = {"quantity": reading.quantity, "point": reading.point}
    return UnitReading(effective_on=on, **named, **{name: getattr(reading, name) for name in READING}, **mine)


def carry_belongings(
    s, here: Unit, source: Unit | UnitTemplate | None, places: dict[str, Position], mine: dict
) -> None:
    """Parts, readings and the edition that a record elsewhere, or a template, says and the one here does not.

    `places` are the positions here by code; `mine` is what every row of the unit here has.
    """
    on = mine["happened_on"]
    if isinstance(source, UnitTemplate):
        if here.pk is None:
            _Copying(content_of(source))(s, mine, places, on)
        return
    if source is None:
        return
    known = {} if here.pk is None else {part_key(p, p.position): p.quantity for p in parts_of(here, on)}
    for part in parts_of(source, on):
        if known.get(part_key(part, part.position)) != part.quantity:
            kept = {name: getattr(part, name) for name in ("name", "number", "quantity", "kit")}
            position = places[part.position.code] if part.position else None
            s.add(UnitPart(position=position, effective_on=on, **kept, **mine))
    asked = {} if here.pk is None else {reading_key(r): _limits(r) for r in readings_of(here, on)}
    for reading in readings_of(source, on):
        if asked.get(reading_key(reading)) != _limits(reading):
            s.add(_reading(reading, on, mine))
    edition, held = followed(source), None if here.pk is None else followed(here)
    if edition is not None and (held is None or held.template != edition.template):
        kept = {name: getattr(edition, name) for name in ("company", "name", "edition", "template", "kept")}
        s.add(UnitFromTemplate(**kept, **mine))


def _limits(reading) -> tuple:
    return tuple(getattr(reading, name) for name in READING)


def take_edition(*, by, request_key, clinic, unit, template, take: Collection[str]) -> UnitFromTemplate:
    """The unit follows that edition from today on; of its differences those whose keys are in `take` change it.

    Raises Refused where the unit is none of the clinic's, an edition came meanwhile or a key is no difference;
    NotYours, SubmissionConflict.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    zone = may_be_logged.zone_of(clinic)
    today = clock.today(zone)
    may_be_logged.stop_on(list(may_be_logged.unit_of_clinic("unit", unit, clinic)))
    content = content_of(may_use(rights, clinic, template))
    inputs = {"unit": unit, "template": template, "take": sorted(take)}
    with submission(clinic, by, request_key, "edition of a template", inputs, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(UnitFromTemplate)
        found = {each.key: each for each in differences(unit, template, today)}
        may_be_logged.stop_on(list(_take_problems(unit, template, take, found)))
        mine = {"clinic": clinic, "unit": unit, "happened_on": today, "zone": zone}
        row = s.add(_follows(template, mine, found.keys() - set(take)))
        _Taking(s, content, unit, today, mine).take([found[key] for key in found if key in take])
        return row


def _take_problems(unit: Unit, template: UnitTemplate, take, found: dict) -> Iterator[Problem]:
    if not set(take) <= found.keys():
        words = "What is different was changed meanwhile. Look at it again: nothing was taken over."
        yield Problem("", words)
    plate = access.as_corrected([unit])[0]
    if (plate.maker.casefold(), plate.model.casefold()) != (template.maker.casefold(), template.model.casefold()):
        yield Problem("", f"{template.name} is for {template.maker} {template.model}; the plate of this unit says "
                          f"{plate.maker} {plate.model}. Choose its own, or correct the unit.")  # fmt: skip
    now = followed(unit)
    if now is not None and now.template == template.ref and not found:
        yield Problem("", f"{unit.label} follows this edition already, in everything.")


class _Taking:
    """Writes what is taken over: positions first, as lines and parts sit on them."""

    def __init__(self, s, content: TemplateContent, unit: Unit, on: date, mine: dict) -> None:
        self.s, self.content, self.on, self.mine = s, content, on, mine
        self.places = positions_by_code(unit)
        self.lines = {f"line:{line.code}": line for line in content.lines}
        self.parts = {part_key(p.part, p.position): p for p in content.parts}
        self.readings = {reading_key(r): r for r in content.readings}
        self.held = {f"line:{line.code}": line for line in plan_on(unit, on)}
        self.held |= {part_key(p, p.position): p for p in parts_of(unit, on)}
        self.held |= {reading_key(r): r for r in readings_of(unit, on)}

    def take(self, differences: list[TemplateDifference]) -> None:
        for each in differences:
            if each.kind == GONE:
                self._given_up(self.held[each.key])
            elif each.key.startswith("position:"):
                self._place(each.key.removeprefix("position:"))
            elif each.key in self.lines:
                self._line(self.lines[each.key])
            elif each.key in self.parts:
                part = self.parts[each.key]
                self._place(part.position.code if part.position else "")
                self.s.add(_part(self.content, part, self.places, self.on, self.mine))
            else:
                self.s.add(_reading(self.readings[each.key], self.on, self.mine))

    def _place(self, code: str) -> Position | None:
        if code and code not in self.places:
            told = next(p for p in self.content.positions if p.code == code)
            row = Position(code=code, name=told.name, component=told.component, **self.mine)
            self.places[code] = self.s.add(row)
            self.s.add(Fit(position=row, effective_on=self.on, state="unknown", **self.mine))
        return self.places.get(code)

    def _line(self, line) -> None:
        position = self._place(line.position.code if line.position else "")
        self.s.add(PlanLine(position=position, effective_on=self.on, **_line_fields(line), **self.mine))

    def _given_up(self, row) -> None:
        skipped = {"id", "ref", "origin", "entry", "line", "amends", "amend_reason", "happened_at", *self.mine}
        kept = {f.name: getattr(row, f.name) for f in row._meta.concrete_fields if f.name not in skipped}
        self.s.add(type(row)(**kept | {"effective_on": self.on, "retired": True}, **self.mine))
