"""The pages of a visit, one step a page: shown, kept with every save, left and taken up again."""

from __future__ import annotations

import uuid
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from audit.binder.blank_forms.about import CAUTION
from audit.pages.visit.guide import steps
from records import access, clock
from records.doors.uploads import DayIsFull
from records.files.photos import NotAPhoto
from records.views.base import at_clinic

from . import photos
from .drafts import (
    DraftedVisit,
    Gone,
    answer_conflict,
    answer_gone,
    base_of,
    begin,
    device_of,
    draft_or_404,
    key_of,
    line_of,
    open_drafts,
    save,
    typed,
    typed_at,
    visit_of,
    wants_data,
)
from .forms import OUTCOME_WORDS
from .shown import SHOWN

STOPPED = (
    "First confirm that this is the unit on record: read its plate. "
    "Where it differs, the register is put right first."
)


@require_http_methods(["GET", "HEAD", "POST"])
@at_clinic("visit")
def visit_begin(request, ground):
    """Which units; `?unit=` (from a label or a page) comes chosen. Below: own visits left open at this clinic."""
    here = {str(u.ref): u for u in access.as_corrected(access.units_of_clinic(ground.clinic))}
    asked = request.POST.getlist("units") or [*request.GET.getlist("unit"), *request.GET.getlist("units")]
    if any(ref not in here for ref in asked):
        raise Http404("No such unit at this clinic.")
    chosen = [here[ref] for ref in dict.fromkeys(asked)]
    if request.method == "POST" and chosen:
        key = key_of(request, "request_key")
        draft = begin(ground, chosen, device_of(request), key) or begin(ground, chosen, device_of(request))
        first = reverse("visit-step", args=[ground.clinic.slug, draft.ref, 1, steps.IDENTIFY])
        return JsonResponse({"next": first}) if wants_data(request) else redirect(first)
    context = {
        "clinic": ground.clinic, "units": here.values(), "chosen": {str(u.ref) for u in chosen},
        "nothing_chosen": request.method == "POST", "zone": ground.zone, "key": uuid.uuid4(),
        "drafts": [line_of(d) for d in open_drafts(ground.account, clinic=ground.clinic)],
    }  # fmt: skip
    return render(request, "audit/visit/begin.html", context, status=422 if context["nothing_chosen"] else 200)


@require_safe
@at_clinic("visit")
def visit_draft(request, ground, ref):
    """Take the visit up where it was left: the first page without an answer."""
    try:
        visit = visit_of(request, ground, ref)
    except Gone:
        return answer_gone(request, ground, ref)
    return redirect(_first_open(visit))


def _first_open(visit: DraftedVisit) -> str:
    for n, unit in visit.units.items():
        tasks = [steps.TASK + code for code in unit.due]
        for step in (steps.IDENTIFY, steps.SAFE, steps.FOUND, *tasks, steps.PROVE, steps.END):
            if step not in unit.answered or (step == steps.IDENTIFY and not unit.is_identified):
                return visit.address(n, step)
    return visit.record_address


@require_POST
@at_clinic("visit")
def throw_away(request, ground, ref):
    """The draft is deleted; nothing of it was ever a record."""
    draft = draft_or_404(ground, ref)
    if draft.recorded_at is None:
        draft.delete()
        messages.info(request, "The visit was thrown away. Nothing of it was recorded.")
    return redirect("visit-begin", ground.clinic.slug)


@require_http_methods(["GET", "HEAD", "POST"])
@at_clinic("visit")
def visit_step(request, ground, ref, n, step):
    try:
        visit = visit_of(request, ground, ref, n)
        unit = visit.units[n]
        if not steps.is_step(step, unit.lines.keys()):
            raise Http404("This visit has no such page.")
        if step != steps.IDENTIFY and not unit.is_identified and not _is_taken_along(request):
            return _stopped(request, visit, n)
        if request.method == "POST":
            return _take(request, visit, n, step)
    except Gone:
        return answer_gone(request, ground, ref)
    if step in (steps.TASKS,) or request.GET.get("check") != "1":
        return show_step(request, visit, n, step)
    return show_step(request, visit, n, step, checked=True)


