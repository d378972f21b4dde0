"""The first page: whose place, may each sterilizer be used, what is open, who answers for it, where the rest is."""

from __future__ import annotations

from collections.abc import Sequence

from audit.binder import heights
from audit.binder.glance import answer_words, sterilizers
from audit.binder.named_units import units_words
from audit.binder.open_on_first_page import first_page_table
from audit.binder.responsible import evidence_begins, who_answers
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Beside, Cell, Column, Masthead, Paragraph, Section, Table
from audit.binder.written_on_paper import day, moment
from audit.judge.judgement import Word

TITLE = "Sterilizer maintenance and monitoring record"
COVER, SECOND = "cover", "cover-continued"

# Cautions of the trade: pressure and stored heat, 29 CFR 1910.147(a)(1)(i) for stored energy and
# 29 CFR 1910.1030(d)(2)(xiv) for contaminated equipment; scald and mains are common practice, no source.
CAUTIONS = (
    "Pressure: never open a door or a fitting until the chamber is at zero pressure and has cooled; never "
    "bypass an interlock.",
    "Scald: steam, hot water in reservoir and lines, and hot surfaces burn; open slowly, face aside, gloves "
    "and eye protection on.",
    "Mains: pull the plug and keep it in your hand before a cover comes off; let stored energy drain first.",
    "Infection: treat chamber, drain filter and waste water as contaminated until shown otherwise; mind sharps.",
    "Local codes, the maker's instructions and licensed practice outrank everything in this binder.",
)
SHORT_CAUTION = (
    "Caution. Steam under pressure, scalding water, mains and infection can hurt or kill: zero pressure and cool "
    "before opening, unplug before a cover comes off, treat as contaminated. Local codes, the maker's instructions "
    "and licensed practice outrank everything here."
)

_LEAST = 60.0  # points for what is open; where less is left, what comes after it goes to a second page
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def open_findings(scope: Scope) -> list:
    """Every open item of the clinic and its units."""
    return [*scope.judgement.findings, *(f for unit in scope.judgement.units for f in unit.findings)]


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def in_a_sentence(scope: Scope) -> str:
    """The answer for all units in one sentence, by the words of their table."""
    if not scope.units:
        return "No sterilizer is on record here: nothing may be used on the strength of this record."
    groups: dict[str, list[UnitScope]] = {"Yes": [], "No": [], "Not yet": []}
    for unit in scope.units:
        groups[answer_words(unit)[1]].append(unit)
    count, yes = len(scope.units), len(groups["Yes"])
    if count == 1:
        word = {"Yes": "may be used", "No": "may not be used", "Not yet": "may not be used yet"}
        return f"The one sterilizer {word[answer_words(scope.units[0])[1]]}{_but(groups['Yes'], alone=True)}."
    if yes == count:
        first = "Both sterilizers" if count == 2 else f"All {_number(count)} sterilizers"
        return f"{first} may be used today{_but(groups['Yes'])}."
    first = f"{_number(yes).capitalize()} of the {_number(count)} sterilizers may be used today"
    if not yes:
        first = "No sterilizer may be used today"
    told = [
        f"{units_words([unit.label for unit in groups[word]])} {said}"
        for word, said in (("No", "may not"), ("Not yet", "not yet"))
        if groups[word]
    ]
    return f"{first}{_but(groups['Yes'])}; {', '.join(told)}."


def _but(units: list[UnitScope], *, alone: bool = False) -> str:
    """Which of the units that may be used are so within limits or overdue; "" for none."""
    told = []
    for word, said in ((Word.LIMITED, "within limits"), (Word.OVERDUE, "with something overdue")):
        names = [unit.label for unit in units if unit.judgement and unit.judgement.standing.word is word]
        if names:
            told.append(said if alone else f"{units_words(names)} {said}")
    return f", {', '.join(told)}" if told else ""


def _rules(scope: Scope) -> str:
    judgement = scope.judgement
    if not judgement.regime:
        return "Rules followed: none adopted on this day."
    return f"Rules followed: {judgement.regime_title} (page {{method-rules}})."


def _masthead(scope: Scope) -> Masthead:
    terms = scope.facts.terms_on(scope.as_of)
    address = terms.address if terms and terms.address else "Address: none on record"
    known = scope.facts.known_at
    box = [("Answers", f"as of {day(scope.as_of)}")]
    if known:
        box.append(("Known", f"what was logged up to {moment(known)}"))
    if scope.sealing:
        box.append(("Sealed", f"{day(scope.facts.day_of(scope.sealing.at))}, by {scope.sealing.by}"))
        box.append(("Check it", "page {seal}"))
    else:
        box.append(("Sealed", "not sealed: page {seal}"))
    what = f"{terms.programme[:1].upper()}{terms.programme[1:]}. " if terms else ""
    return Masthead(scope.name, (f"{address}. {what}{_rules(scope)}",), tuple(box))


def where_to_find(chapters: Sequence[tuple[str, str]]) -> Table:
    """(title, section) of the chapters in three columns, read downwards, each with its page."""
    deep = -(-len(chapters) // 3)
    columns = (Column("Chapter", 128), Column("Page", 30, "right")) * 3
    rows = []
    for n in range(deep):
        cells: list[Cell] = []
        for at in (n, n + deep, n + 2 * deep):
            title, to = chapters[at] if at < len(chapters) else ("", "")
            cells += [Cell(title, to=to), Cell("", to=to, page="" if to else None)]
        rows.append(tuple(cells))
    return Table("Where to find it", columns, tuple(rows), ruled=())


def cover(scope: Scope, chapters: Sequence[tuple[str, str]]) -> tuple[Section, ...]:
    """The first page, and a second one where the units are too many for all of it."""
    people = (who_answers(scope), evidence_begins(scope))
    where = where_to_find(chapters)
    first = (_masthead(scope), Paragraph(in_a_sentence(scope), "lead"), sterilizers(scope))
    caution = Paragraph(SHORT_CAUTION, bold=("Caution.",))
    room = heights.PAGE - sum(map(heights.of, (*first, caution))) - heights.HEAD
    after = max(map(heights.of, people)) + heights.of(where)
    one = room - after >= _LEAST
    opened = first_page_table(scope, room - after if one else room)
    rest = (Beside(people[:1], people[1:]), where)
    if one:
        return (Section(COVER, "First page", 1, (*first, opened, *rest, caution)),)
    return (
        Section(COVER, "First page", 1, (*first, opened, caution)),
        Section(SECOND, "First page, continued", 1, rest),
    )
