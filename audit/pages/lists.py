"""Due, overdue, done, parts used: a clinic's and a company's lists, on screen and as files out of the same rows."""

from __future__ import annotations

from datetime import date

from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from audit.gather.kept_facts import kept_of
from audit.planning import lists
from audit.planning.lists import BY_MONTH, KINDS, TITLES, Month, WorkList
from audit.planning.round import clinic_work
from records import access, clock
from records.forms import EntryContext
from records.log import may_be_logged
from records.views.base import at_clinic, company_or_404
from records.writing.preferences import day_text

from . import table_files
from .opened import OpenedClinic, opened
from .round_read import read_works
from .written_on_screen import said

SHOWN = 300  # rows on one page; the files hold all


def _kind_or_404(kind: str, ending: str = "") -> None:
    if kind not in KINDS or (ending and ending not in table_files.KINDS):
        raise Http404("no such list")


def _month_of(request, today: date) -> tuple[Month, str]:
    """The month of `?month=`, this one without it; and what is wrong with it, "" for nothing."""
    asked = request.GET.get("month", "")
    try:
        return (Month.read(asked) if asked else Month.of(today)), ""
    except ValueError:
        return Month.of(
            today
        ), f"“{asked}” is not a month. Write it as year-month, such as 2026-03. Shown is this month."


def _as_said(found: WorkList) -> WorkList:
    """The list with its sentences as the screen says them: days in them are written as who looks writes them."""
    spoken = [head in lists.SENTENCES[found.kind] for head in found.heads]
    rows = tuple(
        tuple(said(cell) if is_said and cell else cell for cell, is_said in zip(row, spoken, strict=True))
        for row in found.rows
    )
    return WorkList(found.kind, found.heads, rows)


# ------------------------------------------------------------------------------------------------ a clinic's


def _of_clinic(kind: str, page: OpenedClinic, month: Month) -> WorkList:
    if kind in BY_MONTH:
        return _as_said(lists.month_list(kind, [page.facts], {page.facts.slug: page.judgement.name}, month))
    works = [clinic_work(page.facts, page.judgement)]
    return _as_said(lists.owed_list(kind, works, page.as_of, page.judgement))


@at_clinic("look")
@require_safe
def clinic_list(request, ground: EntryContext, kind: str):
    """One list of the clinic: due and overdue on the day asked for (`?as_of=`), done and parts of `?month=`."""
    _kind_or_404(kind)
    page = opened(request, ground)
    month, wrong = _month_of(request, page.as_of)
    context = page.context() | {"clinic_page": True, "place": page.judgement.name}
    return _shown(
        request, _of_clinic(kind, page, month), month, page.problem or wrong, context, "clinic", ground.clinic
    )


@at_clinic("look")
@require_safe
def clinic_list_file(request, ground: EntryContext, kind: str, ending: str):
    """The same as a file, csv or xlsx; a day or month that cannot be read is refused on the page of the list."""
    _kind_or_404(kind, ending)
    page = opened(request, ground)
    month, wrong = _month_of(request, page.as_of)
    if page.problem or wrong:
        return clinic_list(request, ground.clinic.slug, kind=kind)
    about = month if kind in BY_MONTH else page.as_of.isoformat()
    found = _of_clinic(kind, page, month)
    return table_files.table_file(ending, f"{kind}-{ground.clinic.slug}-{about}", found.heads, found.rows)


# ------------------------------------------------------------------------------------------------ a company's


def _of_company(kind: str, company, month: Month) -> tuple[WorkList, list]:
    """The list, and the clinics that it does not hold yet, as they are still to be judged."""
    clinics = list(access.clinics_of_company(company))
    if kind in BY_MONTH:
        known = kept_of(clinics)
        names = {known[clinic.pk].slug: clinic.name for clinic in clinics}
        return _as_said(lists.month_list(kind, known.values(), names, month, company.name)), []
    read = read_works(clinics)
    return _as_said(lists.owed_list(kind, read.works, read.today)), list(read.waiting)


@login_required
@require_safe
def company_list(request, slug: str, kind: str):
    """One list of the company's work at the clinics that it serves today."""
    _kind_or_404(kind)
    company = company_or_404(request.user, slug)
    month, wrong = _month_of(request, clock.today(may_be_logged.zone_of(company)))
    found, waiting = _of_company(kind, company, month)
    context = {"company": company, "place": company.name, "waiting": waiting}
    return _shown(request, found, month, wrong, context, "company", company)


@login_required
@require_safe
def company_list_file(request, slug: str, kind: str, ending: str):
    """The same as a file. While a clinic is still to be judged there is none: it would lack that clinic unsaid."""
    _kind_or_404(kind, ending)
    company = company_or_404(request.user, slug)
    today = clock.today(may_be_logged.zone_of(company))
    month, wrong = _month_of(request, today)
    found, waiting = _of_company(kind, company, month)
    if wrong or waiting:
        answer = company_list(request, slug, kind)
        if waiting and not wrong:
            answer.status_code, answer["Retry-After"] = 503, "5"
        return answer
    about = month if kind in BY_MONTH else today.isoformat()
    return table_files.table_file(ending, f"{kind}-{company.slug}-{about}", found.heads, found.rows)


# ------------------------------------------------------------------------------------------------ shown


def _shown(request, found: WorkList, month: Month, problem: str, context: dict, of: str, organisation):
    query = request.GET.urlencode()
    by_month = found.kind in BY_MONTH
    context |= {
        "kind": found.kind,
        "title": f"{TITLES[found.kind]}{f' in {month}' if by_month else ''}",
        "heads": found.heads,
        "rows": [_row(found, row) for row in found.rows[:SHOWN]],
        "count": len(found.rows),
        "more": max(0, len(found.rows) - SHOWN),
        "wrong": problem,
        "month": month if by_month else None,
        "kinds": [(k, TITLES[k], reverse(f"{of}-list", args=[organisation.slug, k])) for k in KINDS],
        "files": [
            (end.upper(), reverse(f"{of}-list-file", args=[organisation.slug, found.kind, end]), query)
            for end in table_files.KINDS
        ],
    }
    return render(request, "audit/list.html", context, status=400 if problem else 200)


def _row(found: WorkList, row) -> list[tuple[str, str, str]]:
    """(head, text, day for machines) of each cell."""
    return [
        (head, day_text(cell), cell.isoformat())
        if isinstance(cell, date)
        else (head, "" if cell is None else cell, "")
        for head, cell in zip(found.heads, row, strict=True)
    ]
