"""Everything computed once for a unit before anything is said of it.

`settle` does what depends on facts alone; `at` adds what depends on the day too. Judging the same facts on many days
(how long does an answer hold?) settles once.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime

from audit.facts import (
    BioTestFact,
    ClinicFacts,
    Ordered,
    UnitFacts,
    agreed_by_day,
    had_happened,
    in_order,
    inspections_by_day,
    unit_by_day,
)
from audit.facts.dates import ONE_DAY
from audit.regimes.model import Regime

from .biological import AWAITED, INVALID, judge_tests
from .clocks import all_clocks
from .clocks.duties import EVENT
from .clocks.duty import NONE_AWAITED, DutyFacts
from .judgement import Clock, DueKind, State, TestVerdict
from .plain_loads import NUMBERS, REMARKABLE, told_apart
from .proof_after_work import Work, causes_of, not_released_spans, works_of
from .recorded import loads_as_judged, shown_short
from .response import REPAIR, Cause, Replay, replay_all
from .usage import Usage, usage_of

_OF_ALL_DAYS = "kinds unproven, ids of duties after an event"
AS_TYPED = "mechanical results as typed"  # by origin of the load, of a unit with recorded cycles
AS_RECORDED = "the unit as recorded"  # up to the day, under this name kept with what was settled


@dataclass(frozen=True, slots=True)
class Settled:
    """A unit's facts with the verdicts that no further day changes."""

    unit: UnitFacts
    clinic: ClinicFacts
    regime: Regime
    verdicts: dict[str, TestVerdict]
    works: tuple[Work, ...]
    replays: tuple[Replay, ...]
    usage: Usage
    unsettled: tuple[tuple[BioTestFact, TestVerdict], ...]  # spore tests invalid or awaited, in order
    memo: dict = field(default_factory=dict, compare=False, repr=False)  # what no further day changes, kept by clocks


@dataclass(slots=True)  # never changed once it is made; one a day that is looked at
class Situation:
    """A unit on one day: what all rules and the standing read."""

    settled: Settled
    as_of: date
    duty: DutyFacts
    owed: DutyFacts  # as `duty`, but some tests meet nothing, of an open failure or never read: see `at`
    clocks: tuple[Clock, ...]
    late: tuple[Clock, ...]  # those of them that are overdue or without evidence
    after_events: frozenset[str] = frozenset()  # ids of duties that follow an event
    unit: UnitFacts = field(init=False)  # each kind in order: up to the end of the day on which it was settled

    def __post_init__(self) -> None:
        self.unit = self.settled.unit

    @property
    def regime(self) -> Regime:
        """The edition of the rules under which tests, work and cases were settled."""
        return self.settled.regime

    def follows_event(self, clock: Clock) -> bool:
        """Whether the due item is a duty that an event brings, such as a move."""
        return clock.kind is DueKind.DUTY and clock.code in self.after_events


def clinic_by_day(clinic: ClinicFacts, day: date) -> ClinicFacts:
    """The clinic's own facts that had happened by the end of `day` (inclusive); units are left as they are."""
    changed = {}
    for name in ("terms", "local_duties", "closures", "documents", "gaps", "credentials", "part_recalls"):
        facts = getattr(clinic, name)
        if facts and (held := had_happened(facts, day)) is not facts:
            changed[name] = held
    if clinic.instruments:
        changed["instruments"] = _instruments_by(clinic, day)
    if clinic.agreed_visits:
        changed["agreed_visits"] = agreed_by_day(clinic.agreed_visits, day)
    if clinic.inspections:
        changed["inspections"] = inspections_by_day(clinic.inspections, day)
    return replace(clinic, **changed) if changed else clinic


def _instruments_by(clinic: ClinicFacts, day: date) -> Ordered:
    known = had_happened(clinic.instruments, day)
    return Ordered([replace(i, calibrations=had_happened(i.calibrations, day)) for i in known])


