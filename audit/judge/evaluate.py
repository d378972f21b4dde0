"""The whole judgement of a clinic or a unit on a day: pure, from facts and rules to what is said of them."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from audit.facts import ClinicFacts, LoadFact, UnitFacts
from audit.facts.dates import ONE_DAY, add_months
from audit.regimes import Regime, all_regimes
from audit.regimes.model import Duty
from audit.regimes.source import Source

from .answers import answers_of
from .clocks import worst_first as worst_clocks_first
from .clocks.duties import duties_on, local_problems
from .clocks.duty import DutyFacts
from .clocks.last_valid_days import clinic_clocks
from .coverage import coverage_of
from .holding import held_until
from .judgement import (
    ClinicJudgement,
    Coverage,
    Evidence,
    Finding,
    NextStep,
    Severity,
    UnitJudgement,
    UnitStanding,
    Word,
)
from .lookback import look_backs
from .next_step import COMPANY, next_of, short_reason
from .plain_loads import REMARKABLE
from .response import cases_of
from .rules import RULES
from .rules.inspections import findings_of_inspections
from .rules.overdue import findings_of_clinic
from .rules.tools import Judged
from .situation import AS_RECORDED, Settled, at, clinic_by_day, settle
from .standing import stand, withdrawals
from .weeks import week_strip

LOG = logging.getLogger(__name__)
BASE = "base"
COVERED_MONTHS = 24
_SEVERITY = {severity: n for n, severity in enumerate(Severity)}


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules in force on any day, and the days on which an edition named by the terms comes into force."""

    on: Callable[[date], Regime]
    turns: tuple[date, ...]

    @classmethod
    def always(cls, regime: Regime) -> Rules:
        """One set of rules on all days, in the edition of each day."""
        return cls(regime.on, _editions(regime))


def _editions(regime: Regime) -> tuple[date, ...]:
    return tuple(one.valid_from for one in (regime, *regime.earlier))


def evaluate(
    clinic: ClinicFacts, as_of: date, regimes: Mapping[str, Regime] | None = None, *, brief: bool = False
) -> ClinicJudgement:
    """Judge every unit of the clinic on `as_of`, from facts that had happened by the end of that day.

    The rules are those of the clinic's terms on the day, in the edition then in force; `regimes` are all that may
    be named (default: all on file). Without terms, or with rules not on file, the common base rules are used and an
    open item says so. Raises nothing for what the facts hold: a unit that cannot be judged is waiting for proof, with
    an open item. `brief` leaves out the weeks, coverage and answers, which a list of many units does not show.
    """
    own, rules, findings = _followed(clinic, as_of, all_regimes() if regimes is None else regimes)
    return _clinic(clinic, own, rules, as_of, findings, brief)[0]


def evaluate_over(
    clinic: ClinicFacts, as_of: date, first: date, last: date
) -> tuple[ClinicJudgement, dict[str, tuple[Coverage, ...]]]:
    """What `evaluate` and `coverage_over` say, with the facts of each unit settled once.

    A unit that could not be judged has no coverage.
    """
    own, rules, findings = _followed(clinic, as_of, all_regimes())
    judgement, duties = _clinic(clinic, own, rules, as_of, findings)
    return judgement, {ref: _over(duty, first, last, rules) for ref, duty in duties.items()}


def evaluate_under(clinic: ClinicFacts, regime: Regime, as_of: date) -> ClinicJudgement:
    """Judge the clinic as if it had always followed `regime` (in the edition in force on each day)."""
    return _clinic(clinic, clinic_by_day(clinic, as_of), Rules.always(regime), as_of, [])[0]


def evaluate_unit(
    unit: UnitFacts, clinic: ClinicFacts, regime: Regime, as_of: date, *, brief: bool = False
) -> UnitJudgement:
    """Judge one unit on `as_of` under `regime`, whatever the terms say; `brief` leaves out weeks and coverage."""
    return _judge(unit, clinic_by_day(clinic, as_of), Rules.always(regime), as_of, brief)[0]


def coverage_over(clinic: ClinicFacts, as_of: date, first: date, last: date) -> dict[str, tuple[Coverage, ...]]:
    """How each unit's duties were kept over the period, both ends inclusive, by origin of the unit.

    By the rules that `evaluate` follows, from facts that had happened by `as_of`. With every stretch and all that was
    done, as a picture of the period asks.
    """
    own, rules, _ = _followed(clinic, as_of, all_regimes())
    duties = {unit.ref: at(settle(unit, own, rules.on(as_of), as_of), as_of).duty for unit in clinic.units}
    return {ref: _over(duty, first, last, rules) for ref, duty in duties.items()}


def _over(duty: DutyFacts, first: date, last: date, rules: Rules) -> tuple[Coverage, ...]:
    return coverage_of(duty, first, min(last, duty.as_of), rules.on, whole=True)


