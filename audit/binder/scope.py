"""What one binder is asked about: facts, judgement, period; and how a row is named in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from audit.binder.attached import Paper
from audit.binder.editions import places_of, rules_followed
from audit.binder.sealing import Sealing
from audit.binder.sections import EXTENTS, INSPECTOR, Cell, RulesFollowed
from audit.binder.written_on_paper import dated, day, span
from audit.facts import ClinicFacts, GapFact, Row, UnitFacts, unit_by_day, walk
from audit.facts.heads import LedgerHead
from audit.facts.responsible import Responsible, serving_on
from audit.judge.clocks.calendar_weeks import Weeks
from audit.judge.judgement import ClinicJudgement, Coverage, Evidence, UnitJudgement
from audit.judge.next_step import with_company
from audit.judge.situation import clinic_by_day
from audit.regimes.places import own_texts
from audit.regimes.source import Source

AS_METHOD = "a text of another place, followed as method: see the sources under Method"


NOBODY = Responsible()
_SHORT_NUMBER = 4  # characters


def short(ref: str) -> str:
    """The first eight characters of a ref: enough to find it, short enough to print."""
    return ref[:8]


@dataclass(frozen=True, slots=True)
class UnitScope:
    """One unit: its facts cut to the day of the answer, what is said of it, and where its chapters are."""

    facts: UnitFacts
    judgement: UnitJudgement | None  # None: this unit was not judged
    chapter: str
    indicators: str
    coverage: tuple[Coverage, ...] = ()

    @property
    def label(self) -> str:
        return self.facts.label

    def link(self) -> Cell:
        return Cell(self.label, to=self.chapter)

    def position(self, origin: str) -> str:
        """The name of a position; "whole unit" for ""; the bare text where no position has that origin."""
        if not origin:
            return "whole unit"
        names = {p.row.origin: p.name for p in self.facts.positions}
        return names.get(origin, origin)


def paired(names: Iterable[str]) -> str:
    """Record numbers for a narrow column: two to a line where both are short."""
    lines: list[str] = []
    for name in names:
        if lines and len(lines[-1]) <= _SHORT_NUMBER and len(name) <= _SHORT_NUMBER:
            lines[-1] += f", {name}"
        else:
            lines.append(name)
    return "\n".join(lines)


def record_number(number: int, line: int, letter: str = "") -> str:
    """How a row is named: "486", "486.13" (line 13 of that entry), "s16" (the ledger of letter s).

    Lines count from 1, and the first one goes by the number of its entry alone.
    """
    return f"{letter}{number}" if line <= 1 else f"{letter}{number}.{line}"


@dataclass(frozen=True)
class Scope:
    """`from_on` and `to_on` are inclusive; histories also end at `as_of`, the day of the answer."""

    facts: ClinicFacts
    judgement: ClinicJudgement
    from_on: date
    to_on: date
    units: tuple[UnitScope, ...]
    rows: dict[str, Row]
    papers: tuple[Paper, ...] = ()
    heads: tuple[LedgerHead, ...] = ()
    rules: tuple[RulesFollowed, ...] = ()
    extent: str = INSPECTOR
    responsible: Responsible = NOBODY
    sealing: Sealing | None = None  # None: the file is not sealed
    every: tuple[tuple[object, UnitScope | None], ...] = ()  # each fact on record, with its unit; walked through once

    @property
    def as_of(self) -> date:
        return self.judgement.as_of

    @property
    def last(self) -> date:
        """The last day of the histories, inclusive."""
        return min(self.to_on, self.as_of)

    def weeks(self) -> Weeks:
        """The weeks of the clinic, each cut by the terms of then: those that hold after the day are not known yet."""
        return Weeks.of(t for t in self.facts.terms if t.effective_on <= self.as_of)

    @property
    def name(self) -> str:
        return self.judgement.name or self.facts.slug

    @property
    def places(self) -> tuple[str, ...] | None:
        """The places whose texts are the place's own, the narrowest first; None under rules that are not on file."""
        return places_of(self.judgement.regime, self.as_of)

    def cite(self, source: Source | None) -> str:
        """Where a rule stands, the place's own text first; what is followed as method is named under Method alone.

        Of a source without a grade, which somebody wrote down here (a maker's manual, a clinic's own rule), all is
        given.
        """
        places = self.places
        if source is None or places is None or not source.grade:
            return str(source or "")
        own = own_texts(source.citation, places)
        return str(replace(source, citation=own)) if own else AS_METHOD

    def holds(self, day: date) -> bool:
        """Whether a day lies in the period and not after the day of the answer."""
        return self.from_on <= day <= self.last

    def inside(self, facts: Iterable) -> tuple:
        """The facts that happened in the period, oldest first; within a day in the order they were logged."""
        first, last = self.from_on, self.last
        kept = [fact for fact in facts if first <= fact.row.happened_on <= last]
        return tuple(sorted(kept, key=lambda fact: (fact.row.happened_on, fact.row.number, fact.row.line)))

    def gaps(self, unit: UnitScope | None, first: date, last: date) -> tuple[GapFact, ...]:
        """Gaps accepted by the day of the answer that touch the days, both inclusive, earliest first.

        Those of the unit and of the whole place; of the whole place alone where `unit` is None.
        """
        own = (*self.facts.gaps, *(unit.facts.gaps if unit else ()))
        where = ("", unit.facts.ref) if unit else ("",)
        kept = [g for g in own if g.unit in where and g.from_on <= last and g.to_on >= first]
        kept = [g for g in kept if g.row.happened_on <= self.as_of]
        return tuple(sorted(kept, key=lambda g: (g.from_on, g.row.number, g.row.line)))

    @cached_property
    def letters(self) -> dict[str, str]:
        """The letter before the numbers of each ledger, by organisation; the clinic's own has none, a company's "s".

        A second company's is "t", and so on, in the order of the heads.
        """
        others = [head.organisation for head in self.heads if head.organisation != self.facts.ref]
        return {each: chr(ord("s") + n) for n, each in enumerate(others[:8])}

    def row(self, ref: str) -> str:
        """The record number of a row, as `number_of` writes it; what is no row here goes by its first characters."""
        row = self.rows.get(ref)
        return short(ref) if row is None else self.number_of(row)

    def number_of(self, row: Row) -> str:
        """The record number: the number of the ledger entry, and the line where it is not the first of its entry.

        "486" is entry 486 of the clinic's ledger, "486.13" its line 13, "s16" entry 16 of the service company's own.
        """
        return record_number(row.number, row.line, self.letters.get(row.ledger, "s") if row.ledger else "")

    def proof(self, *facts) -> Cell:
        """The record numbers behind a cell, each once; an empty cell where there is none."""
        return self.refs(fact.row.ref for fact in facts if fact is not None)

    def evidence(self, evidence: Iterable[Evidence]) -> Cell:
        return self.refs(each.ref for each in evidence)

    def refs(self, refs: Iterable[str]) -> Cell:
        """The record numbers of these rows, each once, short ones two to a line: as a record column holds them."""
        return Cell(paired(dict.fromkeys(self.row(ref) for ref in refs if ref)), proof=True)

    def told(self, evidence: Iterable[Evidence]) -> str:
        """Evidence in a sentence: what each row says and its record number."""
        return "\n".join(f"{dated(each.text)} [{self.row(each.ref)}]" for each in evidence)


