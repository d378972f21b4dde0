"""What was done for a duty's subject, in order, and what of it counts.

A test or check counts when it passed, and when it failed where that stops the unit by itself: it was done; not so for
what is owed on a day while that failure is open (`DutyFacts.unproven`). A spore
test still awaited counts within reason. What was not done never counts, nor what nobody signed where the rules ask a
signature, nor a spore test without what the rules ask of it: a laboratory's reading, how full the chamber is, where
in it the test lay. Servicing is a concluded job in which at least one task was done or a part replaced; a paper
counts from its first valid day.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from audit.facts import (
    AirRemovalFact,
    BioTestFact,
    DocumentFact,
    JobFact,
    LeakFact,
    UserCheckFact,
    happened_on,
    in_order,
)
from audit.judge.biological import evidence_of, plain_text
from audit.judge.judgement import Evidence
from audit.judge.proof_after_work import NOT_RELEASED, NOT_WORKED
from audit.regimes.model import SUBJECTS, Duty

from .duties import WHOLE_PLACE
from .duty import DutyFacts
from .values import AWAITED, FAILED, INVALID, NOT_DONE, PASSED, Kept

# What a duty may be met by.
Done = BioTestFact | AirRemovalFact | LeakFact | UserCheckFact | JobFact | DocumentFact

_RESULTS = {"pass": PASSED, "fail": FAILED}
_OF_EITHER = ("instructions",)  # a paper of the unit or of the whole place


@dataclass(slots=True)
class DutyRows:
    """The facts of one subject in order of `day`; `result` says what one of them counts for."""

    facts: Sequence
    day: Callable[[object], date]
    result: Callable[[object], str]
    counts: Callable[[object], bool]
    told: Callable[[object], Evidence]
    cycle_type: Callable[[object], str]

    def within(self, first: date, last: date) -> Sequence:
        """Those of the days `first` to `last`, both inclusive."""
        low = 0 if first == date.min else bisect_left(self.facts, first, key=self.day)
        return self.facts[low : bisect_right(self.facts, last, lo=low, key=self.day)]

    def last(self, to: date = date.max) -> Done | None:
        """The newest that counts, of `to` or before; None for none."""
        n = len(self.facts) if to == date.max else bisect_right(self.facts, to, key=self.day)
        while n:
            n -= 1
            if self.counts(self.facts[n]):
                return self.facts[n]
        return None

    def counting(self, first: date, last: date) -> Iterator:
        """Those that count of the days `first` to `last`, both inclusive."""
        return (f for f in self.within(first, last) if self.counts(f))

    def kept(self, first: date, last: date) -> Iterator[Kept]:
        """Each of those days as a value, what does not count too."""
        for f in self.within(first, last):
            chamber = getattr(f, "chamber", "")
            yield Kept(self.day(f), f.row.happened_at, self.result(f), f, self.cycle_type(f), chamber, self.told)

    def proof(self, facts) -> tuple[Evidence, ...]:
        """The rows of some of them."""
        return tuple(self.told(f) for f in facts)


def rows_of(facts: DutyFacts, duty: Duty) -> DutyRows:
    """What was done for the duty's subject by the unit (or, for a paper, by the whole place)."""
    if duty.subject == "biological":
        return _spore_tests(facts, duty)
    if duty.subject == "air removal":
        return _plain(in_order(facts.unit.air_removal), "air-removal test", facts.met_by(duty.subject))
    if duty.subject == "air leak":
        return _plain(in_order(facts.unit.leaks), "air-leak test", facts.met_by(duty.subject))
    if duty.subject == "servicing":
        return _servicing(facts)
    if SUBJECTS[duty.subject] == "check":
        return _checks(facts, duty)
    return _papers(facts, duty)


def _no_type(fact) -> str:
    return ""


def _own_type(fact) -> str:
    return fact.cycle_type


# ------------------------------------------------------------------------------------------------ tests and checks


def _spore_tests(facts: DutyFacts, duty: Duty) -> DutyRows:
    verdicts = facts.verdicts

    def result(test) -> str:
        return verdicts[test.row.origin].verdict

    def counts(test) -> bool:
        verdict = verdicts[test.row.origin]
        return verdict.verdict == PASSED or facts.meets(test, verdict)

    def told(test) -> Evidence:
        return evidence_of(test, verdicts[test.row.origin])

    plain = DutyRows(in_order(facts.unit.bio_tests), happened_on, result, counts, told, _own_type)
    return _as_asked(plain, duty) if duty.conditions else plain


def _as_asked(plain: DutyRows, duty: Duty) -> DutyRows:
    """The same rows where a test must also be as the duty asks; a failed one fails all the same."""

    def result(test) -> str:
        found = plain.result(test)
        return INVALID if found == PASSED and lacking(test, duty) else found

    def told(test) -> Evidence:
        said, missing = plain.told(test), lacking(test, duty)
        return Evidence(said.ref, f"{said.text}; not as the rules ask: {missing}") if missing else said

    def counts(test) -> bool:
        return plain.counts(test) and not lacking(test, duty)

    return DutyRows(plain.facts, happened_on, result, counts, told, _own_type)


