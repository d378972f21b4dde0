"""The rules behind the answers of a binder: where each stands, and which of them somebody has yet to confirm."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, KeyValues, Paragraph, RulesFollowed, Section, Table
from audit.binder.written_on_paper import dated, day, first_upper, lines, span
from audit.regimes import all_regimes
from audit.regimes.held import in_brackets
from audit.regimes.places import nearness, texts_of
from audit.regimes.source import CAUTIOUS, MEMORY, PRACTICE, Source

_WEAKNESS = ("", "read", "quoted", PRACTICE, CAUTIOUS, MEMORY)  # what a source can be graded, the best first
_GRADES = {"": "not stated", "read": "read in the original"}
_NO_TEXT = {PRACTICE: "a rule of the trade: no text asks it", CAUTIOUS: "the text was read and is silent"}


def _cited(scope: Scope) -> Iterator[tuple[str, Source]]:
    """Every rule an answer of this binder rests on, in words, with its source, in the order of use."""
    judgement = scope.judgement
    for source in judgement.regime_sources:
        yield "", source
    for finding in judgement.findings:
        yield from _of_finding(finding)
    yield from _of_clocks(judgement.clocks)
    for unit in scope.units:
        if unit.judgement is None:
            continue
        said = unit.judgement
        if said.standing.source:
            yield f"standing, {said.standing.rule}", said.standing.source
        yield from _of_clocks(said.clocks)
        for finding in said.findings:
            yield from _of_finding(finding)
        for case in said.cases:
            for step in case.steps:
                yield f"after a failure: {step.title}", step.source
        for each in unit.coverage:
            yield f"{each.title}: {each.rule}", each.source
        for back in said.look_backs:
            if back.source:
                yield f"loads affected, {back.kind}: {back.asked}".rstrip(": "), back.source
    for answer in judgement.answers:
        yield f"question: {answer.question}", answer.source


def _of_finding(finding) -> Iterator[tuple[str, Source]]:
    if finding.source:
        yield f"open item: {finding.rule.replace('-', ' ')}", finding.source


def _of_clocks(clocks) -> Iterator[tuple[str, Source]]:
    for clock in clocks:
        yield f"{clock.title}: {clock.rule}", clock.source


def _sources_table(scope: Scope) -> Table:
    """Each source once, the place's own first, then what belongs to no place, then what is followed as method."""
    columns = (Column("Source", 352, names=True), Column("Followed as method from", 76), Column("Grade", 82))
    places = scope.places
    found: dict[str, list[Source]] = {}
    for _, source in _cited(scope):
        if source.citation:
            found.setdefault(source.citation, []).append(source)
    rows = tuple(_source_row(said, places) for said in sorted(found.values(), key=_by_nearness(places)))
    return Table(
        "Sources behind the answers", columns, rows, "Sources behind the answers: none named.", ruled=(), tight=True
    )


def _by_nearness(places: tuple[str, ...] | None):
    """What to sort sources by: by the nearest of the texts that each cites, else in the order of use."""
    return lambda said: min(nearness(text, places) for text in texts_of(said[0].citation)) if places else 0


def _source_row(said: list[Source], places: tuple[str, ...] | None) -> tuple[Cell, ...]:
    """One source as the rules that cite it give it, with the weakest of its grades."""
    grade = max((source.grade for source in said), key=_WEAKNESS.index)
    return (
        Cell(said[0].citation),
        Cell(_whose(said[0], places)),
        Cell(_GRADES.get(grade, grade), strong=grade == MEMORY),
    )


def _whose(source: Source, places: tuple[str, ...] | None) -> str:
    """Of which other places its texts are; "" where all of them are the place's own, or of no place."""
    named = dict.fromkeys(text.place for text in texts_of(source.citation) if text.place) if source.grade else {}
    return ", ".join(place for place in named if places is not None and place not in places)


