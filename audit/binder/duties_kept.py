"""How each duty of a unit was kept over a period: the longest gap, what the tests bound, every lapse."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from audit.binder.calendar import main_duty
from audit.binder.scope import Scope, UnitScope, gap_words
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import dated, days, lines, month, number, span
from audit.judge.bounds import LEAST
from audit.judge.judgement import Coverage, Lapse

_MOST = 80  # lapses of one duty told one by one; of more, each month is counted
_WEIGHS = ("missed", "invalid", "met late")


def longest_gap(coverage: Coverage) -> str:
    """The longest time between two that count, with its days; in words where there is none."""
    if coverage.longest_gap is None:
        return "fewer than two to compare"
    between = f"\n{span(*coverage.gap)}" if coverage.gap else ""
    return f"{days(coverage.longest_gap)}{between}"


def exempt_words(coverage: Coverage) -> str:
    """How many were exempt with each reason, most frequent first."""
    told = [f"{count}: {dated(why)}" for why, count in coverage.exempt_why]
    without = coverage.exempt - sum(count for _, count in coverage.exempt_why)
    return lines(*told, f"{without}: no reason given" if without > 0 else "") or "none"


def bound_words(coverage: Coverage) -> str:
    """The bound on the rate of failures as a number; why there is none."""
    if coverage.bound is not None:
        return f"at most {number(coverage.bound)} per test (95 % one-sided)"
    if coverage.failed:
        return "no bound is stated: a test failed"
    if coverage.tests:
        return f"no bound is stated: fewer than {LEAST} tests"
    return "no bound is stated: no test counts"


def runs_of(lapses: tuple[Lapse, ...]) -> list[list[Lapse]]:
    """Lapses next to one another of which the same is known, together; one with rows stands by itself.

    Of duties of a day those up to a week apart go together as well, or every weekend would part them.
    """
    runs: list[list[Lapse]] = []
    for lapse in lapses:
        last = runs[-1][-1] if runs else None
        same = last is not None and (last.result, last.note) == (lapse.result, lapse.note)
        if same and not lapse.evidence and not last.evidence and _near(last, lapse):
            runs[-1].append(lapse)
        else:
            runs.append([lapse])
    return runs


def _near(last: Lapse, lapse: Lapse) -> bool:
    days = (lapse.start - last.end).days
    return days <= (7 if last.start == last.end and lapse.start == lapse.end else 1)


def how_many(run: list[Lapse]) -> str:
    """How many lapses a run holds, "" for one; in a row only where no day lies between."""
    if len(run) == 1:
        return ""
    close = all((after.start - before.end).days <= 1 for before, after in pairwise(run))
    return f"{len(run)} times in a row" if close else f"{len(run)} times, not on every day"


def _run_row(scope: Scope, unit: UnitScope, coverage: Coverage, run: list[Lapse]) -> tuple[Cell, ...]:
    first, last = run[0], run[-1]
    many = how_many(run)
    gaps = scope.gaps(unit, first.start, last.end) if first.result != "exempt" else ()
    told = (*(dated(each.text) for each in first.evidence), *(gap_words(scope, gap) for gap in gaps))
    known = lines(dated(first.note), *told)
    return (
        Cell(coverage.title),
        Cell(lines(span(first.start, last.end), many)),
        Cell(first.result, strong=first.result in _WEIGHS),
        Cell(known or "nothing on record"),
        scope.refs([*(each.ref for each in first.evidence), *(gap.row.ref for gap in gaps)]),
    )


def _lapse_rows(scope: Scope, unit: UnitScope, coverage: Coverage) -> Iterator[tuple[Cell, ...]]:
    """Run by run; where they are many, month by month what is alike."""
    runs = runs_of(coverage.lapses)
    if len(runs) <= _MOST:
        yield from (_run_row(scope, unit, coverage, run) for run in runs)
        return
    months: dict[tuple, list[Lapse]] = {}
    for lapse in coverage.lapses:
        months.setdefault((lapse.end.replace(day=1), lapse.result), []).append(lapse)
    for (start, _), same in months.items():
        yield _month_row(scope, unit, coverage, month(start), same)


def _month_row(scope: Scope, unit: UnitScope, coverage: Coverage, name: str, same: list[Lapse]) -> tuple[Cell, ...]:
    """The lapses of one month with one result: how many, why, and the first and the last of their rows."""
    why = [f"{n}: {dated(note)}" if note else "" for note, n in Counter(lapse.note for lapse in same).most_common(3)]
    gaps = scope.gaps(unit, same[0].start, same[-1].end) if same[0].result != "exempt" else ()
    refs = [each.ref for lapse in same for each in lapse.evidence]
    ends = dict.fromkeys([*refs[:1], *refs[-1:], *(gap.row.ref for gap in gaps)])
    return (
        Cell(coverage.title),
        Cell(lines(name, f"{len(same)} times" if len(same) > 1 else "once")),
        Cell(same[0].result, strong=same[0].result in _WEIGHS),
        Cell(lines(*why, *(gap_words(scope, gap) for gap in gaps)) or "nothing on record"),
        scope.refs(ends),
    )


def lapses_table(scope: Scope, unit: UnitScope, coverages: tuple[Coverage, ...]) -> Table:
    columns = (
        Column("Duty", 110),
        Column("From, to", 110, names=True),
        Column("Result", 60),
        Column("What is known of it", 192),
        Column("Record", 38, small=True),
    )
    rows = tuple(row for each in coverages for row in _lapse_rows(scope, unit, each))
    return Table("", columns, rows, "No lapse: every duty that was due was met in time.")


def lapses_section(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """What was not met in time, or was not asked, of the duties whose tests have no list with weeks in it.

    Nothing where all was met; the spore tests at regular times tell theirs in their own list.
    """
    main = main_duty(unit)
    told = tuple(each for each in unit.coverage if each is not main and each.lapses)
    table = lapses_table(scope, unit, told)
    if not table.rows:
        return ()
    blocks: list[Block] = []
    if (told[0].first, told[0].last) != (scope.from_on, scope.last):
        counted = span(told[0].first, told[0].last)
        blocks.append(Paragraph(f"Counted from {counted}, which is not the period of this binder.", "strong"))
    title = "Duties not met in time, and what was not asked"
    return (Section(f"{unit.chapter}-coverage", title, 2, (*blocks, table)),)
