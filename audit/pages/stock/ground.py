"""Whose books a page of parts is about, and who may open it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import wraps

from django.contrib.auth.decorators import login_required

from records import clock
from records.log import may_be_logged
from records.models import Account, ServiceCompany
from records.views.base import company_or_404
from records.views.base import entry_page as page_of_form

FORM = "audit/stock/form.html"


@dataclass(frozen=True)
class BooksGround:
    """A company's books as somebody of it looks at them; what forms of parts ask."""

    organisation: ServiceCompany
    account: Account
    zone: str

    @property
    def shown(self) -> dict:
        return {"company": self.organisation}

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
        company = company_or_404(request.user, slug)
        return view(request, BooksGround(company, request.user, may_be_logged.zone_of(company)), **kwargs)

    return wrapped


def entry_page(request, ground: BooksGround, form_class, write, *, title, to, about="", back="", **kwargs):
    """The one page of a form (`records.views.base.entry_page`), on the ground of the books; on to `to(row)`."""
    context = {"about": about, "back": back}
    return page_of_form(
        request, ground, form_class, write, title=title, template=FORM, context=context, to=lambda _, row: to(row),
        **kwargs,
    )  # fmt: skip
