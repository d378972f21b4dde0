"""Work that is owed: a fault reported or settled, a visit agreed with the clinic, moved or called off."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from records.models import FaultReport, FaultSettled, UnitEvent, VisitAgreed, VisitCalledOff

from . import may_be_logged, work_rules
from .errors import Problem
from .naming import name_in
from .submission import answered, submission
from .work_rules import KEPT, OUT, REPORTED


def report_fault(
    *, by, request_key, clinic, unit, on, what, meanwhile, at=None, reported_by="", how="telephone", kept_because="",
    written_at=None,
) -> FaultReport:  # fmt: skip
    """A fault was reported on `on` by `reported_by` ("": the account itself).

    `meanwhile`: "out" takes the unit out of service in the same entry; "kept" leaves it in use and needs
    `kept_because`. Nothing else is taken: a report never leaves open whether the unit may be used.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    fields = {"how": how, "what": what, "kept_because": kept_because}
    problems = [*may_be_logged.not_in_future("on", on, at, zone), *may_be_logged.unit_of_clinic("unit", unit, clinic)]
    problems += _meanwhile(meanwhile, kept_because)
    problems += work_rules.fault_report((fields | {"withdrawal": meanwhile}).get)
    may_be_logged.stop_on(problems)
    inputs = {"unit": unit, "on": on, "at": at, "reported_by": reported_by, "meanwhile": meanwhile, **fields}
    with submission(clinic, by, request_key, REPORTED, inputs, logged_for=rights.company, written_at=written_at) as s:
        if s.repeated:
            return s.first(FaultReport)
        common = {"clinic": clinic, "unit": unit, "happened_on": on, "happened_at": at, "zone": zone}
        withdrawal = None
        if meanwhile == OUT:
            reason = f"{REPORTED}: {what.strip()}"[: UnitEvent._meta.get_field("reason").max_length]
            withdrawal = s.add(UnitEvent(kind="withdrawn", reason=reason, by=by.signed(), **common))
        who = name_in(clinic, reported_by, by)
        return s.add(FaultReport(reported_by=who, withdrawal=withdrawal, **fields, **common))


def _meanwhile(meanwhile: str, kept_because: str) -> Iterator[Problem]:
    if meanwhile not in (OUT, KEPT):
        yield Problem(
            "meanwhile",
            "May the unit be used meanwhile? Say it: take it out of service, or leave it in use with the reason. "
            "When nobody knows, take it out.",
        )
    elif meanwhile == OUT and (kept_because or "").strip():
        yield Problem("kept_because", "It is taken out of service, so nothing keeps it in use. Clear this.")


def settle_fault(
    *, by, request_key, clinic, fault, outcome, on, at=None, settled_by="", written_at=None
) -> FaultSettled:  # fmt: skip
    """A reported fault needs no visit any more. A unit that it took out of service stays out until it is returned."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.not_in_future("on", on, at, zone)]
    if fault is None or fault.clinic_id != clinic.pk:
        problems.append(Problem("fault", "That fault is none of this clinic's. Choose one from its list."))
    elif _is_settled(fault) and not answered(by, request_key):
        problems.append(Problem("outcome", "This fault is settled already. Correct that entry if it is wrong."))
    fields = {"fault": fault, "outcome": outcome}
    problems += work_rules.fault_settled((fields | {"happened_on": on}).get, day="on")
    may_be_logged.stop_on(problems)
    inputs = {"on": on, "at": at, "settled_by": settled_by, **fields}
    entry = {"logged_for": rights.company, "written_at": written_at}
    with submission(clinic, by, request_key, "fault settled", inputs, **entry) as s:
        if s.repeated:
            return s.first(FaultSettled)
        who = name_in(rights.company or clinic, settled_by, by)
        common = {"clinic": clinic, "unit": fault.unit, "happened_on": on, "happened_at": at, "zone": zone}
        return s.add(FaultSettled(settled_by=who, **fields, **common))


def _is_settled(fault) -> bool:
    return FaultSettled.objects.in_force().filter(fault__origin=fault.origin).exists()


def agree_visit(
    *, by, request_key, clinic, company, visit_on, on, agreed_with, at=None, hour="", agreed_by="", how="telephone",
    about="", instead_of=None, reason="", written_at=None,
) -> VisitAgreed:  # fmt: skip
    """The clinic and `company` agreed on `on` that somebody comes on `visit_on`, which may lie ahead.

    `instead_of`: the agreement in force that this one moves, with `reason`; None: a first one.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    fields = {
        "company": company, "visit_on": visit_on, "hour": hour, "how": how, "about": about, "instead_of": instead_of,
        "reason": reason,
    }  # fmt: skip
    problems = [*may_be_logged.not_in_future("on", on, at, zone), *work_rules.visit_agreed(fields.get)]
    problems += work_rules.named("agreed_with", agreed_with, "With whom was it agreed?")
    if not answered(by, request_key):
        problems += _agreement_stands(clinic, instead_of, "instead_of")
    may_be_logged.stop_on(problems)
    inputs = {"on": on, "at": at, "agreed_with": agreed_with, "agreed_by": agreed_by, **fields}
    entry = {"logged_for": rights.company, "written_at": written_at}
    with submission(clinic, by, request_key, "visit agreed", inputs, **entry) as s:
        if s.repeated:
            return s.first(VisitAgreed)
        people = {"agreed_with": name_in(clinic, agreed_with), "agreed_by": name_in(company, agreed_by, by)}
        return s.add(VisitAgreed(clinic=clinic, happened_on=on, happened_at=at, zone=zone, **people, **fields))


