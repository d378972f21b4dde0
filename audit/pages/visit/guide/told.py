"""What the work asks and how it may end, as data for a device without a signal: each value worked out by the judge.

The device adds up what each answer amounts to: of a page what its task done, each decision and each part that may be
fitted there mean (`Effect`), of each class the tests it asks, of each test what its ticks and values show, and of all
of it how the job may end. Every one of these is the judge's own answer about a job with that one answer in it
(`audit.judge.work`); the highest class and the union of the tests are then those of the whole job. What the device
cannot know, as what a name means that was typed freely, it says it does not know: the server judges all of it once
more, and nothing is recorded as released that is not proven there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import lru_cache
from itertools import product

from audit import facts as f
from audit.facts.names import TESTS, test_title
from audit.judge.biological import judge_tests
from audit.judge.proof_after_work import STATED_WORDS, run_apart
from audit.judge.work.asked import asked_by_touched, class_of, leak_tested
from audit.judge.work.classes import AWAITED, CLASS_WORDS, LEFT_ALONE
from audit.judge.work.results import QUANTITIES, is_of_cycle, results_of
from audit.judge.work.touched import NamesOnUnit, touched_by
from audit.regimes.model import Regime
from records.wording import JOB_REASONS

from .job import UnitOnRecord, job_of, part_cases, reading_key
from .proof import (
    DYNAMIC_TYPE,
    WHY_NOT,
    classes_from,
    job_fact,
    proof,
    still_missing,
    tests_of_class,
    was_worked_on,
    ways_to_end,
)
from .steps import END, EXTRA, FOUND, PROVE, SAFE, TASK

DECISIONS = ("leave", "clean", "adjust", "repair kit", "replace", AWAITED, "condemn")
ACTIONS = ("inspect", "clean", "lubricate", "replace", "test", "calibrate")
PAIRS = (("temperature_low", "band_low"), ("temperature_high", "band_high"), ("minutes", "minutes_needed"))
VALUES = ("temperature_low", "temperature_high", "pressure_low", "pressure_high", "minutes")
LIMITS = ("band_low", "band_high", "minutes_needed")


@dataclass(frozen=True, slots=True)
class Effect:
    """What one answer amounts to. `letter`: the least class; `tests`: asked beside those of a class; `unknown`: names
    that nobody knows, undecided; `if_no_part`: it counts only where no part was fitted in the job.
    """

    letter: str
    tests: tuple[str, ...]
    unknown: tuple[str, ...]
    forbids: bool
    worked: bool
    if_no_part: bool = False


@dataclass(frozen=True, slots=True)
class WorkOnUnit:
    """The unit that work is done on, on the day, under its rules."""

    unit: f.UnitFacts
    regime: Regime
    ground: UnitOnRecord
    on: date
    moment: datetime
    known: dict[Effect, int] = field(default_factory=dict)

    def kept(self, effect: Effect) -> int:
        """The number under which the effect stands in `effects`: many answers amount to the same."""
        return self.known.setdefault(effect, len(self.known))

    @property
    def dynamic(self) -> bool:
        return self.unit.equipment_type == DYNAMIC_TYPE

    def effect(self, page: str, said: Mapping, names: Mapping[str, str] | None = None) -> Effect:
        """What the answers of one page, and no other, amount to."""
        return self.of_job(job_of({page: said}, self.ground, technician="").job, names)

    def of_job(self, made: Mapping, names: Mapping[str, str] | None = None) -> Effect:
        """The same of a job."""
        plain = job_fact(made, self.on, self.moment, names)
        called = NamesOnUnit(self.unit)
        touched = tuple(touched_by(plain, called))
        held = class_of(plain, called)
        decided = class_of(replace(plain, class_stated="A", class_reason="x"), called)
        tests = asked_by_touched(touched, self.regime, self.dynamic, leak_tested(self.unit, self.regime))
        return Effect(decided.letter, tuple(dict.fromkeys(tests)), held.unknown, held.do_not_use, was_worked_on(made))


def described(
    about: WorkOnUnit, lots: Mapping[str, str], suggested: Mapping[str, str], before: Sequence[f.FindingFact]
) -> dict:
    """All of it. `lots`: origin of each own lot to the name of its part; `suggested`: code of a line to the name that
    its page suggests; `before`: what was awaited before this visit.
    """
    unit = about.unit
    names = {*lots.values(), *suggested.values(), *(p.name for p in unit.positions)} - {""}
    lines = about.ground.lines
    found = {
        "tasks": {TASK + code: _task(about, line, names) for code, line in lines.items()},
        "extra": {"start": EXTRA, "at": {p: _extra(about, p, names) for p in ("", *about.ground.positions)}},
        "lots": {origin: name.casefold() for origin, name in lots.items()},
        "reasons": {reason: about.kept(about.of_job({"reason": reason, **_NOTHING})) for reason in JOB_REASONS},
        "classes": {letter: _class(about, letter) for letter in "ABC"},
        "words": {letter: word for word, letter in _letters()},
        "titles": {code: test_title(code) for code in TESTS},
        "stated": STATED_WORDS,
        "apart": sorted(_apart(about)),
        "tests": {code: _test(about, code) for code in TESTS},
        "readings": [_reading(r) for r in about.ground.readings],
        "quantities": QUANTITIES,
        "endings": {_key(*so): ways_to_end(*so) for so in product((False, True), repeat=4)},
        "why_not": WHY_NOT,
        "awaited": AWAITED,
        "leaves": LEFT_ALONE,
        "fitted": {planned: [_plain(c) for c in part_cases(planned == "yes")] for planned in ("yes", "no")},
        "before": [{"words": f"{x.component or 'unit'}: {x.seen}", "at": x.position, "name": x.component.casefold()}
                   for x in before],
        "pages": {"safe": SAFE, "found": FOUND, "prove": PROVE, "end": END},
    }  # fmt: skip
    return found | {"effects": [asdict(effect) for effect in about.known]}


def _plain(case: Mapping) -> dict:
    return {name: None if wanted is None else list(wanted) for name, wanted in case.items()}


_NOTHING = {name: () for name in ("outcomes", "findings", "readings", "parts", "tests")}


def _letters() -> Iterable[tuple[str, str]]:
    return ((word, letter) for letter, word in CLASS_WORDS.items())


def _key(*so: bool) -> str:
    return "".join("1" if each else "0" for each in so)


def _task(about: WorkOnUnit, line: f.PlanLineFact, names: Iterable[str]) -> dict:
    page, lowest = TASK + line.code, line.repair_class or "A"
    done = about.effect(page, {"outcome": "done"})
    return {
        "done": about.kept(_unless_parts(done)),
        "findings": _findings(about, page, {}, lowest),
        "parts": _parts(about, page, {}, names),
        "position": line.position,
        "title": _component(about, line.position) or line.title,
        "replaces": line.action == "replace",
        "lowest": lowest,
    }


def _component(about: WorkOnUnit, origin: str) -> str:
    held = about.ground.positions.get(origin)
    return (held.component or held.name) if held else ""


def _extra(about: WorkOnUnit, origin: str, names: Iterable[str]) -> dict:
    page, at = f"{EXTRA}1", {"position": origin, "what": "x"}
    done = {}
    for action in ACTIONS:
        said = at | {"outcome": "done", "action": action}
        done[action] = about.kept(_unless_parts(about.effect(page, said)))
    return {
        "done": done,
        "findings": _findings(about, page, at, "A"),
        "parts": _parts(about, page, at, names),
        "position": origin,
        "title": _component(about, origin),
        "replaces": False,
        "lowest": "A",
        "free": not origin,  # what it is called is typed freely, so only the server knows what that means
    }


def _unless_parts(alone: Effect) -> Effect:
    """The effect of a task done: what nobody knows in it is what the parts say, where parts were fitted."""
    return replace(alone, if_no_part=True) if alone.unknown else alone


def _findings(about: WorkOnUnit, page: str, at: Mapping, lowest: str) -> dict:
    """By decision and class, as “replace A”."""
    found = {}
    for decision, letter in product(DECISIONS, [*classes_from(lowest)]):
        said = at | {"outcome": "not due", "decision": decision, "grade": 1, "found": "x", "repair_class": letter}
        found[f"{decision} {letter}"] = about.kept(about.effect(page, said))
    return found


def _parts(about: WorkOnUnit, page: str, at: Mapping, names: Iterable[str]) -> dict:
    """By the name of the part, in small letters; under "" of a part of which none was fitted."""
    said = at | {"outcome": "not due", "lot_state": "not printed"}
    found = {name.casefold(): about.effect(page, said | {"part_name": name}) for name in names}
    found[""] = about.effect(page, said | {"part_name": "x", "quantity": 0})
    return {name: about.kept(effect) for name, effect in found.items()}


def _class(about: WorkOnUnit, letter: str) -> dict:
    """The tests of a class, and what else it asks: spore tests and air-removal tests in a row, in words."""
    plain = job_fact({**_NOTHING, "class_stated": letter, "class_reason": "x"}, about.on, about.moment)
    work = proof(about.unit, about.regime, plain)
    also = [each for each in still_missing(work) if each.split()[0] not in TESTS]
    return {"tests": tests_of_class(about.regime, letter, about.unit), "also": also}


def _apart(about: WorkOnUnit) -> frozenset[str]:
    plain = job_fact({**_NOTHING}, about.on, about.moment)
    verdicts = judge_tests(about.unit.bio_tests, about.regime.validity)
    return run_apart(about.unit, about.regime, verdicts, plain)


def _test(about: WorkOnUnit, code: str) -> dict:
    """What a test ticked as passed shows: by `_key` of value shown, cycle measured, limits in part, cycle outside."""
    asks = any(code in v.values for v in about.regime.verification)
    shown = {_key(*so): _shows(code, asks, *so) for so in product((False, True), repeat=4)}
    return {
        "shows": shown,
        "values": [f"{code}_{name}" for name in VALUES],
        "text": f"{code}_value",
        "limits": [f"{code}_{name}" for name in LIMITS],
        "pairs": [[f"{code}_{a}", f"{code}_{b}"] for a, b in PAIRS],
    }


@lru_cache(maxsize=512)
def _shows(code: str, asks: bool, value: bool, measured: bool, in_part: bool, outside: bool) -> str:
    """What a test that is ticked as passed shows, as the judge says: pass, fail or stated."""
    row = f.Row("", "", 0, 0, date.min, None, datetime.min.replace(tzinfo=UTC))
    band = Decimal(1) if in_part else None  # a band without the temperature that belongs to it
    test = f.VerificationFact(row, code, "pass", "1" if value else "", "", "", band_low=band)
    reading = f.ReadingFact(row, "temperature", "", "", None, Decimal(1), None, None, "", "", None)
    job = f.JobFact(
        row, "", "", "", None, None, "", "", "", (), "", "", tests=(test,), readings=(reading,) if measured else (),
    )  # fmt: skip
    return results_of(job, (code,) if asks else (), (reading,) if outside else ())[code].word


def _reading(reading: f.ReadingFact) -> dict:
    low, high = (None if v is None else str(v) for v in (reading.lower, reading.upper))
    words = ", ".join(filter(None, (reading.quantity, reading.point)))
    return {"key": reading_key(reading), "low": low, "high": high, "cycle": is_of_cycle(reading.quantity),
            "words": words, "unit": reading.unit_of_measure}  # fmt: skip
