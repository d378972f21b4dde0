"""The invented clinic with everything filled: answers, coverage, all look-backs, checks, loads, people, recalls.

The judgement is made up value by value: what the binder prints is compared with it, not with the engine.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from audit import facts as f
from audit.judge import judgement as j
from tests.audit.binder import sample
from tests.audit.binder.sample import MEMORY, REGIME, Rows, evidence

CHECKS_FROM = date(2026, 2, 1)
UNSIGNED = (date(2026, 2, 10), date(2026, 2, 11))
CHECK_FAILED = date(2026, 2, 20)
LOAD_FAILED = date(2026, 3, 2)


def rows() -> Rows:
    """Rows with numbers beyond those of the sample."""
    made = Rows()
    made.number = 9000
    return made


def checks(made: Rows) -> tuple[f.UserCheckFact, ...]:
    """Sixty days of automatic control tests: one failed, two not signed, one not done."""
    out = []
    for n in range(60):
        on = CHECKS_FROM + timedelta(days=n)
        result = "fail" if on == CHECK_FAILED else "not done" if n == 30 else "pass"
        value = None if result == "not done" else Decimal("134.2") + Decimal(n % 7) / 10
        signed = "" if on in UNSIGNED else "Ida Lund"
        note = "holding time short by 20 s" if result == "fail" else ""
        out.append(
            f.UserCheckFact(
                made.row(on), "automatic control", result, value, "°C", str(500 + n), "134 °C wrapped", signed, note
            )
        )
    return tuple(out)


def loads(made: Rows) -> tuple[f.LoadFact, ...]:
    """Four loads a day for forty days; one failed mechanically and was rejected."""
    out = []
    for n in range(160):
        on = date(2026, 2, 1) + timedelta(days=n // 4)
        bad = on == LOAD_FAILED and n % 4 == 2
        out.append(
            f.LoadFact(
                made.row(on), str(3000 + n), "134 °C wrapped", "hand instruments", n == 5,
                "rejected" if bad else "released", "fail" if bad else "pass", "pass" if n % 9 else "not recorded",
                None if n == 7 else Decimal("47.5"),
            )
        )  # fmt: skip
    return tuple(out)


def instruments(made: Rows) -> tuple[f.InstrumentFact, ...]:
    def calibration(on, result, as_found, until):
        return f.CalibrationFact(made.row(on), f"C-{on.year}", result, as_found, until)

    return (
        f.InstrumentFact(
            made.row(date(2024, 1, 9)), "logger L-07", "temperature logger", "07-114", "service company",
            (
                calibration(date(2025, 1, 9), "in tolerance", "+0.1 °C at 134 °C", date(2026, 1, 9)),
                calibration(date(2026, 4, 20), "out of tolerance", "+0.9 °C at 134 °C", date(2027, 4, 20)),
            ),
        ),
        f.InstrumentFact(
            made.row(date(2024, 1, 9)), "tester", "electrical tester", "", "service company",
            (calibration(date(2025, 9, 1), "adjusted", "within, adjusted", date(2026, 9, 1)),),
        ),
        f.InstrumentFact(made.row(date(2025, 1, 9)), "conductivity meter", "meter", "K-3", "clinic"),
    )  # fmt: skip


def credentials(made: Rows) -> tuple[f.CredentialFact, ...]:
    def held(person, holder, kind, title, first, last):
        return f.CredentialFact(made.row(first), person, holder, kind, title, first, last)

    return (
        held("Tomasz Gładyś", "service company", "competence", "Small steam sterilizers", date(2024, 5, 1), None),
        held("Ida Lund", "clinic", "training", "Yearly training, reprocessing", date(2025, 4, 1), date(2026, 3, 31)),
        held(
            "Ilse Brandt", "clinic", "training", "Yearly training, reprocessing", date(2026, 1, 8), date(2027, 1, 7)
        ),
    )


def recall(made: Rows) -> f.PartRecallFact:
    return f.PartRecallFact(
        made.row(date(2026, 5, 4)), "cassette seal", "XQ-0417 (invented)", "B25-118", date(2026, 1, 1), None,
        "Invented Seals", "hardens too soon", "replace",
    )  # fmt: skip


def look_backs(unit, made: Rows, notice, instrument) -> tuple[j.LookBack, ...]:
    """One of each trigger that has no case, with loads by the month in the first."""
    fitted = unit.jobs[0].parts[0]
    reading = unit.jobs[0].readings[0]
    failed = next(load for load in unit.loads if load.mechanical == "fail")
    inside = tuple(
        evidence(load, f"cycle {load.cycle_number} of {load.row.happened_on}: {load.contents}")
        for load in unit.loads
        if load.row.happened_on >= date(2026, 2, 1)
    )
    out_of_tolerance = instrument.calibrations[1]
    common = {"case": "", "unlogged": "", "readings": (), "parts": (), "source": MEMORY}
    return (
        j.LookBack(
            trigger="part recall received 2026-05-04: cassette seal, lot B25-118", after=date(2026, 3, 4),
            after_text="fitted 2026-03-04", to=date(2026, 5, 4), loads=inside[-80:], kind="part recall",
            asked="list the loads since the part was fitted and judge each",
            evidence=(evidence(notice, "the notice"),),
            **common | {"parts": (evidence(fitted, "cassette seal, lot B25-118, fitted 2026-03-04"),)},
        ),
        j.LookBack(
            trigger="logger L-07 found out of tolerance on 2026-04-20", after=date(2025, 1, 9),
            after_text="calibration of 2025-01-09", to=date(2026, 4, 20), loads=(),
            kind="instrument out of tolerance", asked="judge each reading taken with it",
            evidence=(evidence(out_of_tolerance, "certificate C-2026"),), settled_on=date(2026, 5, 2),
            **common | {"readings": (evidence(reading, "holding temperature 134.90 °C on 2026-03-04"),)},
        ),
        j.LookBack(
            trigger="mechanical failure in cycle 3118 of 2026-03-02", after=date(2026, 3, 2),
            after_text="cycle 3117 of 2026-03-02", to=date(2026, 3, 2), loads=(),
            kind="mechanical or penetration failure", asked="the load itself",
            evidence=(evidence(failed, "cycle 3118 rejected"),),
            outside=((evidence(failed, "cycle 3119 of 2026-03-02"), "its mechanical result passed"),), **common,
        ),
        j.LookBack(
            trigger="holding temperature found at 131.0 °C on 2026-03-04", after=None, after_text="",
            to=date(2026, 3, 4), loads=inside[:2], kind="found out of tolerance",
            evidence=(evidence(reading, "as found 131.0 °C"),), **common,
        ),
    )  # fmt: skip


def coverage(unit, first=sample.FROM, last=sample.TO) -> tuple[j.Coverage, ...]:
    invalid = next(t for t in unit.bio_tests if t.row.happened_on == sample.INVALID)
    lapses = (
        j.Lapse(sample.MISSED, sample.MISSED + timedelta(days=6), "missed", "no test logged"),
        j.Lapse(sample.INVALID, sample.INVALID + timedelta(days=6), "invalid", "control did not grow",
                (evidence(invalid, "test of 2025-11-10"),)),
        j.Lapse(sample.CLOSED, sample.CLOSED + timedelta(days=6), "exempt", "closed for the holidays"),
    )  # fmt: skip
    weekly = j.Coverage(
        "biological-test", "Spore test", first, last, "once in each calendar week", REGIME, due=51, met=48,
        met_late=0, missed=1, invalid=1, awaited=1, exempt=1, exempt_why=(("closed for the holidays", 1),),
        longest_gap=14, gap=(date(2025, 12, 15), date(2025, 12, 29)), tests=49, failed=1, bound=None,
        words="Of 51 weeks with a spore test due 48 were met, 1 was missed and 1 is invalid; one test failed.",
        lapses=lapses,
    )  # fmt: skip
    days = tuple(
        j.Lapse(day, day, "missed", "no check signed")
        for day in (date(2025, 6, 2) + timedelta(days=n) for n in range(200))
    )
    daily = j.Coverage(
        "automatic-control", "Automatic control test", first, last, "on each day of use", MEMORY, due=260, met=60,
        met_late=0, missed=200, invalid=0, awaited=0, exempt=0, exempt_why=(), longest_gap=None, gap=None, tests=59,
        failed=0, bound=Decimal("0.0495"),
        words="59 tests, none failed: with 95 % confidence fewer than 5 in 100 fail.",
        lapses=days,
    )  # fmt: skip
    return weekly, daily


def answers(facts: f.ClinicFacts) -> tuple[j.Answer, ...]:
    unit = facts.units[0]
    tests = tuple(evidence(t, f"spore test of {t.row.happened_on}") for t in unit.bio_tests)
    seal = unit.jobs[0].parts[0]
    old = f.in_order(unit.plan)[0]
    lost = j.Evidence("f" * 32, "a row of another clinic")
    return (
        j.Answer("weekly-test", "Is every sterilizer tested with spores at least weekly, with a control?", "in part",
                 "48 of 51 weeks from 2025-06-01 to 2026-05-31.", tests, "clinic", REGIME, unit.ref,
                 "the week of 2025-09-15 has no test: the clinic may have a paper log"),
        j.Answer("service-records", "Are repair and maintenance logs present?", "yes", "1 visit in the period.",
                 (evidence(unit.jobs[0], "visit of 2026-03-04"), evidence(seal, "cassette seal, lot B25-118")),
                 "service company", MEMORY, unit.ref),
        j.Answer("load-records", "Is each load monitored mechanically and recorded?", "yes", "160 loads, 159 passed.",
                 (evidence(unit.loads[-1], "cycle 3159"), evidence(old, "the plan"), lost), "clinic", REGIME,
                 unit.ref),
        j.Answer("training", "Are staff trained at hire and every year?", "in part", "1 of 2 people is in date.",
                 tuple(evidence(c, f"{c.person}, {c.title}") for c in facts.credentials if c.holder == "clinic"),
                 "clinic", REGIME),
        j.Answer("insurance", "Does the liability insurance cover pressure vessels?", "no record found",
                 "No policy is on record.", (), "insurer", MEMORY, gap="the policy: ask the insurer"),
        j.Answer("two-units", "Are at least two working units on site?", "not asked here", "", (), "clinic", REGIME),
    )  # fmt: skip


def clinic() -> tuple[f.ClinicFacts, j.ClinicJudgement]:
    facts, judgement = sample.clinic()
    made = rows()
    unit, said = facts.units[0], judgement.units[0]
    unit = replace(unit, checks=checks(made), loads=(*unit.loads, *loads(made)))
    held = instruments(made)
    notice = recall(made)
    facts = replace(
        facts,
        units=(unit, facts.units[1]),
        instruments=held,
        credentials=credentials(made),
        part_recalls=(notice,),
    )
    case = replace(
        said.cases[0],
        needs="a return signed by the responsible person",
        warnings=("the repeat was run before the cause was found on 2026-02-09",),
        steps=(
            *said.cases[0].steps,
            j.Step("notify", "Tell the health department", "late", None, (), MEMORY, "no notice on record",
                   date(2026, 2, 4)),
        ),
    )  # fmt: skip
    said = replace(
        said,
        cases=(case,),
        look_backs=(*said.look_backs, *look_backs(unit, made, notice, held[0])),
        coverage=coverage(unit),
    )
    clocks = (
        j.Clock(j.DueKind.CREDENTIAL, "ida-lund", "Yearly training of Ida Lund", j.State.OVERDUE,
                date(2026, 4, 1), date(2026, 4, 1), evidence(facts.credentials[1], "training of 2025-04-01"),
                "at most 12 months apart", MEMORY, subject="training"),
        j.Clock(j.DueKind.DUTY, "insurance", "Liability insurance", j.State.NO_EVIDENCE, None, None, None,
                "in force", MEMORY, subject="insurance"),
    )  # fmt: skip
    judgement = replace(judgement, units=(said, judgement.units[1]), clocks=clocks, answers=answers(facts))
    return facts, judgement
