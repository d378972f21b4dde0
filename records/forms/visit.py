"""The visit form: the head of the visit and, for each unit, one job with all its rows. Works without JavaScript."""

from __future__ import annotations

from dataclasses import dataclass

from django.forms import BaseFormSet, formset_factory
from django.forms.utils import ErrorDict, ErrorList

from records import access
from records.log import Problem
from records.log.errors import InputPlace
from records.models import Fit
from records.wording import MAKE_SAFE_IF_FITTED, MAKE_SAFE_STEPS

from .base import EntryContext, Transcribed, plans_of, positions_of, typed_in
from .fields import Line, TimeOfDay
from .visit_rows import (
    ConclusionForm,
    CounterRow,
    ExtraTaskRow,
    FindingRow,
    JobForm,
    OutcomeRow,
    PartRow,
    ReadingRow,
    SafeStep,
    SignatureRow,
    TestRow,
)


class VisitHead(Transcribed):
    confirmable = True

    at = TimeOfDay("Arrival")
    departed_at = TimeOfDay("Departure")
    technician = Line("Technician", longest=200, help_text="Leave blank when it was you.")
    servicer = Line("Serviced by", longest=200, help_text="Only for an outside servicer. Leave blank for your own.")
    report_number = Line("Report number", longest=60)

    def values(self) -> dict:
        values = super().values()
        values["departed_at"] = self.ground.moment(values["on"], values["departed_at"])
        return values


class RowFormSet(BaseFormSet):
    """Rows of one kind; blank ones at the end or in between count as none."""

    def filled(self) -> list:
        return [f for f in self.forms if not f.is_blank]


# (part of the job in the writer's words, form, title, blank rows shown, what one row is called)
ROW_KINDS = (
    ("extra", ExtraTaskRow, "Tasks that are not on the plan", 1, "task"),
    ("findings", FindingRow, "Condition findings", 3, "finding"),
    ("readings", ReadingRow, "Readings", 3, "reading"),
    ("parts", PartRow, "Parts and lots", 3, "part"),
    ("tests", TestRow, "Verification before return to use", 3, "test"),
    ("counters", CounterRow, "Counters", 1, "counter"),
    ("signatures", SignatureRow, "Signatures", 2, "signature"),
)
MORE = 3
UNSAFE = "not-made-safe"


def hush(forms, groups) -> None:
    """Show what was typed without complaining yet."""
    groups = list(groups)
    for form in [*forms, *(f for g in groups for f in g.formset.forms)]:
        form._errors = ErrorDict()
    for group in groups:
        group.formset._errors, group.formset._non_form_errors = [], ErrorList()


@dataclass
class OfJob:
    """The rows of the register that a job may point to."""

    unit: object
    positions: list
    plan: list
    part_lots: list
    fits: dict


def of_jobs(ground: EntryContext, units) -> list[OfJob]:
    """What the jobs on these units may point to; the number of queries does not grow with the units."""
    fits: dict[int, dict] = {unit.pk: {} for unit in units}
    newest = Fit.objects.in_force().filter(unit__in=units, effective_on__lte=ground.today)
    for fit in newest.order_by("effective_on", "id"):
        fits[fit.unit_id][fit.position_id] = fit.get_state_display()
    places, plans, lots = positions_of(*units), plans_of(units, ground.today), ground.part_lots()
    return [
        OfJob(unit, [p for p in places if p.unit_id == unit.pk], plans[unit.pk], lots, fits[unit.pk])
        for unit in units
    ]


@dataclass
class RowGroup:
    name: str
    title: str
    row_word: str
    formset: RowFormSet

    @property
    def is_open(self) -> bool:
        """Shown unfolded: something stands in it, or more rows were asked for."""
        bound = self.formset.is_bound
        return bound and (self.formset.total_form_count() > self.formset.extra or bool(self.formset.filled()))

    @property
    def standing(self) -> int:
        """How many rows stood in it before it was opened."""
        return len(self.formset.initial or ())


class HeadWithRows:
    """A form with groups of rows below it, looked through and shown as one: `head`, and `groups` by name."""

    confirmed_before = ()
    cleaned_data = property(lambda self: self.head.cleaned_data)

    @property
    def group_list(self):
        return list(self.groups.values())

    def all_problems(self):
        found = list(self.head.problems())
        for group in self.groups.values():
            found += [(group.title, m, "") for m in group.formset.non_form_errors()]
            found += [problem for form in group.formset.forms for problem in form.problems()]
        return found

    def typed(self):
        rows = [f for g in self.groups.values() for f in g.formset.forms]
        return [pair for form in [self.head, *rows] for pair in typed_in(form)]

    def quiet(self):
        """Show what was typed without complaining yet."""
        hush([self.head], self.groups.values())


