"""What is open, on the first page: a plain sentence a line, worst first, as many as there is room for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from audit.binder.heights import LINE, PAD, lines_of
from audit.binder.named_units import units_words
from audit.binder.open_items import OPEN, is_out, item_name, may_be_used, unproven
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Table
from audit.binder.written_on_paper import counted, dated, day, first_upper, tied
from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Clock, Finding, Severity, State, UnitJudgement, Word

_MARKS = {True: "■", False: "◩"}  # may not be used; not yet
_IN_DOUBT = ("recalled-part-in-use", "look-back-open")
_SHORT = 150  # characters of a point that is told whole
_ONE_MORE = 16.2  # points of the line that counts what has no room
_WIDE = 476  # points of the column of the first page that says what is open
_SIGN = 14.0  # points by which what follows a mark is set in, and the room between columns


@dataclass(frozen=True, slots=True)
class FirstPageLine:
    """One line of the first page: its mark ("" for none), the sentence, and the section to turn to."""

    mark: str
    text: str
    to: str
    points: int = 1  # how many open items it tells together
    item: str = ""  # what the page of the first of them is asked for by, "" for that of the section

    @property
    def height(self) -> float:
        """How tall its row is, about, in points."""
        return PAD + LINE * lines_of(f"{self.mark} {self.text}".strip(), _WIDE - _SIGN)


def _stopped(unit: UnitScope) -> FirstPageLine:
    """A unit that may not be used, or not yet: why, and what lifts it, in the words of the judgement."""
    name, said = tied(unit.label), unit.judgement
    to = unit.chapter
    if said is None:
        return FirstPageLine("◩", f"{name} may not be used yet. It was not judged: no answer is on record.", to)
    if unproven(unit):
        return FirstPageLine("◩", f"{name} may not be used yet. No proof is on record that it may.", to)
    out = is_out(unit)
    return FirstPageLine(_MARKS[out], f"{name} may not be used{'' if out else ' yet'}. {_told(said)}", to)


def _told(said: UnitJudgement) -> str:
    """Why, what is next by whom and by when, and from when the answer is another: in the words of the judgement."""
    standing = said.standing
    parts = [first_upper(said.short or standing.reason)]
    if said.next is not None:
        parts.append(f"Next: {said.next.words}")
    elif standing.lifted_by:
        parts.append(f"Way out: {standing.lifted_by}")
    if standing.holds_until is not None:
        parts.append(first_upper(standing.changes))
    return " ".join(f"{dated(part).rstrip('.')}." for part in parts)


def _late_words(clock: Clock, as_of: date) -> str:
    """A due item that is overdue or of which there is no evidence."""
    late = clock.days_overdue(as_of)
    last = clock.overdue_on - ONE_DAY if clock.overdue_on else clock.due_on
    grace = f", allowed to {day(last)}" if last and clock.due_on and last > clock.due_on else ""
    what = f"{counted(late, 'day')} overdue, due by {day(clock.due_on)}{grace}" if late else "no evidence on record"
    return f"{clock.title}, {what}."


def _overdue(scope: Scope) -> Iterable[FirstPageLine]:
    """One line an item; units of which the same is overdue by as much share one."""
    groups: dict[str, list[UnitScope | None]] = {}
    of_units = [(unit, each) for unit in scope.units for each in (unit.judgement.clocks if unit.judgement else ())]
    for unit, clock in (*of_units, *((None, each) for each in scope.judgement.clocks)):
        if clock.state in (State.OVERDUE, State.NO_EVIDENCE):
            groups.setdefault(_late_words(clock, scope.as_of), []).append(unit)
    for words, units in groups.items():
        named = [unit for unit in units if unit]
        who = f"{units_words([unit.label for unit in named])}: " if named else ""
        to = OPEN if len(units) > 1 else named[0].chapter if named else "clinic-due"
        yield FirstPageLine("", f"Overdue. {who}{words}", to)


def _told_alone(finding: Finding, clocks: tuple[Clock, ...]) -> bool:
    """Points to put right; one that a due item says already stands among what is overdue."""
    late = (clock.title for clock in clocks if clock.state in (State.OVERDUE, State.NO_EVIDENCE))
    return finding.severity is Severity.PUT_RIGHT and not finding.message.startswith(tuple(late))


def _within_limits(scope: Scope) -> Iterable[FirstPageLine]:
    """Units that may be used within a limit alone: which, in the words of the judgement."""
    for unit in scope.units:
        said = unit.judgement
        if said is not None and said.standing.word is Word.LIMITED and may_be_used(unit):
            yield FirstPageLine("□", f"{tied(unit.label)} may be used within limits. {_told(said)}", unit.chapter)


def _of_goods(points: list[tuple[UnitScope | None, Finding, str]]) -> bool:
    """Whether what was sterilized is in doubt, or will be: it comes before signatures and papers."""
    return any(finding.rule in _IN_DOUBT for _, finding, _ in points)


def _to_put_right(scope: Scope) -> Iterable[FirstPageLine]:
    """One line a point, those about goods in doubt first. Points that begin alike are one with the names of their
    units, without what then differs."""
    groups: dict[str, list[tuple[UnitScope | None, Finding, str]]] = {}
    found = [(None, finding, item_name(None, n)) for n, finding in enumerate(scope.judgement.findings)]
    for unit in scope.units:
        own = unit.judgement.findings if unit.judgement else ()
        found += [(unit, each, item_name(unit, n)) for n, each in enumerate(own)]
    for unit, finding, item in found:
        if _told_alone(finding, unit.judgement.clocks if unit and unit.judgement else scope.judgement.clocks):
            groups.setdefault(finding.message.split("; ")[0], []).append((unit, finding, item))
    for begin, each in sorted(groups.items(), key=lambda group: not _of_goods(group[1])):
        names = units_words([unit.label for unit, *_ in each if unit])
        whole = each[0][1].message
        said = dated(whole if len(each) == 1 and len(whole) <= _SHORT else begin).rstrip(".")
        yield FirstPageLine(
            "",
            f"To put right. {names}: {said}." if names else f"To put right. {first_upper(said)}.",
            OPEN,
            len(each),
            each[0][2],
        )


def _whole_place(scope: Scope) -> Iterable[FirstPageLine]:
    """What forbids use and belongs to no unit."""
    for finding in scope.judgement.findings:
        if finding.severity is Severity.FORBIDS:
            said = first_upper(dated(finding.message)).rstrip(".")
            yield FirstPageLine("■", f"Forbids use. {said}. Way out: {dated(finding.way_out)}.", OPEN)


def _kept(scope: Scope) -> str:
    """What was missed in the period, as the coverage of the duties to test counts it."""
    missed, void, units = 0, 0, []
    for unit in scope.units:
        tests = [each for each in unit.coverage if each.duty == "biological-test"]
        here = sum(each.missed for each in tests), sum(each.invalid for each in tests)
        if any(here):
            units.append(unit.label)
        missed, void = missed + here[0], void + here[1]
    told = [counted(missed, "spore test was missed", "spore tests were missed")] if missed else []
    told += [counted(void, "did not count", "did not count")] if void else []
    return f" In the period {' and '.join(told)} ({units_words(units)})." if told else ""


def open_lines(scope: Scope) -> tuple[FirstPageLine, ...]:
    """All that is open, worst first: forbids use, limits it, overdue, to put right; or that nothing is overdue."""
    stopped = [unit for unit in scope.units if not may_be_used(unit)]
    out = [_stopped(unit) for unit in sorted(stopped, key=lambda unit: not is_out(unit))]
    late = list(_overdue(scope))
    said = f"Overdue today: nothing.{_kept(scope)}" if scope.units else "No unit is on record, so none was judged."
    calm = [FirstPageLine("", said, OPEN)]
    return (*_whole_place(scope), *out, *_within_limits(scope), *late, *_to_put_right(scope), *([] if late else calm))


def first_page_table(scope: Scope, room: float) -> Table:
    """What is open in about `room` points, at least one line; the rest is counted, with the page of all of it."""
    found = open_lines(scope)
    kept: list[FirstPageLine] = []
    left = room
    for n, line in enumerate(found):
        more = n + 1 < len(found)
        if kept and line.height > left - (_ONE_MORE if more else 0):
            break
        kept.append(line)
        left -= line.height
    rest = found[len(kept) :]
    if rest:
        kept.append(FirstPageLine("", _rest_words(rest), OPEN))
    rows = tuple(
        (
            Cell(f"{line.mark} {line.text}".strip(), bold=(line.text.split(". ")[0].split(": ")[0].rstrip("."),)),
            Cell("", to=line.to, page=line.item),
        )
        for line in kept
    )
    columns = (Column("Worst first", _WIDE, names=True), Column("Page", 34, "right"))
    return Table("What is open", columns, rows, "Nothing is open on this day.")


def _rest_words(rest: tuple[FirstPageLine, ...]) -> str:
    stopped = [line.text.split(" may not be used")[0] for line in rest if " may not be used" in line.text]
    more = sum(line.points for line in rest if " may not be used" not in line.text)
    told = [f"{units_words(stopped)} may not be used, or not yet"] if stopped else []
    told += [counted(more, "more point", "more points")] if more else []
    return f"{first_upper('; '.join(told))}: see the page of all open items."
