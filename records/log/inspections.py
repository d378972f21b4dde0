"""An inspection of the place, the points it asks to be corrected, and that one was met."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date

from records.models import Inspection, InspectionPoint, PointMet

from . import may_be_logged, row_rules
from .errors import InputPlace, Problem
from .naming import name_in
from .submission import answered, submission

POINTS = InputPlace() / "points"


def log_inspection(
    *, by, request_key, clinic, on, visitor, office, at=None, occasion="", asked="", binder=None, report=None,
    points: Iterable[Mapping] = (), paper="", written_at=None,
) -> Inspection:  # fmt: skip
    """Somebody from `office` came on `on`, with the points that they ask to be corrected, if any were named then.

    `points`: dicts with `what`, and where stated `due_on` (the last day), `unit` (None: the whole place), `citation`.
    `binder` is the issued binder that was handed out, `report` the paper on file; None for none.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    points = [_point(p) for p in points]
    head = {"office": office, "occasion": occasion, "asked": asked, "binder": binder, "report": report}
    problems = [*may_be_logged.not_in_future("on", on, at, zone), *_of_clinic(clinic, binder=binder, report=report)]
    problems += row_rules.inspection(head.get)
    if not (visitor or "").strip():
        problems.append(Problem("visitor", "Who came? Enter the name, or “name not given”."))
    for n, point in enumerate(points):
        problems += _point_problems(point, clinic, on, POINTS / n)
    may_be_logged.stop_on(problems)
    inputs = {"on": on, "at": at, "visitor": visitor, "points": points, **head}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "inspection", inputs, **entry) as s:
        if s.repeated:
            return s.first(Inspection)
        common = {"clinic": clinic, "happened_on": on, "happened_at": at, "zone": zone}
        row = s.add(Inspection(visitor=name_in(clinic, visitor), **head, **common))
        for n, point in enumerate(points):
            s.add(InspectionPoint(inspection=row, **point, **common), at=POINTS / n)
        return row


def log_inspection_point(
    *, by, request_key, clinic, inspection, what, on, due_on=None, unit=None, citation="", paper="", written_at=None
) -> InspectionPoint:  # fmt: skip
    """A point of an inspection that was named on a day after it, such as in its written report."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    point = {"what": what, "due_on": due_on, "unit": unit, "citation": citation}
    problems = [*may_be_logged.not_in_future("on", on, None, zone), *_of_clinic(clinic, inspection=inspection)]
    if inspection is None:
        problems.append(Problem("inspection", "Of which inspection? Choose it from its list."))
    elif on is not None:
        problems += may_be_logged.after("on", on, inspection.happened_on, "the day of the inspection")
    problems += _point_problems(point, clinic, inspection.happened_on if inspection else None)
    may_be_logged.stop_on(problems)
    inputs = {"on": on, "inspection": inspection, **point}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "point of an inspection", inputs, **entry) as s:
        if s.repeated:
            return s.first(InspectionPoint)
        return s.add(InspectionPoint(clinic=clinic, inspection=inspection, happened_on=on, zone=zone, **point))


def log_point_met(
    *, by, request_key, clinic, point, outcome, on, at=None, done_by="", document=None, paper="", written_at=None
) -> PointMet:  # fmt: skip
    """A point was corrected: what was done, on which day, by whom ("": the account itself), the paper if any.

    One point is met once; a second time is refused, the first is corrected instead.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    fields = {"point": point, "outcome": outcome, "document": document}
    problems = [*may_be_logged.not_in_future("on", on, at, zone), *_of_clinic(clinic, point=point, document=document)]
    if point is None:
        problems.append(Problem("point", "Which point was met? Choose it from its list."))
    elif PointMet.objects.in_force().filter(point__origin=point.origin).exists() and not answered(by, request_key):
        problems.append(Problem("outcome", "This point is met already. Correct that entry if it is wrong."))
    problems += row_rules.point_met(({"happened_on": on} | fields).get, day="on")
    may_be_logged.stop_on(problems)
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    inputs = {"on": on, "at": at, "done_by": done_by, **fields}
    with submission(clinic, by, request_key, "point of an inspection met", inputs, **entry) as s:
        if s.repeated:
            return s.first(PointMet)
        who = name_in(rights.company or clinic, done_by, by)
        return s.add(PointMet(clinic=clinic, done_by=who, happened_on=on, happened_at=at, zone=zone, **fields))


def _point(said: Mapping) -> dict:
    return {
        "what": said.get("what", ""), "due_on": said.get("due_on"), "unit": said.get("unit"),
        "citation": said.get("citation", ""),
    }  # fmt: skip


def _point_problems(point: dict, clinic, inspected_on: date | None, at=row_rules.WHOLE) -> Iterator[Problem]:
    yield from row_rules.inspection_point(point.get, at, inspected_on)
    if point["unit"] is not None:
        yield from may_be_logged.unit_of_clinic(at / "unit", point["unit"], clinic)


def _of_clinic(clinic, **rows) -> Iterator[Problem]:
    for name, row in rows.items():
        if row is not None and row.clinic_id != clinic.pk:
            yield Problem(name, "That is none of this clinic's. Choose one from its list.")
