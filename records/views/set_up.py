"""Pages of what is set up once and changed seldom, and one page that leads to all of them."""

from __future__ import annotations

from functools import partial

from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from records import access, log
from records.forms import set_up as forms
from records.forms.base import plan_lines_of, standing_rows
from records.log.programs import programs_of
from records.log.template_content import followed
from records.models import ClinicTerms, LocalDuty, Part, PartLot, Placement, PlanLine

from .base import at_clinic, entry_page, unit_or_404
from .books import _in_books
from .templates import template_for


@at_clinic("look")
@require_safe
def set_up(request, ground):
    """What stands, and where each of it is changed."""
    terms = ClinicTerms.objects.in_force().filter(clinic=ground.clinic).order_by("effective_on", "id")
    held = [row for row in terms if row.effective_on <= ground.today]
    lots = (
        PartLot.objects.in_force().filter(owner=ground.books.pk) if ground.rights.may_log else PartLot.objects.none()
    )
    context = {
        "clinic": ground.clinic,
        "rights": ground.rights,
        "books": ground.books,
        "terms": held[-1] if held else None,
        "ahead": [row for row in terms if row.effective_on > ground.today],
        "duties": list(LocalDuty.objects.in_force().filter(clinic=ground.clinic).order_by("effective_on", "id")),
        "units": ground.units(),
        "parts": list(Part.objects.in_force().filter(owner=ground.books.pk).order_by("name")),
        "lots": lots.count(),
        "weekday": _weekday(held[-1].week_start) if held else "",
    }
    return render(request, "records/set_up.html", context)


def _weekday(number: int) -> str:
    return ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")[number]


@at_clinic("look")
@require_safe
def plan(request, ground, ref):
    """The plan of a unit as it holds today, and the lines that are coming or not done any more."""
    unit = unit_or_404(ground, ref)
    held = plan_lines_of(unit, ground.today)
    every = PlanLine.objects.in_force().filter(unit=unit).order_by("code", "effective_on", "id")
    codes = {line.code for line in held}
    context = {
        "clinic": ground.clinic,
        "rights": ground.rights,
        "unit": access.as_corrected([unit])[0],
        "lines": sorted(held, key=lambda line: line.title),
        "ahead": [line for line in every if line.effective_on > ground.today],
        "retired": sorted({line.code for line in every if line.effective_on <= ground.today} - codes),
        "programs": programs_of(unit, ground.today),
        "follows": followed(unit),
    }
    template = template_for(ground, context["unit"])
    behind = template is not None and (context["follows"] is None or context["follows"].template != template.ref)
    context["newest"] = template if behind else None
    return render(request, "records/plan.html", context)


def _to_plan(request, ground, unit) -> None:
    """Back to the plan afterwards, unless the address says where to."""
    query = request.GET.copy()
    query.setdefault("next", reverse("plan", args=[ground.clinic.slug, unit.ref]))
    request.GET = query


@at_clinic("set up")
def add_plan_line(request, ground, ref):
    unit = unit_or_404(ground, ref)
    _to_plan(request, ground, unit)
    used = PlanLine.objects.in_force().filter(unit=unit).values_list("code", flat=True)
    write = partial(log.log_plan_line, clinic=ground.clinic, unit=unit)
    about = str(access.as_corrected([unit])[0])
    context = {"about": about}
    return entry_page(
        request,
        ground,
        forms.PlanLineForm,
        write,
        title="Add a line to the plan",
        context=context,
        unit=unit,
        used=used,
    )


@at_clinic("set up")
def change_plan_line(request, ground, ref, code):
    """The next version of a line, also of one that is not done any more."""
    unit = unit_or_404(ground, ref)
    lines = standing_rows(PlanLine.objects.filter(unit=unit, code=code).order_by("effective_on", "id"))
    if not lines:
        raise Http404("no such line")
    _to_plan(request, ground, unit)
    write = partial(log.log_plan_line, clinic=ground.clinic, unit=unit)
    about = f"{access.as_corrected([unit])[0]}: {code}"
    context = {"about": about}
    return entry_page(
        request, ground, forms.PlanLineForm, write, title="Change a line of the plan", context=context, unit=unit,
        line=lines[-1],
    )  # fmt: skip


@at_clinic("set up")
def place_unit(request, ground, ref):
    """Another room, or stored as a spare and back."""
    unit = unit_or_404(ground, ref)
    placed = Placement.objects.in_force().filter(unit=unit).order_by("-effective_on", "-id").first()
    write = partial(log.place_unit, clinic=ground.clinic, unit=unit)
    about = f"{access.as_corrected([unit])[0]}, now in {placed.room}, {placed.use}" if placed else str(unit)
    context = {"about": about}
    return entry_page(request, ground, forms.PlaceForm, write, title="Move a unit", context=context, placed=placed)


@at_clinic("manage")
def hand_over_unit(request, ground, ref):
    """To another clinic that the account manages too."""
    unit = unit_or_404(ground, ref)
    plate = access.as_corrected([unit])[0]
    clinics = [c for c in access.clinics_managed(request.user) if c.pk != ground.clinic.pk]
    if request.method != "POST" and not clinics:
        return render(request, "records/no_other_clinic.html", {"clinic": ground.clinic, "unit": plate})

    made = []

    def write(**values):
        made.append((values["to"], log.hand_over_unit(clinic=ground.clinic, unit=unit, **values)))
        return made[0][1]

    answer = entry_page(
        request, ground, forms.HandOverForm, write, title="Move a unit to another clinic",
        context={"about": str(plate)}, clinics=clinics, label=plate.label,
    )  # fmt: skip
    return redirect("unit", made[0][0].slug, made[0][1].ref) if made else answer


@at_clinic()
def log_counter(request, ground, ref):
    unit = unit_or_404(ground, ref)
    write = partial(log.log_counter, clinic=ground.clinic, unit=unit)
    context = {"about": str(access.as_corrected([unit])[0])}
    return entry_page(request, ground, forms.CounterForm, write, title="Log a counter", context=context)


@at_clinic("rules")
def log_local_duty(request, ground):
    write = partial(log.log_local_duty, clinic=ground.clinic)
    return entry_page(request, ground, forms.LocalDutyForm, write, title="Set a duty of our own")


@at_clinic("parts")
def add_part(request, ground):
    return _in_books(request, ground, forms.PartForm, log.log_part, "Add a kind of spare part")


@at_clinic("parts")
def add_part_lot(request, ground):
    return _in_books(request, ground, forms.PartLotForm, log.log_part_lot, "Enter a receipt of parts")
