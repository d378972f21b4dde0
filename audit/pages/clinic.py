"""The clinic's page and its binder: is each unit usable today, and what must be done?"""

from __future__ import annotations

import uuid

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.answers import answer_counts, asked
from audit.binder.sections import INSPECTOR
from audit.facts import newest, unit_by_day
from audit.issue.make import TooBusy, make
from audit.issue.wish import Wish
from audit.judge.judgement import State
from audit.judge.to_read import read_lines
from records import clock
from records.doors import often
from records.forms import EntryContext
from records.models.binders import PAGE_SIZES
from records.views.base import at_clinic

from .binders import BinderAsked, read_extent, read_period, read_size
from .days import DayProblem, read_day, read_moment, year_before
from .duties import due_lines, failure_lines, open_lines, place_lines
from .opened import OpenedClinic, opened


@at_clinic("look")
@require_safe
def clinic_page(request, ground: EntryContext):
    """The clinic on today or on `?as_of=`."""
    page = opened(request, ground)
    return _show(request, page, {})


def _show(request, page: OpenedClinic, binder: dict):
    judgement = page.judgement
    said = {unit.unit: unit for unit in judgement.units}
    pairs = [(unit, said[unit.ref]) for unit in page.facts.units]
    now = clock.now() if page.as_of == page.today else None
    place = place_lines(judgement)
    act, known = open_lines(page.facts, judgement)
    context = page.context() | {
        "units": [_unit_line(facts, unit, page.as_of) for facts, unit in pairs],
        "due": due_lines(judgement.units),
        "place_due": [line for line in place if line.clock.state is not State.OK],
        "place_ok": [line for line in place if line.clock.state is State.OK],
        "answer_counts": answer_counts(asked(judgement.answers)),
        "reads": read_lines(pairs, page.as_of, now),
        "failures": failure_lines(pairs),
        "open_items": act,
        "notes": known,
        "binder_asked": _asked(page, binder),
        "binder_sizes": PAGE_SIZES,
        "binder_problem": binder.get("problem", ""),
    }
    bad = bool(page.problem or context["binder_problem"])
    return render(request, "audit/clinic.html", context, status=400 if bad else 200)


def _asked(page: OpenedClinic, typed: dict) -> BinderAsked:
    """What the form of the binder starts with: what was typed, else the twelve months up to the day of the page."""
    other_day = page.as_of != page.today or page.known_at
    return BinderAsked(
        from_on=typed.get("from", year_before(page.as_of).isoformat()),
        to_on=typed.get("to", page.as_of.isoformat()),
        as_of=page.as_of.isoformat() if other_day else "",
        known_at=page.known_at.isoformat() if page.known_at else "",
        page=typed.get("page", "letter"),
        extent=typed.get("extent", INSPECTOR),
        key=str(uuid.uuid4()),
    )


def _unit_line(facts, unit, as_of) -> dict:
    placed = unit_by_day(facts, as_of).placements
    last = newest(placed, lambda p: p.effective_on)
    return {"facts": facts, "judgement": unit, "room": last.room if last else ""}


@often.at_most(30, "drafts of binders", methods=("GET", "HEAD"))
@at_clinic("look")
@require_safe
def binder(request, ground: EntryContext):
    """A draft of the binder, from `?from=` to `?to=`, both inclusive; without them the last twelve months.

    It is neither signed nor kept nor entered as issued, and its name says so; `make_binder` issues one.

    Answers are those of `?as_of=`, today without it, from what had been logged by `?known_at=`.
    """
    clinic = ground.clinic
    try:
        made = make(clinic, _draft(request, ground))
    except (DayProblem, TooBusy) as problem:
        typed = {name: request.GET[name] for name in ("from", "to", "page", "extent") if name in request.GET}
        return _show(request, opened(request, ground), typed | {"problem": str(problem)})
    wish = made.wish
    name = f"draft-not-issued-{clinic.slug}-{wish.from_on.isoformat()}-to-{wish.to_on.isoformat()}.pdf"
    return HttpResponse(
        made.body,
        content_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-store"},
    )


def _draft(request, ground: EntryContext) -> Wish:
    """What is asked for in the address. Raises DayProblem."""
    today = ground.today
    from_on, to_on = _period(request, today)
    asked = request.GET.get("as_of", "")
    as_of = read_day(asked, "the day asked about", latest=today) if asked else today
    page = read_size(request.GET.get("page", ""))
    extent = read_extent(request.GET.get("extent", ""))
    return Wish(from_on, to_on, as_of=as_of, known_at=_known_at(request, ground), page=page, extent=extent)


def _known_at(request, ground: EntryContext):
    """The moment up to which entries count, None for all. Raises DayProblem."""
    text = request.GET.get("known_at", "")
    return read_moment(text, "the moment of what was known", ground.zone) if text else None


def _period(request, today):
    """The two days asked for. Raises DayProblem."""
    to_text = request.GET.get("to") or today.isoformat()
    last = read_day(to_text, "the last day of the binder", latest=today)
    return read_period(request.GET.get("from") or year_before(last).isoformat(), to_text, today)
