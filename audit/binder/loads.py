"""The log of loads: a line a cycle, by unit, with what is out of the ordinary in a second line.

For an inspector it prints the last eight weeks, every window of a look-back and every load that is not plain, and
says in their place what is left out; of everything on record it prints each load.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from audit.binder.load_lines import LoadLine, initials, lines_of
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import EVERYTHING, Block, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import NO_BREAK, counted, day, span, tied, unit_title
from audit.facts import LoadFact, ProgramFact, UnitFacts
from audit.facts.recordings import NOT_MET
from audit.judge.cycle_types import named
from audit.judge.exposure import needs, program_on
from records.wording import SHORT_MONTHS

CHAPTER = "loads"
RECENT = timedelta(weeks=8)
# A longer step of the cycle number is another way of numbering: as the open item of cycle numbers has it.
LONGEST_STEP = 100
# In points of the text width, each with what lies before the next one: drawn, each word on one line.
COLUMNS = (
    Column("Cycle", 27, names=True),
    Column("Day, start", 57),
    Column("P", 12),
    Column("What it held", 95),
    Column("min", 21, "right"),
    Column("°C", 27, "right"),
    Column("kPa", 21, "right"),
    Column("Mech.", 28, "center"),
    Column("Chem.", 29, "center"),
    Column("Packs", 37),
    Column("Impl.", 23),
    Column("Spore", 28, "center"),
    Column("By", 22),
    Column("Released", 50),
    Column("Dec.", 24, small=True),
    Column("Record", 29, small=True),
)
BEFORE_HELD = 3
WIDE = len(COLUMNS)


MARKED = "✓ passed, F failed, x did not count, – not over, · not asked, none: nobody looked."
_SIGNS = {"pass": "✓", "fail": "F", "not recorded": "none", "not read": "none", "": "·"}
_SPORE = {"passed": "✓", "FAILED": "F", "did not count": "x", "awaited": "–", "": ""}


@dataclass(frozen=True, slots=True)
class _Said:
    """What holds of every line unless it says otherwise, and the signs that stand for words."""

    programs: dict[str, str]  # letter by the name as it is compared
    people: dict[str, str]  # sign by name
    contents: str  # what the loads held, where most say the same; "" where they do not
    packs: str  # how most packs came out


def load_sections(scope: Scope) -> tuple[Section, ...]:
    """The chapter: what is said once, then each unit's log."""
    intro = Paragraph(
        "One line a cycle. P: program. min, °C, kPa: what printout or gauge showed of the exposure, kPa against the "
        "air outside. Mech.: gauges and printout or, where nobody typed it, a recorded cycle that met its profile. "
        f"Chem.: chemical indicators. {MARKED} Packs: wrapped packs / "
        "pouches / cassettes. Impl.: it held an implant. By: who loaded or, where nobody is named, who started it. "
        "Released: who decided and when (where it was decided with the load, the time of its entry), s signed "
        "with pass phrase, t told by another, p copied from paper, no letter entered while signed in. Dec.: the "
        "record of a decision made apart. What is empty was not recorded. Bold is out of the ordinary.",
        "small",
    )
    units = tuple(_of_unit(scope, unit) for unit in scope.units)
    any_ = any(isinstance(block, Table) for each in units for block in each.blocks)
    none = Paragraph("No load is on record in the period.")
    return (
        Section(CHAPTER, "Log of loads", 1, (intro if any_ else none,), flows=True),
        *units,
    )


def _of_unit(scope: Scope, unit: UnitScope) -> Section:
    title = f"Loads of {unit_title(unit.label)}"
    lines = _lines(scope, unit)
    if not lines:
        told = Paragraph("Loads in the period: none on record. Who runs a cycle with goods in it logs it.")
        return Section(f"{unit.indicators}-loads", title, 2, (told,))
    said = _said(lines)
    shown = _shown(scope, unit, lines)
    blocks: list[Block] = [Paragraph(_counts(lines, _numbers(unit.facts)))]
    if len(shown) < len(lines):
        blocks.append(Paragraph(_left_out(scope, len(lines) - len(shown)), "small"))
    blocks += [Paragraph(text, "small") for text in _key(unit, said, lines)]
    rows, ruled = _rows(scope, unit, lines, shown, said)
    blocks.append(Table(f"One line a cycle, {unit_title(unit.label)}", COLUMNS, rows, ruled=ruled, tight=True))
    return Section(f"{unit.indicators}-loads", title, 2, tuple(blocks))


def _lines(scope: Scope, unit: UnitScope) -> list[LoadLine]:
    """The lines of the period, oldest first, of one day by cycle number where all have plain ones."""
    verdicts = {v.test: v for v in unit.judgement.verdicts} if unit.judgement else {}
    terms = scope.facts.terms_on(scope.as_of)
    lines = lines_of(unit.facts, verdicts, terms.zone if terms else "UTC")
    kept = [line for line in lines if scope.holds(line.on)]
    return sorted(kept, key=lambda line: (line.on, line.number))


