"""Today: the coordinator's day on one page, each thing with its quickest honest entry."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from audit.facts import UnitFacts
from audit.gather.proofs import Proofs
from audit.gather.standings import RANKS
from audit.judge.judgement import Case, Clock, State, UnitJudgement, Word
from audit.judge.to_read import ReadLine, read_lines
from audit.regimes.model import WITHOUT_VACUUM
from records import clock
from records.forms import EntryContext
from records.views.base import at_clinic

from ..duties import DUE_TODAY, failure_lines, page_of
from ..opened import OpenedClinic, opened
from .entry import AIR, CHECKS, CHEMICAL, KINDS, LEAK, LOAD, START, Kind, form_of, read_form
from .release import undecided

# What a due item is recorded with on this page, by the page of its own that it otherwise has.
DESK = {"log-bio": START, "log-air-removal": AIR, "log-leak": LEAK, "log-user-check": CHECKS}
SHORT = {
    START: "Start the spore test",
    AIR: "Log the air-removal test",
    LEAK: "Log the leak test",
    CHECKS: "Log the checks",
    CHEMICAL: "Chemical indicator",
    LOAD: "Load",
}


@dataclass(slots=True)
class Job:
    """One form of the day with the due items that it answers."""

    kind: Kind
    clocks: list[Clock]
    form: object = None

    @property
    def short(self) -> str:
        return SHORT[self.kind]

    @property
    def worst(self) -> State:
        return max((c.state for c in self.clocks), key=list(State).index)


@dataclass(slots=True)
class JobGroup:
    """Jobs of several units that ask the same in the same words."""

    clocks: list[Clock]
    jobs: list[tuple[Desk, Job]] = field(default_factory=list)


@dataclass(slots=True)
class Desk:
    """One unit on the day: what is due now, what is soon, and what is done by others."""

    facts: UnitFacts
    judged: UnitJudgement
    due: list[Job] = field(default_factory=list)
    soon: list[Job] = field(default_factory=list)
    other: list[Clock] = field(default_factory=list)
    links: list[tuple[str, str]] = field(default_factory=list)


@at_clinic("look")
@require_safe
def day_page(request, ground: EntryContext):
    """What is due at the clinic now, with the forms to do it; nothing can be entered for a day gone by from here."""
    page = opened(request, ground, named=True)
    with timezone.override(page.zone):
        context = _context(request, ground, page)
        return render(request, "audit/desk/day.html", context, status=400 if page.problem else 200)


def _context(request, ground: EntryContext, page: OpenedClinic) -> dict:
    may = page.rights.may_log and page.as_of == page.today
    pairs = [(u, j) for u, j in zip(page.facts.units, page.judgement.units, strict=True)]
    desks = [_desk(page, ground, n, u, j, may) for n, (u, j) in enumerate(pairs)]
    now = clock.now() if page.as_of == page.today else None
    context = page.context()
    reads = [_read(ground, line, request.path, may) for line in read_lines(pairs, page.as_of, now)]
    every = request.GET.get("loads") == "all"
    loads, older = undecided(page, ground, pairs, every=every, may=may, here=request.path)
    return context | {
        "desks": desks,
        "worst_first": sorted(desks, key=lambda d: RANKS.index(d.judged.standing.word)),
        "due": _grouped([(d, job) for d in desks for job in d.due], page.as_of),
        "soon": _grouped([(d, job) for d in desks for job in d.soon], page.as_of),
        "other": [(d, c) for d in desks for c in d.other],
        "failures": [
            (line, case_address(page, line.case, context["proofs"])) for line in failure_lines(pairs, page.company)
        ],
        "ready": [r for r in reads if r["line"].ready and not r["line"].sent_away],
        "incubating": [r for r in reads if not r["line"].ready and not r["line"].sent_away],
        "away": [r for r in reads if r["line"].sent_away],
        "loads": loads,
        "older_loads": older,
        "every_load": every,
        "may": may,
        "now": clock.now().astimezone(ZoneInfo(page.zone)),
    }


def _grouped(jobs: list[tuple[Desk, Job]], day: date) -> list[JobGroup]:
    """What is asked in the same words of several units once; what is worst first, then in the order of the units."""
    found: dict[tuple, JobGroup] = {}
    for desk, job in jobs:
        said = tuple((c.state, c.title, c.when(day), c.note, c.rule, str(c.source)) for c in job.clocks)
        found.setdefault((job.kind, said), JobGroup(job.clocks)).jobs.append((desk, job))
    return sorted(found.values(), key=lambda each: -list(State).index(each.jobs[0][1].worst))


def case_address(page: OpenedClinic, case: Case, proofs: Proofs) -> str:
    """The address of the guided response: by the case, or by what failed where no case row was opened."""
    if case.ref:
        return reverse("response", args=[page.clinic.slug, case.ref])
    place = proofs.place(case.evidence[0].ref) if case.evidence else None
    return reverse("response", args=[page.clinic.slug, place[1]]) if place else ""


# ------------------------------------------------------------------------------------------------ one unit


def _desk(page: OpenedClinic, ground, number: int, unit: UnitFacts, judged: UnitJudgement, may: bool) -> Desk:
    desk = Desk(unit, judged)
    if judged.standing.word is Word.NOT_IN_USE:
        return desk
    for clock_ in judged.clocks:
        if clock_.state in (*DUE_TODAY, State.DUE_SOON):
            _put(desk, clock_)
    here = reverse("day", args=[page.clinic.slug])
    if may:
        for job in (*desk.due, *desk.soon):
            place = f"u{number}-{job.kind.name}-"
            more = {"kinds": tuple(dict.fromkeys(c.subject for c in job.clocks))} if job.kind is CHECKS else {}
            job.form = form_of(job.kind, ground, unit, next=here, place=place, judged=judged, **more)
        desk.links = _links(page.clinic.slug, unit)
    return desk


def _put(desk: Desk, item: Clock) -> None:
    """The due item beside the form that answers it; what is soon due joins what is due now with the same form."""
    kind = DESK.get(page_of(item))
    if kind is None:
        if item.state in DUE_TODAY:
            desk.other.append(item)
        return
    now = next((job for job in desk.due if job.kind is kind), None)
    if item.state in DUE_TODAY:
        desk.due.append(Job(kind, [item])) if now is None else now.clocks.append(item)
    elif now is None:
        soon = next((job for job in desk.soon if job.kind is kind), None)
        desk.soon.append(Job(kind, [item])) if soon is None else soon.clocks.append(item)


def _links(slug: str, unit: UnitFacts) -> list[tuple[str, str]]:
    """Every kind of entry for the unit, whether due or not: what it says and its address, loads first."""
    kinds = [k for k in (LOAD, *KINDS[:-1]) if not (k in (AIR, LEAK) and unit.equipment_type in WITHOUT_VACUUM)]
    words = SHORT | {START: "Spore test", AIR: "Air-removal test", LEAK: "Leak test", CHECKS: "Checks"}
    return [(words[kind], reverse(kind.name, args=[slug, unit.ref])) for kind in kinds]


def _read(ground, line: ReadLine, here: str, may: bool) -> dict:
    test = line.test
    form = None
    if may:
        form = read_form(
            ground, test.row.origin, line.unit.label, away=line.sent_away, timed=test.row.happened_at is not None,
            next=here, place=f"r{test.row.origin[:8]}-",
        )  # fmt: skip
    return {"line": line, "form": form}