def lacking(test: BioTestFact, duty: Duty) -> str:
    """What the spore test lacks of what the duty asks of it, in words; "" for nothing. Unknown is lacking."""
    said = []
    if duty.site == "laboratory" and test.site != "laboratory":
        said.append("read in the clinic, and a laboratory is asked")
    if duty.chamber not in ("any", test.chamber):
        run = (
            "how full the chamber was is not recorded" if test.chamber == "not stated" else f"{test.chamber} chamber"
        )
        said.append(f"{run}, and {'an' if duty.chamber == 'empty' else 'a'} {duty.chamber} one is asked")
    if duty.place and not plain_text(test.place):
        said.append(f"where in the chamber it lay is not recorded ({duty.place})")
    return "; ".join(said)


def _plain(tests: Sequence, name: str, enough: tuple[str, ...]) -> DutyRows:
    def told(test) -> Evidence:
        return Evidence(test.row.ref, f"{name} of {test.row.happened_on.isoformat()}: {result(test)}")

    def result(test) -> str:
        return _RESULTS.get(test.result, NOT_DONE)

    return DutyRows(tests, happened_on, result, lambda test: test.result in enough, told, _no_type)


def _checks(facts: DutyFacts, duty: Duty) -> DutyRows:
    by_kind = facts.once("checks", lambda: _by_kind(facts.unit.checks))
    signed, enough = duty.signed, _RESULTS if facts.stops(duty.subject) else ("pass",)

    def result(check: UserCheckFact) -> str:
        if check.result not in _RESULTS:
            return NOT_DONE
        return INVALID if signed and not check.signed_by else _RESULTS[check.result]

    def counts(check: UserCheckFact) -> bool:
        return check.result in enough and (not signed or check.signed_by != "")

    def told(check: UserCheckFact) -> Evidence:
        said = {INVALID: "doesn't count: not signed"}.get(result(check), result(check))
        return Evidence(check.row.ref, f"{check.kind} of {check.row.happened_on.isoformat()}: {said}")

    return DutyRows(by_kind.get(duty.subject, ()), happened_on, result, counts, told, _own_type)


def _by_kind(checks) -> dict[str, list[UserCheckFact]]:
    out: dict[str, list[UserCheckFact]] = {}
    for check in in_order(checks):
        out.setdefault(check.kind, []).append(check)
    return out


# ------------------------------------------------------------------------------------------------ work and papers


def _servicing(facts: DutyFacts) -> DutyRows:
    def result(job: JobFact) -> str:
        own = job.conclusion
        if own is None or own.conclusion == NOT_WORKED or not _worked(job):
            return NOT_DONE
        return FAILED if own.conclusion == NOT_RELEASED else PASSED

    def told(job: JobFact) -> Evidence:
        said = {PASSED: "done", FAILED: "done, not released"}.get(result(job), "not done")
        return Evidence(job.row.ref, f"servicing of {job.row.happened_on.isoformat()}: {said}")

    jobs = in_order(facts.unit.jobs)
    return DutyRows(jobs, happened_on, result, lambda job: result(job) != NOT_DONE, told, _no_type)


def _worked(job: JobFact) -> bool:
    return any(o.outcome == "done" for o in job.outcomes) or any(p.action.startswith("replaced") for p in job.parts)


def _papers(facts: DutyFacts, duty: Duty) -> DutyRows:
    papers = [d for d in facts.clinic.documents if d.kind == duty.subject and _belongs(d, facts, duty)]
    if facts.unit is not None and duty.subject not in WHOLE_PLACE:
        papers += [d for d in facts.unit.documents if d.kind == duty.subject]
    papers = [d for d in papers if d.valid_from <= facts.as_of]
    papers.sort(key=lambda d: (d.valid_from, d.row.number, d.row.line))

    def told(paper) -> Evidence:
        until = f", valid until {paper.valid_to.isoformat()}" if paper.valid_to else ""
        return Evidence(paper.row.ref, f"{paper.title} of {paper.valid_from.isoformat()}{until}")

    return DutyRows(papers, lambda d: d.valid_from, lambda d: PASSED, lambda d: True, told, _no_type)


def _belongs(paper, facts: DutyFacts, duty: Duty) -> bool:
    """Whether a paper of the clinic answers the duty: of the whole place, or of the very unit."""
    if paper.unit == "":
        return duty.subject in WHOLE_PLACE or duty.subject in _OF_EITHER
    return facts.unit is not None and paper.unit == facts.unit.ref


def awaited(rows: DutyRows, fact) -> bool:
    """Whether the result of one is still awaited."""
    return fact is not None and rows.result(fact) == AWAITED