class JobForms:
    """All forms of one unit in the visit."""

    def __init__(self, data, n: int, about: OfJob):
        self.n, self.about, self.unit = n, about, about.unit
        self.prefix = f"jobs-{n}"
        self.head = JobForm(data, prefix=f"{self.prefix}-job")
        self.steps = [(what, self._safe_step(data, key)) for key, what, _ in MAKE_SAFE_STEPS]
        self.plan = [
            (line, OutcomeRow(data, prefix=f"{self.prefix}-line-{line.pk}", empty_permitted=True))
            for line in about.plan
        ]
        for line, _ in self.plan:
            line.fitted = about.fits.get(line.position_id, "unknown") if line.position_id else ""
        self.conclusion = ConclusionForm(data, prefix=f"{self.prefix}-conclusion")
        self.groups = {
            name: RowGroup(name, title, word, self._formset(data, name, form, extra))
            for name, form, title, extra, word in ROW_KINDS
        }

    def _safe_step(self, data, key: str) -> SafeStep:
        """The form of a step, named by its key: a page of another list is never read as an answer to this one."""
        prefix = f"{self.prefix}-safe-{key.replace(' ', '-')}"
        return SafeStep(data, prefix=prefix, empty_permitted=True, if_fitted=key in MAKE_SAFE_IF_FITTED)

    def unsafe(self) -> list[str]:
        """The steps that nobody says were done, of a unit that was worked on. Call when the forms are valid."""
        if self.conclusion.cleaned_data.get("conclusion") == "not worked on":
            return []
        return [what for what, form in self.steps if not form.is_safe]

    def _formset(self, data, name, form, extra):
        kind = formset_factory(form, formset=RowFormSet, extra=extra, max_num=200, absolute_max=200)
        return kind(data, prefix=f"{self.prefix}-{name}", form_kwargs={"of_job": self.about})

    @property
    def group_list(self):
        """The groups of rows in the order of the page."""
        return list(self.groups.values())

    def _single(self):
        return [self.head, *(f for _, f in self.steps), *(f for _, f in self.plan), self.conclusion]

    def forms(self):
        return [*self._single(), *(f for g in self.groups.values() for f in g.formset.forms)]

    def is_valid(self) -> bool:
        singles = [f.is_valid() for f in self._single()]
        return all([*singles, *(g.formset.is_valid() for g in self.groups.values())])

    def quiet(self) -> None:
        hush(self._single(), self.groups.values())

    def values(self) -> dict:
        self.outcome_forms = [f for _, f in self.plan if not f.is_blank]
        job = self.head.values() | {"unit": self.unit}
        job["make_safe"] = [[what, f.values()] for what, f in self.steps if f.cleaned_data.get("done")]
        job["outcomes"] = [
            f.values() | {"plan_line": line, "action": line.action, "position": line.position}
            for line, f in self.plan
            if not f.is_blank
        ]
        for name, group in self.groups.items():
            rows = group.formset.filled()
            if name == "extra":
                job["outcomes"] += [f.values() for f in rows]
                self.outcome_forms += rows
            else:
                job[name] = [f.values() for f in rows]
        job["conclusion"] = self.conclusion.values()
        if meanwhile := job["conclusion"].pop("meanwhile", ""):
            job["meanwhile"] = meanwhile
        return job

    def refuse(self, place: InputPlace, problem: Problem) -> None:
        """Show a problem at the row and field of this job that `place` names: readings, 2, unit_of_measure."""
        match place.parts:
            case ("conclusion" | "meanwhile", *_):
                form = self.conclusion
            case ("outcomes", int(n), *_):
                form = self.outcome_forms[n]
            case (str(name), int(n), *_) if name in self.groups:
                form = self.groups[name].formset.filled()[n]
            case _:
                form = self.head
        form.refuse(place.field, problem.message, problem.confirm)


class VisitForms:
    """The whole page as one form."""

    def __init__(self, data, *, ground: EntryContext, units, initial=None):
        self.ground, self.units = ground, units
        self.head = VisitHead(data, ground=ground, initial=initial)
        abouts = of_jobs(ground, access.as_corrected(units))
        self.jobs = [JobForms(data, n, about) for n, about in enumerate(abouts)]

    cleaned_data = property(lambda self: self.head.cleaned_data)
    confirmed_before = property(lambda self: self.head.confirmed_before)

    def is_valid(self) -> bool:
        return all([self.head.is_valid(), *(j.is_valid() for j in self.jobs)]) and self._is_safe()

    def _is_safe(self) -> bool:
        """Whether each unit was made safe, or it is confirmed, or copied from paper, that this was not recorded."""
        if UNSAFE in self.head.confirmed or self.head.cleaned_data.get("paper"):
            return True
        found = [(job.unit.label, what) for job in self.jobs if (what := job.unsafe())]
        for label, what in found:
            self.head.refuse(
                "",
                f"{label}: stop. Not made safe, or nobody says so: {'; '.join(what)}. Work on nothing that is not "
                "safe. If the work was done like this, confirm it; each step stands as answered, and is flagged.",
                UNSAFE,
            )
        return not found

    def quiet(self) -> None:
        hush([self.head], ())
        for job in self.jobs:
            job.quiet()

    def values(self) -> dict:
        return self.head.values() | {"jobs": [job.values() for job in self.jobs]}

    def take(self, problems) -> None:
        for problem in problems:
            match problem.place.parts:
                case ("jobs", int(n), *inside):
                    self.jobs[n].refuse(InputPlace(tuple(inside)), problem)
                case _:
                    self.head.refuse(problem.place, problem.message, problem.confirm)

    def all_problems(self):
        found = list(self.head.problems())
        for job in self.jobs:
            for group in job.groups.values():
                found += [(f"{job.unit.label}: {group.title}", m, "") for m in group.formset.non_form_errors()]
            for form in job.forms():
                found += [(f"{job.unit.label}: {label}" if label else job.unit.label, m, at)
                          for label, m, at in form.problems()]  # fmt: skip
        return found

    def typed(self):
        found = typed_in(self.head)
        for job in self.jobs:
            for form in job.forms():
                found += [(f"{job.unit.label}: {label}", value) for label, value in typed_in(form)]
        return found


def with_more_rows(data, prefix: str):
    """The posted data with `MORE` more blank rows of that prefix."""
    data = data.copy()
    key = f"{prefix}-TOTAL_FORMS"
    total = data.get(key, "")
    if total.isdigit():
        data[key] = str(min(int(total) + MORE, 200))
    return data
