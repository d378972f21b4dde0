"""What is on record of a unit that somebody must not lose sight of: failed or unread tests, findings, withdrawals.

A unit that is entered in error takes every row of it along. With one of these it is refused: what was found may be
true of some unit, and each row has its own author and its own reason. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from records.models import (
    AirRemovalTest,
    BioReading,
    BioTest,
    ChemicalResult,
    ConditionFinding,
    Fact,
    FaultReport,
    Job,
    JobConclusion,
    LeakTest,
    Load,
    Unit,
    UnitEvent,
    UserCheck,
    VerificationTest,
)

from .errors import Problem, Refused
from .moves import NOT_PROVED

DO_NOT_USE, FAILED_GRADE = "X", 3


def _result(row) -> str:
    return "" if row.result == "pass" else f"the result is “{row.result}”"


def _failed(row) -> str:
    return "failed" if row.result == "fail" else ""


def _of_cycle(row) -> str:
    names = {"gauges and printout": row.mechanical, "chemical indicators": row.chemical}
    said = [f"{name} failed" for name, result in names.items() if result == "fail"]
    return "; ".join([*said, *(["packs came out wet"] if getattr(row, "packs", "") == "wet" else [])])


def _spore_test(row: BioTest) -> str:
    looks = list(BioReading.objects.in_force().filter(bio_test=_first(row)).order_by("happened_on", "id"))
    said = [_of_cycle(row)] if _of_cycle(row) else []
    if not looks:
        said.append("not read")
    elif any(look.test == "growth" for look in looks):
        said.append("growth")
    elif (looks[-1].test, looks[-1].control) != ("no growth", "growth"):
        said.append(f"the last reading is “{looks[-1].test}”, its control “{looks[-1].control}”")
    return "; ".join(said)


def _finding(row: ConditionFinding) -> str:
    bad = row.decision == "condemn" or row.repair_class == DO_NOT_USE or row.grade >= FAILED_GRADE
    return f"{row.component}: {row.seen}" if bad else ""


def _ending(row: JobConclusion) -> str:
    return row.conclusion if row.conclusion in ("not released", "pending") else ""


def _event(row: UnitEvent) -> str:
    return f"withdrawn: {row.reason}" if row.kind == "withdrawn" and row.reason != NOT_PROVED else ""


# What of each kind of row is bad news, in words; "" where it is none.
_BAD: dict[type[Fact], Callable[[Fact], str]] = {
    BioTest: _spore_test,
    AirRemovalTest: _result,
    LeakTest: _result,
    ChemicalResult: _result,
    UserCheck: _result,
    Load: _of_cycle,
    VerificationTest: _failed,
    ConditionFinding: _finding,
    Job: lambda row: "class “do not use”" if row.class_stated == DO_NOT_USE else "",
    JobConclusion: _ending,
    UnitEvent: _event,
    FaultReport: lambda row: row.what,
}


def _first(row: Fact) -> Fact:
    return row if row.is_origin else row.origin_row()


def bad_news_of(unit: Unit) -> Iterator[str]:
    """Each row of bad news in force, in one line: kind, day, what it says; by kind, then by day."""
    for model, says in _BAD.items():
        for row in model.objects.in_force().filter(unit=_first(unit)).order_by("happened_on", "id"):
            if words := says(row):
                yield f"{model._meta.verbose_name} of {row.happened_on}: {words}"


def refuse_with_bad_news(unit: Unit) -> None:
    """Raises Refused, naming the first three rows, where the unit has bad news on record."""
    found = list(bad_news_of(unit))
    if not found:
        return
    more = f"; and {len(found) - 3} more" if len(found) > 3 else ""
    raise Refused(
        [Problem("", f"With {unit.label} what was found on it would go: {'; '.join(found[:3])}{more}. If one of "
                     "these was entered in error, say so of that row, with its own reason, then of the unit. If the "
                     "unit is not here any more, log that it was decommissioned: its record stays.")]
    )  # fmt: skip
