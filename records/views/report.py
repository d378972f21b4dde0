"""One job of a visit, ready to print: what was done, found, measured, fitted, tested, signed."""

from __future__ import annotations

from dataclasses import dataclass

from records import access
from records.log.visits import LEAVES
from records.models import JobConclusion, TaskOutcome

from .words import filled, trimmed

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


@dataclass(frozen=True)
class Section:
    title: str
    rows: list


@dataclass(frozen=True)
class ReportRow:
    row: object
    title: str
    facts: list

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


def job_report(job) -> JobReport:
    """Everything in force that hangs on the job."""
    origin = job.origin_row()
    unit = access.as_corrected([job.unit])[0]
    sections = [
        Section(TITLES[name], [_report_row(r) for r in _in_force(model, origin)]) for name, model in LEAVES.items()
    ]
    conclusion = JobConclusion.objects.in_force().filter(job=origin).order_by("-id").first()
    return JobReport(job, unit, job.make_safe, [s for s in sections if s.rows], conclusion)


def _in_force(model, job):
    return model.objects.in_force().filter(job=job).order_by("id")


def _report_row(row) -> ReportRow:
    return ReportRow(row, _title(row), filled(row, skip=SAID[""] | SAID[row._meta.model_name]))


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
