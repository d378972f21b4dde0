"""What is done to a unit in a visit: open items, tasks, readings, parts, tests, each with what is on record."""

from __future__ import annotations

from datetime import timedelta

from audit.binder.after_work import allowed_words
from audit.binder.blank_forms.about import FormSubject
from audit.binder.blank_forms.values import FormEntry, FormTable, blank, said, tick
from audit.binder.blank_forms.worked_on import tests_by_component
from audit.binder.due import lot_words
from audit.binder.sections import Column, Paragraph
from audit.binder.written_on_paper import NO_RECORD, dated, day, days, first_upper, labelled, lines, number
from audit.facts import PartFact, PlanLineFact, PositionFact, ReadingFact, in_order, newest
from audit.facts.names import test_title
from audit.judge.clocks.plan import fit_on, plan_lines
from audit.judge.judgement import Clock, DueKind, Finding, Severity, State
from audit.regimes.components import components

LOOK_AHEAD = 60  # days: what falls due before the next visit is brought along; common practice, no source
DECISIONS = ("leave", "clean", "adjust", "repair kit", "replace", "part awaited", "condemn")
OUTCOMES = ("done", "not due", "deferred", "not possible", "not applicable", "not done")
_CLASSES = (("A", "routine"), ("B", "significant"), ("C", "major"))
_MOST_ITEMS = 6
# Said with the due item or the position itself.
_SAID_ELSEWHERE = frozenset({"plan-overdue", "no-evidence", "duty-overdue", "unknown-fit", "missing-part"})


def _items(about: FormSubject) -> list[Finding]:
    weighty = (Severity.FORBIDS, Severity.PUT_RIGHT)
    return [f for f in about.judged.findings if f.severity in weighty and f.rule not in _SAID_ELSEWHERE]


def open_items(about: FormSubject) -> FormTable | None:
    found = _items(about)
    if not found:
        return None
    columns = (Column("Open item on record", 70), Column("What was done about it", 30))
    rows = tuple(
        (said(lines(first_upper(dated(f.message)), f"To put right: {dated(f.way_out)}")), FormEntry())
        for f in found[:_MOST_ITEMS]
    )
    rest = len(found) - _MOST_ITEMS
    return FormTable("Open items", columns, rows, note=f"{rest} more in the records." if rest > 0 else "")


def _plan_clocks(about: FormSubject) -> list[tuple[Clock, PlanLineFact]]:
    """The due items of the plan with their lines, worst first as judged."""
    held = {line.code: line for line in plan_lines(about.unit, about.as_of)}
    found = ((clock, held.get(clock.code)) for clock in about.judged.clocks if clock.kind is DueKind.PLAN)
    return [(clock, line) for clock, line in found if line is not None]


def due_tasks(about: FormSubject) -> list[tuple[Clock, PlanLineFact]]:
    """What is due at the visit, or within `LOOK_AHEAD` days after it, both ends inclusive."""
    last = about.asked_on + timedelta(days=LOOK_AHEAD)
    return [(clock, line) for clock, line in _plan_clocks(about) if about.due_by(clock, last)]


def _position(about: FormSubject, origin: str) -> PositionFact | None:
    return next((p for p in about.unit.positions if p.row.origin == origin), None)


def _task(about: FormSubject, clock: Clock, line: PlanLineFact) -> FormEntry:
    last = dated(clock.counts_from.text) if clock.counts_from else f"last done: {NO_RECORD}"
    late = clock.days_overdue(about.as_of)
    due = f"due {day(clock.due_on)}" if clock.due_on else "no day to compute"
    due += " (projected from counters)" if clock.projected else ""
    rule = labelled("Condition", line.rule) or "Condition: by the maker's instructions"
    return FormEntry(
        printed=lines(
            clock.title,
            f"{last}; {due}" + (f", overdue by {days(late)}" if late else ""),
            dated(clock.note),
            rule,
            f"{clock.rule}. {line.source}{', ' + line.edition if line.edition else ''}",
        ),
        strong=True,
    )


def tasks(about: FormSubject) -> FormTable:
    columns = (
        Column("Task", 31),
        Column("Condition", 9),
        Column("Decision", 20),
        Column("Outcome", 24),
        Column("Found; why; until when, who agreed", 16),
    )
    marks = (tick("0", "1", "2", "3"), tick(*DECISIONS), tick(*OUTCOMES), FormEntry())
    rows = [(_task(about, clock, line), *marks) for clock, line in due_tasks(about)]
    note = (
        "Condition: 0 as new, 1 worn, 2 at its limit, 3 failed. Look and measure before anything is cleaned or "
        "adjusted. Postponing needs who decided, why and until when."
    )
    own = (FormEntry(hint="a task that is not on the plan: what, where"), *marks)
    return FormTable("Due tasks", columns, (*rows, own), note=note)


def not_due(about: FormSubject) -> tuple[Paragraph, ...]:
    due = {clock.code for clock, _ in due_tasks(about)}
    rest = [c for c, _ in _plan_clocks(about) if c.code not in due and c.state is not State.NOT_APPLICABLE]
    if not rest:
        return ()
    told = "; ".join(f"{c.title} ({day(c.due_on, 'no day')})" for c in rest)
    return (Paragraph(f"Not due within {LOOK_AHEAD} days: {told}.", "small"),)


def fits(about: FormSubject) -> FormTable | None:
    """Positions of which nobody has said whether they are fitted, or where a part is missing."""
    states = [(p, fit_on(about.unit, p.row.origin, about.as_of)) for p in about.unit.positions]
    open_ones = [(p, state) for p, state in states if state in ("unknown", "missing")]
    if not open_ones:
        return None
    columns = (Column("To be settled: is it fitted?", 40), Column("On record", 15), Column("Seen", 45))
    seen = tick("fitted", "none on this version", "should be there, is missing")
    rows = tuple((said(p.name), said(state), seen) for p, state in open_ones)
    return FormTable("", columns, rows)