def _is_taken_along(request) -> bool:
    """Whether a device fetches the page to keep it: then also before the unit is identified, for it cannot ask later.

    Nothing is recorded of a unit that was not identified, whatever a device keeps.
    """
    return request.method in ("GET", "HEAD") and request.headers.get("X-Keep") == "1"


def _stopped(request, visit: DraftedVisit, n: int):
    where = visit.address(n, steps.IDENTIFY)
    if wants_data(request):
        return JsonResponse({"next": where, "problem": STOPPED}, status=422)
    messages.warning(request, STOPPED)
    return redirect(where)


def _take(request, visit: DraftedVisit, n: int, step: str):
    """Keep what was sent, whatever is wrong with it; then go on, or say what is wrong."""
    unit = visit.units[n]
    if step == steps.TASKS:
        where = _next(visit, n, step)
        return JsonResponse({"next": where}) if wants_data(request) else redirect(where)
    data, unclear = _sent(request, visit, unit, step)
    conflict, too_long = _kept(request, visit, f"{n}/{step}", data)
    problem = _photo(request, visit, n, step) or unclear
    if too_long:
        if wants_data(request):
            return JsonResponse({"problem": too_long}, status=422)
        return show_step(request, visit, n, step, checked=True, problem=too_long, data=data)
    if conflict:
        return answer_conflict(visit, n, step, data, conflict)
    if request.POST.get("quiet"):
        return JsonResponse({"revision": visit.draft.revision})
    visit = DraftedVisit(request, visit.ground, visit.draft, visit.page)  # with what is kept now
    unit = visit.units[n]
    fine = not problem and _is_fine(unit, step)
    if not fine or (step == steps.IDENTIFY and not unit.is_identified):
        if wants_data(request):
            return JsonResponse({"revision": visit.draft.revision, "problem": problem or "See the page."}, status=422)
        return show_step(request, visit, n, step, checked=True, problem=problem)
    where = _next(visit, n, step)
    if wants_data(request):
        return JsonResponse({"revision": visit.draft.revision, "next": where})
    return redirect(where)


def _kept(request, visit: DraftedVisit, key: str, data: dict):
    """The conflict that keeping the page met, None for none; and why it could not be kept, "" where it could."""
    try:
        return save(visit.draft, key, data, base_of(request), device_of(request), typed_at(request)), ""
    except ValueError as problem:
        return None, str(problem)


def _is_fine(unit, step: str) -> bool:
    return not (unit.end if step == steps.END else unit.form(step)).errors


def _sent(request, visit: DraftedVisit, unit, step: str) -> tuple[dict, str]:
    """What was sent, and what is unclear in it: the button never speaks over an outcome that was chosen."""
    data, unclear = typed(request, unit.form(step).fields), ""
    if request.POST.get("go") == "done" and data.setdefault("outcome", "done") != "done":
        chosen = dict(OUTCOME_WORDS).get(data["outcome"], data["outcome"])
        unclear = f"You chose “{chosen}” and pressed “done”. Which is it? Choose it again, or keep what is chosen."
    if step == steps.SAFE:
        now = clock.now().astimezone(ZoneInfo(visit.ground.zone))
        for each in steps.SAFE_STEPS:
            if data.get(each.field):
                data.setdefault(f"{each.field}_at", f"{now:%H:%M}")
    return data, unclear


def _photo(request, visit: DraftedVisit, n: int, step: str) -> str:
    """Keep the photo that came with the page; what is wrong with it, "" for nothing."""
    sent = request.FILES.get("photo")
    if sent is None:
        return ""
    try:
        photos.keep(visit, n, step, sent, request.POST.get("photo_caption", ""))
    except (NotAPhoto, DayIsFull) as problem:
        return str(problem)
    return ""


