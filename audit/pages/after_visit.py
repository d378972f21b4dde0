"""What follows a visit: its report by mail to the clinic's people, and a return visit that is offered by itself."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from audit.issue import report_mail
from audit.models import ReportMail
from audit.planning.round import WorkItem
from records import access, clock
from records.log import may_be_logged
from records.models import Account, JobConclusion, Visit
from records.views.base import at_clinic, one_or_404

from .planned import StopShown, by_item, people_of, stops_of
from .round_read import read_works

OWED_BY_VISIT = ("return", "failed", "awaited", "fault")  # what a visit may leave over, by the first word of its id
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Return:
    """A return visit to be agreed to: what for, on which day, by whom; and what stands on a stop already."""

    items: tuple[WorkItem, ...]
    on: date
    person: Account | None
    standing: tuple[tuple[WorkItem, StopShown], ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """The works as the form that gives them names them."""
        return tuple(f"{item.unit}|{item.id}" for item in self.items)


def return_of(rights: access.Rights, visit: Visit, clinic) -> Return | None:
    """What the visit left over on its units, for who plans the company's work; None where nothing is offered.

    Nothing where every job of the visit simply ended as released. The day is the one by which a result is to be
    known, where that lies ahead; else the next weekday of the company.
    """
    jobs = JobConclusion.objects.in_force().filter(job__visit__origin=visit.origin)
    left = [unit for end, unit in jobs.values_list("conclusion", "unit__origin") if end != "released"]
    company = rights.company
    if not left or company is None or company.pk != visit.company_id or not rights.roles & access.SERVICE_ROLES:
        return None
    units = set(map(str, left))
    works = read_works([clinic]).works
    owed = [i for w in works for i in w.items if i.unit in units and i.id.partition(":")[0] in OWED_BY_VISIT]
    if not owed:
        return None
    stops = by_item(stops_of(company, works, clinics=[clinic]))
    left = tuple(item for item in owed if item.key not in stops)
    standing = tuple((item, stops[item.key]) for item in owed if item.key in stops)
    day = _day(left, clock.today(may_be_logged.zone_of(company)))
    return Return(left, day, _person(visit, company), standing)


def _day(items, today: date) -> date:
    days = [item.day for item in items if item.day is not None and item.day > today]
    if days and len(days) == len(items):
        return min(days)
    ahead = today + timedelta(days=1)
    while ahead.weekday() >= SATURDAY:
        ahead += timedelta(days=1)
    return ahead


def _person(visit: Visit, company) -> Account | None:
    """Who did the visit, where they may still be given work."""
    return next((each for each in people_of(company) if each.pk == visit.entry.account_id), None)


def mails_of(visit: Visit) -> list[ReportMail]:
    return report_mail.told(visit.origin)


def may_ask(rights, visit: Visit) -> bool:
    """Whether the report may be sent anew by them: the company that did the visit, or the clinic's own."""
    return rights is not None and rights.may_log_visit and (rights.company is None or rights.company == visit.company)


@at_clinic("visit")
@require_POST
def mail_visit(request, ground, ref):
    """Send the report to those of the clinic's people who have not got it."""
    visit = one_or_404(Visit.objects.in_force().filter(clinic=ground.clinic), origin=ref)
    if not may_ask(ground.rights, visit):
        raise PermissionDenied("Only who did the visit, or the clinic itself, sends its report.")
    first = Visit.objects.select_related("entry", "clinic").get(ref=visit.origin)
    waiting, nowhere = report_mail.ask_for(first)
    sent, failed = report_mail.send(ReportMail.objects.filter(visit=visit.origin), anew=True) if waiting else (0, 0)
    if failed:
        messages.error(
            request, f"{failed} could not be sent: the reason stands below. Nothing of the record is lost."
        )
    if sent:
        messages.success(request, f"Sent to {sent} of the clinic\u2019s people.")
    if not sent and not failed:
        words = (
            "has no mail address here: each enters it on the page \u201cMail\u201d." if nowhere else "has it already."
        )
        messages.info(request, f"Nothing was sent: everybody else {words}")
    return redirect("visit", ground.clinic.slug, visit.origin)
