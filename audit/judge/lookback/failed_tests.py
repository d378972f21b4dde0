"""Look-backs opened by a failed result: a positive spore test, or a mechanical or penetration failure.

The last good proof of a positive spore test is the last negative one (CDC 2003, MMWR 52 RR-17, VI.F: "since the last
negative spore test"). A failed mechanical result reaches back as far: Tazewell County (Illinois) code 99.08(D) treats
"mechanical failure" like a positive spore test, back to "the last negative biological monitor result". A failed
air-removal, air-leak or automatic control test, or a failed check of the air detector, reaches back to the last one
of its kind that passed, or where there is none to the last negative spore test: common practice, no source. A failed
chemical indicator and wet packs put in doubt what was in that cycle alone; the case of it says so.

A proof is shown to have come before the failure. Of two results of one day that takes both times, or both cycle
numbers; the order in which they were logged shows nothing:

| 1 March | 2 March | look-backs | why |
| --- | --- | --- | --- |
| pass, fail | | all on record up to 1 March | the pass may have come after the failure |
| pass, fail, pass | fail | all on record up to 1 March; from 1 to 2 March | a pass is before the failure of 2 March |
| pass 8:00, fail 9:00, pass | fail | from 1 March 8:00 to 1 March; from 1 to 2 March | what is shown counts |
| pass | fail, pass, fail | one from 1 to 2 March with both | no pass is shown to lie between them |

Several failures of one case, or without a pass that is shown to lie between them, are one look-back from the last
proof that is shown to lie before all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from audit.facts import BioTestFact, LoadFact, Ordered, UnitFacts, in_order
from audit.judge.biological import PASSED, Run, number_key, run_of
from audit.judge.judgement import Evidence, LookBack
from audit.judge.response.cycle_results import PENETRATION
from audit.regimes.model import WITHOUT_VACUUM
from audit.regimes.source import Source

from .inside import History, compose, first_decision
from .span import KNOWN, DoubtSpan, Point, last_before, spore_point

SPORE, FAILURE = "positive spore test", "mechanical or penetration failure"
AIR, LEAK, MECHANICAL, CONTROL = "air removal", "air leak", "mechanical", "automatic control"
DETECTOR = "air detector"
TITLES = {
    AIR: "failed air-removal test",
    LEAK: "failed air-leak test",
    MECHANICAL: "failed mechanical result",
    CONTROL: "failed automatic control test",
    DETECTOR: "failed check of the air detector",
}

TAZEWELL = Source("Tazewell County (Illinois) code 99.08(D); elsewhere common practice", "2026-11-25", "quoted")


@dataclass(frozen=True, slots=True)
class Failure:
    """One failed result of those kinds."""

    kind: str
    origin: str
    day: date
    at: datetime | None
    cycle: str
    cycle_type: str
    evidence: Evidence

    @property
    def run(self) -> Run:
        """When it was run."""
        return self.day, self.at, number_key(self.cycle)


def last_good(unit: UnitFacts, verdicts, *failed: BioTestFact) -> BioTestFact | None:
    """The newest spore test that passed and is shown to have been run before each of the failed ones."""
    return last_before(_passed_spore_tests(unit, verdicts), [run_of(t) for t in failed])


def _passed_spore_tests(unit: UnitFacts, verdicts) -> Ordered:
    return Ordered([t for t in in_order(unit.bio_tests) if verdicts[t.row.origin].verdict == PASSED])


# ------------------------------------------------------------------------------------------------ spore tests


def positive_spore_tests(history: History, verdicts, replays) -> Iterator[tuple[date, LookBack]]:
    """(day known, look-back) of each case opened by a positive spore test."""
    held = [r for r in replays if r.path.kind == "biological"]
    tests = {t.row.origin: t for t in history.unit.bio_tests} if held else {}
    for replay in held:
        failures = replay.failures
        good = last_good(history.unit, verdicts, *(tests[t.origin] for t in failures))
        point = spore_point(good, verdicts[good.row.origin]) if good else None
        failed = replay.failed
        trigger = f"{SPORE} of {failed.day.isoformat()}, known {failed.known_on.isoformat()}"
        yield (
            failed.known_on,
            compose(
                history,
                SPORE,
                trigger,
                DoubtSpan(point, _known(replay), KNOWN),
                nothing="no negative spore test on record before it: everything on record is in doubt",
                evidence=tuple(t.evidence for t in failures),
                **_of_case(history, replay),
            ),
        )


def _known(replay) -> date:
    """The day loads end to be run in good faith; rules that do not withdraw the unit end with the last failure."""
    return replay.failed.known_on if replay.path.withdraws else max(t.known_on for t in replay.failures)


def _of_case(history: History, replay) -> dict:
    """What a replayed case adds: its row, the recall its rules ask, and the decision recorded."""
    failed, kind = replay.failed, replay.path.kind
    same = (
        c
        for c in history.cases
        if (c.kind, c.failed_on, c.known_on) == (kind, failed.day, failed.known_on) and failed.evidence in c.evidence
    )
    recall = next((c.recall for c in same), "")
    actions = ("review", "recall packs") if asks_no_recall(recall) else ("recall packs",)
    return {
        "case": replay.rows[0].row.origin if replay.rows else "",
        "asked": recall,
        "source": replay.path.source,
        "settled_on": first_decision(replay.followups, actions),
    }


def asks_no_recall(words: str) -> bool:
    """Whether a case says in words that no packs need be recalled."""
    return not words or words.startswith("none")


# ------------------------------------------------------------------------------------------------ other failures


def other_failures(history: History, verdicts, replays) -> Iterator[tuple[date, LookBack]]:
    """(day known, look-back) of each failed air-removal, air-leak or automatic control test or mechanical result."""
    series = _series(history.unit, history.told)
    signed = frozenset(d.subject for d in history.regime.duties if d.signed)
    goods = _Goods(history.unit, verdicts, signed)
    groups: dict[tuple, list[Failure]] = {}
    cases: dict[tuple, object] = {}
    for kind, rows in series.items():
        if not rows:
            continue
        replayed = _replay_of(kind, rows, replays)
        for failure in rows:
            case = replayed(failure)
            key = (kind, id(case)) if case else (kind, failure.cycle_type, goods.before([failure]))
            groups.setdefault(key, []).append(failure)
            cases[key] = case
    for key, failures in groups.items():
        yield _failure(history, failures, goods, cases[key])


def _replay_of(kind: str, rows: list[Failure], replays):
    """Gives the case of a failure: by its row, or as the same cycle logged twice (as a load and as a test)."""
    held = {t.origin: r for r in replays if r.path.kind == kind for t in r.failures}
    cycles = {(f.day, f.run[2]): held[f.origin] for f in rows if f.cycle and f.origin in held}
    return lambda failure: held.get(failure.origin) or cycles.get((failure.day, failure.run[2]))


def _failure(history: History, failures: list[Failure], goods, replay) -> tuple[date, LookBack]:
    first, kind = failures[0], failures[0].kind
    known = failures[-1].day if replay is None else _known(replay)
    words = f"{TITLES[kind]} of {first.day.isoformat()}"
    if len(failures) > 1:
        words += f" and {len(failures) - 1} more up to {failures[-1].day.isoformat()}"
    opened = {f.origin for f in failures}
    more = _of_case(history, replay) if replay else _loose(history, kind, opened)
    back = compose(
        history,
        FAILURE,
        words,
        DoubtSpan(goods.before(failures), known, KNOWN),
        nothing=f"no {_good_words(kind)} on record before it: everything on record is in doubt",
        evidence=tuple(f.evidence for f in failures),
        **more,
    )
    return first.day, back


def _loose(history: History, kind: str, opened: set[str]) -> dict:
    """A failure that these rules have no path for: a case may have been opened for it all the same."""
    case = next((c.row.origin for c in in_order(history.unit.cases) if c.opened_by in opened), "")
    return {"case": case, "source": TAZEWELL if kind == MECHANICAL else None, "settled_on": history.decided(opened)}


def _good_words(kind: str) -> str:
    return "negative spore test" if kind == MECHANICAL else "passing test of that kind and no negative spore test"


def _series(unit: UnitFacts, loads: Iterable[LoadFact]) -> dict[str, list[Failure]]:
    """The failures of each kind, in order. A test that does not apply to the unit is no failure."""
    found = {MECHANICAL: _mechanical(unit, loads)}
    if unit.equipment_type not in WITHOUT_VACUUM:
        failed = [t for t in unit.air_removal if t.result == "fail"]
        failed += [c for c in unit.chemical if c.type == PENETRATION and c.result == "fail"]
        found[AIR] = [_plain(AIR, t, t.cycle_number) for t in in_order(failed)]
        found[LEAK] = [_plain(LEAK, t) for t in in_order(unit.leaks) if t.result == "fail"]
    checks = [c for c in in_order(unit.checks) if c.result == "fail"]
    for kind in (CONTROL, DETECTOR):
        found[kind] = [_plain(kind, c, c.cycle_number, c.cycle_type) for c in checks if c.kind == kind]
    return found


def _mechanical(unit: UnitFacts, loads: Iterable[LoadFact]) -> list[Failure]:
    failed = [f for f in loads if f.mechanical == "fail"]
    failed += [t for t in unit.bio_tests if t.mechanical == "fail"]
    return [_plain(MECHANICAL, f, f.cycle_number) for f in in_order(failed)]


def _plain(kind: str, fact, cycle: str = "", cycle_type: str = "") -> Failure:
    row = fact.row
    number = f", cycle {cycle}" if cycle else ""
    text = f"{TITLES[kind]} of {row.happened_on.isoformat()}{number}"
    return Failure(kind, row.origin, row.happened_on, row.happened_at, cycle, cycle_type, Evidence(row.ref, text))


class _Goods:
    """The last good proof before failures of one kind. `signed`: kinds of which only what is signed is a proof."""

    def __init__(self, unit: UnitFacts, verdicts, signed: frozenset[str]):
        self.unit, self.verdicts, self.signed = unit, verdicts, signed
        self._spore: Ordered | None = None
        self._passed: dict[tuple[str, str], Ordered] = {}

    def before(self, failures: list[Failure]) -> Point | None:
        """The proof before all of them, each cycle type for itself; None when nothing at all proves one of them."""
        types: dict[str, list[Failure]] = {}
        for failure in failures:
            types.setdefault(failure.cycle_type, []).append(failure)
        found = [self._of_type(same) for same in types.values()]
        return None if None in found else min(found, key=_oldest)

    def _of_type(self, failures: list[Failure]) -> Point | None:
        kind, runs = failures[0].kind, [f.run for f in failures]
        good = last_before(self._of_kind(kind, failures[0].cycle_type), runs)
        if good is not None:
            return _passed(kind, good)
        if self._spore is None:
            self._spore = _passed_spore_tests(self.unit, self.verdicts)
        test = last_before(self._spore, runs)
        return spore_point(test, self.verdicts[test.row.origin]) if test else None

    def _of_kind(self, kind: str, cycle_type: str) -> Ordered:
        """The tests of the kind that passed, looked through once."""
        key = kind, cycle_type
        if key not in self._passed:
            rows = () if kind == MECHANICAL else _tests_of(self.unit, kind)
            if kind in self.signed:
                rows = (t for t in rows if t.signed_by.strip())
            self._passed[key] = Ordered(
                t for t in rows if t.result == "pass" and getattr(t, "cycle_type", "") == cycle_type
            )
        return self._passed[key]


def _oldest(point: Point) -> tuple:
    """Of one day the one without a time first: it leaves more of that day in doubt."""
    return (point.day, point.at is not None, point.at and point.at.timestamp())


def _tests_of(unit: UnitFacts, kind: str):
    if kind in (CONTROL, DETECTOR):
        return (c for c in in_order(unit.checks) if c.kind == kind)
    if kind == AIR:
        return in_order([*unit.air_removal, *(c for c in unit.chemical if c.type == PENETRATION)])
    return in_order(unit.leaks)


def _passed(kind: str, fact) -> Point:
    cycle = getattr(fact, "cycle_number", "")
    number = f", cycle {cycle}" if cycle else ""
    text = f"last passing {TITLES[kind].removeprefix('failed ')} {fact.row.happened_on.isoformat()}{number}"
    return Point(fact.row.happened_on, fact.row.happened_at, cycle, text)
