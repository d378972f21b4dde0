"""One cycle with goods in it as a line: what page, table file and binder tell of it, in the same words. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from audit.binder.written_on_paper import day as day_words
from audit.binder.written_on_paper import local_time, number
from audit.facts import ChemicalFact, LoadFact, UnitFacts, in_order
from audit.judge.biological import AWAITED, FAILED, INVALID, PASSED, cycle_key
from audit.judge.cycle_of_load import spore_tests_of
from audit.judge.exposure import held, short_of
from audit.judge.judgement import TestVerdict
from audit.judge.recorded import PASS, failed, mechanical_of, proves, recordings_by_load, told_of

SPORE = {PASSED: "passed", FAILED: "FAILED", AWAITED: "awaited", INVALID: "did not count"}
_GRAVEST = (FAILED, INVALID, AWAITED, PASSED)
# After a name: how it came into the record, by the words of the record. Without a letter it was entered signed in.
GIVEN = {"signed": "s", "told": "t", "copied": "p"}


@dataclass(frozen=True, slots=True)
class LoadLine:
    """Texts as they are printed, "" where nothing is recorded; `minutes`, `heat`, `pressure` in min, °C, kPa (gauge).

    `against`: why the line is not plain, in words; () where all passed and it was released. `on` and `start` are of
    the cycle, `decided` the time of the decision, or of its entry where it was logged with the load.
    """

    load: LoadFact
    on: date
    start: str
    held: str
    counts: str  # packs / pouches / cassettes: "3/12/–"
    minutes: str
    heat: str
    pressure: str
    mechanical: str
    chemical: str
    packs: str
    implant: str
    spore: str
    loaded_by: str
    decision: str
    decided_by: str
    decided: str
    given: str  # "s", "t", "p" or "", see GIVEN
    against: tuple[str, ...]
    recorded: str = ""  # verdicts on its recorded cycles: "met", "met, incomplete"; "" where none is on record

    @property
    def number(self) -> int:
        """The cycle number; -1 where it is not a plain one."""
        text = cycle_key(self.load)
        return int(text) if text.isdecimal() else -1

    @property
    def plain(self) -> bool:
        return not self.against


def lines_of(unit: UnitFacts, verdicts: Mapping[str, TestVerdict], zone: str) -> list[LoadLine]:
    """A line for each load of the unit, in order. `unit` is cut to the day asked about; `verdicts` by spore test."""
    strips: dict[tuple, list[ChemicalFact]] = defaultdict(list)
    for strip in unit.chemical:
        if strip.cycle_number:
            strips[strip.row.happened_on, cycle_key(strip)].append(strip)
    tested = {t.row.happened_on for t in unit.bio_tests}
    of = recordings_by_load(unit)
    return [
        _line(unit, load, strips, tested, verdicts, zone, of.get(load.row.origin, ()))
        for load in in_order(unit.loads)
    ]


def _line(unit: UnitFacts, load: LoadFact, strips, tested: set, verdicts, zone: str, recorded) -> LoadLine:
    on = load.row.happened_on
    spore = _spore(unit, load, verdicts) if on in tested else ""
    chemical = _chemical(load, strips.get((on, cycle_key(load)), ()) if load.cycle_number else ())
    return LoadLine(
        load=load,
        on=on,
        start=local_time(load.row.happened_at, zone) if load.row.happened_at else "",
        held=held(load),
        counts=_counts(load),
        minutes=_number(load.exposure_minutes),
        heat=_number(load.exposure_temperature),
        pressure=_number(load.exposure_pressure),
        mechanical=_mechanical(unit, load, recorded),
        chemical=chemical,
        packs=", ".join(w for w in (load.packs, load.pack_condition) if w not in ("", "intact", "not recorded")),
        implant="yes" if load.implant else "",
        spore=SPORE[spore] if spore else "",
        loaded_by=load.loaded_by or load.run_by,
        decision=load.released,
        decided_by=load.decided_by,
        decided=_decided(load, zone),
        given=next((letter for word, letter in GIVEN.items() if load.given_words.startswith(word)), ""),
        against=tuple(_against(unit, load, chemical, spore, recorded)),
        recorded=", ".join(dict.fromkeys(each.verdict for each in recorded)),
    )


def _mechanical(unit: UnitFacts, load: LoadFact, recorded) -> str:
    """As typed; where nobody typed it and each recorded cycle met its profile, these stand in for it."""
    return PASS if recorded and mechanical_of(unit, load, recorded) == PASS else load.mechanical


def _counts(load: LoadFact) -> str:
    numbers = (load.held_packs, load.held_pouches, load.held_cassettes)
    return "" if numbers == (None, None, None) else "/".join("–" if n is None else str(n) for n in numbers)


def _number(value: Decimal | None) -> str:
    return number(value, "")


def _spore(unit: UnitFacts, load: LoadFact, verdicts: Mapping[str, TestVerdict]) -> str:
    """The gravest verdict of the spore tests of the cycle; "" where there is none."""
    tests = spore_tests_of(unit.bio_tests, load)
    found = [verdicts[t.row.origin].verdict if t.row.origin in verdicts else AWAITED for t in tests]
    return min(found, key=_GRAVEST.index, default="")


def _chemical(load: LoadFact, strips: Iterable[ChemicalFact]) -> str:
    """The result logged with the load or, graver or where none is, that of an indicator of its cycle."""
    told = [load.chemical, *(s.result for s in strips)]
    return next((word for word in ("fail", "pass") if word in told), load.chemical)


def _decided(load: LoadFact, zone: str) -> str:
    row = load.decided
    if row is None:
        return ""
    at: datetime | None = row.happened_at if load.released_row is not None else row.logged_at
    on = load.released_row.happened_on if load.released_row is not None else _day_in(row.logged_at, zone)
    time = local_time(at, zone) if at else ""
    return time if on == load.row.happened_on and time else f"{day_words(on)} {time}".strip()


def _day_in(moment: datetime, zone: str) -> date:
    return moment.astimezone(ZoneInfo(zone)).date()


def _against(unit: UnitFacts, load: LoadFact, chemical: str, spore: str, recorded) -> Iterator[str]:
    """Why the line is not plain: what failed, what is not known, what was decided and why."""
    if load.mechanical == "fail":
        yield "gauges and printout failed"
    yield from (f"counts as failed: {words}" for words in short_of(unit, load))
    for each in recorded:
        if failed(unit, load, each) or not proves(unit, load, each):
            yield told_of(unit, load, each)
    if chemical == "fail":
        yield "a chemical indicator failed"
    if load.packs == "wet":
        yield "packs came out wet"
    if load.pack_condition == "damaged":
        yield "wrapping was damaged"
    if spore in (FAILED, INVALID, AWAITED):
        yield f"its spore test {SPORE[spore].lower() if spore != AWAITED else 'is awaited'}"
    if _mechanical(unit, load, recorded) not in ("pass", "fail"):
        yield "no mechanical result is recorded"
    if chemical not in ("pass", "fail"):
        yield "no chemical result is recorded"
    if load.implant and not spore:
        yield "it held an implant and has no spore test on record"
    if load.released == "rejected":
        yield "rejected" + (f": {load.reason}" if load.reason else "")
    elif not load.released:
        yield "no decision is recorded"
    elif load.reason:
        yield f"released: {load.reason}"


def initials(names: Iterable[str]) -> dict[str, str]:
    """Short signs for names, each once: "Ana Coordinator" is AC; of two with the same letters the second is AC2."""
    found: dict[str, str] = {}
    for name in sorted(set(names) - {""}):
        sign = "".join(word[0] for word in name.replace("(", " ").split() if word[:1].isalnum()).upper()[:3] or "?"
        taken = [s for s in found.values() if s.rstrip("0123456789") == sign]
        found[name] = f"{sign}{len(taken) + 1}" if taken else sign
    return found