def settle(unit: UnitFacts, clinic: ClinicFacts, regime: Regime, as_of: date) -> Settled:
    """Cut to what had happened by `as_of` and judge what facts alone decide."""
    loads = unit.loads
    apart = told_apart(loads)
    cut, clinic = unit_by_day(unit, as_of, apart.remarkable), clinic_by_day(clinic, as_of)
    typed = {x.row.origin: x.mechanical for x in cut.loads} if cut.recordings else {}
    cut = loads_as_judged(cut, apart.measured)
    unit = _leaks_as_shown(cut)
    if unit.loads is not loads:
        apart = told_apart(unit.loads)
    told = apart.remarkable
    memo = {REMARKABLE: told, NUMBERS: apart[2:], AS_RECORDED: cut, AS_TYPED: typed}
    verdicts = judge_tests(unit.bio_tests, regime.validity)
    works = works_of(unit, regime, verdicts)
    short = frozenset([x.row.origin for x in told if x.mechanical == "fail" and shown_short(unit, x)])
    replays = tuple(replay_all(unit, regime, verdicts, _repairs(works), told, clinic.day_of, short))
    spans = [*not_released_spans(works), *_case_spans(replays)]
    judged = zip(unit.bio_tests, verdicts.values(), strict=True)
    unsettled = tuple([(t, v) for t, v in judged if v.verdict == INVALID or v.verdict == AWAITED])
    memo[NONE_AWAITED] = AWAITED not in [v.verdict for _, v in unsettled]
    usage = usage_of(unit, spans)
    return Settled(unit, clinic, regime, verdicts, works, replays, usage, unsettled, memo)


def _leaks_as_shown(unit: UnitFacts) -> UnitFacts:
    """The unit with every air-leak test failed whose rate is above its limit, whatever result stands beside it."""
    if not any(x.rate > x.limit and x.result == "pass" for x in unit.leaks):
        return unit
    shown = [replace(x, result="fail") if x.rate > x.limit else x for x in unit.leaks]
    return replace(unit, leaks=in_order(shown))


def _repairs(works: tuple[Work, ...]) -> list[Cause]:
    """Repairs done, each with the time of its conclusion, or of the work where that is of the same day."""
    causes = causes_of(works)
    at = {w.job.row.ref: _concluded_at(w) for w in works} if causes else {}
    return [Cause(day, at.get(evidence.ref), REPAIR, evidence) for day, evidence in causes]


def _concluded_at(work: Work) -> datetime | None:
    own, job = work.job.conclusion, work.job.row
    if own is None:
        return None
    return own.row.happened_at or (job.happened_at if own.row.happened_on == job.happened_on else None)


def _case_spans(replays):
    """Whole days out of service between the failure that stopped the unit and the proof."""
    for replay in replays:
        if replay.withdraws:
            end = replay.resolved_on - ONE_DAY if replay.resolved_on else None
            yield replay.out_from + ONE_DAY, end, "out of service after a failed test"


def at(settled: Settled, day: date) -> Situation:
    """The situation on `day`, which must not lie before the day the facts were cut at.

    A failed test that stops the unit was done, and so stands in the record as one that met its duty. What was owed
    before it stays owed until the unit is proven again: bad news closes no due item. So it does while tests wait and
    none is read: see `DutyFacts.why_unread`.
    """
    memo = settled.memo
    if _OF_ALL_DAYS not in memo:
        memo[_OF_ALL_DAYS] = (
            frozenset([r.path.kind for r in settled.replays if r.withdraws and r.resolved_on is None]),
            frozenset([d.id for d in settled.regime.duties if d.every == EVENT]),
        )
    unproven, after = memo[_OF_ALL_DAYS]
    duty = DutyFacts(
        unit=settled.unit,
        clinic=settled.clinic,
        regime=settled.regime,
        as_of=day,
        usage=settled.usage,
        verdicts=settled.verdicts,
        works=settled.works,
        memo=memo,
    )
    unread = "" if memo[NONE_AWAITED] else duty.why_unread()
    owed = duty
    if unproven or unread:
        owed = replace(duty, unproven=unproven, unread=unread, memo=memo.setdefault(("owed", unread), {}))
    clocks = all_clocks(owed)
    late = tuple([c for c in clocks if c.state is State.OVERDUE or c.state is State.NO_EVIDENCE])
    return Situation(settled, day, duty, owed, clocks, late, after)
