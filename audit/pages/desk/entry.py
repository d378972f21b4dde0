"""The entries of the day: each kind with its form, what it is filled in with, and the writer that records it.

An address takes the form from wherever it stands (the day, a response, its own page) and answers like the pages of
`records`: 302 recorded, 422 refused with everything typed kept, 409 sent before with other content.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from django.contrib import messages
from django.db import transaction
from django.http import JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from audit.facts import UnitFacts
from audit.judge.judgement import UnitJudgement
from records import access, log
from records.forms import EntryContext
from records.log.cycle_number import last_logged
from records.log.errors import Problem
from records.log.submission import answered
from records.models import BioReading, BioTest, Entry, FailureCase
from records.views.base import at_clinic, one_or_404, safe_next, unit_or_404, written_by
from records.views.unit_said import against_use

from ..opened import opened
from . import fill as fill_in
from .forms import (
    AirForm,
    ChemicalForm,
    DeskForm,
    LeakForm,
    LoadForm,
    ReadForm,
    ReportForm,
    StartForm,
)
from .user_checks import CHECK_KINDS, ChecksForm, slug_of


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of entry: `fill` gives what its form starts with, `write` records what it was told."""

    name: str  # of its address
    title: str
    form: type[DeskForm]
    fill: Callable[[UnitFacts], dict]
    write: Callable


def _one(writer):
    """A writer of one entry, as the writer of what a form says."""
    return lambda form, **common: [writer(**common, **form.values())]


def _write_round(form: ChecksForm, *, by, request_key, **common) -> list:
    """Each check of a round as an entry of its own, in order, all of them or none."""
    rows, round_ = [], form.round()
    keys = [request_key, *(uuid.uuid5(request_key, c["kind"]) for c in round_[1:])]
    every = {request_key, *(uuid.uuid5(request_key, kind) for kind in CHECK_KINDS)}
    with transaction.atomic():
        before = set(Entry.objects.filter(account=by, request_key__in=every).values_list("request_key", flat=True))
        if before and before != set(keys):
            raise log.SubmissionConflict(Entry.objects.get(account=by, request_key=request_key))
        for key, check in zip(keys, round_, strict=True):
            try:
                rows.append(log.log_user_check(by=by, request_key=key, **common, **check))
            except log.NotYours:
                raise
            except log.Refused as refusal:
                raise log.Refused([_of_check(p, check["kind"]) for p in refusal.problems]) from None
    return rows


def _of_check(problem: Problem, kind: str) -> Problem:
    """The problem at the field of its check in the round."""
    if problem.field == "signed_by":
        return Problem("signs", problem.message, problem.confirm)
    own = problem.field in ("result", "note", "value", "unit_of_measure")
    slug = slug_of(kind)
    field = slug if problem.field == "result" else f"{slug}_{problem.field}" if own else problem.field
    return Problem(field, problem.message, problem.confirm)


def _write_load(form: LoadForm, *, unit, **common) -> list:
    """The load, with what judgement says against using the unit on its day."""
    values = form.values()
    against = against_use(form.ground, unit, values["on"])
    return [log.log_load(unit=unit, **common, standing_against=against, **values)]


START = Kind(
    "day-start", "Start a spore test (biological indicator)", StartForm, fill_in.for_start, _one(log.start_bio_test)
)
AIR = Kind("day-air-removal", "Log an air-removal test", AirForm, fill_in.for_air_removal, _one(log.log_air_removal))
LEAK = Kind("day-leak", "Log an air-leak test", LeakForm, fill_in.for_leak, _one(log.log_leak))
CHECKS = Kind("day-checks", "Log a round of checks", ChecksForm, fill_in.for_checks, _write_round)
CHEMICAL = Kind(
    "day-chemical", "Log a chemical indicator", ChemicalForm, fill_in.for_chemical, _one(log.log_chemical)
)
LOAD = Kind("day-load", "Log a load", LoadForm, fill_in.for_load, _write_load)
KINDS = (START, AIR, LEAK, CHECKS, CHEMICAL, LOAD)


# ------------------------------------------------------------------------------------------------ making the forms


def last_box(unit: UnitFacts, ground: EntryContext) -> dict:
    """The box of the unit's last spore test for test and control, where it is still here; {} before the first."""
    tests = fill_in.in_order(unit.bio_tests)
    here = {str(box.ref) for box in ground.indicator_lots("biological")}
    used = tests[-1].lot.ref if tests else ""
    if used in here:
        return {"lot": used, "control_lot": used}
    return {}


