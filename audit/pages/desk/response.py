"""The guided response to one failure: step by step as the rules' path says, and the same as a page for the wall.

Nothing is judged here. Steps, what is still missing and the loads affected are those of the judgement; what is
recorded here goes through the ordinary entries, and the next look at the page shows what it changed.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from audit.facts import FollowUpFact, UnitFacts, unit_by_day
from audit.gather.proofs import Proofs
from audit.judge.judgement import Case, LookBack, Step, UnitJudgement
from audit.judge.response import opener_of
from audit.judge.to_read import read_lines
from records.forms import EntryContext, FollowUpDoneForm, FollowUpForm, UnitEventForm
from records.models import Unit
from records.views.base import at_clinic

from ..duties import SETTLED, waiting_follow_ups
from ..opened import OpenedClinic, opened
from .entry import AIR, CHECKS, CHEMICAL, LEAK, LOAD, START, form_of, read_form
from .release import line_of, loads_of_failure

# What to do, in plain words. Common practice, no source; what the rules ask stands beside it with its source.
TODO = {
    "withdraw": "Hang a tag on it and tell everybody who uses it. Nothing more is sterilized in it until it may "
    "return.",
    "review": "Look at loading, packing, the cycle chosen, the printouts, and how the test itself was run. Write "
    "down what was found.",
    "retest": "Run the test again in the same way, after the failure was known. A test that was in already is no "
    "repeat.",
    "recall packs": "Take the packs of the loads affected out of stock and sterilize them again before use. Who "
    "was treated with them stands in the clinic’s own files, not here.",
    "find cause": "A technician inspects or repairs the unit. Never open a cover yourself.",
    "requalify": "Run the tests one after another. A failure among them starts the count again.",
    "notify": "Tell them, and keep the day, the name of whom you told, and what they said.",
    "return": "When nothing is missing any more, say so here and take the tag off.",
}
TESTS = {
    "biological": START,
    "mechanical": LOAD,
    "air removal": AIR,
    "air leak": LEAK,
    "automatic control": CHECKS,
    "safety check": CHECKS,
    "air detector": CHECKS,
    "wet packs": LOAD,
    "chemical": CHEMICAL,
}
# Steps whose doing a follow-up tells; the others are shown by events of the unit and by tests.
TOLD = ("review", "recall packs", "find cause", "confine", "repair", "notify", "other")


@dataclass(slots=True)
class Guided:
    """One step: what the rules ask, what to do, and the forms that record it (None where there is none)."""

    number: int
    step: Step
    todo: str
    open: bool
    waiting: list  # (follow-up set and not done, form that it is done)
    event: object = None
    done: object = None
    give: object = None
    tests: tuple = ()

    @property
    def is_behind(self) -> bool:
        """Whether nothing is to be done or recorded here any more."""
        return not (self.open or self.waiting or self.event or self.done or self.give or self.tests)


@at_clinic("look")
@require_safe
def response_page(request, ground: EntryContext, ref):
    """One failure from withdrawal to return. `ref`: its case, or what failed where no case row was opened."""
    page = opened(request, ground)
    with timezone.override(page.zone):
        context = _context(request, ground, page, str(ref))
        return render(request, "audit/desk/response.html", context, status=400 if page.problem else 200)


@at_clinic("look")
@require_safe
def response_wall(request, ground: EntryContext, ref):
    """What to do now, as one page of paper for the wall beside the unit."""
    page = opened(request, ground)
    context = page.context()
    unit, judged, case = _find(page, str(ref), context["proofs"])
    steps = [s for s in case.steps if s.state in ("open", "late") and s.done_on is None]
    context |= {
        "unit": unit, "judged": judged, "case": case, "ref": ref, "todo": TODO,
        "backs": _backs(judged, case),
        "steps": [{"step": s, "todo": TODO.get(s.action, "")} for s in steps],
    }  # fmt: skip
    return render(request, "audit/desk/wall.html", context, status=400 if page.problem else 200)


def _find(page: OpenedClinic, ref: str, proofs: Proofs) -> tuple[UnitFacts, UnitJudgement, Case]:
    """The unit and the case. Raises Http404."""
    for unit, judged in zip(page.facts.units, page.judgement.units, strict=True):
        rows = [c for c in unit.cases if c.row.origin == ref]
        for case in judged.cases:
            # Of several failures in one case each has opened a row; a cycle may have opened one of each kind.
            own = any(c.kind == case.kind and opener_of(unit, c) in _origins(case, proofs) for c in rows)
            if case.ref == ref or own or (not case.ref and ref in _origins(case, proofs)):
                return unit_by_day(unit, page.as_of), judged, case
    raise Http404("No such failure here.")


def _origins(case: Case, proofs: Proofs) -> list[str]:
    places = [proofs.place(e.ref) for e in case.evidence]
    return [place[1] for place in places if place]


def _backs(judged: UnitJudgement, case: Case) -> list[LookBack]:
    """The loads affected by the failure: those of the case, or of the same evidence where it has no row."""
    mine = {e.ref for e in case.evidence}
    return [
        b for b in judged.look_backs
        if (case.ref and b.case == case.ref) or (not case.ref and mine & {e.ref for e in b.evidence})
    ]  # fmt: skip


def _context(request, ground: EntryContext, page: OpenedClinic, ref: str) -> dict:
    context = page.context()
    unit, judged, case = _find(page, ref, context["proofs"])
    is_open = case.phase not in SETTLED
    may = page.rights.may_log and page.as_of == page.today
    asks = [s for s in case.steps if s.state in ("open", "late") and s.done_on is None]
    waiting = waiting_follow_ups(unit, case, page.as_of)
    making = _Making(page, ground, unit, case, request.path, may and case.phase != "entered in error")
    steps = [making.step(n, step, waiting) for n, step in enumerate(case.steps, start=1)]
    awaited = {v.test for v in judged.verdicts if v.verdict == "awaited"}
    return context | {
        "unit": unit,
        "judged": judged,
        "case": case,
        "ref": ref,
        "open": is_open,
        "next_step": asks[0] if asks else None,
        "steps": [each for each in steps if not each.is_behind],
        "behind": [each for each in steps if each.is_behind],
        "count": len(steps),
        "unfolded": request.GET.get("open") == "1",
        "also_open": _also_open(case, asks),
        "backs": _backs(judged, case),
        "loads": making.loads(judged),
        "reads": [making.read(line) for line in read_lines([(unit, judged)], page.as_of, None)] if awaited else [],
        "may": may,
    }


def _also_open(case: Case, asks: list[Step]) -> list[str]:
    """Steps that are open beside what stands between the unit and its return, which `case.needs` says."""
    told = ("return", "retest", "requalify") + (("find cause",) if case.needs else ())
    return [s.title for s in asks if s.action not in told] if case.phase not in SETTLED else []


class _Making:
    """The forms of the steps. All post to the ordinary entries, and come back here."""

    def __init__(self, page: OpenedClinic, ground: EntryContext, unit: UnitFacts, case: Case, here: str, may: bool):
        self.page, self.ground, self.unit, self.case = page, ground, unit, case
        self.here, self.may = here, may

    def step(self, number: int, step: Step, waiting) -> Guided:
        is_open = step.state in ("open", "late") and step.done_on is None
        mine = [f for f in waiting if f.action == step.action and self._is_about(f, step)]
        guided = Guided(number, step, TODO.get(step.action, ""), is_open, [(f, self._finish(f)) for f in mine])
        if self.may:
            self._fill(guided)
        return guided

    def _is_about(self, followup: FollowUpFact, step: Step) -> bool:
        """A notice names who is told; another step takes every follow-up of its action."""
        others = [s for s in self.case.steps if s.action == step.action]
        return len(others) == 1 or step.title in followup.text or followup.text in step.title

    def _fill(self, guided: Guided) -> None:
        action, case = guided.step.action, self.case
        settled = case.phase in SETTLED
        if action == "withdraw" and guided.open:
            guided.event = self._event("withdrawn", case.title)
        elif action == "return" and settled and not guided.step.evidence:
            guided.event = self._event("returned", "")
        elif action in ("retest", "requalify") and guided.open:
            guided.tests = self._tests(action)
        elif action in TOLD and guided.open and case.ref:
            guided.done = None if guided.waiting else self._follow_up(guided, "done")
            guided.give = None if guided.waiting else self._follow_up(guided, "give")

    def _event(self, kind: str, reason: str):
        place = f"{kind}-%s"
        initial = {"kind": kind, "reason": reason, "next": self.here}
        unit = Unit.objects.get(ref=self.unit.ref) if kind == "returned" else None
        if ends := self._own_withdrawal():
            initial["ends"] = ends
        form = UnitEventForm(ground=self.ground, initial=initial, auto_id=place, unit=unit)
        form.address = reverse("unit-event", args=[self.page.clinic.slug, self.unit.ref])
        return form

    def _own_withdrawal(self) -> str:
        """The withdrawal that this failure asked for, by its origin; "" where none shows it."""
        shown = {e.ref for s in self.case.steps if s.action == "withdraw" for e in s.evidence}
        return next((e.row.origin for e in self.unit.events if e.kind == "withdrawn" and e.row.ref in shown), "")

    def _follow_up(self, guided: Guided, half: str):
        step, today = guided.step, self.ground.today
        initial = {"action": step.action, "what": step.title[:500], "next": self.here}
        initial |= {"done_on": today} if half == "done" else {"due_on": step.due_on}
        form = FollowUpForm(ground=self.ground, initial=initial, auto_id=f"s{guided.number}{half}-%s")
        form.fields["outcome"].required = half == "done"
        form.address = reverse("log-follow-up", args=[self.page.clinic.slug, self.case.ref])
        return form

    def _finish(self, followup: FollowUpFact):
        if not self.may:
            return None
        place = f"f{followup.row.origin[:8]}-%s"
        initial = {"next": self.here, "ends": self._own_withdrawal()}
        unit = Unit.objects.get(ref=self.unit.ref) if followup.action == "return" else None
        form = FollowUpDoneForm(ground=self.ground, initial=initial, auto_id=place, unit=unit)
        form.address = reverse("follow-up-done", args=[self.page.clinic.slug, followup.row.origin])
        return form

    def _tests(self, action: str) -> tuple:
        kind = TESTS.get(self.case.kind)
        if kind is None:
            return ()
        purpose = "repeat" if action == "retest" else "requalification"
        more: dict = {"next": self.here, "place": f"{action}-"}
        if kind is not LOAD:
            more["purpose"] = purpose
        if kind is START:
            more["chamber"] = ""
            more |= {"cycle_type": failed} if (failed := self._failed_cycle()) else {}
        if kind is CHECKS:
            more["kinds"] = (self.case.kind,)
        forms = [form_of(kind, self.ground, self.unit, **more)]
        if "air-removal" in self.case.needs and kind is not AIR:
            air = {"next": self.here, "place": f"{action}-air-", "purpose": purpose}
            forms.append(form_of(AIR, self.ground, self.unit, **air))
        return tuple(forms)

    def _failed_cycle(self) -> str:
        """The cycle type of the test that failed."""
        refs = {e.ref for e in self.case.evidence}
        failed = [t for t in self.unit.bio_tests if t.row.ref in refs]
        return failed[0].cycle_type if failed else ""

    def loads(self, judged: UnitJudgement) -> list:
        """The loads of the failed cycles, each with its decision or the form for one."""
        failed = loads_of_failure(self.unit, self.case)
        regime = self.page.judgement.regime
        return [line_of(self.ground, self.unit, judged, x, regime, may=self.may, here=self.here) for x in failed]

    def read(self, line) -> dict:
        """A repeat that is in already, with the form to read it."""
        test = line.test
        form = None
        if self.may:
            form = read_form(
                self.ground, test.row.origin, self.unit.label, away=line.sent_away,
                timed=test.row.happened_at is not None, next=self.here, place=f"r{test.row.origin[:8]}-",
            )  # fmt: skip
        return {"line": line, "form": form}
