"""A unit put on the register from a template, and a later edition taken over at one unit."""

from __future__ import annotations

from functools import partial

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse

from records import access, log
from records.forms.templates import FromTemplateForm, TakeEditionForm
from records.log.template_content import content_of, followed
from records.log.template_differences import differences
from records.log.template_units import usable
from records.models import Unit, UnitTemplate

from .base import EntryContext, at_clinic, entry_page, unit_or_404


@at_clinic("set up")
def register_from(request, ground, ref):
    """A unit of a known model: what only this unit has is asked, everything else is copied."""
    template = next((each for each in usable(ground.rights, ground.clinic) if each.ref == ref), None)
    if template is None:
        raise Http404("no such template that may be used here")
    content = content_of(template)
    write = partial(log.register_from_template, clinic=ground.clinic, template=template)
    about = f"{template.maker} {template.model}, from template {template}"
    context = {"about": about, "content": content, "template": template}
    return entry_page(
        request, ground, FromTemplateForm, write, title="Put a unit of a known model on the register",
        template="records/register_from.html", context=context, content=content, to=_unit_page,
    )  # fmt: skip


def _unit_page(clinic, row) -> str:
    unit = row if isinstance(row, Unit) else row.unit
    return reverse("unit", args=[clinic.slug, unit.ref])


def template_for(ground: EntryContext, plate: Unit) -> UnitTemplate | None:
    """The template of the unit's maker and model that may be used here, the newest edition; None where there is none.

    `plate` is the unit as corrected.
    """
    named = (plate.maker.casefold(), plate.model.casefold())
    found = (t for t in usable(ground.rights, ground.clinic) if (t.maker.casefold(), t.model.casefold()) == named)
    return next(found, None)


@at_clinic("set up")
def take_edition(request, ground, ref):
    """What the newest edition says otherwise than the unit, and which of it is taken over."""
    unit = unit_or_404(ground, ref)
    plate = access.as_corrected([unit])[0]
    template = template_for(ground, plate)
    back = reverse("plan", args=[ground.clinic.slug, unit.ref])
    if template is None:
        context = {"clinic": ground.clinic, "unit": plate, "title": "Template of this unit"}
        return render(request, "records/no_template.html", context, status=422 if request.method == "POST" else 200)
    write = partial(log.take_edition, clinic=ground.clinic, unit=unit, template=template)
    found = differences(unit, template, ground.today)
    context = {"about": f"{plate}, template {template}", "follows": followed(unit), "template": template}
    context |= {"nothing": not found, "back": back}
    return entry_page(
        request, ground, TakeEditionForm, write, title="Take over an edition of a template", differences=found,
        template="records/take_edition.html", context=context, to=lambda clinic, row: back,
    )  # fmt: skip