def _followed_table(scope: Scope) -> Table:
    """Which rules held on which days of the period, in which edition."""
    columns = (
        Column("From, to", 28),
        Column("Rules", 32),
        Column("Edition", 40),
        Column("In force since", 14),
    )
    rows = tuple(
        (
            Cell(span(each.first, each.last)),
            Cell(lines(each.title, each.id if each.id != each.title else "")),
            Cell(each.edition or "not on file"),
            Cell(_in_force(each)),
        )
        for each in scope.rules
    )
    return Table("Rules followed in the period", columns, rows, "Rules followed in the period: no record found.")


def _in_force(followed: RulesFollowed) -> str:
    """Since which day the edition is in force, with how well that day is known."""
    held = all_regimes().get(followed.id)
    grade = held.on(followed.last).valid_from_grade if held else ""
    return day(followed.valid_from, "not on file") + in_brackets(grade)


def _retention_table(scope: Scope) -> Table:
    """How long the rules of the day ask records to be kept."""
    columns = (Column("Record", 30), Column("How long it is kept", 44), Column("Source", 46))
    regime = all_regimes().get(scope.judgement.regime)
    rules = regime.on(scope.as_of).retention if regime else ()
    rows = tuple((Cell(first_upper(rule.what)), Cell(rule.words), Cell(str(rule.source))) for rule in rules)
    empty = "How long records are kept: these rules name no length, or are not on file."
    return Table("How long records are kept by these rules", columns, rows, empty)


def rules_section(scope: Scope) -> Section:
    judgement = scope.judgement
    pairs = (
        ("Rules of the day", Cell(judgement.regime_title or "none adopted on this day")),
        (
            "Edition, name",
            Cell(f"{judgement.regime_edition or 'not stated'}; in the records: {judgement.regime or 'none'}"),
        ),
    )
    tables = (_followed_table(scope), _retention_table(scope), _sources_table(scope))
    none = " ".join(table.empty for table in tables if not table.rows)
    told = (Paragraph(none, "small"),) if none else ()
    blocks = (KeyValues("", pairs), *(table for table in tables if table.rows), *told)
    return Section("method-rules", "Rules and sources", 2, blocks)


def _resting_on(scope: Scope, grades: Collection[str]) -> Iterator[tuple[Source, Cell]]:
    """Each source of these grades, with all rules in use that rest on it."""
    rules: dict[Source, dict[str, None]] = {}
    for rule, source in _cited(scope):
        if source.grade in grades:
            rules.setdefault(source, {})[rule] = None
    for source, used in rules.items():
        yield source, Cell(lines(*(first_upper(dated(rule)) for rule in used if rule)) or "These rules as a whole")


def practice_section(scope: Scope) -> tuple[Section, ...]:
    """Every rule in use that no text asks: of the trade, or the cautious reading of silence; nothing without any."""
    columns = (Column("Rule", 62), Column("Rests on", 46), Column("Why", 30))
    rows = tuple(
        (used, Cell(source.citation), Cell(_NO_TEXT[source.grade])) for source, used in _resting_on(scope, _NO_TEXT)
    )
    intro = Paragraph("No text that was found asks these. They are kept: without them more is permitted.", "small")
    table = Table("Rules that no text asks", columns, rows)
    return (Section("method-practice", "Rules of the trade", 2, (intro, table)),) if rows else ()


def memory_section(scope: Scope) -> tuple[Section, ...]:
    """Every rule in use of which the source was written down from memory; nothing where there is none."""
    columns = (Column("Rule", 62), Column("Said to stand in", 46))
    rows = tuple((used, Cell(source.citation or "no source named")) for source, used in _resting_on(scope, (MEMORY,)))
    intro = Paragraph(
        "These were written down from memory and have not been compared with the text they are said to stand in. "
        "Confirm each with the text, or with whoever inspects, before relying on it.",
        "small",
    )
    table = Table("Rules to be confirmed", columns, rows)
    return (Section("method-memory", "Rules from memory, to be confirmed", 2, (intro, table)),) if rows else ()
