"""The last page of a visit: everything looked through once more, then recorded as one entry with its photos."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from audit.models import VisitDraft
from audit.pages.visit.guide import steps
from audit.pages.visit.guide.job import READING_KEY
from records import access, clock, log
from records.forms.base import CONFIRMED_WORDS, plan_lines_of, positions_of
from records.log.visit_job import VisitJob
from records.views.base import answer_conflict as answer_recorded
from records.views.base import at_clinic

from .drafts import (
    VISIT,
    Conflict,
    DraftedVisit,
    Gone,
    answer_conflict,
    answer_gone,
    base_of,
    device_of,
    save,
    typed,
    visit_of,
    wants_data,
)
from .end_forms import HeadForm
from .late import UnreadablePages, leave_out, orphans, recorded_already, settle_orphan, waiting_in
from .photos import record_photos

CHANGED = (
    "Something in this visit was changed on another device since this page was opened. Nothing was recorded yet: "
    "look through it, then record it."
)


@require_http_methods(["GET", "HEAD", "POST"])
@at_clinic("visit")
def visit_record(request, ground, ref):
    """Look the visit through, and record it."""
    try:
        visit = visit_of(request, ground, ref)
        if request.POST.get("orphan"):
            return settle_orphan(request, visit)
        if request.POST.get("leave_out"):
            return leave_out(request, visit)
        if request.method != "POST":
            quiet = request.GET.get("check") != "1"
            return show_record(visit, HeadForm(_head_held(visit), initial=suggested(visit)), quiet=quiet)
        return _record(visit)
    except Gone:
        draft = VisitDraft.objects.filter(ref=ref, clinic=ground.clinic, account=ground.account).first()
        if request.method == "POST" and draft is not None and draft.visit:
            return recorded_already(request, ground, draft)
        return answer_gone(request, ground, ref)


def _head_held(visit: DraftedVisit) -> dict | None:
    held = visit.draft.content["steps"].get(VISIT)
    return held["data"] | {"request_key": str(visit.draft.request_key)} if held else None


def suggested(visit: DraftedVisit) -> dict:
    """The day and times of the visit as far as the draft knows them; shown, and changed where they are not so."""
    zone = ZoneInfo(visit.ground.zone)
    begun, now = visit.draft.begun_at.astimezone(zone), clock.now().astimezone(zone)
    left = now.time().replace(second=0, microsecond=0) if begun.date() == now.date() else None
    arrived = begun.time().replace(second=0, microsecond=0)
    key = visit.draft.request_key
    return {"on": begun.date(), "at": arrived, "departed_at": left, "request_key": key}


def _record(visit: DraftedVisit):
    request, draft = visit.request, visit.draft
    base, device = base_of(request), device_of(request)
    stopped = _save_waiting(visit, device)
    if stopped is not None:
        return stopped
    head = HeadForm(request.POST)
    data = typed(request, [name for name in head.fields if name != "request_key"])
    changed = _changed_elsewhere(draft, base, device)
    try:
        save(draft, VISIT, data, draft.revision, device)
    except ValueError as problem:
        return show_record(visit, head, problems=[("", str(problem), "")], status=422)
    visit = DraftedVisit(request, visit.ground, draft, visit.page)
    if changed:
        return show_record(visit, head, problems=[("", CHANGED, "")], status=409)
    if not head.is_valid() or not _is_ready(visit):
        return show_record(visit, head, status=422)
    return _write(visit, head)


def _is_ready(visit: DraftedVisit) -> bool:
    open_ends = any(unit.problems or orphans(unit) for unit in visit.units.values())
    return bool(visit.units) and not (open_ends or visit.gone)


def _changed_elsewhere(draft: VisitDraft, base: int, device: str) -> bool:
    pages = draft.content["steps"].items()
    return any(page["rev"] > base and page["device"] != device for key, page in pages if key != VISIT)


def _save_waiting(visit: DraftedVisit, device: str):
    """Keep what the device held while it had no signal, in its order; the page that stops it, None for none.

    Also the answers to a page that is there no more: the last page asks what becomes of them.
    """
    try:
        for n, step, base, data, at in waiting_in(visit.request):
            if n not in visit.units:
                continue  # its unit left the clinic: the last page says so
            data = _asked(visit.units[n], step, data)
            conflict = save(visit.draft, f"{n}/{step}", data, base, device, at)
            if isinstance(conflict, Conflict):
                return answer_conflict(visit, n, step, data, conflict)
    except UnreadablePages:
        problem = "What this device kept could not be read. Open the visit's pages once, then record it."
        return show_record(visit, HeadForm(visit.request.POST), problems=[("", problem, "")], status=422, took=False)
    except ValueError as problem:
        head = HeadForm(visit.request.POST)
        return show_record(visit, head, problems=[("", str(problem), "")], status=422, took=False)
    return None


def _asked(unit, step: str, data: dict) -> dict:
    """What the page asks, with readings that it asked before; all of a page that is there no more."""
    if not steps.is_step(step, unit.lines.keys()):
        return data
    fields = unit.form(step).fields
    return {k: v for k, v in data.items() if k in fields or READING_KEY.fullmatch(k)}


# ------------------------------------------------------------------------------------------------ writing


def _write(visit: DraftedVisit, head: HeadForm):
    request, ground, draft, said = visit.request, visit.ground, visit.draft, head.cleaned_data
    jobs = _jobs(visit, said["on"])
    confirmed = {c for c in request.POST.getlist("confirmed") if c in CONFIRMED_WORDS} | _said(
        visit, jobs, said["on"]
    )
    try:
        recorded = log.log_visit(
            by=ground.account, request_key=draft.request_key, clinic=ground.clinic, on=said["on"],
            at=ground.moment(said["on"], said["at"]), departed_at=ground.moment(said["on"], said["departed_at"]),
            report_number=said["report_number"], confirmed=tuple(sorted(confirmed)), jobs=jobs,
        )  # fmt: skip
    except log.SubmissionConflict as conflict:
        # Something else is on record under this visit's key. The draft stays: what differs in it is nowhere else.
        head.typed = lambda: [(b.label, b.value()) for b in head if not b.is_hidden and b.value()]
        return answer_recorded(request, ground, head, conflict, "Record the visit")
    except log.NotYours as refusal:
        raise PermissionDenied(refusal.problems[0].message) from None
    except log.Refused as refusal:
        return show_record(visit, head, problems=_placed(visit, head, refusal.problems), status=422)
    failed, rows = record_photos(visit, recorded)
    held, said_then = len(draft.content["photos"]), draft.content["steps"]
    _mark(draft, recorded.ref, rows)
    _tell_late(visit, said_then)
    if len(draft.content["photos"]) > held:
        failed = record_photos(DraftedVisit(request, ground, draft, visit.page), recorded)[0]  # some came meanwhile
    messages.success(request, f"Recorded as entry {recorded.entry.number}.")
    for each in failed:
        messages.error(request, f"A photo was not recorded: {each}")
    where = reverse("visit", args=[ground.clinic.slug, recorded.ref])
    return JsonResponse({"recorded": where}) if wants_data(request) else redirect(where)


def _said(visit: DraftedVisit, jobs: list[VisitJob], on) -> set[str]:
    """What the pages say already that the writer asks about: that each part past its last day was really fitted."""
    expired = [
        unit.held.get(unit.made.places.get(("parts", row)), {})
        for unit, job in zip(visit.units.values(), jobs, strict=True)
        for row, part in enumerate(job["parts"])
        if part.get("expiry") and part["expiry"] < on
    ]
    return {"expired-part"} if expired and all(page.get("expired_fitted") for page in expired) else set()


def _tell_late(visit: DraftedVisit, said_then: dict) -> None:
    """Pages that another device kept while the visit was recorded."""
    for key, page in visit.draft.content["steps"].items():
        n, _, step = key.partition("/")
        if step and page != said_then.get(key):
            title = visit.units[int(n)].title(step)
            text = f"“{title}” was changed on another device while it was recorded. That is not on the record."
            messages.error(visit.request, text)


def _mark(draft: VisitDraft, ref, rows: dict) -> None:
    """The draft is done with. `rows` are kept for photos that come later: the row that each page became.

    `draft` is brought up to what stands afterwards.
    """
    with transaction.atomic():
        held = VisitDraft.objects.select_for_update().get(pk=draft.pk)
        held.recorded_at, held.visit = clock.now(), ref
        held.content["rows"] = rows
        held.save(update_fields=["recorded_at", "visit", "content"])
    draft.content = held.content


def _jobs(visit: DraftedVisit, on) -> list[VisitJob]:
    """The jobs of that day with rows of the register in the place of their names."""
    here = {str(u.ref): u for u in access.units_of_clinic(visit.ground.clinic)}
    found = []
    for n, unit in visit.units.items():
        ref = visit.draft.units[n - 1]
        if ref not in here:
            raise Http404("A unit of this visit is no longer at the clinic.")
        found.append(_with_rows(unit, here[ref], lambda at: visit.ground.moment(on, at)))
    return found


def _of_box(each: dict, boxes: dict) -> dict:
    """A spore test or an indicator with the rows of its boxes, its type as a number."""
    found = {name: boxes[value] if name in ("lot", "control_lot") else value for name, value in each.items()}
    return found | {"type": int(found["type"])} if "type" in found else found


def _with_rows(unit, row, moment) -> VisitJob:
    """The job of a unit; `moment` makes the UTC moment of a time of its day, None for None."""
    job: VisitJob = {**unit.made.job, "unit": row}
    lines = {line.code: line for line in plan_lines_of(row, unit.about.as_of)}
    positions = {str(p.origin): p for p in positions_of(row)}
    lots = {str(lot.origin): lot for lot in unit.lots} if job["parts"] else {}
    for kind, name in (("spore_tests", "biological"), ("chemicals", "chemical")):
        boxes = {str(box.origin): box for box in unit.boxes(name)} if job[kind] else {}
        job[kind] = [_of_box(each, boxes) for each in job[kind]]
    for test in job["spore_tests"]:
        test["at"] = moment(test.get("at"))
    looked_up = {"plan_line": lines, "position": positions, "part_lot": lots}
    for kind in ("outcomes", "findings", "parts"):
        job[kind] = [
            {name: looked_up[name][value] if name in looked_up else value for name, value in each.items()}
            for each in job[kind]
        ]
    for part in job["parts"]:
        if part.get("part_lot") is not None and part["part_lot"].expiry:
            part["expiry"] = part["part_lot"].expiry
    return job


def _placed(visit: DraftedVisit, head: HeadForm, problems) -> list[tuple[str, str, str]]:
    """What the writer refused, each with the address of the page where it is put right, and a code to confirm it."""
    found = []
    for problem in problems:
        match problem.place.parts:
            case ("jobs", int(job), str(kind), int(row), *_):
                page = visit.units[job + 1].made.places.get((kind, row), steps.END)
            case ("jobs", int(job), _, *_):
                page = steps.END
            case _:
                head.refuse(problem.place, problem.message)
                continue
        found.append((visit.address(job + 1, page), problem.message, problem.confirm))
    return found


# ------------------------------------------------------------------------------------------------ showing


def show_record(visit: DraftedVisit, head: HeadForm, *, problems=(), status=200, quiet=False, took=True):
    """`took` False: what the device kept was not taken, so the device keeps it.

    Where it was taken and nothing recorded, `X-Visit` says where the visit goes on, with all that is to be put right.
    """
    draft = visit.draft
    confirms = dict.fromkeys(code for _, _, code in problems if code)
    context = visit.page.context() | visit.more | {
        "draft": draft, "head": head, "quiet": quiet, "title": "Look through and record",
        "units": [_summary(visit, n) for n in visit.units], "problems": problems,
        "ready": _is_ready(visit), "gone": visit.gone,
        "confirms": [(code, CONFIRMED_WORDS.get(code, code)) for code in confirms],
        "address": visit.record_address, "visit_name": visit.name, "unbegun": visit.unbegun,
        "began_as": f"of-{draft.units[0]}",
        "sent_as": f"of-{draft.units[0]}" if took and visit.request.method == "POST" else "",
        "latest": visit.page.today, "labels": ", ".join(visit.labels), "record": visit.record_address,
    }  # fmt: skip
    if quiet and head.is_bound:
        head._errors = {}
    answer = render(visit.request, "audit/visit/record.html", context, status=status)
    if took and visit.request.method == "POST":
        answer["X-Visit"] = f"{visit.record_address}?check=1"
    return answer


def _with_boxes(unit, tests: list[dict]) -> list[dict]:
    """The spore tests with their boxes in words."""
    named = dict(unit.box_choices("biological")) if tests else {}
    return [test | {"box": named.get(test.get("lot"), "")} for test in tests]


def _summary(visit: DraftedVisit, n: int) -> dict:
    unit = visit.units[n]
    job = unit.made.job
    unanswered = [unit.lines[c].title for c in unit.due if steps.TASK + c not in unit.answered]
    titles = {line.code: line.title for line in unit.lines.values()}
    lots = {str(lot.origin): lot for lot in unit.lots} if any(p.get("part_lot") for p in job["parts"]) else {}
    return {
        "n": n, "unit": unit.about.unit, "job": job, "proof": unit.proof, "unanswered": unanswered,
        "orphans": orphans(unit),
        "problems": [(visit.address(n, step) + "?check=1", unit.title(step), text) for step, text in unit.problems],
        "outcomes": [
            (titles.get(o.get("plan_line", ""), "") or o.get("found", ""), o, visit.address(n, page))
            for k, o in enumerate(job["outcomes"])
            for page in [unit.made.places["outcomes", k]]
        ],
        "spore_tests": _with_boxes(unit, job["spore_tests"]),
        "parts": [(p, lots.get(p.get("part_lot", ""))) for p in job["parts"]],
        "photos": visit.photos(n), "first": visit.address(n, steps.IDENTIFY),
    }  # fmt: skip
