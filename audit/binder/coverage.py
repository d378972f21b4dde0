"""How each duty of a unit was kept over a period: counts, the longest gap, what the tests bound, every lapse."""

from __future__ import annotations

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.words import dated, days, labelled, lines, number, span
from audit.judgement import Coverage, Lapse

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


def _counts(coverage: Coverage) -> tuple[Cell, ...]:
    numbers = (coverage.due, coverage.met, coverage.met_late, coverage.missed, coverage.invalid, coverage.awaited)
    weigh = (False, False, True, True, True, False)
    return tuple(Cell(str(n), strong=heavy and n > 0) for n, heavy in zip(numbers, weigh, strict=True))


def counts_table(coverages: tuple[Coverage, ...]) -> Table:
    columns = (
        Column("Duty", 30),
        Column("Due", 7, "center"),
        Column("Met", 7, "center"),
        Column("Met late", 7, "center"),
        Column("Missed", 9, "center"),
        Column("Invalid", 9, "center"),
        Column("Awaited", 10, "center"),
        Column("Exempt, and why", 24),
        Column("Longest gap", 22),
    )
    rows = tuple(
        (
            Cell(lines(each.title, each.rule, str(each.source))),
            *_counts(each),
            Cell(exempt_words(each)),
            Cell(longest_gap(each)),
        )
        for each in coverages
    )
    caption = f"From {span(coverages[0].first, coverages[0].last)}, both included" if coverages else ""
    return Table(caption, columns, rows, "How the duties were kept: nothing is counted for this unit.")


def bound_words(coverage: Coverage) -> str:
    """The bound on the rate of failures as a number; why there is none."""
    if coverage.bound is not None:
        return f"at most {number(coverage.bound)} per test (95 % one-sided)"
    if coverage.failed:
        return "no bound is stated: a test failed"
    return "no bound is stated: no test counts"


def tests_table(coverages: tuple[Coverage, ...]) -> Table:
    """Each duty in a sentence or two; tests and the bound where there are any."""
    columns = (
        Column("Duty", 22),
        Column("Tests", 7, "center"),
        Column("Failed", 8, "center"),
        Column("Rate of failures", 24),
        Column("In words", 58),
    )
    rows = tuple(
        (
            Cell(each.title),
            Cell(str(each.tests)),
            Cell(str(each.failed), strong=each.failed > 0),
            Cell(bound_words(each), to="method-figures"),
            Cell(dated(each.words)),
        )
        for each in coverages
    )
    return Table("What the tests say", columns, rows, "What the tests say: nothing is counted for this unit.")


def runs_of(lapses: tuple[Lapse, ...]) -> list[list[Lapse]]:
    """Lapses one after the other of which the same is known, together; one with rows stands by itself."""
    runs: list[list[Lapse]] = []
    for lapse in lapses:
        last = runs[-1][-1] if runs else None
        same = last is not None and (last.result, last.note) == (lapse.result, lapse.note)
        if same and not lapse.evidence and not last.evidence:
            runs[-1].append(lapse)
        else:
            runs.append([lapse])
    return runs


def _run_row(scope: Scope, coverage: Coverage, run: list[Lapse]) -> tuple[Cell, ...]:
    first, last = run[0], run[-1]
    many = f"{len(run)} times in a row" if len(run) > 1 else ""
    known = lines(dated(first.note), *(dated(each.text) for each in first.evidence))
    return (
        Cell(coverage.title),
        Cell(lines(span(first.start, last.end), many)),
        Cell(first.result, strong=first.result in _WEIGHS),
        Cell(known or "nothing on record"),
        scope.evidence(first.evidence),
    )


def lapses_table(scope: Scope, coverages: tuple[Coverage, ...]) -> Table:
    columns = (
        Column("Duty", 24),
        Column("From, to", 31),
        Column("Result", 12),
        Column("What is known of it", 44),
        Column("Rows", 17),
    )
    rows = tuple(_run_row(scope, each, run) for each in coverages for run in runs_of(each.lapses))
    empty = "No lapse: every duty that was due was met in time." if coverages else "Lapses: nothing is counted."
    return Table("Lapses, and what was exempt", columns, rows, empty)


def coverage_section(scope: Scope, unit: UnitScope) -> Section:
    """How the duties were kept, over the binder's period where it was counted for that."""
    coverages = unit.coverage
    blocks: list[Block] = []
    if coverages and (coverages[0].first, coverages[0].last) != (scope.from_on, scope.last):
        told = f"Counted from {span(coverages[0].first, coverages[0].last)}, which is not the period of this binder."
        blocks.append(Paragraph(told, "strong"))
    blocks += [counts_table(coverages), tests_table(coverages)] if coverages else [counts_table(coverages)]
    if coverages:
        blocks += [lapses_table(scope, coverages), Paragraph(_HOW, "small")]
    return Section(f"{unit.chapter}-coverage", "How the duties were kept", 2, tuple(blocks))


_HOW = labelled("How to read it", "due is the sum of met, met late, missed, invalid and awaited; exempt was not due.")
