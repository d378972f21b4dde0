"""The templates of a company: each with its newest edition, one with the units that follow it, and the next."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from audit.pages.stock.ground import BooksGround, of_company
from records import access, log
from records.forms import with_more_rows
from records.forms.templates import TemplateForms
from records.log.submission import answered
from records.log.template_content import content_of
from records.log.templates import editions, templates_of
from records.models import Unit, UnitFromTemplate, UnitTemplate
from records.views.base import start_values

UNITS_SHOWN = 200


@dataclass(frozen=True, slots=True)
class UnitOfTemplate:
    """A unit that follows an edition; `behind` says that a later one stands there to be taken over."""

    unit: Unit
    row: UnitFromTemplate
    behind: bool


@of_company
@require_safe
def templates_page(request, ground: BooksGround):
    """Every template with its newest edition, and how many units follow an older one."""
    rows = templates_of(ground.organisation)
    following = _following(ground)
    lines = []
    for template in rows:
        units = [u for u in following if u.row.template in {e.ref for e in editions(template)}]
        behind = sum(u.row.template != template.ref for u in units)
        lines.append({"template": template, "units": len(units), "behind": behind})
    may = access.may_visit_for(request.user, ground.organisation)
    context = {"company": ground.organisation, "lines": lines, "may": may, "today": ground.today}
    return render(request, "audit/templates/templates.html", context)


def _following(ground: BooksGround) -> list[UnitOfTemplate]:
    """The units at clinics served today that follow a template of the company, each by the newest edition it took."""
    clinics = access.clinics_of_company(ground.organisation).values("pk")
    rows = UnitFromTemplate.objects.in_force().filter(clinic__in=clinics, company=ground.organisation.name)
    newest: dict[int, UnitFromTemplate] = {}
    for row in rows.select_related("clinic", "unit").order_by("happened_on", "id"):
        newest[row.unit_id] = row
    units = {unit.pk: unit for unit in access.as_corrected([row.unit for row in newest.values()])}
    return [UnitOfTemplate(units[pk], row, False) for pk, row in newest.items()]


def template_or_404(ground: BooksGround, ref) -> UnitTemplate:
    """An edition of the books. Raises Http404."""
    found = UnitTemplate.objects.in_force().filter(owner=ground.organisation.pk, ref=ref).first()
    if found is None:
        raise Http404("no such template in the books of this company")
    return found


@of_company
@require_safe
def template_page(request, ground: BooksGround, ref):
    """One edition, the editions before and after it, and which units follow which."""
    template = template_or_404(ground, ref)
    line = editions(template)
    by_ref = {each.ref: each for each in line}
    units = [
        UnitOfTemplate(each.unit, each.row, each.row.template != line[-1].ref)
        for each in _following(ground) if each.row.template in by_ref
    ]  # fmt: skip
    units.sort(key=lambda each: (not each.behind, each.row.clinic.name, each.unit.label))
    context = {
        "unfolded": request.GET.get("open") == "1",
        "company": ground.organisation, "template": template, "content": content_of(template), "editions": line,
        "newest": line[-1], "units": units[:UNITS_SHOWN], "more": max(0, len(units) - UNITS_SHOWN),
        "behind": sum(each.behind for each in units), "today": ground.today,
        "may": access.may_visit_for(request.user, ground.organisation),
    }  # fmt: skip
    return render(request, "audit/templates/template.html", context)


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def add_template(request, ground: BooksGround):
    """The first edition for a maker and model."""
    _refuse_unless_may(request, ground)
    return _edit(request, ground, None, "Make a template of units")


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def amend_template(request, ground: BooksGround, ref):
    """The next edition; of the rows of the one before, those that are blanked are left out."""
    _refuse_unless_may(request, ground)
    template = template_or_404(ground, ref)
    return _edit(request, ground, template, f"The next edition of {template.name}")


def _refuse_unless_may(request, ground: BooksGround) -> None:
    if not access.may_visit_for(request.user, ground.organisation):
        raise PermissionDenied(
            f"Templates of {ground.organisation.name} are made by its technicians and dispatchers."
        )


def _edit(request, ground: BooksGround, edition: UnitTemplate | None, title: str):
    about = {"ground": ground, "edition": edition, "content": content_of(edition) if edition else None}
    page, status = TemplateForms(initial=start_values(request), **about), 200
    if request.method == "POST" and request.POST.get("more"):
        page = TemplateForms(with_more_rows(request.POST, request.POST["more"]), **about)
        page.quiet()
    elif request.method == "POST":
        page, status = TemplateForms(request.POST, **about), 422
        if page.is_valid():
            made, status = _written(request, ground, edition, page)
            if made is not None:
                return redirect("template", ground.organisation.slug, made.ref)
    slug = ground.organisation.slug
    back = reverse("template", args=[slug, edition.ref]) if edition else reverse("templates", args=[slug])
    context = {"company": ground.organisation, "title": title, "page": page, "form": page, "back": back}
    return render(request, "audit/templates/edit.html", context, status=status)


def _written(request, ground: BooksGround, edition, page: TemplateForms):
    """(the edition, 302), or (None, the status) with what is wrong shown in the page."""
    key = page.cleaned_data["request_key"]
    before = answered(request.user, key)
    try:
        made = log.log_template(
            by=request.user, request_key=key, owner=ground.organisation, instead_of=edition, **page.values()
        )
    except log.NotYours as refusal:
        raise PermissionDenied(refusal.problems[0].message) from None
    except log.SubmissionConflict as conflict:
        page.refuse("", f"{conflict} Open the form anew for something else.")
        return None, 409
    except log.Refused as refusal:
        page.take(refusal.problems)
        return None, 422
    words = "This was already recorded, as entry" if before else "Recorded as entry"
    messages.info(request, f"{words} {made.entry.number}.")
    return made, 302
