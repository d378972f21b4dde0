"""The sheets of the place's own people: one day, one week. What the rules ask stands in them, results never."""

from __future__ import annotations

from datetime import date, timedelta

from audit.binder.blank_forms.about import LINE, FormSubject, copied, head, outranked, page_name, when_it_fails
from audit.binder.blank_forms.tests_to_do import (
    EACH_DAY,
    WHY_NOTE,
    WHY_RUN,
    check_lines,
    check_table,
    cycle_types,
    each_day,
    load_table,
    rarer,
    reading_table,
    spore_boxes,
    spore_duty,
    spore_table,
    what,
)
from audit.binder.blank_forms.values import Boxes, FormBlock, FormEntry, FormTable, PaperForm, tick
from audit.binder.sections import Column, Paragraph
from audit.binder.written_on_paper import day, days, month_name, span, unit_title
from audit.judge.clocks.calendar_weeks import Weeks
from audit.judge.judgement import DueKind, State
from records.wording import PURPOSES, WEEKDAYS

DAY_SHEET, WEEK_SHEET = "Day sheet", "Week sheet"
_DAY_LOADS, _WEEK_LOADS = 16, 14  # at least; they fill the last page


_ON_A_DAY = FormEntry(ticks=("pass", "fail"), hint="initials", stacked=True, room=True)


def _week(about: FormSubject) -> tuple[date, date]:
    """The clinic's week that holds the day of the form, both ends inclusive."""
    return Weeks.of(about.facts.terms).holding(about.asked_on)


def _plan_due(about: FormSubject, last: date) -> tuple[Paragraph, ...]:
    """What falls due of the maintenance plan by that day, inclusive: known here, done by the service company."""
    due = [c for c in about.judged.clocks if c.kind is DueKind.PLAN and about.due_by(c, last)]
    if not due:
        return ()
    told = "; ".join(f"{c.title} ({_due_words(about, c)})" for c in due)
    return (Paragraph(f"Due from the maintenance plan, to be told to the service company: {told}.", "small"),)


def _due_words(about: FormSubject, clock) -> str:
    if clock.state is State.NO_EVIDENCE or clock.due_on is None:
        return "no record found of when it was last done"
    late = clock.days_overdue(about.as_of)
    return f"due {day(clock.due_on)}" + (f", overdue by {days(late)}" if late else "")


def _remarks(what_for: str, tall: float) -> Boxes:
    return Boxes("", ((FormEntry(what_for),),), tall=tall)


def _closed_by(what_is: str) -> Boxes:
    return Boxes(
        "",
        (
            (
                FormEntry(what_is, weight=1.6),
                FormEntry("Role"),
                FormEntry("Signature", weight=1.4),
                FormEntry("Day, time"),
            ),
        ),
    )


def day_sheet(about: FormSubject) -> PaperForm:
    """The sheet of one day: tests and checks of each day of use, what else is due by then, loads, first steps."""
    on = day(about.on) if about.on else LINE
    page = page_name(DAY_SHEET, about, on)
    _, last = _week(about)
    checks = [*each_day(about), *(d for d in rarer(about) if about.due_by(about.clock_of(d), last))]
    blocks: list[FormBlock] = [
        head(about, FormEntry("Day", day(about.on) if about.on else "", strong=True, weight=20)),
        outranked(about),
        *_plan_due(about, about.asked_on),
        check_table(about, checks, others=1),
    ]
    reading = reading_table(about)
    if reading:
        blocks.append(reading)
    blocks += [*_spore_of_day(about, last), *when_it_fails(about)]
    blocks += [
        load_table(about, _DAY_LOADS),
        _remarks("Remarks: what was not done and why; what was seen; who was told", 18.0),
        _closed_by("Day closed, everything above done or explained: name"),
        *copied(about, page),
    ]
    return PaperForm(
        f"day-{about.unit.ref}", f"{DAY_SHEET}: {unit_title(about.unit.label)}", about.unit.label, page, tuple(blocks)
    )


def _spore_of_day(about: FormSubject, last: date) -> list[FormBlock]:
    """Places for spore tests: for each cycle type where each day of use asks one, else while the week lacks it."""
    duty = spore_duty(about)
    if duty is None:
        return []
    if duty.every in EACH_DAY:
        return [spore_table(about, duty, max(len(cycle_types(about)), 1))]
    return [spore_boxes(about, duty)] if about.due_by(about.clock_of(duty), last) else []


