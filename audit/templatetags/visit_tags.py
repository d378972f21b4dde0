"""What the pages of a visit, and the lists of visits not recorded yet, read."""

from __future__ import annotations

from django import template

from audit.pages import after_visit
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


@register.inclusion_tag("audit/_after_visit.html", takes_context=True)
def after_the_visit(context, clinic, visit):
    """Who got the report, and the return visit that is offered; nothing for who belongs to the clinic no more."""
    rights = access.rights(context["user"], clinic)
    if rights is None or context.get("voiding"):
        return {"clinic": None}
    offered = after_visit.return_of(rights, visit, clinic)
    return {
        "clinic": clinic, "visit": visit, "mails": after_visit.mails_of(visit), "offered": offered,
        "may_ask": visit.company_id is not None and after_visit.may_ask(rights, visit),
        "csrf_token": context.get("csrf_token"),
    }  # fmt: skip