# ------------------------------------------------------------------------------------------------ said once


def _said(lines: list[LoadLine]) -> _Said:
    programs = list(dict.fromkeys(named(line.load.program) for line in lines))
    letters = [chr(ord("A") + n) if n < 26 else f"A{n}" for n in range(len(programs))]
    people = initials(name for line in lines for name in (line.loaded_by, line.decided_by))
    usual, many = Counter(line.load.contents for line in lines).most_common(1)[0]
    most = usual if usual and many * 2 > len(lines) else ""
    state = Counter(line.packs for line in lines).most_common(1)[0][0]
    return _Said(dict(zip(programs, letters, strict=True)), people, most, state)


def _key(unit: UnitScope, said: _Said, lines: list[LoadLine]) -> Iterator[str]:
    told = []
    for name, letter in said.programs.items():
        load = next(line.load for line in reversed(lines) if named(line.load.program) == name)
        told.append(f"{letter}{NO_BREAK}= {_program(load.program, _limits(unit.facts, load))}")
    yield f"Programs: {'; '.join(told)}."
    if said.people:
        yield f"People: {', '.join(f'{sign}{NO_BREAK}= {name}' for name, sign in said.people.items())}."
    if said.contents:
        yield f"Held, beside what is counted, unless said: {said.contents}."
    if said.packs:
        yield f"Packs came out {said.packs}, unless said."


def _limits(unit: UnitFacts, load: LoadFact) -> ProgramFact | None:
    return program_on(unit, load.program, load.row.happened_on)


def _program(name: str, limits: ProgramFact | None) -> str:
    if limits is None or not needs(limits):
        return f"{name}, its limits not on record"
    return f"{name}, {tied(needs(limits))} ({limits.source})"


def _counts(lines: list[LoadLine], known: list[int]) -> str:
    """How many there are, and how many of each kind that is out of the ordinary; cycles that are not on record."""
    parts = [
        (sum(_failed(line) for line in lines), "with a failed result"),
        (sum("wet" in line.packs for line in lines), "with wet packs"),
        (sum(bool(line.implant) for line in lines), "with an implant"),
        (sum(line.decision == "rejected" for line in lines), "rejected"),
        (sum(not line.decision for line in lines), "without a decision"),
        (sum(not line.plain for line in lines), "with a second line"),
    ]
    found = [f"{n}{NO_BREAK}{words}" for n, words in parts if n]
    total = f"{counted(len(lines), 'load')} on record, {span(lines[0].on, lines[-1].on)}"
    told = f"{total}: {', '.join(found)}." if found else f"{total}: all passed and were released."
    told += _recorded(lines)
    absent = sum(len(_absent(known, a, b)) for a, b in pairwise(lines))
    return told + (f" {counted(absent, 'cycle')} between them not on record." if absent else "")


def _failed(line: LoadLine) -> bool:
    return "fail" in (line.mechanical, line.chemical) or NOT_MET in line.recorded


def _recorded(lines: list[LoadLine]) -> str:
    """How many have a recorded cycle, by its verdict; "" where none has."""
    found = Counter(line.recorded for line in lines if line.recorded)
    told = [f"{many}{NO_BREAK}{words}" for words, many in found.most_common()]
    return f" Recorded cycles of {counted(sum(found.values()), 'load')}: {'; '.join(told)}." if told else ""


def _left_out(scope: Scope, many: int) -> str:
    return (
        f"Not printed here: {counted(many, 'load')} older than eight weeks, of which both results passed and that "
        "were released; a line in their place counts them and names their records. They stand in the data of the "
        f"record, on the page of loads of {scope.name}, and in the binder of everything on record."
    )


# ------------------------------------------------------------------------------------------------ what is printed


def _shown(scope: Scope, unit: UnitScope, lines: list[LoadLine]) -> frozenset[int]:
    """The places of the lines that are printed."""
    if scope.extent == EVERYTHING:
        return frozenset(range(len(lines)))
    recent = scope.last - RECENT
    kept = {n for n, line in enumerate(lines) if line.on > recent or not line.plain}
    days = [line.on for line in lines]
    doubted = {each.ref for back in _backs(unit) for each in back.loads}
    for back in _backs(unit):
        first = bisect_left(days, back.after or date.min)
        kept.update(range(first, bisect_right(days, back.to)))
    kept |= {n for n, line in enumerate(lines) if line.load.row.ref in doubted}
    return frozenset(kept)


def _backs(unit: UnitScope) -> tuple:
    return unit.judgement.look_backs if unit.judgement else ()