def _next(visit: DraftedVisit, n: int, step: str, *, straight=False) -> str:
    unit = visit.units[n]
    follows = steps.straight_on(step, unit.due) if straight else steps.after(step, unit.due, unit.answered)
    if step == steps.FOUND and not straight and steps.SAFE not in unit.answered:
        return visit.address(n, steps.SAFE)  # measured while it was hot: the unit is made safe next
    if follows:
        return visit.address(n, follows)
    if n < len(visit.draft.units):
        return visit.address(n + 1, steps.IDENTIFY)
    return visit.record_address


def show_step(
    request, visit: DraftedVisit, n: int, step: str, *, checked=False, problem="", data=None
) -> HttpResponse:
    unit = visit.units[n]
    context = visit.page.context() | _frame(visit, n, step)
    context["form"] = None
    if step != steps.TASKS:
        context["form"] = unit.form(step, data) if checked else unit.quiet(step)
    context |= SHOWN[step.split("-")[0]](visit, unit, step)
    bad = checked and (problem or (context["form"] is not None and context["form"].errors))
    context |= {"step_problem": problem, "checked": checked, "bad": bad}
    status = 422 if checked and request.method == "POST" else 200
    return render(request, f"audit/visit/{step.split('-')[0]}.html", context, status=status)


def _frame(visit: DraftedVisit, n: int, step: str) -> dict:
    """What every page of a visit needs."""
    unit, draft = visit.units[n], visit.draft
    held = draft.content["steps"].get(f"{n}/{step}")
    return {
        "draft": draft, "visit_name": visit.name, "unbegun": visit.unbegun, "n": n, "step": step,
        "vu": unit, "unit": unit.about.unit, "title": unit.title(step),
        "address": visit.address(n, step), "offline_next": _next(visit, n, step, straight=True),
        "record": visit.record_address,
        "unsafe": () if step == steps.IDENTIFY else _unsafe(unit, step), "stop_unsafe": steps.STOP_UNSAFE,
        "step_revision": held["rev"] if held else 0, "pages": _pages(visit, n), "caution": CAUTION,
        "tells": step in (steps.PROVE, steps.END), "along": " ".join(_along(visit, n)),
        "photos": visit.photos(n, step), "photo_address": visit.photo_address(n, step),
        "tasks_address": visit.address(n, steps.TASKS),
        "others": [(label, visit.address(k, steps.IDENTIFY)) for k, label in _others(visit, n)],
    } | visit.more  # fmt: skip


def _unsafe(unit, step: str) -> list[str]:
    """What is not safe of the unit; on the page that asks it, only once something was typed there."""
    said = unit.held.get(steps.SAFE)
    return [] if said is None and step == steps.SAFE else steps.unsafe(said)


def _others(visit: DraftedVisit, n: int) -> list[tuple[int, str]]:
    return [(k, label) for k, label in enumerate(visit.labels, start=1) if k != n]


def _along(visit: DraftedVisit, n: int) -> list[str]:
    """The addresses of all pages of the unit, for the device to keep; each other unit’s first names its own."""
    codes = dict.fromkeys([*visit.units[n].due, *visit.units[n].lines])
    pages = [*steps.ORDER, *(steps.TASK + code for code in codes), *steps.to_add(bool(visit.units[n].kits))]
    first = [visit.address(k, steps.IDENTIFY) for k, _ in _others(visit, n)]
    return [*(visit.address(n, page) for page in pages), *first, visit.record_address]


def _pages(visit: DraftedVisit, n: int) -> list[dict]:
    unit = visit.units[n]
    found = []
    for place, step in enumerate(steps.ORDER, start=1):
        done = step in unit.answered and (step != steps.IDENTIFY or unit.is_identified)
        if step == steps.TASKS:
            done = bool(unit.due) and not steps.next_task(unit.due, unit.answered)
        found.append({"name": step, "title": steps.TITLES[step], "place": place, "done": done,
                      "address": visit.address(n, step)})  # fmt: skip
    return found