def form_of(
    kind: Kind, ground: EntryContext, unit: UnitFacts, *, next: str = "", place: str = "",
    judged: UnitJudgement | None = None, **more,
):  # fmt: skip
    """The form of a kind for a unit, filled in; `place` tells apart the several that stand on one page.

    `more` overrides what is filled in; `kinds` narrows a round of checks. Of a unit that may not be used (`judged`)
    it is asked at once why a test was run, with nothing chosen.
    """
    extra = {"kinds": more.pop("kinds")} if "kinds" in more else {}
    if judged is not None and not judged.standing.word.may_be_used:
        more = {"purpose": ""} | more
    filled = kind.fill(unit) | (last_box(unit, ground) if kind is START else {}) | {"next": next} | more
    form = kind.form(ground=ground, initial=filled, auto_id=f"{place}%s" if place else "id_%s", **extra)
    form.say_last_cycle(fill_in.last_cycle(unit))
    form.know(unit)
    return dressed(form, kind.title, unit.label, reverse(kind.name, args=[ground.clinic.slug, unit.ref]))


def dressed(form: DeskForm, title: str, label: str, address: str) -> DeskForm:
    """The form with its address, and its name among what waits to be sent."""
    form.address, form.outbox = address, f"{title}, {label}"
    return form


def read_form(ground: EntryContext, test, label: str, *, away: bool, timed: bool, next: str = "", place: str = ""):
    """The form to read a test in the clinic, or to enter the laboratory's report on it."""
    own = {"initial": {"next": next}, "auto_id": f"{place}%s" if place else "id_%s", "ground": ground}
    form = ReportForm(**own) if away else ReadForm(timed=timed, **own)
    return dressed(form, "Read a spore test", label, reverse("day-read", args=[ground.clinic.slug, test]))


# ------------------------------------------------------------------------------------------------ recording


def record(request, ground: EntryContext, form: DeskForm, write: Callable, title: str, to: str):
    """Write and redirect; None when the writer refused, its problems shown in the form. `write` gives the rows."""
    before = answered(request.user, form.cleaned_data["request_key"])
    rows, instead = written_by(request, ground, form, write, title)
    if rows is None:
        return instead
    _tell(request, rows, before)
    case = case_of(rows)
    return redirect(reverse("response", args=[ground.clinic.slug, case.origin]) if case else to)


def _tell(request, rows, before: bool) -> None:
    numbers = list(dict.fromkeys(row.entry.number for row in rows))
    named = f"entry {numbers[0]}" if len(numbers) == 1 else f"entries {', '.join(map(str, numbers))}"
    if before:
        messages.info(request, f"This was already recorded, as {named}. Nothing was written twice.")
    else:
        messages.success(request, f"Recorded as {named}.")


def case_of(rows) -> FailureCase | None:
    """The failure that one of the rows opened, if any did."""
    openers = [row.bio_test.origin if isinstance(row, BioReading) else row.origin for row in rows]
    return FailureCase.objects.in_force().filter(opened_by__in=openers).order_by("-id").first()


def _page(request, ground, kind_title, unit, form, status=200, **context):
    shown = {"clinic": ground.clinic, "title": kind_title, "unit": unit, "form": form, "rights": ground.rights}
    back = safe_next(request) or reverse("day", args=[ground.clinic.slug])
    return render(request, "audit/desk/one.html", shown | {"back": back} | context, status=status)


def _entry(kind: Kind):
    """The page of a kind for one unit. `?purpose=`, `?cycle_type=` and the like change what is filled in."""

    @at_clinic()
    def view(request, ground, ref):
        unit = unit_or_404(ground, ref)
        if kind is LEAK and request.method == "GET" and request.GET.get("look"):
            return _looked_at(request, ground)
        label = access.as_corrected([unit])[0].label
        if request.method != "POST":
            return _blank(request, ground, kind, ref)
        form = kind.form(request.POST, ground=ground)
        dressed(form, kind.title, label, request.path)
        if form.is_valid():
            common = {"by": request.user, "request_key": form.cleaned_data["request_key"]}
            common |= {"clinic": ground.clinic, "unit": unit}
            write = partial(kind.write, form, **common)
            answer = record(request, ground, form, write, kind.title, _after(request, ground, kind, ref))
            if answer:
                return answer
        form.seen_once()
        last = last_logged(unit, ground.today)
        form.say_last_cycle(last.number if last else "")
        return _page(request, ground, kind.title, label, form, status=422)

    return view


