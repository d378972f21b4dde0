"""Whose books a page of parts is about, who may open it, and one way from a form to its writer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import wraps

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect, render

from records import clock, log
from records.log.submission import answered
from records.models import Account, ServiceCompany
from records.views.base import company_or_404, safe_next, start_values

ZONE = "UTC"  # a company's books are kept by the day of UTC, as `may_be_logged.zone_of` has it


@dataclass(frozen=True)
class BooksGround:
    """A company's books as somebody of it looks at them; what forms of parts ask."""

    organisation: ServiceCompany
    account: Account
    zone: str = ZONE

    @property
    def books(self) -> ServiceCompany:
        return self.organisation

    @property
    def today(self) -> date:
        return clock.today(self.zone)


def of_company(view):
    """A page of the company's books: 404 for everybody who does not belong to it today."""

    @wraps(view)
    @login_required
    def wrapped(request, slug, **kwargs):
        return view(request, BooksGround(company_or_404(request.user, slug), request.user), **kwargs)

    return wrapped


def entry_page(request, ground: BooksGround, form_class, write, *, title, to, about="", back=None, **kwargs):
    """The form shown, refused with what was typed (422, 409), or recorded and on to the address `to(row)`."""
    form, status = form_class(ground=ground, initial=start_values(request), **kwargs), 200
    if request.method == "POST":
        form, status = form_class(request.POST, ground=ground, **kwargs), 422
        if form.is_valid():
            key = form.cleaned_data["request_key"]
            before = answered(request.user, key)
            try:
                row = write(by=request.user, request_key=key, **form.values())
            except log.NotYours as refusal:
                raise PermissionDenied(refusal.problems[0].message) from None
            except log.SubmissionConflict as conflict:
                form.refuse("", f"{conflict} Open the form anew for something else.")
                status = 409
            except log.Refused as refusal:
                form.take(refusal.problems)
            else:
                words = "This was already recorded, as entry" if before else "Recorded as entry"
                messages.info(request, f"{words} {row.entry.number}.")
                return redirect(safe_next(request) or to(row))
    context = {"company": ground.organisation, "title": title, "form": form, "about": about}
    context["back"] = safe_next(request) or back
    return render(request, "audit/stock/form.html", context, status=status)
