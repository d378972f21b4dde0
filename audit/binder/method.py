"""How each figure came about, from which source, and what this binder is not."""

from __future__ import annotations

from audit.binder.cover import CAUTIONS
from audit.binder.scope import Scope
from audit.binder.sections import Cautions, Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.words import day, moment, span
from audit.judgement import Source

_FIGURES = (
    (
        "Standing",
        "The first of the ordered rules R1 to R11 that is met, on the day of the answer. Each names its reason, "
        "the rows it rests on, who can lift it, and the first day on which it changes though nothing new is "
        "logged.",
    ),
    (
        "Due on, overdue by",
        "Counted from the newest row that counts, by the rule beside it. The due day is the first day on which "
        "it is due; overdue by one day is the first day after the last allowed day. A day projected from "
        "counters says so.",
    ),
    (
        "Weeks",
        "A week belongs to the strip when any of its days lies in the period. A test counts for the week in "
        "which its cycle ran. The week starts on the day the clinic states.",
    ),
    (
        "Spore tests",
        "A test is failed at growth, whatever its control did; it is invalid, neither passed nor failed, when "
        "its control did not grow or its label was not followed. An invalid test leaves the duty open.",
    ),
    (
        "Failures",
        "A failure is listed when it was open on any day of the period; its steps are replayed from what was "
        "logged. Its look-back starts after the last good proof and ends with the last day of its window.",
    ),
    (
        "Repair class",
        "Routine, significant, major or do not use, as the servicer stated it on the job.",
    ),
    (
        "Air leakage",
        "The rise of pressure divided by the time, in kPa per minute, against the limit as it held that day.",
    ),
    (
        "Names of rows",
        "The first eight characters of a row's ref and, after #, the number of its entry in the ledger. The "
        "newest version of a row is named; the one it corrects is under corrections.",
    ),
    (
        "Corrections",
        "Listed when the day they are about, or the day they were made (UTC), lies in the period.",
    ),
)

_NOT = (
    "Not a certificate and not a permit; it does not replace the cycle record of each load.",
    'Not more than what was logged: what nobody logged it cannot show, and says "no record found".',
    "Not a judgement whether a single load was sterile.",
    "Not the last word: local codes, the maker's instructions and licensed practice outrank it.",
)


def _sources(scope: Scope) -> tuple[Source, ...]:
    """Every source an answer of this binder names: of the rules first, then in the order of use."""
    found = dict.fromkeys(scope.judgement.regime_sources)
    for finding in scope.judgement.findings:
        found[finding.source] = None
    for unit in scope.judgement.units:
        found[unit.standing.source] = None
        found.update(dict.fromkeys(clock.source for clock in unit.clocks))
        found.update(dict.fromkeys(finding.source for finding in unit.findings))
        found.update(dict.fromkeys(step.source for case in unit.cases for step in case.steps))
    return tuple(source for source in found if source is not None and source.citation)


def _rules(scope: Scope) -> Section:
    judgement = scope.judgement
    pairs = (
        ("Rules", Cell(judgement.regime_title or "none adopted on this day")),
        ("Edition", Cell(judgement.regime_edition or "not stated")),
        ("Name in the records", Cell(judgement.regime or "none")),
    )
    columns = (Column("Source", 60), Column("Checked on", 16), Column("Grade", 24))
    grades = {"": "not stated", "read": "read in the original"}
    rows = tuple(
        (
            Cell(source.citation),
            Cell(source.checked_on or "not stated"),
            Cell(grades.get(source.grade, source.grade), strong=source.grade not in ("", "read")),
        )
        for source in _sources(scope)
    )
    table = Table("Sources behind the answers", columns, rows, "Sources behind the answers: none named.")
    return Section("method-rules", "Rules we follow and their sources", 2, (KeyValues("", pairs), table))


def _limits(scope: Scope) -> KeyValues:
    known = scope.facts.known_at
    pairs = (
        (
            "Period",
            Cell(f"{span(scope.from_on, scope.to_on)}, both included. Histories hold only what happened in it."),
        ),
        (
            "As of",
            Cell(f"{day(scope.as_of)}: identity, standing, due items and open items are those of this day."),
        ),
        (
            "Known at",
            Cell(f"Only what was logged up to {moment(known)}." if known else "Everything logged when it was made."),
        ),
    )
    return KeyValues("Days", pairs)


def _ledgers(scope: Scope) -> Table:
    columns = (
        Column("Ledger of", 26),
        Column("Entries", 12, "right"),
        Column("Hash of the last entry (SHA-256)", 70),
    )
    rows = tuple((Cell(head.organisation), Cell(str(head.number)), Cell(head.hash)) for head in scope.facts.heads)
    return Table("Tamper check", columns, rows, "Tamper check: no ledger entry on record.")


def method_sections(scope: Scope) -> tuple[Section, ...]:
    figures = KeyValues("", tuple((name, Cell(text)) for name, text in _FIGURES))
    tamper = Paragraph(
        "Each entry of a ledger carries the hash of the one before. Whoever holds this page can have the "
        "entries counted and hashed again; a changed, removed or inserted entry gives another hash.",
        "small",
    )
    return (
        Section("method", "Method", 1, (_limits(scope), _ledgers(scope), tamper)),
        Section("method-figures", "How each figure is computed", 2, (figures,)),
        _rules(scope),
        Section(
            "method-not",
            "What this binder is not",
            2,
            (Cautions("It is not", _NOT), Cautions("Cautions", CAUTIONS)),
        ),
    )
