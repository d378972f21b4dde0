"""How each figure came about, from which source, and what this binder is not."""

from __future__ import annotations

from audit.binder.cover import CAUTIONS
from audit.binder.rules import memory_section, rules_section
from audit.binder.scope import Scope
from audit.binder.sections import Cautions, Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.words import day, moment, span

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
        "How the duties were kept",
        "For each duty, what was due between the two days named, both included: met, met late, missed, invalid or "
        "awaited. What the rules or a closure exempt was not due and is counted apart with its reason. A test that "
        "failed meets the duty to test. The longest gap is counted in days between two tests that count.",
    ),
    (
        "Rate of failures",
        "With n tests that count and none of them failed, the rate of failures per test is at most "
        "1 - 0.05^(1/n), the exact one-sided 95 % upper bound: 45 % after 5 tests, 5.6 % after 52, 2.8 % after 104. "
        "It says how little a few tests can show, not that the unit fails so often; it supposes that tests are alike "
        "and independent. Source: C. J. Clopper and E. S. Pearson, The use of confidence or fiducial limits "
        "illustrated in the case of the binomial, Biometrika 26 (1934), 404-413. Where a test failed no bound is "
        "stated.",
    ),
    (
        "Answers",
        "Each question is one that the rules, or those who inspect by them, ask; where it stands is its source. The "
        "answer rests on the rows named and no others. What is not on record is printed as missing, with who can "
        "supply it. The page is the first one on which the row is named in the section the answer leads to.",
    ),
    (
        "Look-backs",
        "What a trigger puts in doubt: everything on the unit between the last good proof and the trigger. What lies "
        "near that window and is left out is listed with the reason. A look-back is settled by a recorded decision.",
    ),
    (
        "User checks, loads",
        "Counted by month; a check or a load that failed, was not done or was rejected stands by itself. Days on "
        "which a check was not signed are named.",
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
        rules_section(scope),
        memory_section(scope),
        Section(
            "method-not",
            "What this binder is not",
            2,
            (Cautions("It is not", _NOT), Cautions("Cautions", CAUTIONS)),
        ),
    )
