"""Why an answer is what it is: from the standing down through rule, source, the facts used and the dates computed.

Nothing is judged again here: every line is read off the judgement and the facts it was made from, so that page,
command and file cannot say two things.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from audit.facts import Row, walk
from audit.facts.dates import days_words
from audit.regimes.source import Source

from .failures_said import ended, look_back_told, step_told, told
from .judgement import Case, Clock, Coverage, DueKind, Evidence, Finding, LookBack, State, UnitJudgement, Word

CAUTION = "Local codes, the maker's instructions and licensed practice outrank this."


@dataclass(frozen=True, slots=True)
class ExplainedLine:
    """One line of an explanation. `depth`: 0 for a heading, deeper for what a line rests on."""

    depth: int
    text: str
    evidence: tuple[Evidence, ...] = ()
    source: Source | None = None


# The rules of the standing in the order in which they are looked at: id, what it asks, whether it forbids use.
ORDER = (
    ("R1", "is it in use at all?"),
    ("R2", "is a safety finding open, or a recalled part in that stops use?"),
    ("R3", "has a legal examination run out?"),
    ("R4", "is a failed test unresolved, or was it taken out of service by hand?"),
    ("R5", "is work, or an event such as a move, still to be proven by tests?"),
    ("R8", "is something overdue whose rules forbid use until it is done?"),
    ("R6", "is only a spore-test result pending, and accepted by somebody?"),
    ("R7", "was it released with a limitation?"),
    ("R8", "is a test or check of the rules overdue?"),
    ("R9", "is planned service, validation or a paper overdue?"),
    ("R10", "is a known gap in the evidence on record?"),
    ("R11", "is none of these so?"),
)


def explain(judged: UnitJudgement, rules: str, *facts) -> tuple[ExplainedLine, ...]:
    """The whole explanation. `rules`: title and edition in words; `facts`: where its rows are looked up."""
    rows = _rows(judged, *facts)
    return (
        *_answer(judged),
        *_rules(judged, rules),
        *_rests_on(judged, rows),
        *_dates(judged),
        *_cases(judged.cases),
        *_look_backs(judged.look_backs),
        *_kept(judged.coverage),
        *_open(judged.findings),
        ExplainedLine(0, CAUTION),
    )


def _answer(judged: UnitJudgement) -> Iterator[ExplainedLine]:
    s = judged.standing
    yield ExplainedLine(0, f"May {judged.label} be used on {judged.as_of.isoformat()}? {s.word}", s.proof, s.source)
    yield ExplainedLine(1, f"why: {s.reason}")
    yield ExplainedLine(1, f"since: {s.since.isoformat() if s.since else 'before the first record'}")
    yield ExplainedLine(1, f"changes: {s.changes}")
    yield ExplainedLine(1, f"what changes it: {s.lifted_by}")
    yield ExplainedLine(1, f"what is next: {judged.next.words if judged.next else 'nothing is to be done'}")


# ------------------------------------------------------------------------------------------------ the rules in order


def _rules(judged: UnitJudgement, rules: str) -> Iterator[ExplainedLine]:
    yield ExplainedLine(0, f"Rules: {rules}. Looked at in this order, the first that holds answers:")
    held = judged.standing
    for n, (rule, question) in enumerate(ORDER):
        forbidding = rule == "R8" and n < 6
        if rule == held.rule and (rule != "R8" or forbidding == (held.word is Word.OUT)):
            yield ExplainedLine(1, f"{rule}: {question} Yes: {held.word}.", held.proof, held.source)
            return
        yield ExplainedLine(1, f"{rule}: {question} No: {_why_not(judged, rule, forbidding)}")


def _why_not(judged: UnitJudgement, rule: str, forbidding: bool) -> str:
    """Why a rule does not hold, with what was counted."""
    clocks = judged.clocks
    if rule == "R4":
        done = [c for c in judged.cases if c.resolved_on is not None]
        return f"{len(done)} failure(s) on record, all resolved" if done else "no failure on record is open"
    if rule == "R3":
        stated = [c for c in clocks if c.subject == "pressure examination"]
        return f"valid, due by {stated[0].due_on.isoformat()}" if stated and stated[0].due_on else "none has run out"
    if rule == "R8" and forbidding:
        return f"{sum(c.forbids for c in clocks)} such due item(s), none overdue"
    if rule == "R8":
        mine = [c for c in clocks if c.kind is DueKind.DUTY and c.state is not State.NOT_APPLICABLE]
        return f"{len(mine)} due item(s) of the rules, no test overdue"
    if rule == "R9":
        return f"{sum(c.kind in (DueKind.PLAN, DueKind.PAPER) for c in clocks)} line(s) and papers, none overdue"
    return {
        "R1": "it is installed and placed in use",
        "R2": "no safety finding is open",
        "R5": "no work and no event waits for proof",
        "R6": "nothing is pending",
        "R7": "no limitation is in force",
        "R10": "no gap of the last 24 months is on record",
    }[rule]


# ------------------------------------------------------------------------------------------------ facts and dates


def _rests_on(judged: UnitJudgement, rows: dict[str, Row]) -> Iterator[ExplainedLine]:
    proof = judged.standing.proof
    yield ExplainedLine(
        0, "The entries it rests on:" if proof else "It rests on no entry: none on record says otherwise."
    )
    for item in proof:
        row = rows.get(item.ref)
        yield ExplainedLine(1, item.text + (f"; {row_words(row)}" if row else ""), (item,))


def row_words(row: Row) -> str:
    """How an entry came to be: its day, who logged it when, late, corrected, or out of paper."""
    words = [f"happened {row.happened_on.isoformat()}", f"logged {row.logged_at:%Y-%m-%d %H:%M} UTC"]
    words[1] += f" by {row.logged_by}" if row.logged_by else ""
    words[1] += f" for {row.logged_for}" if row.logged_for else ""
    words.append(f"entry {row.number}")
    words += ["late entry"] if row.late else []
    words += ["corrected"] if row.corrected else []
    words += [f"transcribed from {row.paper}"] if row.paper else []
    return ", ".join(words)


def _dates(judged: UnitJudgement) -> Iterator[ExplainedLine]:
    """Every due item with how its days were computed, worst first."""
    yield ExplainedLine(0, "Due items, with their dates:")
    for clock in judged.clocks:
        yield ExplainedLine(1, f"{clock.title}: {clock.state}{_how(clock, judged.as_of)}", _from(clock), clock.source)
    if not judged.clocks:
        yield ExplainedLine(1, "none: neither the rules nor a maintenance plan ask anything on record")


def _from(clock: Clock) -> tuple[Evidence, ...]:
    return (clock.counts_from,) if clock.counts_from else ()


def _how(clock: Clock, as_of: date) -> str:
    words = f"; rule: {clock.rule}"
    if clock.state is State.NOT_APPLICABLE:
        return words + (f"; {clock.note}" if clock.note else "")
    words += f"; counts from: {clock.counts_from.text}" if clock.counts_from else "; counts from: no record found"
    if clock.due_on is not None:
        words += f"; due {clock.due_on.isoformat()}" + (" (projected)" if clock.projected else "")
    if clock.overdue_on is not None:
        late = clock.days_overdue(as_of)
        words += f"; overdue from {clock.overdue_on.isoformat()}" + (f", {days_words(late)} now" if late else "")
    words += "; forbids use while it is not met" if clock.forbids else ""
    return words + (f"; {clock.note}" if clock.note else "")


# ------------------------------------------------------------------------------------------------ the rest


def _cases(cases: Iterable[Case]) -> Iterator[ExplainedLine]:
    for case in cases:
        yield ExplainedLine(0, f"{case.title}: {ended(case) or case.phase}; {'; '.join(told(case))}", case.evidence)
        for step in case.steps:
            yield ExplainedLine(1, f"{step.title}: {step.state}{step_told(step)}", step.evidence, step.source)
        yield from (ExplainedLine(1, f"to be known: {warning}") for warning in case.warnings)


def _look_backs(backs: Iterable[LookBack]) -> Iterator[ExplainedLine]:
    for back in backs:
        yield ExplainedLine(0, f"Loads affected, {back.trigger}", back.evidence, back.source)
        yield from (ExplainedLine(1, line) for line in look_back_told(back))
        yield from (ExplainedLine(1, f"left out: {item.text}: {why}", (item,)) for item, why in back.outside)


def _kept(coverage: Iterable[Coverage]) -> Iterator[ExplainedLine]:
    for one in coverage:
        yield ExplainedLine(
            0, f"{one.title}, {one.first.isoformat()} to {one.last.isoformat()}: {one.words}", (), one.source
        )


def _open(findings: Iterable[Finding]) -> Iterator[ExplainedLine]:
    for finding in findings:
        text = f"Open item ({finding.severity}): {finding.message}. Way out: {finding.way_out}"
        yield ExplainedLine(0, text, finding.evidence, finding.source)


def _rows(judged: UnitJudgement, *trees) -> dict[str, Row]:
    """The rows named by the standing's proof, by ref."""
    wanted = {item.ref for item in judged.standing.proof}
    found: dict[str, Row] = {}
    for fact in walk(trees) if wanted else ():
        for row in (fact.row, getattr(fact, "done_row", None)):
            if row is not None and row.ref in wanted:
                found[row.ref] = row
        if len(found) == len(wanted):
            break
    return found
