"""What a unit is goes along with it: positions, whether each has its part, and the plan."""

from __future__ import annotations

from datetime import date

from records import access
from records.models import Fit, PlanLine, Position, TemplateLine, TemplatePosition, Unit, UnitTemplate

from .errors import InputPlace

LINE = (
    "code", "title", "action", "months", "cycles", "hours", "lead_days", "grace_days", "source", "edition", "rule",
    "repair_class",
)  # fmt: skip


def settle_in(s, here: Unit, source: Unit | UnitTemplate | None, mine: dict) -> dict[str, Position]:
    """Write what a record of the unit elsewhere, or an edition of its template, says and the one here does not.

    `mine` is what every row of the unit here has; its day is the one from which it holds. Of a template nobody has
    looked whether a place has its part. A record without a word on a place says that it is not known. Returns the
    positions here by code.
    """
    on = mine["happened_on"]
    places, states = _there(source, on)
    held, fits = ({}, {}) if here.pk is None else (positions_by_code(here), fits_on(here, on))
    for code, old in places.items():
        state, note = states.get(code, ("unknown", ""))
        if code not in held:
            row = Position(code=code, name=old.name, component=old.component, **mine)
            held[code] = s.add(row, at=InputPlace.named("positions"))
        if fits.get(code) != (state, note):
            s.add(Fit(position=held[code], effective_on=on, state=state, note=note, **mine))
    known = {} if here.pk is None else {line.code: _said(line) for line in plan_on(here, on)}
    for line in _lines(source, on):
        if known.get(line.code) != _said(line):
            kept = {name: getattr(line, name) for name in LINE}
            position = held[line.position.code] if line.position else None
            row = PlanLine(position=position, effective_on=on, **kept, **mine)
            s.add(row, at=InputPlace.named("plan"))
    return held


def _there(source, on: date) -> tuple[dict, dict]:
    """Positions by code, and by code whether each has its part."""
    if isinstance(source, UnitTemplate):
        rows = TemplatePosition.objects.in_force().filter(template=source).order_by("line")
        return {row.code: row for row in rows}, {}
    return ({}, {}) if source is None else (positions_by_code(source), fits_on(source, on))


def _lines(source, on: date) -> list:
    if isinstance(source, UnitTemplate):
        rows = TemplateLine.objects.in_force().filter(template=source)
        return list(rows.select_related("position").order_by("line"))
    return [] if source is None else plan_on(source, on)


def _said(line) -> tuple:
    return (line.position.code if line.position else "", *(getattr(line, name) for name in LINE))


def positions_by_code(unit: Unit) -> dict[str, Position]:
    """The positions of the unit by code: first versions as corrected."""
    return {row.code: row for row in first_versions(Position.objects.filter(unit=unit).order_by("id"))}


def fits_on(unit: Unit, on: date) -> dict[str, tuple[str, str]]:
    """By the code of a position what is said of its part on that day, with the note; the newest holds."""
    rows = Fit.objects.in_force().filter(unit=unit, effective_on__lte=on).select_related("position")
    codes = {row.pk: code for code, row in positions_by_code(unit).items()}
    found = {}
    for fit in rows.order_by("effective_on", "id"):
        found[codes.get(fit.position_id, fit.position.code)] = (fit.state, fit.note)
    return found


def plan_on(unit, on) -> list[PlanLine]:
    """The plan of the unit on that day: the newest line in effect of each code, without those given up."""
    lines = PlanLine.objects.filter(unit=unit, effective_on__lte=on).select_related("position")
    lines = lines.order_by("effective_on", "id")
    newest = {line.code: line for line in first_versions(lines)}
    return [line for line in newest.values() if not line.retired]


def first_versions(rows) -> list:
    """As corrected, without those entered in error."""
    kept = rows.model.objects.in_force().values("origin")
    return access.as_corrected(rows.filter(amends__isnull=True, origin__in=kept))
