"""The jobs of a visit, ready to print: what was done, found, measured, fitted, tested, signed."""

from __future__ import annotations

from dataclasses import dataclass

from records import access
from records.log.signatures import given, given_in_words
from records.log.visits import LEAVES
from records.models import Fact, Job, JobConclusion, Signature, TaskOutcome, VisitEnd

from .fact_in_words import filled, trimmed

TITLES = {
    "outcomes": "Service performed",
    "findings": "Condition findings",
    "readings": "Readings",
    "parts": "Parts and lots",
    "tests": "Verification before return to use",
    "counters": "Counters",
    "signatures": "Signatures",
}
# Said at the head of the job, or in the title of the row already.
SAID = {
    "": {"unit", "job", "happened_on"},
    "taskoutcome": {"plan_line", "outcome"},
    "conditionfinding": {"component", "grade", "decision"},
    "reading": {"quantity", "point", "as_found", "as_left", "unit_of_measure"},
    "fittedpart": {"name", "action"},
    "verificationtest": {"code", "result"},
    "counterreading": {"counter", "shown"},
    "signature": {"meaning", "signed_by"},
}
# Relations of a row that its line does not speak of.
NOT_SAID = frozenset({"entry", "amends", "clinic", "unit", "job", "visit"})


@dataclass(frozen=True)
class ReportSection:
    title: str
    rows: list


@dataclass(frozen=True)
class ReportRow:
    row: object
    title: str
    facts: list
    waits: bool = False  # for the signature of whom it names

    @property
    def kind(self) -> str:
        return self.row._meta.model_name


@dataclass(frozen=True)
class JobReport:
    job: object
    unit: object
    steps: list
    sections: list
    conclusion: object


def visit_report(visit, jobs, photos) -> tuple[list[JobReport], VisitEnd | None, list]:
    """Each job with everything in force that hangs on it, the end of the visit and the rows of the query `photos`.

    `visit` is the first version of the visit. The number of queries does not grow with the jobs or the photos.
    """
    origins = _origins(jobs)
    found = {model: _on_jobs(model, origins) for model in (*LEAVES.values(), JobConclusion)}
    end = VisitEnd.objects.in_force().filter(visit=visit).order_by("pk").last()
    return [_job_report(job, origins[job.origin], found) for job in jobs], end, list(photos)


def _on_jobs(model: type[Fact], origins: dict) -> list[Fact]:
    """The rows in force of one kind that hang on the jobs, oldest first, with what their lines speak of."""
    rows = model.objects.in_force().filter(job__in=origins.values()).order_by("pk")
    spoken_of = [f for f in model._meta.concrete_fields if f.is_relation and f.name not in NOT_SAID]
    # With its correction, so that what was never corrected is not looked up again.
    names = [f"{f.name}__amended_by" if issubclass(f.related_model, Fact) else f.name for f in spoken_of]
    names += ["entry__logged_by"] if model is Signature else []
    return list(rows.select_related(*names) if names else rows)


def _origins(jobs) -> dict:
    """The id of the first version of each job by its origin: what other rows point to."""
    known = {j.origin: j.pk for j in jobs if j.is_origin}
    corrected = [j.origin for j in jobs if not j.is_origin]
    return known | (dict(Job.objects.filter(ref__in=corrected).values_list("origin", "pk")) if corrected else {})


def _job_report(job, origin: int, found: dict) -> JobReport:
    unit = access.as_corrected([job.unit])[0]
    sections = [
        ReportSection(TITLES[name], [_report_row(r) for r in found[model] if r.job_id == origin])
        for name, model in LEAVES.items()
    ]
    conclusions = [c for c in found[JobConclusion] if c.job_id == origin]
    newest = conclusions[-1] if conclusions else None
    return JobReport(job, unit, job.make_safe, [s for s in sections if s.rows], newest)


def _report_row(row) -> ReportRow:
    facts = filled(row, skip=SAID[""] | SAID[row._meta.model_name])
    if isinstance(row, Signature) and (words := given_in_words(row)):
        return ReportRow(row, _title(row), [("Given", words), *facts], given(row) in ("entered", "told"))
    return ReportRow(row, _title(row), facts)


def _title(row) -> str:
    if isinstance(row, TaskOutcome):
        line = access.as_corrected([row.plan_line])[0] if row.plan_line else None
        return f"{line.title if line else row.get_action_display()}: {row.get_outcome_display()}"
    makers = {
        "conditionfinding": lambda: f"{row.component}: {row.get_grade_display()}, {row.get_decision_display()}",
        "reading": lambda: f"{row.quantity}{f', {row.point}' if row.point else ''}: {_measured(row)}",
        "fittedpart": lambda: f"{row.name}: {row.get_action_display()}",
        "verificationtest": lambda: f"{row.get_code_display()}: {row.get_result_display()}",
        "counterreading": lambda: f"{row.get_counter_display()}: {trimmed(row.shown)}",
        "signature": lambda: f"{row.get_meaning_display()}: {row.signed_by or 'not signed'}",
    }
    return makers[row._meta.model_name]()


def _measured(row) -> str:
    found = f"as found {trimmed(row.as_found)} {row.unit_of_measure}" if row.as_found is not None else ""
    left = f"as left {trimmed(row.as_left)} {row.unit_of_measure}" if row.as_left is not None else ""
    return ", ".join(filter(None, (found, left)))
