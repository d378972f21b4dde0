"""The clinic's page: is each unit usable today, and what must be done?"""

from __future__ import annotations

import uuid

from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.answers import answer_counts, asked
from audit.binder.sections import INSPECTOR
from audit.facts import newest, unit_by_day
from audit.gather.standings import RANKS
from audit.judge.headings import items_line, place_line
from audit.judge.judgement import NextStep, State
from audit.judge.to_read import read_lines
from records import clock
from records.forms import EntryContext
from records.models.binders import PAGE_SIZES
from records.views.base import at_clinic

from .binders import BinderAsked
from .days import year_before
from .duties import due_groups, due_lines, failure_lines, open_lines, place_lines
from .opened import OpenedClinic, opened

MOST_ROWS, FIRST_ROWS = 12, 6  # of more units than that a row each stands for the first; the others are told together


@at_clinic("look")
@require_safe
def clinic_page(request, ground: EntryContext):
    """The clinic on today or on `?as_of=`; `?open=1` opens all folds."""
    page = opened(request, ground, named=True)
    judgement = page.judgement
    said = {unit.unit: unit for unit in judgement.units}
    pairs = [(unit, said[unit.ref]) for unit in page.facts.units]
    now = clock.now() if page.as_of == page.today else None
    place = place_lines(judgement)
    lines = [_unit_line(facts, unit, page.as_of) for facts, unit in sorted(pairs, key=_worst_first)]
    shown = lines if len(lines) <= MOST_ROWS else lines[:FIRST_ROWS]
    act, known = open_lines(page.facts, judgement)
    context = page.context() | {
        "units": lines,
        "shown": shown,
        "many": _by_what_is_next(lines[len(shown) :]),
        "usable": sum(unit.standing.word.may_be_used for unit in judgement.units),
        "unfolded": request.GET.get("open") == "1",
        "due": due_groups(due_lines(judgement.units)),
        "place_due": [line for line in place if line.clock.state is not State.OK],
        "place_ok": [line for line in place if line.clock.state is State.OK],
        "answer_counts": answer_counts(asked(judgement.answers)),
        "reads": read_lines(pairs, page.as_of, now),
        "failures": failure_lines(pairs, page.company),
        "open_items": act,
        "notes": known,
        "items_line": items_line(judgement),
        "place_line": place_line(judgement.clocks),
        "binder_asked": _asked(page),
        "binder_sizes": PAGE_SIZES,
    }
    return render(request, "audit/clinic.html", context, status=400 if page.problem else 200)


def _asked(page: OpenedClinic) -> BinderAsked:
    """What the form of the binder starts with: the twelve months up to the day of the page."""
    other_day = page.as_of != page.today or page.known_at
    return BinderAsked(
        from_on=year_before(page.as_of).isoformat(),
        to_on=page.as_of.isoformat(),
        as_of=page.as_of.isoformat() if other_day else "",
        known_at=page.known_at.isoformat() if page.known_at else "",
        page="letter",
        extent=INSPECTOR,
        key=str(uuid.uuid4()),
    )


def _by_what_is_next(lines: list[dict]) -> list[dict]:
    """Units of one answer that ask the same of the same together, in the order of the first of each."""
    found: dict[tuple, list[dict]] = {}
    for line in lines:
        said, step = line["judgement"], line["judgement"].next
        key = (said.standing.word, step and step.named, step and step.what)
        found.setdefault(key, []).append(line)
    return [
        {"word": word, "step": NextStep(who, what) if what else None, "units": units}
        for (word, who, what), units in found.items()
    ]


def _worst_first(pair) -> int:
    """What forbids use first, then what waits, is limited or late; of one word in the order of the facts."""
    return RANKS.index(pair[1].standing.word)


def _unit_line(facts, unit, as_of) -> dict:
    placed = unit_by_day(facts, as_of).placements
    last = newest(placed, lambda p: p.effective_on)
    return {"facts": facts, "judgement": unit, "room": last.room if last else ""}
