"""One unit of a visit that is being typed: its record, its plan, the answers so far, and what they amount to."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cached_property

from django.forms.utils import ErrorDict

from audit.binder.blank_forms import work as sheet
from audit.binder.blank_forms.about import FormSubject
from audit.facts import in_order, unit_by_day
from audit.facts.names import test_title
from audit.judge.clocks.plan import plan_lines
from audit.judge.judgement import DueKind
from audit.judge.proof_after_work import Work
from audit.judge.situation import clinic_by_day
from audit.pages.visit.guide import job as jobs
from audit.pages.visit.guide import proof as proofs
from audit.pages.visit.guide import steps, told
from audit.regimes import all_regimes
from records.models.visits import FITTED

from .end_forms import VisitEndForm
from .forms import SAME, ExtraForm, IdentifyForm, SafeForm, TaskForm
from .kits import KitUsedForm, kits_for, with_asked
from .prove_forms import ProveForm
from .reading_forms import FoundForm

FORMS = {
    steps.IDENTIFY: IdentifyForm, steps.SAFE: SafeForm, steps.FOUND: FoundForm, steps.PROVE: ProveForm,
    steps.END: VisitEndForm, steps.KIT.rstrip("-"): KitUsedForm,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Proof:
    """`derived` is the class that follows from the work, `classes` those that may be stated."""

    work: Work
    derived: str
    classes: tuple[str, ...]
    codes: tuple[str, ...]
    missing: tuple[str, ...]  # in words
    endings: tuple[str, ...]
    why_not: str
    outside: tuple[str, ...]  # readings as left outside their limits, in words
    awaited: tuple[str, ...]  # what must be replaced and was not, in words


def about_of(page, ref: str) -> FormSubject:
    """The unit as forms read it, on the day of the page (`audit.pages.opened.OpenedClinic`)."""
    facts = next(unit for unit in page.facts.units if unit.ref == ref)
    judged = next(unit for unit in page.judgement.units if unit.unit == ref)
    regime = all_regimes()[page.judgement.regime].on(page.as_of)
    own = clinic_by_day(page.facts, page.as_of)
    return FormSubject(own, page.judgement, unit_by_day(facts, page.as_of), judged, regime, page.as_of)


class VisitUnit:
    """`held` maps pages to what was typed there; `lots` are the part lots that may be fitted (rows, as corrected),
    `boxes` the boxes of indicators of a kind, `kits` those that may be opened, `asked` the readings of the unit's
    template: each is read when it is needed. `on`: the day of the work, without it that of what is on record.
    """

    def __init__(
        self, about: FormSubject, n: int, held: dict, *, technician: str, now, lots, boxes, kits, asked, on=None
    ) -> None:
        self.about, self.n, self.held, self.technician, self.now = about, n, held, technician, now
        self.on = on or about.as_of
        self._lots, self.boxes, self._kits, self._asked = lots, boxes, kits, asked

    # -------------------------------------------------------------------------------- what is on record

    @cached_property
    def lines(self) -> dict:
        return {line.code: line for line in plan_lines(self.about.unit, self.about.as_of)}

    @cached_property
    def clocks(self) -> dict:
        return {c.code: c for c in self.about.judged.clocks if c.kind is DueKind.PLAN}

    @cached_property
    def due(self) -> list[str]:
        """The codes of the tasks due now or soon, in the order of the paper sheet."""
        return [line.code for _, line in sheet.due_tasks(self.about)]

    @cached_property
    def readings(self) -> list:
        return with_asked(sheet.last_readings(self.about), self._asked(), self.about.as_of, self.now)

    def last_counter(self, counter: str):
        found = in_order(c for c in self.about.unit.counters if c.counter == counter)
        return found[-1] if found else None

    @cached_property
    def lots(self) -> list:
        return self._lots()

    def box_choices(self, kind: str) -> list[tuple[str, str]]:
        """The boxes of biological or chemical indicators at the clinic, for a choice."""
        return [(str(box.origin), str(box)) for box in self.boxes(kind)]

    @cached_property
    def kits(self) -> list:
        """The kits that may be opened at this unit."""
        return kits_for(self._kits(), self.about)

    def fitted(self, line):
        return sheet.fitted_at(self.about, line.position) if line is not None and line.position else None

    def fitting_lots(self, line) -> list:
        """Own lots of the part that was fitted there last, or of a part of the same kind; newest receipt first."""
        before, held = self.fitted(line), self._position(line)
        component = held.component if held else ""
        return [lot for lot in self.lots if _fits(lot, before, component)]

    def _position(self, line):
        origin = line.position if line is not None else ""
        return next((p for p in self.about.unit.positions if p.row.origin == origin), None)

    def lot_choices(self, line) -> list[tuple[str, str]]:
        first = self.fitting_lots(line)
        rest = [lot for lot in self.lots if lot not in first]
        return [(str(lot.origin), lot_title(lot)) for lot in (*first, *rest)]

    def lots_named(self, typed: str, line) -> tuple[list, list]:
        """The lots whose printed or receipt number is that: those that may be meant there, and the others.

        Two makers may use one number, so where a certain part belongs only a lot of that part is meant.
        """
        named = [lot for lot in self.lots if typed.lower() in (lot.lot.lower(), lot.receipt_lot.lower())]
        fitting = [lot for lot in self.fitting_lots(line) if lot in named]
        is_open = line is None or not (line.position or line.action == "replace")
        return (fitting or named, []) if is_open else (fitting, [lot for lot in named if lot not in fitting])

    # -------------------------------------------------------------------------------- the answers so far

    def form(self, step: str, data=None):
        """The form of a page with what was typed; with suggestions where nothing was typed yet."""
        typed = self.held.get(step) if data is None else data
        kwargs = {"unit": self}
        if step.startswith(steps.TASK):
            kwargs["line"] = self.lines[step.removeprefix(steps.TASK)]
            kind = TaskForm
        else:
            kind = ExtraForm if step.startswith(steps.EXTRA) else FORMS[step.split("-")[0]]
        if typed is None:
            return kind(initial=self.suggested(step), **kwargs)
        return kind(typed, **kwargs)

    def quiet(self, step: str):
        """The form without complaints yet."""
        form = self.form(step)
        if form.is_bound:
            form._errors, form.cleaned_data = ErrorDict(), {}
        return form

    def suggested(self, step: str) -> dict:
        """What is filled in beforehand: never a result."""
        if step.startswith(steps.TASK):
            return self._suggested_part(self.lines[step.removeprefix(steps.TASK)])
        if step == steps.FOUND:
            return self._suggested_instrument()
        if step == steps.END:
            return {"class_stated": self.proof.derived}
        return {"quantity": 1} if step.startswith(steps.EXTRA) else {}

    def _suggested_part(self, line) -> dict:
        before = self.fitted(line)
        held = self._position(line)
        name = before.name if before else (held.name if held and line.action == "replace" else "")
        number = before.number if before else ""
        many = before.quantity if before else 1
        return {"part_name": name, "part_number": number, "quantity": many, "bring": name, "bring_number": number}

    def _suggested_instrument(self) -> dict:
        used = [r for r in self.readings if r.instrument]
        name = max(used, key=lambda r: r.row.happened_on).instrument if used else ""
        known = next((i for i in self.about.facts.instruments if name and name == i.name), None)
        holds = max((c.valid_to for c in known.calibrations), default=None) if known else None
        if known is None:
            stated = [r.calibration_due for r in used if r.instrument == name and r.calibration_due]
            holds = max(stated, default=None)
        return {"instrument": name, "calibration_due": holds if holds and holds >= self.about.as_of else None}

    def more_measured(self) -> list[tuple[int, str]]:
        """The further readings named on the page of as-found readings: (which, how it is called)."""
        found = self.held.get(steps.FOUND) or {}
        named = ((n, found.get(f"x{n}_quantity", "").strip()) for n in range(jobs.MORE_READINGS))
        return [(n, f"{name}, {found.get(f'x{n}_unit_of_measure', '')}") for n, name in named if name]

    @cached_property
    def forms(self) -> dict:
        """The form of every page with an answer, checked; but for the last page, which rests on the others."""
        made = {step: self.form(step) for step in self.held if step != steps.END and self._exists(step)}
        for form in made.values():
            form.is_valid()
        return made

    def _exists(self, step: str) -> bool:
        return steps.is_step(step, self.lines.keys())

    @property
    def _cleaned(self) -> dict:
        return {step: form.cleaned_data for step, form in self.forms.items() if self._says(step, form)}

    @staticmethod
    def _says(step: str, form) -> bool:
        if step.startswith(steps.KIT):
            return bool(form.cleaned_data.get("kit"))
        is_task = step.startswith((steps.TASK, steps.EXTRA))
        return not is_task or bool(form.cleaned_data.get("outcome"))

    @cached_property
    def answered(self) -> set[str]:
        return set(self._cleaned) | ({steps.END} if steps.END in self.held else set())

    @cached_property
    def is_identified(self) -> bool:
        held = self.held.get(steps.IDENTIFY) or {}
        here = ("plate", "positions") if self.about.unit.positions else ("plate",)
        return all(held.get(name) == SAME for name in here)

    # -------------------------------------------------------------------------------- what they amount to

    @cached_property
    def ground(self) -> jobs.UnitOnRecord:
        return jobs.UnitOnRecord(self.lines, {p.row.origin: p for p in self.about.unit.positions}, self.readings)

    @cached_property
    def proof(self) -> Proof:
        made = jobs.job_of(self._cleaned, self.ground, technician=self.technician).job
        by_lot = any(p.get("part_lot") for p in made["parts"])
        names = {str(x.origin): x.part.name for x in self.lots} if by_lot else {}
        plain = proofs.job_fact(made, self.about.as_of, self.now, names)
        derived = proofs.derived_class(self.about.unit, plain)
        end = self.held.get(steps.END) or {}
        stated = {
            "class_stated": proofs.higher(derived, end.get("class_stated", "")),
            "class_reason": end.get("class_reason", ""),
        }
        judged = proofs.proof(self.about.unit, self.about.regime, replace(plain, **stated))
        missing = tuple(test_title(each) if each[:1] == "V" else each for each in proofs.still_missing(judged))
        awaited = proofs.still_awaited(self.about.unit, self.about.judged.findings, plain)
        return Proof(
            judged,
            derived,
            proofs.classes_from(derived),
            proofs.asked_codes(judged, self.about.unit),
            missing,
            proofs.endings(judged, proofs.was_worked_on(made), bool(awaited)),
            proofs.why_not_released(judged, missing, awaited),
            proofs.left_outside(made),
            awaited,
        )

    @property
    def told(self) -> str:
        """What the work asks and how it may end, as JSON for a device without a signal, with what is held here."""
        unit, as_of = self.about.unit, self.about.as_of
        about = told.WorkOnUnit(unit, self.about.regime, self.ground, as_of, self.now)
        lots = {str(lot.origin): lot.part.name for lot in self.lots}
        suggested = {code: self._suggested_part(line)["part_name"] for code, line in self.lines.items()}
        before = proofs.awaited_before(unit, self.about.judged.findings)
        found = told.described(about, lots, suggested, before)
        numbers = {page: self.form(page).known_lots()["means"] for page in found["tasks"]}
        numbers[steps.EXTRA] = self.form(f"{steps.EXTRA}1").known_lots()["means"]
        return json.dumps(found | {"held": self.held, "means": numbers})

    @cached_property
    def end(self):
        form = self.form(steps.END)
        if form.is_bound:
            form.is_valid()
        return form

    @cached_property
    def made(self) -> jobs.MadeJob:
        answers = self._cleaned | ({steps.END: self.end.cleaned_data} if self.end.is_bound else {})
        return jobs.job_of(answers, self.ground, technician=self.technician, derived=self.proof.derived)

    @cached_property
    def problems(self) -> list[tuple[str, str]]:
        """(page, what is wrong there) of everything that stands in the way of recording."""
        if not self.is_identified:
            return [(steps.IDENTIFY, "The unit is not confirmed as the one on record.")]
        found = []
        left_alone = self.made.job.get("conclusion", {}).get("conclusion") == "not worked on"
        for step in (steps.SAFE, steps.END):
            if step not in self.held:
                found.append((step, f"“{steps.TITLES[step]}” is still blank."))
        for step, form in (*self.forms.items(), (steps.END, self.end)):
            for name, messages in form.errors.items():
                if not (left_alone and step == steps.SAFE and name.startswith(steps.SAFE_FIELD)):
                    label = form.fields[name].label if name in form.fields else ""
                    found += [(step, f"{label}: {message}" if label else message) for message in messages]
        return [*found, *unread(self), *self._out_of_kits()]

    def _out_of_kits(self) -> list[tuple[str, str]]:
        """Tasks that say that their part came out of a kit, which no page of the kit says."""
        pages = [said for step, said in self._cleaned.items() if step.startswith(steps.KIT)]
        fitted = {
            (said["kit"], piece["position"]) for said in pages for piece in said["pieces"] if piece["fate"] == FITTED
        }
        found = []
        for step, said in self._cleaned.items():
            kit, line = said.get("from_kit"), self.lines.get(step.removeprefix(steps.TASK))
            place = line.position if line else said.get("position") or ""
            if kit and (kit, place) not in fitted:
                found.append((step, f"The part is said to be out of {kit}, but no page of that kit fitted one here. "
                                    "Account for the kit on its page, or choose the lot here."))  # fmt: skip
        return found

    def title(self, step: str) -> str:
        """The name of a page for a list."""
        if step.startswith(steps.TASK):
            return self.lines[step.removeprefix(steps.TASK)].title
        if step.startswith(steps.EXTRA):
            return (self.held.get(step) or {}).get("what") or "A task that is not on the plan"
        if step.startswith(steps.KIT):
            return f"Kit: {(self.held.get(step) or {}).get('kit') or 'which one'}"
        return steps.TITLES[step]


def unread(unit) -> list[tuple[str, str]]:
    """(page, words) of readings that were typed and are not asked any more."""
    found = []
    for step in (steps.FOUND, steps.PROVE):
        fields = unit.form(step).fields if step in unit.held else {}
        for name, value in unit.held.get(step, {}).items():
            if name not in fields and jobs.READING_KEY.fullmatch(name):
                text = f"{value} was typed for a reading that is not asked here now. Enter it as another reading."
                found.append((step, f"{text} Going on from that page takes it away."))
    return found


def lot_title(lot) -> str:
    printed = f"lot {lot.lot}" if lot.lot else f"receipt lot {lot.receipt_lot}"
    expiry = f", expires {lot.expiry.isoformat()}" if lot.expiry else ""
    doubt = f", {lot.doubt}" if getattr(lot, "doubt", "") else ""
    return f"{lot.part.name}, {printed}{expiry}{doubt}"


def _fits(lot, before, component: str) -> bool:
    if before is not None and (lot.part.name == before.name or (before.number and lot.part.number == before.number)):
        return True
    return bool(component) and lot.part.component == component
