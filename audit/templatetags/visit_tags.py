"""What the pages of a visit, and the lists of visits not recorded yet, read."""

from __future__ import annotations

from django import template

from audit.pages.visit.drafts import line_of, open_drafts
from records import access

register = template.Library()


@register.filter
def test_of(form, code: str) -> dict:
    """The fields of one test before return to use."""
    return form.tests([code])[0]


@register.inclusion_tag("audit/visit/_open.html", takes_context=True)
def visits_not_recorded(context, clinic):
    """One's own visits at the clinic that are not recorded yet; nothing where there is none. One query."""
    drafts = [line_of(d) for d in open_drafts(context["user"], clinic=clinic)]
    return {"drafts": drafts, "zone": context.get("zone", "UTC")}


@register.inclusion_tag("audit/visit/_open.html", takes_context=True)
def visits_of_company(context, company):
    """Visits of the company's people that are not recorded yet; only one's own can be opened. One query."""
    # Of a clinic that it serves no more nothing can be opened.
    found = open_drafts(content__side=str(company.ref), clinic__in=access.clinics_of_company(company))
    drafts = [line_of(d) | {"other": d.account_id != context["user"].pk} for d in found]
    return {"drafts": drafts, "zone": "UTC", "named": True}