def scope(
    facts: ClinicFacts,
    judgement: ClinicJudgement,
    from_on: date,
    to_on: date,
    coverage: Mapping[str, tuple[Coverage, ...]] | None = None,
    papers: tuple[Paper, ...] = (),
    heads: tuple[LedgerHead, ...] | None = None,
    extent: str = INSPECTOR,
    responsible: Responsible = NOBODY,
    sealing: Sealing | None = None,
) -> Scope:
    """Join facts and judgement unit by unit, in the order of the facts.

    `coverage` by origin of the unit; for units not in it, that of the judgement. `papers` are those attached. `heads`
    None: those of the facts, which are the clinic's own. `extent` is one of EXTENTS; raises ValueError for another.
    `responsible` are those who answer for the place, `sealing` what is known of the signature that the file gets.
    """
    if extent not in EXTENTS:
        raise ValueError(f"“{extent}” is no extent of a binder. Choose one of: {', '.join(EXTENTS)}.")
    judgement = with_company(judgement, serving_on(responsible.agreements, judgement.as_of))
    said = {each.unit: each for each in judgement.units}
    own = clinic_by_day(facts, judgement.as_of)
    counted = {each.unit: each.coverage for each in judgement.units} | dict(coverage or {})
    units = tuple(
        UnitScope(
            unit_by_day(unit, judgement.as_of),
            said.get(unit.ref),
            f"unit-{n}",
            f"indicators-{n}",
            counted.get(unit.ref, ()),
        )
        for n, unit in enumerate(facts.units, start=1)
    )
    every = tuple(_every(facts, units))
    rows: dict[str, Row] = {}
    for fact, _ in every:
        row, done = fact.row, getattr(fact, "done_row", None)
        for each in (row,) if done is None else (row, done):
            rows.setdefault(each.ref, each)
            rows.setdefault(each.origin, each)
    if heads is None:
        heads = tuple(LedgerHead(facts.ref, each.organisation, each.number, each.hash) for each in facts.heads)
    rules = rules_followed(own, from_on, min(to_on, judgement.as_of))
    for fact in (*responsible.coordinators, *responsible.agreements):
        rows.setdefault(fact.row.ref, fact.row)
    return Scope(
        own, judgement, from_on, to_on, units, rows, papers, heads, rules, extent, responsible, sealing, every
    )


def _every(facts: ClinicFacts, units: tuple[UnitScope, ...]) -> Iterator[tuple[object, UnitScope | None]]:
    """Everything on record, also what happened after the day of the answer: of the place, then unit by unit."""
    for fact in walk(replace(facts, units=())):
        yield fact, None
    for held, unit in zip(facts.units, units, strict=True):
        for fact in walk(held):
            yield fact, unit


def gap_words(scope: Scope, gap: GapFact) -> str:
    """A known gap in a sentence: which days, what is missing, why, who accepted it and when, and its row."""
    return (
        f"Known gap, {span(gap.from_on, gap.to_on)}: {gap.what}. Why: {gap.why}. Accepted by {gap.accepted_by} on "
        f"{day(gap.row.happened_on)} [{scope.row(gap.row.ref)}]"
    )