def _spore_of_week(about: FormSubject) -> list[FormBlock]:
    duty = spore_duty(about)
    if duty is None:
        return []
    return [spore_table(about, duty, 7) if duty.every in EACH_DAY else spore_boxes(about, duty)]


def _closed_on(about: FormSubject, on: date) -> str:
    """Why nothing is asked on a day: a closure on record of the place or the unit; "" otherwise."""
    held = (c for c in about.facts.closures if c.from_on <= on <= c.to_on and c.unit in ("", about.unit.ref))
    found = next(held, None)
    return f"closed: {found.why}" if found else ""


def _on_each_day(about: FormSubject, week: list[date]) -> FormTable:
    """A line for each test or check of each day of use, a place for each day of the week."""
    columns = (Column("Each day of use", 30), *(Column(_day_title(about, each), 10) for each in week))
    cells = [_day_cell(about, each) for each in week]
    lines = [(line[0], *cells) for line in check_lines(about, each_day(about))]
    cycles = tuple(_plain_cell(about, each) for each in week)
    rows = (
        *lines,
        (FormEntry(printed="Number of cycles, last cycle number"), *cycles),
        (FormEntry(printed="Seen in order before use, initials"), *cycles),
    )
    note = (
        "Not used on a day: write “not used” into its place. A value or a failure is written out under remarks, and "
        f"so is a test that was not routine, with its cycle number and why it was run: {', '.join(PURPOSES[1:])}."
    )
    return FormTable("Day by day", columns, rows, 7.0, note)


def _day_title(about: FormSubject, on: date) -> str:
    named = WEEKDAYS[on.weekday()][:3]
    return f"{named} {on.day} {month_name(on)}" if about.on else named


def _day_cell(about: FormSubject, on: date) -> FormEntry:
    closed = _closed_on(about, on) if about.on else ""
    return FormEntry(printed=closed, shaded=True) if closed else _ON_A_DAY


def _plain_cell(about: FormSubject, on: date) -> FormEntry:
    closed = _closed_on(about, on) if about.on else ""
    return FormEntry(shaded=True) if closed else FormEntry()


def _rare_table(about: FormSubject) -> FormTable | None:
    """Tests and checks asked less often, with the day of each and when it is due."""
    duties = rarer(about)
    if not duties:
        return None
    columns = (
        Column("Less often", 29),
        Column("Due", 13),
        Column("Day, cycle", 12),
        Column("Why it was run", 13),
        Column("Value", 13),
        Column("Result", 11),
        Column("Signature", 11),
    )
    results = tick("pass", "fail", "not done", stacked=True)
    rows = tuple(
        (what(about, d), _due_entry(about, d), FormEntry(), WHY_RUN, FormEntry(), results, FormEntry())
        for d in duties
    )
    return FormTable("Tests and checks asked less often", columns, rows, note=WHY_NOTE)


def _due_entry(about: FormSubject, duty) -> FormEntry:
    clock = about.clock_of(duty)
    text = "not asked now" if clock is None or clock.state is State.NOT_APPLICABLE else _due_words(about, clock)
    return FormEntry(printed=text)


def week_sheet(about: FormSubject) -> PaperForm:
    """The sheet of one week of the clinic: each day of use, the spore test, what is asked less often, loads."""
    first, last = _week(about)
    week = [first + timedelta(days=n) for n in range(7)]
    named = span(first, last) if about.on else ""
    page = page_name(WEEK_SHEET, about, named or f"week from {LINE}")
    blocks: list[FormBlock] = [
        head(about, FormEntry("Week", named, strong=True, weight=24)),
        outranked(about),
        *_plan_due(about, last),
        _on_each_day(about, week),
    ]
    for block in (_rare_table(about), reading_table(about)):
        if block:
            blocks.append(block)
    blocks += [*_spore_of_week(about), *when_it_fails(about)]
    blocks += [
        load_table(about, _WEEK_LOADS, tuple(week)),
        _remarks("Remarks: what was not done and why; values; what was seen; who was told", 18.0),
        _closed_by("Week closed, everything above done or explained: name"),
        *copied(about, page),
    ]
    return PaperForm(
        f"week-{about.unit.ref}",
        f"{WEEK_SHEET}: {unit_title(about.unit.label)}",
        about.unit.label,
        page,
        tuple(blocks),
    )