def last_readings(about: FormSubject) -> list[ReadingFact]:
    """The newest reading of each quantity and point, in the order they were first taken."""
    found: dict[tuple[str, str], ReadingFact] = {}
    for job in in_order(about.unit.jobs):
        for reading in in_order(job.readings):
            found[reading.quantity, reading.point] = reading
    return list(found.values())


def _reading_row(reading: ReadingFact) -> tuple[FormEntry, ...]:
    value = reading.as_found if reading.as_left is None else reading.as_left
    last = f"{number(value)} {reading.unit_of_measure}, {day(reading.row.happened_on)}"
    return (
        said(lines(reading.quantity, reading.point)),
        said(last),
        said(lines(allowed_words(reading), reading.limit_source)),
        FormEntry(hint=reading.unit_of_measure),
        FormEntry(hint=reading.unit_of_measure),
        FormEntry(),
    )


def readings(about: FormSubject) -> FormTable:
    columns = (
        Column("Quantity, point", 21),
        Column("Last on record", 18),
        Column("Limits and source", 22),
        Column("As found", 11),
        Column("As left", 11),
        Column("Instrument, calibration due", 17),
    )
    rows = (*(_reading_row(r) for r in last_readings(about)), blank(6))
    note = (
        "A limit needs its source and edition, a value its unit. As found comes before any adjustment. Where as left "
        "is taken with another instrument, write both."
    )
    return FormTable("Readings as found and as left", columns, rows, note=note)


def fitted_at(about: FormSubject, origin: str) -> PartFact | None:
    """The part fitted last at a position, None where none is on record."""
    parts = (p for job in about.unit.jobs for p in job.parts if p.position == origin)
    return newest(parts, lambda p: p.row.happened_on)


def _fitted_words(part: PartFact | None) -> str:
    if part is None:
        return "no part on record"
    expiry = f"expires {day(part.expiry)}" if part.expiry else ""
    return lines(
        f"{part.name} {part.number}".strip(), lot_words(part), expiry, f"{part.action} {day(part.row.happened_on)}"
    )


def _part_row(about: FormSubject, origin: str) -> tuple[FormEntry, ...]:
    position = _position(about, origin)
    name = position.name if position else "position"
    printed = lines(name, _fitted_words(fitted_at(about, origin)))
    return (FormEntry(printed=printed, strong=True), *_part_blanks())


def _part_blanks() -> tuple[FormEntry, ...]:
    return (
        FormEntry(hint="name, number as printed"),
        FormEntry(hint="or not printed, unreadable; own receipt lot"),
        FormEntry(),
        FormEntry(),
        tick("scrapped", "kept", "returned", "none fitted"),
    )


def parts(about: FormSubject) -> FormTable:
    columns = (
        Column("Position, part on it now", 26),
        Column("New part", 20),
        Column("Lot as printed", 17),
        Column("Expires", 9),
        Column("Qty", 6),
        Column("Old part", 22),
    )
    origins = dict.fromkeys(
        line.position for _, line in due_tasks(about) if line.action == "replace" and line.position
    )
    rows = (
        *(_part_row(about, origin) for origin in origins),
        (FormEntry(hint="position"), *_part_blanks()),
    )
    note = "Of a kit each part has its own line: fitted, old one kept, left out on purpose, or not in the bag."
    return FormTable("Parts and lots", columns, rows, note=note)


def asked_after(about: FormSubject) -> dict[str, str]:
    """The tests before return to service, in order, each with the repair classes after which the rules ask it.

    Those that work on a component asks, or the lifting of a finding on it, have their place beside them.
    """
    dynamic = about.unit.equipment_type == "dynamic air removal"
    asked: dict[str, list[str]] = {}
    advised: dict[str, list[str]] = {}
    for letter, name in _CLASSES:
        held = about.regime.verification_set(letter)
        for code in (*held.tests, *(held.dynamic if dynamic else ())):
            asked.setdefault(code, []).append(name)
        for code in held.recommended:
            advised.setdefault(code, []).append(name)
    of_parts = {code for codes in tests_by_component(about) for code in codes}
    of_parts |= {code for component in components().values() for code in component.lifts}
    codes = sorted(asked.keys() | advised.keys() | of_parts, key=lambda code: int(code[1:]))
    return {
        c: lines(
            ", ".join(asked.get(c, ())),
            labelled("recommended", ", ".join(advised.get(c, ()))),
            "by what was worked on" if c in of_parts else "",
        )
        for c in codes
    }


def _requalification(about: FormSubject) -> str:
    rule = about.regime.requalification
    words = f"After major work also {rule.biological} spore tests in a row without growth"
    words += ", for each cycle type in use" if rule.each_cycle_type else ""
    words += f", chamber {rule.chamber}" if rule.chamber != "any" else ""
    if rule.air_removal and about.unit.equipment_type == "dynamic air removal":
        words += f", and {rule.air_removal} air-removal tests in a row"
    return f"{words} ({rule.source})."


def tests(about: FormSubject) -> FormTable:
    columns = (
        Column("Test", 27),
        Column("Asked after this class of work", 23),
        Column("Result", 23),
        Column("Value, reason", 16),
        Column("Cycle number", 11),
    )
    results = tick("pass", "fail", "not done", "not applicable")
    rows = tuple(
        (said(test_title(c)), said(after), results, FormEntry(), FormEntry())
        for c, after in asked_after(about).items()
    )
    note = f"{_requalification(about)} The class follows from what was done; it may be raised, never lowered."
    return FormTable("Tests before return to service", columns, rows, note=note)
