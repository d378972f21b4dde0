"""What each page of a visit shows beside its form."""

from __future__ import annotations

from django.urls import reverse

from audit.binder.blank_forms import work as sheet
from audit.facts import in_order
from audit.judge.clocks.plan import fit_on
from audit.judge.judgement import State
from audit.pages.visit.guide import steps

from .drafts import DraftedVisit

RECALLED = "recalled-part-in-use"  # the open item of a part that a notice means


def _of_identify(visit: DraftedVisit, unit, step) -> dict:
    held = unit.about.unit
    day = unit.about.as_of
    slug = visit.ground.clinic.slug
    stop = unit.held.get(steps.IDENTIFY) is not None and "differs" in unit.held[steps.IDENTIFY].values()
    back = f"?next={visit.address(unit.n, steps.IDENTIFY)}"
    return {
        "fits": [(p, fit_on(held, p.row.origin, day)) for p in held.positions],
        "cycles": unit.last_counter("cycles"), "hours": unit.last_counter("hours"), "stop": stop,
        "correct_unit": reverse("correct", args=[slug, "unit", held.ref]) + back,
        "settle_fit": reverse("log-fit", args=[slug]) + f"{back}&unit={held.ref}",
        "open_items": sheet._items(unit.about)[:6],
    }  # fmt: skip


def _of_task(visit: DraftedVisit, unit, step) -> dict:
    code = step.removeprefix(steps.TASK)
    line = unit.lines.get(code)
    due = unit.due
    kept = next((lot for lot in unit.fitting_lots(line)), None) if line else None
    return {
        "line": line, "clock": unit.clocks.get(code), "before": unit.fitted(line),
        "position": unit._position(line), "few_lots": len(unit.fitting_lots(line)) if line else 0, "has_lot": kept,
        "place": due.index(code) + 1 if code in due else 0, "due_count": len(due),
        "replaces": line is not None and line.action == "replace",
        "when": unit.clocks[code].when(unit.about.as_of) if code in unit.clocks else "",
        "last_said": _last_said(unit, line),
    }  # fmt: skip


def _last_said(unit, line):
    """What the job before said of this task: the outcome and what was found."""
    said = [o for job in unit.about.unit.jobs for o in job.outcomes if line and o.plan_line == line.code]
    return in_order(said)[-1] if said else None


def _of_tasks(visit: DraftedVisit, unit, step) -> dict:
    lines = []
    for code in [*unit.due, *(c for c in unit.lines if c not in unit.due)]:
        page = steps.TASK + code
        clock_ = unit.clocks.get(code)
        if clock_ is not None and clock_.state is State.NOT_APPLICABLE and page not in unit.held:
            continue
        lines.append({"line": unit.lines[code], "clock": clock_, "due": code in unit.due,
                      "when": clock_.when(unit.about.as_of) if clock_ else "",
                      "said": (unit.held.get(page) or {}).get("outcome", ""),
                      "address": visit.address(unit.n, page)})  # fmt: skip
    extra = [p for p in unit.held if p.startswith(steps.EXTRA)]
    more = next((k for k in range(1, steps.MOST_EXTRA + 1) if f"{steps.EXTRA}{k}" not in extra), None)
    opened = sorted(p for p in unit.held if p.startswith(steps.KIT))
    kit = next((k for k in range(1, steps.MOST_EXTRA + 1) if f"{steps.KIT}{k}" not in opened), None)
    return {
        "opened": [{"title": unit.title(p), "address": visit.address(unit.n, p)} for p in opened],
        "more_kit": visit.address(unit.n, f"{steps.KIT}{kit}") if kit and unit.kits else "",
        "tasks": lines,
        "notices": [f for f in unit.about.judged.findings if f.rule == RECALLED],
        "extra": [{"title": unit.title(p), "address": visit.address(unit.n, p)} for p in sorted(extra)],
        "more": visit.address(unit.n, f"{steps.EXTRA}{more}") if more else "",
        "not_applicable": [c for c in unit.clocks.values() if c.state is State.NOT_APPLICABLE],
    }


def _of_prove(visit: DraftedVisit, unit, step) -> dict:
    form = unit.quiet(step)
    others = [code for code in (f"V{k}" for k in range(1, 11)) if code not in unit.proof.codes]
    return {"proof": unit.proof, "other_codes": others, "measured": form.measured()}


def _of_end(visit: DraftedVisit, unit, step) -> dict:
    return {"proof": unit.proof, "prove": visit.address(unit.n, steps.PROVE)}


def _of_safe(visit: DraftedVisit, unit, step) -> dict:
    return {"found_address": visit.address(unit.n, steps.FOUND)}


def _nothing(visit, unit, step) -> dict:
    return {}


# By the page: what its template is given beside the form.
SHOWN = {
    steps.IDENTIFY: _of_identify, steps.SAFE: _of_safe, steps.FOUND: _nothing, steps.TASKS: _of_tasks,
    "task": _of_task, "extra": _of_task, "kit": _nothing, steps.PROVE: _of_prove, steps.END: _of_end,
}  # fmt: skip
