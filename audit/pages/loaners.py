"""A company's units to lend: the pool, the history of one by its serial, lent to a clinic and back."""

from __future__ import annotations

from dataclasses import dataclass

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from audit.pages.stock.ground import BooksGround, entry_page, of_company
from records import access, log
from records.forms.loaners import LendForm, LoanBackForm, PoolUnitEndForm, PoolUnitForm
from records.log.loaners import PoolLine, pool_of
from records.models import Loan, Unit, Visit
from records.views.base import at_clinic
from records.views.base import entry_page as clinic_entry_page


@dataclass(frozen=True, slots=True)
class LoanTold:
    """A loan as the company's page tells it; `unit` is its record at the clinic where the account may open it."""

    loan: Loan
    unit: Unit | None
    in_place_of: str
    visits: int


@of_company
@require_safe
def loaners_page(request, ground: BooksGround):
    """Where each unit of the pool is: free and in which store, or at which clinic since when."""
    lines = pool_of(ground.organisation)
    context = {"company": ground.organisation, "today": ground.today, "lines": [x for x in lines if x.gone is None]}
    context |= {"gone": [line for line in lines if line.gone], "may": _may(request, ground)}
    return render(request, "audit/loaners/loaners.html", context)


def _may(request, ground: BooksGround) -> bool:
    return access.may_visit_for(request.user, ground.organisation)


def line_or_404(ground: BooksGround, ref) -> PoolLine:
    """A unit of the pool with its loans. Raises Http404."""
    found = next((line for line in pool_of(ground.organisation) if line.unit.ref == ref), None)
    if found is None:
        raise Http404("no such unit in the pool of this company")
    return found


@of_company
@require_safe
def loaner_page(request, ground: BooksGround, ref):
    """One unit through all clinics. Of a clinic that the company does not service any more only the days are told."""
    line = line_or_404(ground, ref)
    context = {
        "company": ground.organisation, "line": line, "loans": _told(ground, line), "today": ground.today,
        "may": _may(request, ground),
    }  # fmt: skip
    return render(request, "audit/loaners/loaner.html", context)


def _told(ground: BooksGround, line: PoolLine) -> list[LoanTold]:
    served = set(access.clinics_of_company(ground.organisation).values_list("pk", flat=True))
    seen = [loan for loan in line.loans if loan.clinic_id in served]
    refs = {ref for loan in seen for ref in (loan.record, loan.in_place_of) if ref}
    first = Unit.objects.filter(ref__in=refs).select_related("amended_by")
    units = {unit.ref: unit for unit in access.as_corrected(first)}
    visits = Visit.objects.in_force().filter(jobs__unit__ref__in=[loan.record for loan in seen]).distinct()
    days = list(visits.values_list("clinic_id", "happened_on"))
    found = []
    for loan in reversed(line.loans):
        here = units.get(loan.record) if loan in seen else None
        own = units.get(loan.in_place_of) if loan in seen else None
        last = loan.end.happened_on if loan.end else ground.today
        during = sum(clinic == loan.clinic_id and loan.happened_on <= day <= last for clinic, day in days)
        found.append(LoanTold(loan, here, own.label if own else "", during if here else 0))
    return found


def _home(ground: BooksGround) -> str:
    return reverse("loaners", args=[ground.organisation.slug])


def _refuse_unless_may(request, ground: BooksGround) -> None:
    if not _may(request, ground):
        raise PermissionDenied(f"Units of {ground.organisation.name} are lent by its technicians and dispatchers.")


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def add_loaner(request, ground: BooksGround):
    """A unit of the company's own joins the pool."""
    _refuse_unless_may(request, ground)
    return entry_page(
        request, ground, PoolUnitForm, lambda **v: log.log_pool_unit(owner=ground.organisation, **v),
        title="Add a unit to lend", to=lambda row: reverse("loaner", args=[ground.organisation.slug, row.ref]),
        back=_home(ground),
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def loaner_back(request, ground: BooksGround, ref):
    """The unit came back from the clinic where it is, or was last: sent twice it is answered, not refused."""
    _refuse_unless_may(request, ground)
    line = line_or_404(ground, ref)
    loan = line.open_loan or (line.loans[-1] if line.loans else None)
    if loan is None:
        raise Http404("this unit was never lent")
    at = reverse("loaner", args=[ground.organisation.slug, ref])
    return entry_page(
        request, ground, LoanBackForm, lambda **v: log.take_back(owner=ground.organisation, loan=loan, **v),
        title=f"{line.unit.label} is back", about=f"{line.unit}, lent to {loan.clinic.name} on {loan.happened_on}",
        to=lambda row: at, back=at,
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def end_loaner(request, ground: BooksGround, ref):
    """The unit is not lent any more."""
    _refuse_unless_may(request, ground)
    line = line_or_404(ground, ref)
    at = reverse("loaner", args=[ground.organisation.slug, ref])

    def write(**values):
        return log.end_pool_unit(owner=ground.organisation, pool_unit=line.unit, **values)

    return entry_page(
        request, ground, PoolUnitEndForm, write, title=f"{line.unit.label} is not lent any more",
        about=str(line.unit), to=lambda row: at, back=at,
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@at_clinic("visit")
def lend_loaner(request, ground):
    """The swap: a unit of the pool comes, one of the clinic's goes or stays: that of `?unit=` where it is given."""
    if ground.rights.company is None:
        raise PermissionDenied("A loaner is lent by the people of the company that services this clinic. Ask them.")
    asked = request.GET.get("unit")
    unit = next((each for each in ground.units() if str(each.ref) == asked), None)
    if asked and unit is None:
        raise Http404("no such unit at this clinic")

    def write(**values):
        return log.lend_unit(owner=ground.rights.company, clinic=ground.clinic, **values)

    free = [line for line in pool_of(ground.rights.company) if line.free]
    context = {"about": "" if free else "No unit of the pool is free. Take one back first, or add one to the pool."}
    return clinic_entry_page(
        request, ground, LendForm, write, title="Lend a loaner", initial={"in_place_of": unit} if unit else None,
        context=context, to=lambda clinic, row: reverse("unit", args=[clinic.slug, row.record]),
    )  # fmt: skip
