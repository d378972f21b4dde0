"""What a question is, what an answering function reads, and what it gives back."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from audit.facts import ClinicFacts, LoadFact, LocalDutyFact, UnitFacts, in_order
from audit.facts.dates import add_months
from audit.judge.clocks.duties import EVENT, IMPLANT, LOCAL
from audit.judge.judgement import Clock, Coverage, DueKind, Evidence, Finding, TestVerdict, UnitJudgement
from audit.judge.usage import Usage, usage_of
from audit.regimes.model import Duty, Regime
from audit.regimes.source import Source

T = TypeVar("T")
YES, NO, IN_PART, NO_RECORD, NOT_ASKED = "yes", "no", "in part", "no record found", "not asked here"
ANSWERS = (YES, NO, IN_PART, NO_RECORD, NOT_ASKED)
RECENT_MONTHS = 12  # how far back loads, checks and papers are looked at
LONG_MONTHS = 24  # how far back tests and work are looked at
OWN = "-own"  # ends the id of a duty of the clinic's own that stands beside the rules'
MOST = 10  # rows named beside an answer
# Kinds that do not say what a paper is about: within them a word in the title does.
GENERAL = frozenset({"procedure", "training", "competence", "licence", "insurance"})


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """One question as an inspector asks it. `answers` names the function; the next three are given to it.

    `regimes`: ids of the rules that ask it, and so do all that inherit them; `programmes`: only in these, () in all.
    `place`: who asks it where no rules on file do; then it is not asked yet.
    """

    id: str
    question: str
    subject: str  # what it is about, in a few words; "" where all rules ask it
    per: str  # "unit" or "place"
    answers: str
    about: str  # what the function is to look at, "" for nothing
    kinds: tuple[str, ...]  # kinds of paper or credential that answer it
    words: tuple[str, ...]  # texts to look for in titles of kinds in `GENERAL`, in small letters
    beyond: str  # what it asks that no paper or row shows, "" for nothing
    months: int  # a length the question names; 0 for none
    regimes: tuple[str, ...]
    programmes: tuple[str, ...]
    place: str
    owner: str
    gap: str  # what would be missing and who can supply it
    source: Source


@dataclass(slots=True, unsafe_hash=True)
class Reply:
    """What an answering function gives back; the fields mean what they mean in `Answer`."""

    answer: str
    words: str
    evidence: tuple[Evidence, ...] = ()
    gap: str = ""


@dataclass(frozen=True, slots=True)
class View:
    """One unit as it is asked about: its facts up to the day, and what was said of it."""

    facts: UnitFacts
    said: UnitJudgement
    told: Sequence[LoadFact] | None = (
        None  # loads among which all that failed, were wet or torn are; None: not told apart yet
    )
    _memo: dict = field(default_factory=dict, init=False, repr=False, compare=False)

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made once for each key: several questions read it."""
        if key not in self._memo:
            self._memo[key] = make()
        return self._memo[key]

    @property
    def verdicts(self) -> dict[str, TestVerdict]:
        """The verdict on each spore test, by the test's origin."""
        return self.once("verdicts", lambda: {v.test: v for v in self.said.verdicts})

    @property
    def usage(self) -> Usage:
        """When the unit was in use, by its own facts."""
        return self.once("usage", lambda: usage_of(self.facts))

    def findings(self, *rules: str) -> list[Finding]:
        """The open items of these rules."""
        return [f for f in self.said.findings if f.rule in rules]

    def clocks(self, kind: DueKind) -> list[Clock]:
        """The due items of that kind."""
        return [c for c in self.said.clocks if c.kind is kind]


