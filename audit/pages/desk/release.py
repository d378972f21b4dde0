"""Loads that wait for their decision: released or rejected in two taps, with what is known of the cycle beside it.

Nothing is chosen beforehand. What speaks against a release is said; what happened all the same is recorded with its
reason, and judged from the record.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse

from audit.facts import BioTestFact, LoadFact, UnitFacts, in_order, unit_by_day
from audit.judge.biological import AWAITED, FAILED, INVALID, PASSED
from audit.judge.judgement import Case, UnitJudgement
from audit.judge.rules.implants import EACH, SPORE_TESTED
from audit.regimes import load_regime
from records import log
from records.forms import Ground
from records.models import Load
from records.views.base import at_clinic, one_or_404, safe_next

from ..opened import Opened, opened
from .entry import record
from .forms import DecisionForm

# On the page of the day; older ones stand behind a link. Common practice, no source.
SHOWN_DAYS, SHOWN_MOST, EVERY_MOST = 14, 12, 100
_TEST = {
    PASSED: "the spore test of this cycle passed",
    FAILED: "the spore test of this cycle is positive",
    AWAITED: "the spore test of this cycle has no result yet",
    INVALID: "the spore test of this cycle doesn’t count",
}


@dataclass(frozen=True, slots=True)
class Cycle:
    """What is on record of the cycle of a load. `against`: what speaks against a release, in words."""

    words: tuple[str, ...]
    against: tuple[str, ...]


@dataclass(slots=True)
class Undecided:
    """A load without a decision, with the form to decide (None where nothing may be recorded)."""

    label: str
    load: LoadFact
    cycle: Cycle
    form: object = None


# ------------------------------------------------------------------------------------------------ what is known


def cycle_of(unit: UnitFacts, judged: UnitJudgement, load: LoadFact, regime: str) -> Cycle:
    """What is on record of the cycle of the load, read off rows of its day; `regime` is the id of the rules."""
    verdicts = {v.test: v.verdict for v in judged.verdicts}
    tests = [(t, verdicts.get(t.row.origin, AWAITED)) for t in _same(unit.bio_tests, load) if _is_of(t, load)]
    strips = list(_same(unit.chemical, load)) if load.cycle_number else []
    strips = [c for c in strips if c.cycle_number == load.cycle_number]
    words = [
        f"gauges and printout: {load.mechanical or 'not recorded'}",
        f"chemical indicators: {load.chemical or 'not recorded'}",
        *(f"chemical indicator type {c.type}: {c.result}" for c in strips),
        *(_TEST[verdict] for _, verdict in tests),
    ]
    if load.implant:
        words.append("held an implant")
        if not tests:
            words.append("no spore test of this cycle is on record")
    return Cycle(tuple(words), tuple(_against(load, strips, tests, regime)))


def _against(load: LoadFact, strips, tests, regime: str) -> Iterator[str]:
    if "fail" in (load.mechanical, load.chemical) or any(c.result == "fail" for c in strips):
        yield "something failed in this cycle: such packs are not used (CDC 2003, MMWR 52 RR-17, VI.F)"
    if any(verdict == FAILED for _, verdict in tests):
        yield _TEST[FAILED]
    if load.implant and tests and not any(verdict == PASSED for _, verdict in tests):
        state = next(v for _, v in tests if v != PASSED)
        yield f"it held an implant and {_TEST[state]} ({SPORE_TESTED})"
    elif load.implant and not tests and (duty := _implant_duty(regime)):
        yield f"it held an implant and no spore test of this cycle is on record ({duty.source})"


def _implant_duty(regime: str):
    """What the rules ask of a load with an implant; None where they ask nothing."""
    duties = load_regime(regime).duties if regime else ()
    return next((d for d in duties if d.every == EACH), None)


def _is_of(test: BioTestFact, load: LoadFact) -> bool:
    """As `audit.judge.rules.implants` matches them: the same cycle, or a test marked as of an implant load."""
    if test.cycle_number and load.cycle_number:
        return test.cycle_number == load.cycle_number
    return test.implant and load.implant


def _same(facts, load: LoadFact) -> Iterator:
    """The rows of the day of the load."""
    rows, day = in_order(facts), load.row.happened_on
    n = bisect_left(rows, day, key=lambda f: f.row.happened_on)
    while n < len(rows) and rows[n].row.happened_on == day:
        yield rows[n]
        n += 1


# ------------------------------------------------------------------------------------------------ on other pages


def undecided(
    page: Opened, ground: Ground, pairs, *, every: bool, may: bool, here: str
) -> tuple[list[Undecided], int]:
    """The loads without a decision, the newest first, and how many are left out: those of long ago unless `every`."""
    since = date.min if every else page.as_of - timedelta(days=SHOWN_DAYS)
    found = [(unit, judged, load) for unit, judged in pairs for load in _open_loads(unit, page.as_of)]
    found.sort(key=lambda each: (each[2].row.happened_on, each[2].row.number), reverse=True)
    shown = [each for each in found if each[2].row.happened_on >= since]
    shown = shown[: EVERY_MOST if every else SHOWN_MOST]
    regime = page.judgement.regime
    return [line_of(ground, *each, regime, may=may, here=here) for each in shown], len(found) - len(shown)


def _open_loads(unit: UnitFacts, as_of: date) -> list[LoadFact]:
    return [x for x in unit_by_day(unit, as_of).loads if not x.released]


def line_of(
    ground: Ground, unit: UnitFacts, judged, load: LoadFact, regime: str, *, may: bool, here: str
) -> Undecided:
    """One load with what is known of its cycle, and its form where nothing was decided."""
    cycle = cycle_of(unit, judged, load, regime)
    line = Undecided(unit.label, load, cycle)
    if may and not load.released:
        line.form = decision_form(ground, unit, load, cycle, initial={"next": here}, place=f"l{load.row.origin[:8]}-")
    return line


def decision_form(ground: Ground, unit: UnitFacts, load: LoadFact, cycle: Cycle, *args, place: str = "", **more):
    """The form to decide on a load; `place` tells apart the several that stand on one page."""
    auto = {"auto_id": f"{place}%s"} if place else {}
    form = DecisionForm(*args, ground=ground, against=cycle.against, **auto, **more)
    form.address = reverse("day-release", args=[ground.clinic.slug, load.row.origin])
    form.outbox = f"Decision on the load of cycle {load.cycle_number}, {unit.label}"
    return form


def loads_of_failure(unit: UnitFacts, case: Case) -> list[LoadFact]:
    """The loads of the failed cycles of a case: the rows that failed, or of the same day and cycle."""
    refs = {e.ref for e in case.evidence}
    failed = [f for kind in (unit.bio_tests, unit.chemical, unit.checks) for f in kind if f.row.ref in refs]
    cycles = {(f.row.happened_on, f.cycle_number) for f in failed if f.cycle_number}
    return [x for x in unit.loads if x.row.ref in refs or (x.row.happened_on, x.cycle_number) in cycles]


# ------------------------------------------------------------------------------------------------ its own page


@at_clinic()
def day_release(request, ground: Ground, ref):
    """Decide on one load; one that was decided says how, with the way to correct it."""
    row = one_or_404(Load.objects.origins().filter(clinic=ground.clinic).select_related("unit"), ref=ref)
    page = opened(request, ground.clinic.slug, str(row.unit.origin))
    unit, judged = page.facts.units[0], page.judgement.units[0]
    load = next((x for x in unit.loads if x.row.origin == str(ref)), None)
    if load is None:
        raise Http404("This load was entered in error.")
    cycle = cycle_of(unit, judged, load, page.judgement.regime)
    if request.method != "POST":
        form = decision_form(ground, unit, load, cycle, initial={"next": safe_next(request)})
        return _page(request, ground, unit, load, cycle, form)
    form = decision_form(ground, unit, load, cycle, request.POST)
    if form.is_valid():
        common = {"by": request.user, "request_key": form.cleaned_data["request_key"], "clinic": ground.clinic}
        write = partial(_write, form, load=row, **common)
        to = safe_next(request) or reverse("day", args=[ground.clinic.slug])
        answer = record(request, ground, form, write, "Decide on a load", to)
        if answer:
            return answer
    form.seen_once()
    return _page(request, ground, unit, load, cycle, form, 422)


def _write(form: DecisionForm, **common) -> list:
    return [log.release_load(**common, **form.values())]


def _page(request, ground: Ground, unit: UnitFacts, load: LoadFact, cycle: Cycle, form, status: int = 200):
    context = {"clinic": ground.clinic, "rights": ground.rights, "unit": unit, "load": load, "cycle": cycle}
    context |= {"form": form, "back": safe_next(request) or reverse("day", args=[ground.clinic.slug])}
    return render(request, "audit/desk/decide.html", context, status=status)