def _clinic(
    clinic: ClinicFacts, own: ClinicFacts, rules: Rules, as_of: date, findings, brief: bool = False
) -> tuple[ClinicJudgement, dict[str, DutyFacts]]:
    """The judgement, and what the duties of each unit judged were read from, by its origin."""
    regime, terms = rules.on(as_of), own.terms_on(as_of)
    judged = [_safely(unit, own, rules, as_of, brief) for unit in clinic.units]
    units = tuple(said for said, _ in judged)
    duties = {said.unit: duty for said, duty in judged if duty is not None}
    clocks = worst_clocks_first(clinic_clocks(own, regime, as_of))
    findings = [*findings, *_local_duties(own, regime, as_of), *findings_of_clinic(clocks, as_of)]
    findings += findings_of_inspections(own, as_of)
    judgement = ClinicJudgement(
        clinic=clinic.ref,
        name=terms.name if terms else clinic.slug,
        as_of=as_of,
        regime=regime.id,
        regime_title=regime.title,
        regime_edition=regime.edition,
        regime_sources=regime.sources,
        units=units,
        findings=worst_first(findings),
        clocks=clocks,
        answers=() if brief else answers_of(clinic, units, regime, as_of, _as_recorded(duties)),
    )
    return judgement, duties


def _as_recorded(duties: Mapping[str, DutyFacts]) -> dict[str, tuple[UnitFacts, Sequence[LoadFact]]]:
    return {ref: (duty.memo[AS_RECORDED], duty.memo[REMARKABLE]) for ref, duty in duties.items()}


def worst_first(findings) -> tuple[Finding, ...]:
    """Sorted by severity, then by how long it has been so (unknown first), then by rule, message and rows."""

    def key(f: Finding):
        return (_SEVERITY[f.severity], f.since or date.min, f.rule, f.message, [e.ref for e in f.evidence])

    return tuple(sorted(findings, key=key))


def _judge(
    unit: UnitFacts, clinic: ClinicFacts, rules: Rules, as_of: date, brief: bool = False
) -> tuple[UnitJudgement, DutyFacts]:
    regime = rules.on(as_of)
    settled = settle(unit, clinic, regime, as_of)
    settled_by: dict[tuple[str, str], Settled] = {(regime.id, regime.edition): settled}

    def settled_for(day: date) -> Settled:
        then = rules.on(day)
        key = (then.id, then.edition)
        if key not in settled_by:
            settled_by[key] = settle(unit, clinic, then, as_of)
        return settled_by[key]

    now = at(settled, as_of)
    standing = held_until(now, stand(now), settled_for, rules.turns)
    cases = cases_of(settled.unit, list(settled.replays), settled.verdicts, as_of)
    told = settled.memo[REMARKABLE]
    backs = look_backs(settled.unit, settled.clinic, regime, settled.verdicts, settled.replays, cases, as_of, told)
    judged = Judged(now, standing, cases, backs, _asked_on(settled, rules))
    return UnitJudgement(
        unit=unit.ref,
        label=unit.label,
        as_of=as_of,
        standing=standing,
        clocks=now.clocks,
        findings=worst_first(run_rules(judged)),
        verdicts=tuple(settled.verdicts.values()),
        cases=cases,
        look_backs=backs,
        weeks=() if brief else week_strip(now.duty),
        coverage=() if brief else coverage_of(now.duty, months_back(as_of), as_of, rules.on),
        short=short_reason(standing),
        next=next_of(standing, now.clocks, cases, as_of),
        withdrawn=() if brief else tuple((w.event.row.happened_on, w.ended_on) for w in withdrawals(now)),
    ), now.duty


def _asked_on(settled: Settled, rules: Rules) -> Callable[[date], tuple[Duty, ...]] | None:
    """Gives the duties of the unit on a day; None where neither rules nor duties of the clinic's own ever changed."""
    clinic, unit = settled.clinic, settled.unit
    if len(clinic.terms) < 2 and len(rules.turns) < 2 and not clinic.local_duties:
        return None
    return lambda day: duties_on(rules.on(day), clinic, unit, day)


def months_back(as_of: date) -> date:
    """The first day of the 24 months that end with `as_of`."""
    return add_months(as_of, -COVERED_MONTHS) + ONE_DAY


def run_rules(judged: Judged, rules=None) -> list[Finding]:
    """Every open item; a rule that raises is an open item itself, and the others still run. The log has where."""
    out: list[Finding] = []
    for name, check in RULES if rules is None else rules:
        try:
            out += list(check(judged))
        except Exception as error:
            unit = judged.unit
            LOG.exception("The rule %r could not be applied to unit %s as of %s.", name, unit.ref, judged.now.as_of)
            out.append(_rule_failed(name, error))
    return out


