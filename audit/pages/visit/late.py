"""What reaches the server too late: answers to a visit that is on record, or to pages that are there no more.

Nothing of it is dropped without being said, and nothing on record is changed by it.
"""

from __future__ import annotations

import json
import re

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from audit.models import VisitDraft
from audit.pages.visit.guide import steps
from records.forms import EntryContext

from ..opened import opened
from .drafts import VISIT, DraftedVisit, change, moment_of, side_by_side, typed
from .end_forms import HeadForm

NAME = re.compile(r"[A-Za-z0-9_-]{1,80}")


class UnreadablePages(ValueError):
    """What a device sent as its kept pages is none."""


def waiting_in(request) -> list[tuple[int, str, int, dict, int]]:
    """The pages that a device kept, in their order: unit, page, revision it was based on, answers as typed, and when
    they were typed in milliseconds of its clock, 0 when it does not say.

    Raises UnreadablePages.
    """
    sent = request.POST.get("waiting", "")
    found = []
    try:
        for each in json.loads(sent) if sent else []:
            data = {k: str(v).strip() for k, v in dict(each["data"]).items() if str(v).strip()}
            step = str(each["step"])
            if not (NAME.fullmatch(step) and all(NAME.fullmatch(k) for k in data)):
                raise ValueError
            if step != steps.TASKS:
                found.append((int(each["n"]), step, int(each["revision"]), data, moment_of(each.get("at", ""))))
    except (ValueError, KeyError, TypeError, AttributeError):
        raise UnreadablePages from None
    return found


# ------------------------------------------------------------------------------------- on record already


def recorded_already(request, ground: EntryContext, draft: VisitDraft) -> HttpResponse:
    """The answer to a form that records a visit which is on record: its page, or 410 with what is not on it."""
    where = reverse("visit", args=[ground.clinic.slug, draft.visit])
    try:
        waiting = waiting_in(request)
    except UnreadablePages:
        waiting = []
    held = draft.content["steps"]
    head = typed(request, [name for name in HeadForm.base_fields if name != "request_key"])
    late = [(n, step, data) for n, step, _, data, _ in waiting if data != _data(held, f"{n}/{step}")]
    if not late and _same_head(head, _data(held, VISIT)):
        return redirect(where)
    page = opened(request, ground)
    visit = DraftedVisit(request, ground, draft, page)
    lines = [line for n, step, data in late for line in _lines(visit, n, step, data)]
    if not _same_head(head, _data(held, VISIT)):
        lines += _differing("The visit", HeadForm(head), HeadForm(_data(held, VISIT)))
    context = {"clinic": ground.clinic, "lines": lines, "where": where, "labels": ", ".join(visit.labels)}
    return render(request, "audit/visit/over.html", context, status=410)


def _data(held: dict, key: str) -> dict:
    return held[key]["data"] if key in held else {}


def _same_head(sent: dict, held: dict) -> bool:
    return not sent or not held or sent == held


def _lines(visit: DraftedVisit, n: int, step: str, data: dict) -> list[dict]:
    unit = visit.units.get(n)
    there = _data(visit.draft.content["steps"], f"{n}/{step}")
    if unit is not None and steps.is_step(step, unit.lines.keys()):
        return _differing(
            f"{unit.about.unit.label}, {unit.title(step)}", unit.form(step, data), unit.form(step, there)
        )
    label = visit.labels[n - 1] if 0 < n <= len(visit.labels) else "Unit"
    return [
        {"page": f"{label}, {plain(step)}", "label": k, "mine": v, "there": there.get(k)} for k, v in data.items()
    ]


def _differing(page: str, mine, there) -> list[dict]:
    return [line | {"page": page} for line in side_by_side(mine, there) if line["differs"]]


def plain(step: str) -> str:
    """The name of a page that is there no more, in words."""
    return step.removeprefix(steps.TASK).replace("-", " ")


# ------------------------------------------------------------------------------------- without a place any more


def orphans(unit) -> list[dict]:
    """Pages of a unit with answers whose task has left the plan since, as typed."""
    gone = [step for step in unit.held if not steps.is_step(step, unit.lines.keys())]
    return [{"step": step, "title": plain(step), "typed": "; ".join(unit.held[step].values())} for step in gone]


def settle_orphan(request, visit: DraftedVisit) -> HttpResponse:
    """Make the answers of a page that is there no more a task outside the plan, or leave them out."""
    named = request.POST["orphan"]
    start, _, step = named.partition("/")

    def make(content) -> None:
        page = content["steps"].pop(named, None)
        if page is None or request.POST.get("do") != "keep":
            return
        used = {key for key in content["steps"] if key.startswith(f"{start}/{steps.EXTRA}")}
        free = (f"{start}/{steps.EXTRA}{k}" for k in range(1, steps.MOST_EXTRA + 1))
        place = next((key for key in free if key not in used), None)
        if place is None:
            content["steps"][named] = page  # no room: it stays where it was, and is told again
        else:
            page["data"] = {"what": plain(step), "action": "inspect"} | page["data"]
            content["steps"][place] = page

    if start.isdigit() and int(start) in visit.units and named in visit.draft.content["steps"]:
        unit = visit.units[int(start)]
        if not steps.is_step(step, unit.lines.keys()):
            change(visit.draft, make)
    return redirect(visit.record_address)


def leave_out(request, visit: DraftedVisit) -> HttpResponse:
    """Go on without a unit that has left the clinic since."""
    n = request.POST["leave_out"]
    if n.isdigit() and int(n) in dict(visit.gone):
        change(visit.draft, lambda content: content.setdefault("left_out", []).append(int(n)))
    return redirect(visit.record_address)