def call_off_visit(
    *, by, request_key, clinic, agreed, reason, told_to, on, at=None, told_by="", how="telephone", written_at=None
) -> VisitCalledOff:  # fmt: skip
    """An agreed visit was called off on `on`: why, by whom ("": the account itself), and who was told."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.not_in_future("on", on, at, zone)]
    if agreed is None:
        problems.append(Problem("agreed", "Which agreed visit? Choose it from its list."))
    elif not answered(by, request_key):
        problems += _agreement_stands(clinic, agreed, "agreed")
    fields = {"agreed": agreed, "reason": reason, "how": how}
    problems += work_rules.visit_called_off((fields | {"happened_on": on}).get, day="on")
    problems += work_rules.named("told_to", told_to, "Who was told?")
    may_be_logged.stop_on(problems)
    inputs = {"on": on, "at": at, "told_by": told_by, "told_to": told_to, **fields}
    entry = {"logged_for": rights.company, "written_at": written_at}
    with submission(clinic, by, request_key, "visit called off", inputs, **entry) as s:
        if s.repeated:
            return s.first(VisitCalledOff)
        people = {
            "told_by": name_in(rights.company or clinic, told_by, by),
            "told_to": name_in(clinic if rights.company else agreed.company, told_to),
        }
        return s.add(VisitCalledOff(clinic=clinic, happened_on=on, happened_at=at, zone=zone, **people, **fields))


def agreements_standing(clinic, company=None, from_on: date | None = None) -> list[VisitAgreed]:
    """The agreed visits that nothing moved or called off, by day; those from `from_on` (inclusive) on, None: all."""
    rows = VisitAgreed.objects.in_force().filter(clinic=clinic).select_related("agreed_with", "agreed_by", "entry")
    if company is not None:
        rows = rows.filter(company=company)
    if from_on is not None:
        rows = rows.filter(visit_on__gte=from_on)
    rows = list(rows.order_by("visit_on", "id"))
    gone = _gone(clinic)
    return [row for row in rows if row.origin not in gone]


def _gone(clinic) -> set:
    """Origins of the agreements that were moved or called off."""
    moved = VisitAgreed.objects.in_force().filter(clinic=clinic, instead_of__isnull=False)
    off = VisitCalledOff.objects.in_force().filter(clinic=clinic)
    return {
        *moved.values_list("instead_of__origin", flat=True),
        *off.values_list("agreed__origin", flat=True),
    }


def _agreement_stands(clinic, agreed, place: str) -> Iterator[Problem]:
    if agreed is None:
        return
    if agreed.clinic_id != clinic.pk:
        yield Problem(place, "That agreement is none of this clinic's. Choose one from its list.")
    elif agreed.origin in _gone(clinic):
        yield Problem(
            place, "That visit was moved or called off already. Open the day again to see how it stands now."
        )