def _rule_failed(name: str, error: Exception) -> Finding:
    return Finding(
        rule="rule-failed",
        severity=Severity.PUT_RIGHT,
        since=None,
        message=f"the rule {name!r} could not be applied: {type(error).__name__}: {error}",
        way_out="a fault in the program: report it with this line; the other rules were applied",
        owner="service company",
    )


def _safely(
    unit: UnitFacts, clinic: ClinicFacts, rules: Rules, as_of: date, brief: bool
) -> tuple[UnitJudgement, DutyFacts | None]:
    try:
        return _judge(unit, clinic, rules, as_of, brief)
    except Exception as error:
        LOG.exception("Unit %s could not be judged as of %s.", unit.ref, as_of)
        return _not_judged(unit, as_of, error), None


def _not_judged(unit: UnitFacts, as_of: date, error: Exception) -> UnitJudgement:
    """A unit whose facts could not be judged is never shown as usable."""
    words = f"could not be judged: {type(error).__name__}: {error}"
    way_out = "a fault in the program: report it with this line; until then nothing is proven"
    finding = Finding("not-judged", Severity.FORBIDS, None, words, way_out, owner="service company")
    proof = (Evidence(unit.row.ref, unit.label),)
    standing = UnitStanding(Word.WAITING, "R5", words, None, proof, way_out, None)
    return UnitJudgement(
        unit.ref, unit.label, as_of, standing, (), (finding,), (), (), (), (),
        short=words, next=NextStep(COMPANY, way_out),
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------ the rules followed


def _followed(
    clinic: ClinicFacts, as_of: date, known: Mapping[str, Regime]
) -> tuple[ClinicFacts, Rules, list[Finding]]:
    """The clinic's own facts up to the day, the rules it follows, and what is open about those."""
    own = clinic_by_day(clinic, as_of)
    regime, findings = _regime_of(own, as_of, known)
    return own, _rules_by_day(own, known, regime), [*findings, *_ended(regime.on(as_of), as_of)]


def _regime_of(clinic: ClinicFacts, as_of: date, known: Mapping[str, Regime]) -> tuple[Regime, list[Finding]]:
    terms = clinic.terms_on(as_of)
    if terms is None:
        return _base(known), [_no_rules("no terms of the clinic are on record for this day", ())]
    regime = known.get(terms.regime)
    if regime is None:
        proof = (Evidence(terms.row.ref, f"terms from {terms.effective_on.isoformat()}: rules {terms.regime!r}"),)
        message = f"the rules {terms.regime!r} are not on file (on file: {', '.join(sorted(known))})"
        return _base(known), [_no_rules(message, proof)]
    return regime, []


def _ended(edition: Regime, as_of: date) -> Iterator[Finding]:
    """An edition that is known to hold no more is followed still: what came after it is not on file."""
    if edition.has_ended(as_of):
        yield Finding(
            rule="rules-ended",
            severity=Severity.PUT_RIGHT,
            since=edition.ended.on,
            message=f"the edition followed ended on {edition.ended.on.isoformat()}: {edition.ended.words}",
            way_out="read what came after it, and enter what it asks more as duties of the clinic’s own",
            source=edition.ended.source,
            owner="clinic",
        )


def _base(known: Mapping[str, Regime]) -> Regime:
    return known[BASE] if BASE in known else all_regimes()[BASE]


def _no_rules(message: str, proof: tuple[Evidence, ...]) -> Finding:
    return Finding(
        rule="no-rules",
        severity=Severity.PUT_RIGHT,
        since=None,
        message=f"{message}: judged by the common base rules, which ask no regular spore test",
        way_out="record which rules the clinic follows, from which day",
        evidence=proof,
        owner="clinic",
    )


def _rules_by_day(clinic: ClinicFacts, known: Mapping[str, Regime], regime: Regime) -> Rules:
    """The rules of the terms in effect on a day, in the edition of that day."""

    def on(day: date) -> Regime:
        terms = clinic.terms_on(day)
        return (known.get(terms.regime, regime) if terms else regime).on(day)

    named = {terms.regime for terms in clinic.terms} & set(known)
    return Rules(on, tuple(sorted({day for id in named for day in _editions(known[id])})))


def _local_duties(clinic: ClinicFacts, regime: Regime, as_of: date) -> Iterator[Finding]:
    """The clinic's own rules that cannot be used: what they ask is not known here."""
    for local, problem, own in local_problems(clinic, regime, as_of):
        yield Finding(
            rule="local-rule-not-used",
            severity=Severity.NOTE,
            since=local.effective_on,
            message=f"the clinic's own rule is not used: {problem}",
            way_out="record it again with a duty and a frequency that are known here",
            evidence=(Evidence(local.row.ref, local.source),),
            source=own.source if own else Source(local.source),
            owner="clinic",
        )
