"""Loads that wait for their decision: released or rejected in two taps, with what is known of the cycle beside it.

Nothing is chosen beforehand. What speaks against a release is said; what happened all the same is recorded with its
reason, and judged from the record.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse

from audit.facts import LoadFact, UnitFacts, unit_by_day
from audit.judge.cycle_of_load import Cycle, cycle_of, implant_duty
from audit.judge.judgement import Case, UnitJudgement
from audit.regimes import load_regime
from records import log
from records.forms import EntryContext
from records.models import Load
from records.views.base import at_clinic, one_or_404, safe_next

from ..opened import OpenedClinic, opened
from .entry import record
from .forms import DecisionForm

# On the page of the day; older ones stand behind a link. Common practice, no source.
SHOWN_DAYS, SHOWN_MOST, EVERY_MOST = 14, 12, 100


@dataclass(slots=True)
class Undecided:
    """A load without a decision, with the form to decide (None where nothing may be recorded)."""

    label: str
    load: LoadFact
    cycle: Cycle
    form: object = None


def cycle_on_page(unit: UnitFacts, judged: UnitJudgement, load: LoadFact, regime: str) -> Cycle:
    """What is on record of the cycle of the load; `regime` is the id of the rules."""
    verdicts = {v.test: v for v in judged.verdicts}
    return cycle_of(unit, load, verdicts, implant_duty(load_regime(regime).duties if regime else ()))


# ------------------------------------------------------------------------------------------------ on other pages


def undecided(
    page: OpenedClinic, ground: EntryContext, pairs, *, every: bool, may: bool, here: str
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
    ground: EntryContext, unit: UnitFacts, judged, load: LoadFact, regime: str, *, may: bool, here: str
) -> Undecided:
    """One load with what is known of its cycle, and its form where nothing was decided."""
    cycle = cycle_on_page(unit, judged, load, regime)
    line = Undecided(unit.label, load, cycle)
    if may and not load.released:
        line.form = decision_form(ground, unit, load, cycle, initial={"next": here}, place=f"l{load.row.origin[:8]}-")
    return line


def decision_form(
    ground: EntryContext, unit: UnitFacts, load: LoadFact, cycle: Cycle, *args, place: str = "", **more
):
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
def day_release(request, ground: EntryContext, ref):
    """Decide on one load; one that was decided says how, with the way to correct it."""
    row = one_or_404(Load.objects.origins().filter(clinic=ground.clinic).select_related("unit"), ref=ref)
    page = opened(request, ground, str(row.unit.origin))
    unit, judged = page.facts.units[0], page.judgement.units[0]
    load = next((x for x in unit.loads if x.row.origin == str(ref)), None)
    if load is None:
        raise Http404("This load was entered in error.")
    cycle = cycle_on_page(unit, judged, load, page.judgement.regime)
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


def _page(request, ground: EntryContext, unit: UnitFacts, load: LoadFact, cycle: Cycle, form, status: int = 200):
    context = {"clinic": ground.clinic, "rights": ground.rights, "unit": unit, "load": load, "cycle": cycle}
    context |= {"form": form, "back": safe_next(request) or reverse("day", args=[ground.clinic.slug])}
    return render(request, "audit/desk/decide.html", context, status=status)
