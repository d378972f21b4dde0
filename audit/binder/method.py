"""How each figure came about, from which source, and what this binder is not."""

from __future__ import annotations

from audit.binder.cover import CAUTIONS
from audit.binder.rules_followed import memory_section, practice_section, rules_section
from audit.binder.scope import Scope
from audit.binder.sections import Cautions, Cell, KeyValues, Section
from audit.binder.service import SERVICING_FIELDS
from audit.binder.written_on_paper import day, moment, span
from records.wording import (
    AT_THE_LIMIT,
    CLOSED_NOT_DUE,
    COUNTED_FROM,
    FAILED_AT_GROWTH,
    GAP_EXCUSES_NOTHING,
    GAP_IS_MISSING,
    LATE_ENTRY,
    LEAK_RATE,
    REPAIR_CLASS,
    SETTLED_BY_DECISION,
    WEEK_OF_TEST,
    WEEK_START,
)

_FIELDS_OF_SERVICE = "; ".join(f"{field}: {where}" for field, where in SERVICING_FIELDS)
_FIGURES = (
    (
        "Standing",
        "The first of the ordered rules R1 to R11 that is met, on the day of the answer. Each names its reason, "
        "the rows it rests on, who can lift it, and the first day on which it changes though nothing new is "
        "logged.",
    ),
    (
        "Due on, overdue by",
        f"{COUNTED_FROM} The due day is the first day on which "
        "it is due; overdue by one day is the first day after the last allowed day. A day projected from "
        "counters says so.",
    ),
    (
        "Weeks",
        f"A week belongs to the strip when any of its days lies in the period. {WEEK_OF_TEST} {WEEK_START} Of a week "
        "without a test it is said what the duty to test asked then, by the rules that held then.",
    ),
    (
        "Known gaps",
        f"{GAP_IS_MISSING} A known gap is named "
        "beside an answer when the answer rests on it or says that days within it are missing, and wherever the "
        f"record of those days would stand. {GAP_EXCUSES_NOTHING}",
    ),
    (
        "Spore tests",
        FAILED_AT_GROWTH,
    ),
    (
        "Failures",
        "A failure is listed when it was open on any day of the period; its steps are replayed from what was "
        "logged. The loads affected are those after the last good proof, up to the last day of the window.",
    ),
    (
        "How the duties were kept",
        "For each duty, what was due between the two days named, both included: met, met late, missed, invalid or "
        f"awaited. {CLOSED_NOT_DUE} A test that "
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
        "supply it, and who accepted that. The pages are those on which the newest evidence stands.",
    ),
    (
        "Loads affected",
        "What a trigger puts in doubt: everything on the unit between the last good proof and the trigger. What lies "
        f"near that window and is left out is listed with the reason. {SETTLED_BY_DECISION}",
    ),
    (
        "Lists of tests and checks",
        "One line a test. What is the same of most is said once above; a test that failed, did not count or differs "
        "is told in full before the lines, a way of testing that several share has a letter. The calendar counts by "
        "month those that passed of those that were done.",
    ),
    (
        "Servicing record",
        f"A visit holds the fields of 21 CFR 820.35(b) (2026): {_FIELDS_OF_SERVICE}. The rule binds makers of "
        "devices; for an independent servicer the same fields are good practice.",
    ),
    (
        "Repair class",
        f"{REPAIR_CLASS} Where what was worked on asks a graver one, that one counts, and both are told.",
    ),
    (
        "Air leakage",
        LEAK_RATE,
    ),
    (
        "Record numbers",
        "The number of the entry in the ledger, and after a point the line where it is not the first. The newest "
        "version of a row is named; the one it corrects is under corrections.",
    ),
    (
        "Corrections",
        "Listed when the day they are about, or the clinic's day on which they were made, lies in the period.",
    ),
    (
        "Late entries",
        f"{LATE_ENTRY} Many late entries of "
        "a month that are alike, and entries copied from one page, share a row with their number.",
    ),
    (
        "Readings outside their limits",
        AT_THE_LIMIT,
    ),
    (
        "People",
        "Counted by the name as it was written in each record; a credential is theirs when it is filed under the "
        "same name.",
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


def method_sections(scope: Scope) -> tuple[Section, ...]:
    """How each figure comes about, the cautions in full, and the sources."""
    figures = KeyValues("", tuple((name, Cell(text)) for name, text in _FIGURES))
    return (
        Section("method", "Method", 1, (_limits(scope),), flows=True),
        Section("method-figures", "How each figure is computed", 2, (figures,)),
        Section(
            "method-not",
            "What this binder is not",
            2,
            (Cautions("It is not", _NOT), Cautions("Cautions", CAUTIONS)),
        ),
        rules_section(scope),
        *practice_section(scope),
        *memory_section(scope),
    )