@dataclass(frozen=True, slots=True)
class AskedPlace:
    """The whole clinic as it is asked about on a day: facts up to that day, rules, units."""

    clinic: ClinicFacts
    regime: Regime
    as_of: date
    views: tuple[View, ...]

    def since(self, months: int) -> date:
        """The day so many months ago."""
        return add_months(self.as_of, -months)

    def recent(self, rows: Sequence, months: int = LONG_MONTHS) -> Sequence:
        """Those of the last `months`, in order."""
        return since(rows, self.since(months))

    def duty(self, id: str) -> Duty | None:
        """The duty of that id as the rules have it, not as the clinic made it stricter; None where they have none."""
        return next((d for d in self.regime.duties if d.id == id), None)

    def subject(self, duty: str) -> str:
        """What a duty asks, by its id: of the rules, else of the clinic's own; "" for neither."""
        found = self.duty(duty)
        return found.subject if found else LOCAL.get(duty.removesuffix(OWN), ("",))[0]

    def every(self, duty: str) -> str:
        """How often a duty is asked, by its id: of the rules, else of the clinic's own as last set; else ""."""
        found = self.duty(duty) or self._own(duty)
        return found.every if found else ""

    def count(self, duty: str) -> int:
        """The days or months that go with `every`; 0 where neither the rules nor the clinic have the duty."""
        found = self.duty(duty) or self._own(duty)
        return found.count if found else 0

    def _own(self, duty: str) -> LocalDutyFact | None:
        own = [
            d for d in self.clinic.local_duties if d.duty == duty.removesuffix(OWN) and d.effective_on <= self.as_of
        ]
        return max(own, key=lambda d: (d.effective_on, d.row.number, d.row.line), default=None)

    def coverage(self, view: View, subject: str, every: str = "") -> list[Coverage]:
        """How the duties of a subject were kept: those at regular times, or those of the one frequency named."""
        return [c for c in view.said.coverage if self.subject(c.duty) == subject and self._is(c.duty, every)]

    def _is(self, id: str, every: str) -> bool:
        own = self.every(id)
        return own == every if every else own not in (EVENT, IMPLANT)


def since(rows: Sequence, day: date) -> Sequence:
    """Those of `day` and later, in order."""
    rows = in_order(rows)
    return rows[bisect_left(rows, day, key=lambda f: f.row.happened_on) :]


def share(good: int, all: int) -> str:
    """ "yes" where all are good, "no" where none is, "in part" between; of none at all "no record found"."""
    if not all:
        return NO_RECORD
    return YES if good == all else NO if not good else IN_PART


def cited(pairs: Iterable[tuple[object, str]]) -> tuple[Evidence, ...]:
    """Rows with what is said of each, at most MOST of them: the newest ones, oldest first."""
    return tuple(Evidence(fact.row.ref, text) for fact, text in list(pairs)[-MOST:])


def day_of(fact) -> str:
    """The day of a fact, in ISO text."""
    return fact.row.happened_on.isoformat()


def number(n: int, one: str, many: str = "") -> str:
    """ "1 load", "3 loads"."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def joined(texts: Iterable[str], most: int = 5) -> str:
    """The first texts with semicolons, and how many more."""
    texts = list(texts)
    more = [f"and {len(texts) - most} more"] if len(texts) > most else []
    return "; ".join([*texts[:most], *more])


def how_many_good(
    question: AskedQuestion,
    rows: Sequence,
    bad: Sequence,
    name: str,
    told: str,
    proof: tuple[Evidence, ...],
    gap: str = "",
    months: int = LONG_MONTHS,
    kind: str = "",
) -> Reply:
    """How many of the rows of the last `months` are good; of none at all there is no record.

    `told` is the sentence, with {} for "2 of 3 loads of the last 12 months". `kind` is the whole name where there is
    none, if it is not `name`.
    """
    within = f"of the last {months} months"
    if not rows:
        return none_found(question, f"No {kind or name} {within} is on record.")
    good = len(rows) - len(bad)
    words = told.format(f"{good} of {number(len(rows), name)} {within}")
    return Reply(share(good, len(rows)), words, proof, gap)


def with_beyond(question: AskedQuestion, reply: Reply) -> Reply:
    """Of what no paper shows (`beyond`) the answer is never plain "yes"; who can supply it is the end of the gap."""
    if not question.beyond or reply.answer != YES:
        return reply
    who = question.gap.rpartition("; ")[2]
    words = f"{reply.words} No paper shows {question.beyond}."
    return Reply(IN_PART, words, reply.evidence, f"{question.beyond}; {who}")


def none_found(question: AskedQuestion, words: str) -> Reply:
    """There is nothing on record: the question says what is missing and who can supply it."""
    return Reply(NO_RECORD, words, (), question.gap)