def _looked_at(request, ground) -> JsonResponse:
    """The rate of what is being typed, as it would be recorded, in kPa a minute; nothing while it cannot be said."""
    form = LeakForm(request.GET, ground=ground)
    form.is_valid()
    said = dict(zip(("rate", "limit", "result"), form.shown, strict=True)) if form.shown else {}
    return JsonResponse(said, headers={"Cache-Control": "private, no-store"})


def _after(request, ground, kind: Kind, ref) -> str:
    """Where to go once it is recorded: on with the next load, back where the form stood, or to the day."""
    if kind is LOAD and request.POST.get("again"):
        return reverse(LOAD.name, args=[ground.clinic.slug, ref])
    return safe_next(request) or reverse("day", args=[ground.clinic.slug])


def _blank(request, ground, kind: Kind, ref):
    page = opened(request, ground, str(ref))
    unit = page.facts.units[0]
    asked = {n: request.GET[n] for n in ("purpose", "cycle_type", "chamber") if request.GET.get(n)}
    if asked.get("purpose", "routine") != "routine":
        asked = {"chamber": ""} | asked
    judged = page.judgement.units[0]
    form = form_of(kind, ground, unit, next=safe_next(request), judged=judged, **asked)
    context = {"judged": judged, "zone": ground.zone}
    if kind is LOAD:
        context["today_loads"] = [x for x in unit.loads if x.row.happened_on == page.today]
    return _page(request, ground, kind.title, unit.label, form, **context)


day_start = _entry(START)
day_air_removal = _entry(AIR)
day_leak = _entry(LEAK)
day_checks = _entry(CHECKS)
day_chemical = _entry(CHEMICAL)
day_load = _entry(LOAD)


# ------------------------------------------------------------------------------------------------ reading


@at_clinic()
def day_read(request, ground, ref):
    """Read a spore test and its control together, or enter what the laboratory reported."""
    first = one_or_404(BioTest.objects.origins().filter(clinic=ground.clinic), ref=ref)
    test = one_or_404(BioTest.objects.in_force(), origin=first.origin)
    label = access.as_corrected([test.unit])[0].label
    away, timed = test.site == "laboratory", test.happened_at is not None
    title = "Enter the laboratory’s report" if away else "Read a spore test and its control"
    context = {"test": test, "zone": ground.zone}
    if request.method != "POST":
        form = read_form(ground, first.ref, label, away=away, timed=timed, next=safe_next(request))
        return _page(request, ground, title, label, form, **context)
    form = _posted(request, ground, away, timed)
    dressed(form, "Read a spore test", label, request.path)
    if form.is_valid():
        write = partial(_write_reading, form, test, by=request.user, clinic=ground.clinic)
        to = safe_next(request) or reverse("day", args=[ground.clinic.slug])
        answer = record(request, ground, form, write, title, to)
        if answer:
            return answer
    form.seen_once()
    return _page(request, ground, title, label, form, status=422, **context)


def _posted(request, ground, away: bool, timed: bool) -> ReadForm:
    if away:
        return ReportForm(request.POST, request.FILES, ground=ground)
    return ReadForm(request.POST, ground=ground, timed=timed)


def _write_reading(form: ReadForm, test: BioTest, *, by, clinic) -> list:
    """The reading, and the report as a paper on file where one came with it: both or none."""
    values, key = form.values(), form.cleaned_data["request_key"]
    paper = values.pop("paper_file", None)
    with transaction.atomic():
        rows = [log.read_bio_test(by=by, request_key=key, clinic=clinic, bio_test=test, **values)]
        if paper:
            rows.append(_file_report(paper, values, test, by=by, clinic=clinic, request_key=uuid.uuid5(key, "paper")))
    return rows


def _file_report(paper, values, test: BioTest, **common):
    """File the laboratory's report. Raises Refused with the problem at the file."""
    try:
        return log.log_document(
            kind="laboratory report", title=values["report"], valid_from=values["on"], content=paper.read(),
            filename=paper.name, unit=test.unit, **common,
        )  # fmt: skip
    except log.NotYours:
        raise
    except log.Refused as refusal:
        raise log.Refused([Problem("paper_file", p.message) for p in refusal.problems]) from None
