"""R2: a safety finding is open. What is one, and what lifts it.

A finding is one of safety when its class is "do not use", when the decision is to condemn, or when a failed part
(grade 3) was left as it is. So is a failed part that was to be replaced while no other is on record as fitted, where
it is one that keeps people safe: one of which the safety function is tested after work or an examiner speaks (door,
latch, interlock, relief valve, cut-out, vessel, generator), or one that nobody knows. Such a part that is said to be
missing forbids use until it is fitted, and so does one that must be replaced while the part is awaited (`.awaited`).

It is lifted by three things together: that very part was replaced or repaired, the tests of that kind of component
passed in that job or a later one, and a job was released by then. Each finding is lifted by itself. Which tests: the
table of components (`audit.regimes.components`); of a cracked vessel no check of interlock or valve speaks, the
examination by the person whom the law names does. Where nobody knows what the part is, the tests are those of safety
devices and those of major work. "Do not use" stated as the class of a visit is one more: it ends with a repair, the
check of safety devices and the release of a later visit. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.facts import FindingFact, FitFact, JobFact, PartFact, in_order
from audit.facts.names import titles
from audit.judge.judgement import Evidence, UnitStanding, Word
from audit.judge.proof_after_work import RELEASED, class_letter
from audit.judge.situation import Situation
from audit.judge.work.classes import AWAITED, DO_NOT_USE
from audit.judge.work.order import came_after
from audit.judge.work.results import PASS, results_of
from audit.judge.work.touched import NamesOnUnit, known_of, was_replaced
from audit.regimes.components import Component

from .stopped import PRESSURE, _stopped_by_notice
from .tools import say

SAFETY_DEVICES, EXAMINED = "V6", "V10"
MISSING = "missing"
_REPAIRED = ("clean", "adjust", "repair kit", "replace")
_REPAIRED_AT_ONCE = (
    "clean",
    "adjust",
    "repair kit",
)  # what a finding itself says was done; a new part has its own row
_FAILED_GRADE = 3
_ANY_FOUND = "whether a visit found anything"  # kept under this name for all days that are looked at


@dataclass(frozen=True, slots=True)
class SafetyFinding:
    """An open finding. `asked`: the tests that lift it; `job`: that found it."""

    row_ref: str
    day: date
    words: str
    job: JobFact
    asked: tuple[str, ...]
    repaired: bool  # whether the part was replaced or repaired since

    @property
    def evidence(self) -> Evidence:
        """The finding in one line."""
        return Evidence(self.row_ref, f"safety finding of {self.day.isoformat()}: {self.words}")

    @property
    def way_out(self) -> str:
        """What still lifts it, in words."""
        first = "" if self.repaired else "replace or repair that part; then "
        return f"{first}pass {titles(self.asked)}, and a release"


def r2(s: Situation) -> UnitStanding | None:
    """R2, out of service: a safety finding is open (the oldest is named), else a recalled part to stop use is in, or
    a part that keeps people safe is missing.

    Since the day of the finding, the later one of notice and fitting, or the day from which the part is missing.
    Source: common practice, no source.
    """
    open_ones = open_safety(s)
    if not open_ones:
        return _stopped_by_notice(s) or _stopped_by_missing(s)
    first = open_ones[0]
    others = [f for f in open_ones[1:] if f.row_ref != first.job.row.ref]  # the class stated with it is no other one
    more = f" and {len(others)} more" if others else ""
    words = f"open safety finding, class do not use: {first.words}{more}"
    lifted = f"a technician: {first.way_out}"
    return say(Word.OUT, "R2", words, first.day, [f.evidence for f in open_ones], lifted)


def _stopped_by_missing(s: Situation) -> UnitStanding | None:
    held = missing_guards(s)
    if not held:
        return None
    called = NamesOnUnit(s.unit).at(held[0].position)[-1]
    words = f"{called} is missing since {held[0].effective_on.isoformat()}: do not use"
    words += f" and {len(held) - 1} more" if len(held) > 1 else ""
    proof = [Evidence(f.row.ref, f.note or words) for f in held]
    return say(Word.OUT, "R2", words, held[0].effective_on, proof, "a technician: fit the part, test it, and release")


def missing_guards(s: Situation) -> list[FitFact]:
    """Parts that keep people safe, or that nobody knows, said to be missing and not on record as fitted since.

    The newest state of each position counts; one fitted on the day itself counts. Oldest first.
    """
    if not any(f.state == MISSING for f in s.unit.fits):
        return []
    names, newest = NamesOnUnit(s.unit), {}
    for fit in sorted(s.unit.fits, key=lambda f: (f.effective_on, f.row.number, f.row.line)):
        if fit.effective_on <= s.as_of:
            newest[fit.position] = fit
    fitted = [(p.position, p.row.happened_on) for j in s.unit.jobs for p in j.parts if was_replaced(p)]
    gone = [f for f in newest.values() if f.state == MISSING and names.at(f.position)]
    gone = [f for f in gone if _keeps_safe(known_of(names.at(f.position)))]
    held = [f for f in gone if not any(at == f.position and day >= f.effective_on for at, day in fitted)]
    return sorted(held, key=lambda f: f.effective_on)


def open_safety(s: Situation) -> list[SafetyFinding]:
    """Safety findings that nothing on record has lifted, oldest first. Settled from facts alone, kept for the day."""
    key = ("open safety", s.as_of)
    if key not in s.settled.memo:
        s.settled.memo[key] = _open_ones(s)
    return s.settled.memo[key]


def _open_ones(s: Situation) -> list[SafetyFinding]:
    jobs, memo = in_order(s.unit.jobs), s.settled.memo
    if _ANY_FOUND not in memo:
        memo[_ANY_FOUND] = any([j.findings or class_letter(j.class_stated) == DO_NOT_USE for j in jobs])
    if not memo[_ANY_FOUND]:
        return []
    names = NamesOnUnit(s.unit)
    held = [(job, finding) for job in jobs for finding in _of_job(job, names)]
    if not held:
        return []
    whole = _Lifting(s, jobs, names)
    return [found for job, finding in held if (found := whole.open(job, finding)) is not None]


def still_to_replace(s: Situation) -> list[SafetyFinding]:
    """Failed parts that were to be replaced, with no other on record as fitted, and that forbid nothing; by job."""
    jobs = in_order(s.unit.jobs)
    if not any(to_replace(f) for job in jobs for f in job.findings):
        return []
    names = NamesOnUnit(s.unit)
    whole = _Lifting(s, jobs, names)
    held = [(j, f) for j in jobs for f in j.findings if to_replace(f) and not is_of_safety(f, names)]
    return [found for job, f in held if (found := whole.not_repaired(job, f)) is not None]


def is_of_safety(finding: FindingFact, names: NamesOnUnit) -> bool:
    """Whether it forbids use until it is lifted, by what it says or by the part that it is about."""
    return is_safety(finding) or _guard_to_replace(finding, names)


def not_fitted_since(s: Situation, job: JobFact, finding: FindingFact) -> bool:
    """Whether nothing on record replaced the part of the finding in a job shown to come after it."""
    return _Lifting(s, in_order(s.unit.jobs), NamesOnUnit(s.unit)).not_repaired(job, finding) is not None


def _of_job(job: JobFact, names: NamesOnUnit) -> list[FindingFact | None]:
    """The safety findings of a job; None beside them for the class "do not use" that was stated of the whole unit."""
    found: list[FindingFact | None] = [f for f in job.findings if is_of_safety(f, names)]
    return [*found, None] if class_letter(job.class_stated) == DO_NOT_USE else found


def is_safety(finding: FindingFact) -> bool:
    """Whether a finding forbids use until it is lifted."""
    left_failed = finding.grade >= _FAILED_GRADE and finding.decision in ("leave", "")
    return finding.decision == "condemn" or class_letter(finding.repair_class) == DO_NOT_USE or left_failed


def to_replace(finding: FindingFact) -> bool:
    """Whether a failed part was to be replaced; that another was fitted has its own row."""
    return finding.grade >= _FAILED_GRADE and finding.decision == "replace"


def _guard_to_replace(finding: FindingFact, names: NamesOnUnit) -> bool:
    """Whether a failed part, or one that is awaited, keeps people safe, or nobody knows what it is."""
    if not (to_replace(finding) or finding.decision == AWAITED):
        return False
    return _keeps_safe(known_of((*names.at(finding.position), finding.component)))


def _keeps_safe(known: tuple[Component, ...]) -> bool:
    """Whether one of the components keeps people safe, or nobody knows what it is."""
    return not known or any({SAFETY_DEVICES, EXAMINED}.intersection(c.lifts) for c in known)


class _Lifting:
    """The jobs of a unit with what each repaired and what its tests showed."""

    def __init__(self, s: Situation, jobs, names: NamesOnUnit):
        self.jobs, self.names = jobs, names
        self.dynamic = s.unit.equipment_type == "dynamic air removal"
        self.sets = {v.repair_class: v for v in s.regime.verification}
        values = tuple(code for v in s.regime.verification for code in v.values)
        outside = {w.job.row.origin: w.outside for w in s.settled.works}
        self.passed = [
            {c for c, r in results_of(job, values, outside.get(job.row.origin, ())).items() if r.word == PASS}
            for job in jobs
        ]
        self.examined = [
            d.valid_from
            for d in (*s.unit.documents, *(d for d in s.settled.clinic.documents if d.unit == s.unit.ref))
            if d.kind == PRESSURE and d.valid_from <= s.as_of
        ]

    def open(self, job: JobFact, finding: FindingFact | None) -> SafetyFinding | None:
        known = () if finding is None else known_of((*self.names.at(finding.position), finding.component))
        asked = self._asked(known, "A" if finding is None else "C")
        repaired = self._repairs_of(job, finding)
        if any(self._lifted(j, job, finding, asked) for j in repaired):
            return None
        return _finding(job, finding, asked, bool(repaired))

    def not_repaired(self, job: JobFact, finding: FindingFact) -> SafetyFinding | None:
        """The finding, where nothing on record replaced or repaired its part, in that job or later."""
        return None if self._repairs_of(job, finding) else _finding(job, finding, (), False)

    def _repairs_of(self, job: JobFact, finding: FindingFact | None) -> list[JobFact]:
        return [j for j in self.jobs if (j is job or came_after(j, job)) and self._repairs(j, job, finding)]

    def _asked(self, known: tuple[Component, ...], otherwise: str) -> tuple[str, ...]:
        """The tests that lift a finding on these components; on one that nobody knows, of a class, and V6."""
        least = max((c.least for c in known), default=otherwise)
        held = self.sets[least]
        codes = [*held.tests, *(held.dynamic if self.dynamic else ())]
        codes += [code for c in known for code in c.lifts] or ([] if known else [SAFETY_DEVICES])
        codes += [code for c in known for code in (c.dynamic if self.dynamic else ())]
        return tuple(sorted(dict.fromkeys(codes), key=lambda code: int(code[1:])))

    def _lifted(self, repair: JobFact, job: JobFact, finding, asked: tuple[str, ...]) -> bool:
        """Whether the tests passed in the job of the repair or later ones, and one of these was then released."""
        held: set[str] = set()
        if any(day > repair.row.happened_on for day in self.examined):
            held.add(EXAMINED)
        for one, passed in zip(self.jobs, self.passed, strict=True):
            if one is not repair and not came_after(one, repair):
                continue
            held |= passed
            released = one.conclusion is not None and one.conclusion.conclusion == RELEASED
            contradicts = finding is None and one is job  # it states "do not use" and releases
            if released and not contradicts and held.issuperset(asked):
                return True
        return False

    def _repairs(self, one: JobFact, job: JobFact, finding: FindingFact | None) -> bool:
        """Whether a job replaced or repaired the very part of the finding."""
        if finding is None:
            acted = any(f.decision in _REPAIRED and f.grade < _FAILED_GRADE for f in one.findings)
            return acted or any(was_replaced(p) for p in one.parts)
        awaited = finding.decision == AWAITED
        if awaited and one is job:  # what it fitted there was not the part that is awaited
            return False
        if any(was_replaced(p) and self._is_it(finding, p) for p in one.parts):
            return True
        if awaited:
            return False
        if one is job:
            return finding.decision in _REPAIRED_AT_ONCE
        return any(_is_repair(f) and self._is_it(finding, f) for f in one.findings)

    def _is_it(self, finding: FindingFact, other: FindingFact | PartFact) -> bool:
        """The same position; where one of the two names none, the same name."""
        if finding.position and other.position:
            return finding.position == other.position
        called = other.name if isinstance(other, PartFact) else other.component
        own, others = (*self.names.at(finding.position), finding.component), (*self.names.at(other.position), called)
        return any(_same_name(a, b) for a in own for b in others)


def _finding(job: JobFact, finding: FindingFact | None, asked: tuple[str, ...], repaired: bool) -> SafetyFinding:
    row = job.row if finding is None else finding.row
    words = job.class_reason or "class stated by the technician"
    if finding is not None:
        words = f"{finding.component or 'unit'}: {finding.seen}"
    return SafetyFinding(row.ref, row.happened_on, words, job, asked, repaired)


def _is_repair(finding: FindingFact) -> bool:
    return finding.decision in _REPAIRED and finding.grade < _FAILED_GRADE and not is_safety(finding)


def _same_name(one: str, other: str) -> bool:
    """Whether two texts name one thing: the same words, or the words of one among those of the other of its kind."""
    a, b = _words(one), _words(other)
    if not a or not b:
        return False
    return a == b or ((a <= b or b <= a) and known_of((), one) == known_of((), other) != ())


def _words(text: str) -> frozenset[str]:
    return frozenset(text.partition(",")[0].casefold().replace("-", " ").split())
