"""What lies inside a window and what lies just outside it, in words, as one look-back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from audit.facts import ClinicFacts, LoadFact, PartFact, ReadingFact, UnitFacts, in_order
from audit.judge.judgement import Case, Evidence, LookBack
from audit.regimes.model import Regime
from audit.regimes.source import Source

from .logged import cycles_logged
from .span import DoubtSpan, cut_loads, jobs_inside

PRACTICE = Source("common practice, no source")
# What each trigger puts in doubt where the rules followed say nothing: common practice, no source.
ASKED = {
    "positive spore test": "decide about every load since the last negative spore test",
    "mechanical or penetration failure": "decide about every load since the last good proof; the failed one is not "
    "released",
    "part recall": "do what the notice asks of the part, and decide about the loads run with it",
    "instrument out of tolerance": "judge again every measurement taken with it since its last good calibration",
    "found out of tolerance": "decide whether loads since the last good measurement were still within what is needed",
}


@dataclass(slots=True)
class History:
    """One unit with what all its look-backs share."""

    unit: UnitFacts
    clinic: ClinicFacts
    regime: Regime
    as_of: date
    cases: tuple[Case, ...] = ()
    told: Sequence[LoadFact] = ()  # loads of the unit among which all are that failed
    _words: dict[str, Evidence] = field(default_factory=dict)

    def load(self, load: LoadFact) -> Evidence:
        """The load in one line; written once, however many windows hold it."""
        said = self._words.get(load.row.origin)
        if said is None:
            said = self._words[load.row.origin] = Evidence(load.row.ref, load_words(load))
        return said

    def decided(self, opened_by: set[str]) -> date | None:
        """The first day a review or a recall of packs was done in a case opened by one of these rows, or None."""
        steps = [f for c in self.unit.cases if c.opened_by in opened_by for f in c.followups]
        return first_decision(steps)


def first_decision(steps, actions: tuple[str, ...] = ("review", "recall packs")) -> date | None:
    """The first day one of these actions was done, or None."""
    return min((f.done_on for f in steps if f.action in actions and f.done_on is not None), default=None)


def compose(
    history: History,
    kind: str,
    trigger: str,
    span: DoubtSpan,
    *,
    nothing: str,
    evidence: tuple[Evidence, ...],
    case: str = "",
    asked: str = "",
    source: Source | None = None,
    settled_on: date | None = None,
    without: frozenset[str] = frozenset(),
) -> LookBack:
    """A look-back over loads, with the readings and parts of the visits inside, but for visits in `without`.

    `nothing` says in words what it means that there is no last good proof. `asked` is added to what the rules say.
    """
    unit, good = history.unit, span.after
    cut = cut_loads(unit, span)
    (last, many_before), (first, many_later) = cut.last_before, cut.first_later
    jobs = jobs_inside(unit, span, without)
    words, stands = rule_words(history, kind, source)
    return LookBack(
        trigger=trigger,
        case=case,
        after=good.day if good else None,
        after_text=good.text if good else nothing,
        to=span.to,
        loads=tuple([history.load(load) for load in cut.inside]),
        unlogged=unlogged(unit, good.day if good else None, span.to),
        readings=tuple(Evidence(r.row.ref, reading_words(r)) for j in jobs for r in in_order(j.readings)),
        parts=tuple(Evidence(p.row.ref, part_words(p)) for j in jobs for p in in_order(j.parts)),
        kind=kind,
        asked="; ".join(w for w in (words, asked) if w),
        source=stands,
        outside=(
            *nearest([history.load(x) for x in last], many_before, span.why_before),
            *((history.load(x), "the cycle of the last good proof itself") for x in cut.own),
            *nearest([history.load(x) for x in first], many_later, span.why_end),
        ),
        evidence=evidence,
        settled_on=settled_on,
    )


def rule_words(history: History, kind: str, source: Source | None) -> tuple[str, Source]:
    """What the rules ask of what lies inside, and where that stands; common practice where they say nothing."""
    rule = history.regime.look_back_rule(kind)
    return (rule.words, rule.source) if rule else (ASKED[kind], source or PRACTICE)


def nearest(rows: Sequence[Evidence], count: int, why: str) -> tuple[tuple[Evidence, str], ...]:
    """The nearest row left out with the reason, and how many more the same reason leaves out."""
    more = f" (the nearest of {count})" if count > 1 else ""
    return tuple((row, why + more) for row in rows)


# ------------------------------------------------------------------------------------------------ what is not known


def unlogged(unit: UnitFacts, after: date | None, to: date) -> str:
    """Cycle counter against cycles logged, as far as readings tell."""
    readings = [c for c in in_order(unit.counters) if c.counter == "cycles"]
    first = [c for c in readings if after is not None and c.row.happened_on <= after]
    last = [c for c in readings if c.row.happened_on >= to]
    if not first or not last:
        return "no cycle counter reading on both sides of the window: cycles not logged are not known"
    start, end = first[-1], last[0]
    ran = end.total - start.total
    logged = cycles_logged(unit, start.row.happened_on, end.row.happened_on)
    span = f"{start.row.happened_on.isoformat()} to {end.row.happened_on.isoformat()}"
    words = f"counter rose by {ran:f} from {span}; {logged} cycles logged in that time"
    missing = ran - logged
    return f"{words}: {missing:f} not logged" if missing > 0 else words


# ------------------------------------------------------------------------------------------------ words


def load_words(load: LoadFact) -> str:
    """A load in one line."""
    cycle = f"cycle {load.cycle_number}" if load.cycle_number else "cycle without number"
    implant = ", implant" if load.implant else ""
    released = load.decided_words or "release not recorded"
    contents = load.contents or "contents not recorded"
    return f"{cycle} of {load.row.happened_on.isoformat()}: {contents}{implant}, {released}"


def reading_words(reading: ReadingFact) -> str:
    """A measured pair in one line."""
    point = f" at {reading.point}" if reading.point else ""
    found, left = (_value(v, reading.unit_of_measure) for v in (reading.as_found, reading.as_left))
    day = reading.row.happened_on.isoformat()
    return f"{reading.quantity}{point} of {day}: as found {found}, as left {left}"


def _value(value, unit: str) -> str:
    return "not measured" if value is None else f"{value} {unit}"


def part_words(part: PartFact) -> str:
    """A part in one line."""
    lot = part.lot or part.receipt_lot or f"lot {part.lot_state}"
    return f"{part.name} ({part.number}, {lot}) {part.action} on {part.row.happened_on.isoformat()}"
