"""Pages of inspections: all of them with their points, a new one, a further point, and that one was met."""

from __future__ import annotations

from collections import defaultdict
from functools import partial

from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from records import forms, log
from records.models import Inspection, InspectionPoint, PointMet

from .base import at_clinic, entry_page, one_or_404


@at_clinic("look")
@require_safe
def inspections(request, ground):
    """The newest first, each with its points as they stand today."""
    found = Inspection.objects.in_force().filter(clinic=ground.clinic)
    found = list(found.select_related("visitor", "entry", "binder").order_by("-happened_on", "-id"))
    points = _points_of(ground)
    shown = [{"row": row, "points": points[row.origin]} for row in found]
    may_log = ground.rights.may_log
    context = {"clinic": ground.clinic, "inspections": shown, "may_log": may_log, "today": ground.today}
    return render(request, "records/inspections.html", context)


def _points_of(ground) -> dict:
    """By the origin of an inspection its points in the order they were named, each with its `met`, None for open."""
    unit_of = {unit.origin: unit for unit in ground.units()}
    met = PointMet.objects.in_force().filter(clinic=ground.clinic).select_related("done_by", "point")
    done = {row.point.origin: row for row in met}
    of_inspection = defaultdict(list)
    points = InspectionPoint.objects.in_force().filter(clinic=ground.clinic)
    for point in points.select_related("inspection", "unit").order_by("happened_on", "id"):
        late = point.due_on is not None and point.due_on < ground.today
        of_inspection[point.inspection.origin].append(
            {
                "row": point,
                "unit": unit_of.get(point.unit.origin) if point.unit else None,
                "met": done.get(point.origin),
                "late": late and point.origin not in done,
            }
        )
    return of_inspection


def _list_of(clinic, _) -> str:
    return reverse("inspections", args=[clinic.slug])


@at_clinic()
def log_inspection(request, ground):
    write = partial(log.log_inspection, clinic=ground.clinic)
    return entry_page(request, ground, forms.InspectionForm, write, title="Log an inspection", to=_list_of)


@at_clinic()
def log_inspection_point(request, ground, ref):
    inspection = one_or_404(Inspection.objects.origins().filter(clinic=ground.clinic), ref=ref)
    newest = one_or_404(Inspection.objects.in_force(), origin=inspection.origin)
    write = partial(log.log_inspection_point, clinic=ground.clinic, inspection=newest)
    context = {"about": f"Inspection of {newest.happened_on}, {newest.office}"}
    return entry_page(
        request,
        ground,
        forms.InspectionPointForm,
        write,
        title="Add a point to correct",
        context=context,
        to=_list_of,
    )


@at_clinic()
def point_met(request, ground, ref):
    point = one_or_404(InspectionPoint.objects.origins().filter(clinic=ground.clinic), ref=ref)
    newest = one_or_404(InspectionPoint.objects.in_force(), origin=point.origin)
    write = partial(log.log_point_met, clinic=ground.clinic, point=newest)
    context = {"about": newest.what}
    return entry_page(
        request, ground, forms.PointMetForm, write, title="The point is corrected", context=context, to=_list_of
    )
