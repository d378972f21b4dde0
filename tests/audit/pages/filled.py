"""A judgement with the parts filled that a small world leaves empty. Invented, value by value."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from audit.facts import in_order
from audit.judge import judgement as j
from audit.judge.evaluate import evaluate
from audit.pages import opened
from audit.regimes.source import Source

RULE = Source("Invented rule 4", "2026-02-01", "read")
MEMORY = Source("Invented rule 9", "", "from memory")


def answers(unit, tests) -> tuple[j.Answer, ...]:
    proof = tuple(j.Evidence(t.row.ref, f"spore test of {t.row.happened_on}") for t in tests)
    return (
        j.Answer("weekly", "Is every sterilizer tested at least weekly?", "in part", "2 of 3 weeks.", proof, "clinic",
                 RULE, unit.ref, "the week of 2026-03-02: the clinic may have a paper log"),
        j.Answer("insurance", "Is the pressure vessel insured?", "no record found", "No policy is on record.", (),
                 "insurer", MEMORY, gap="the policy: ask the insurer"),
        j.Answer("units", "How many units are there?", "yes", "1 unit is on record.",
                 (j.Evidence(unit.row.ref, "the unit"),), "clinic", RULE),
        j.Answer("two", "Are there two working units?", "not asked here", "", (), "clinic", RULE),
    )  # fmt: skip


def clocks() -> tuple[j.Clock, ...]:
    def clock(kind, code, title, state, subject, due=None):
        return j.Clock(kind, code, title, state, due, due, None, "at most 12 months apart", RULE, subject=subject)

    duty, credential = j.DueKind.DUTY, j.DueKind.CREDENTIAL
    return (
        clock(credential, "a", "Yearly training of A. User", j.State.OVERDUE, "training", date(2026, 3, 10)),
        clock(duty, "insurance", "Liability insurance", j.State.NO_EVIDENCE, "insurance"),
        clock(duty, "procedure", "Written procedure", j.State.OK, "procedure", date(2027, 1, 1)),
        clock(duty, "scheme", "Written scheme", j.State.NOT_APPLICABLE, "procedure"),
    )


def coverage(tests) -> tuple[j.Coverage, ...]:
    missed = tuple(
        j.Lapse(day, day + timedelta(days=6), "missed", "no test logged")
        for day in (date(2026, 1, 5), date(2026, 1, 12))
    )
    invalid = j.Lapse(date(2026, 2, 2), date(2026, 2, 8), "invalid", "control did not grow",
                      tuple(j.Evidence(t.row.ref, "spore test") for t in tests[:1]))  # fmt: skip
    return (
        j.Coverage(
            "biological-test", "Spore test", date(2024, 3, 17), date(2026, 3, 16), "once in each calendar week", RULE,
            due=100, met=96, met_late=1, missed=2, invalid=1, awaited=0, exempt=4,
            exempt_why=(("closed", 3), ("no patients", 1)), longest_gap=21,
            gap=(date(2026, 1, 1), date(2026, 1, 22)), tests=97, failed=0, bound=Decimal("0.0304"),
            words="Of 100 weeks 97 were met.", lapses=(*missed, invalid),
        ),
    )  # fmt: skip


def fill(monkeypatch) -> None:
    """Let the pages show these beside what the engine says."""

    def filled(facts, as_of):
        judgement = evaluate(facts, as_of)
        unit = facts.units[0]
        units = [replace(each, coverage=coverage(unit.bio_tests)) for each in judgement.units]
        return replace(
            judgement, units=tuple(units), answers=answers(unit, in_order(unit.bio_tests)), clocks=clocks()
        )

    monkeypatch.setattr(opened, "evaluate", filled)


def look_back(unit) -> j.LookBack:
    """A part recall, still open, with something left out."""
    the_unit = j.Evidence(unit.row.ref, "the unit")
    return j.LookBack(
        trigger="part recall received 2026-03-02: cassette seal, lot S-9", case="", after=None, after_text="",
        to=date(2026, 3, 2), loads=(), unlogged="2 cycles on the counter", readings=(), parts=(the_unit,),
        kind="part recall", asked="replace it", source=MEMORY, outside=((the_unit, "fitted after 2026-03-02"),),
        evidence=(the_unit,),
    )  # fmt: skip