def _rows(
    scope: Scope, unit: UnitScope, lines: list[LoadLine], shown: frozenset[int], said: _Said
) -> tuple[tuple[tuple[Cell, ...], ...], tuple[int, ...]]:
    """The rows, and the numbers of those above which a line is drawn: a day begins, or something is left out."""
    known = _numbers(unit.facts)
    rows: list[tuple[Cell, ...]] = []
    ruled: list[int] = []
    before: LoadLine | None = None
    left: list[LoadLine] = []
    year = 0

    def put_left() -> None:
        if left:
            ruled.append(len(rows))
            rows.append((Cell(_left_words(scope, left), span=WIDE),))
            left.clear()

    for n, line in enumerate(lines):
        missing = _missing(known, before, line)
        if line.on.year != year:
            put_left()
            year = line.on.year
            ruled.append(len(rows))
            rows.append((Cell(str(year), strong=True, span=WIDE),))
        if n not in shown and not missing:
            left.append(line)
            before = line
            continue
        put_left()
        if missing:
            ruled.append(len(rows))
            rows.append((Cell(missing, strong=True, span=WIDE),))
        if n in shown:
            if before is None or before.on != line.on or missing or n - 1 not in shown:
                ruled.append(len(rows))
            rows += _row(scope, line, said)
        else:
            left.append(line)
        before = line
    put_left()
    return tuple(rows), tuple(dict.fromkeys(ruled))


def _row(scope: Scope, line: LoadLine, said: _Said) -> Iterator[tuple[Cell, ...]]:
    load = line.load
    bad = not line.plain
    rejected = line.decision == "rejected"
    who = " ".join(part for part in (said.people.get(line.decided_by, ""), line.decided, line.given) if part)
    state = "" if bad or line.packs == said.packs else line.packs or "not noted"
    yield (
        Cell(load.cycle_number or "none", strong=bad),
        Cell(_when(line)),
        Cell(said.programs[named(load.program)]),
        Cell("" if load.contents == said.contents else load.contents),
        Cell(line.minutes),
        Cell(line.heat),
        Cell(line.pressure),
        _sign(_SIGNS.get(line.mechanical, line.mechanical)),
        _sign(_SIGNS.get(line.chemical, line.chemical)),
        Cell(f"{line.counts} {state}".strip(), strong=bool(state)),
        Cell(line.implant, strong=bool(line.implant)),
        _sign(_SPORE.get(line.spore, line.spore)),
        Cell(said.people.get(line.loaded_by, "")),
        Cell("rejected" if rejected else who, strong=rejected),
        Cell(scope.number_of(load.released_row) if load.released_row else "", proof=True),
        scope.proof(load),
    )
    if bad:
        told = "; ".join(line.against)
        text = f"{_cycle(load)}: {told}{f' ({who})' if rejected else ''}."
        yield (Cell("", span=BEFORE_HELD), Cell(text, strong=True, span=WIDE - BEFORE_HELD))


def _when(line: LoadLine) -> str:
    return NO_BREAK.join(part for part in (_short_day(line.on), line.start) if part)


def _short_day(on: date) -> str:
    """9 Jun, without its year: a line of its own says which."""
    return f"{on.day}{NO_BREAK}{SHORT_MONTHS[on.month - 1]}"


def _sign(sign: str) -> Cell:
    return Cell(sign, strong=sign not in ("✓", "·", ""), frame="black" if sign == "F" else "")


def _cycle(load: LoadFact) -> str:
    return f"Cycle{NO_BREAK}{load.cycle_number}" if load.cycle_number else "The cycle without a number"


def _left_words(scope: Scope, left: list[LoadLine]) -> str:
    first, last = left[0], left[-1]
    days = day(first.on) if first.on == last.on else span(first.on, last.on)
    numbers = [scope.number_of(line.load.row) for line in (first, last)]
    records = f"record {numbers[0]}" if len(left) == 1 else f"records {numbers[0]} to {numbers[1]}"
    return f"{counted(len(left), 'load')} not printed, {days}: passed and released; {records}."


# ------------------------------------------------------------------------------------------------ cycle numbers


def _numbers(unit: UnitFacts) -> list[int]:
    """Every plain cycle number on record of the unit, sorted: loads, tests, checks and tests after work."""
    kinds: tuple[Iterable, ...] = (unit.loads, unit.bio_tests, unit.air_removal, unit.chemical, unit.checks)
    texts = {fact.cycle_number for kind in kinds for fact in kind}
    texts |= {test.cycle_number for job in unit.jobs for test in job.tests}
    return sorted({int(text) for text in texts if text.isdecimal()})


def _absent(known: list[int], before: LoadLine, line: LoadLine) -> list[int]:
    last, here = before.number, line.number
    if -1 in (last, here) or not 1 < here - last <= LONGEST_STEP:
        return []
    between = known[bisect_right(known, last) : bisect_left(known, here)]
    return sorted(set(range(last + 1, here)) - set(between))


def _missing(known: list[int], before: LoadLine | None, line: LoadLine) -> str:
    """In words, the cycle numbers between two loads that are on record nowhere; "" where there are none."""
    absent = _absent(known, before, line) if before is not None else []
    if not absent:
        return ""
    whole = absent[-1] - absent[0] + 1 == len(absent)
    numbers = f"{absent[0]} to {absent[-1]}" if whole and len(absent) > 2 else ", ".join(map(str, absent))
    return f"Not on record: {'cycle' if len(absent) == 1 else 'cycles'}{NO_BREAK}{numbers}."
