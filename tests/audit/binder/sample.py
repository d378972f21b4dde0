"""One invented clinic as facts and judgement, for the binder alone. All names, makers and numbers are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from hashlib import sha256

from audit import facts as f
from audit.judge import judgement as j
from audit.regimes.source import Source
from tests.audit.binder.sample_job import job
from tests.audit.binder.sample_rows import Rows

FROM, TO, AS_OF = date(2025, 6, 1), date(2026, 5, 31), date(2026, 5, 31)
CLINIC = "Żółć & Ærø Dental, Kőszegstraße"
REGIME = Source("Guidelines for Infection Control in Dental Health-Care Settings, 2003", "2026-05-01", "read")
MEMORY = Source("Common practice, no source", "", "from memory")


def evidence(fact, text: str) -> j.Evidence:
    return j.Evidence(fact.row.ref, text)


LOT = f.LotFact(
    "lot-1", "biological", "Spore strip (invented)", "SP-552", date(2026, 9, 30), 24, Decimal(55), Decimal(60)
)


def bio_test(rows: Rows, on: date, test: str = "no growth", control: str = "growth") -> f.BioTestFact:
    read = on + timedelta(days=1)
    return f.BioTestFact(
        rows.row(on), "4471", "134 °C wrapped", "full", "routine", "clinic", LOT, LOT, False, "pass", "pass",
        "Ilse Brandt",
        (f.BioReadingFact(rows.row(read), test, control, read, None, Decimal(24), Decimal(57), "Ida Lund", ""),),
    )  # fmt: skip


FAILED, MISSED, INVALID, CLOSED = date(2026, 2, 2), date(2025, 9, 15), date(2025, 11, 10), date(2025, 12, 22)
RETEST = FAILED + timedelta(days=3)


def weekly(rows: Rows) -> tuple[tuple[f.BioTestFact, ...], tuple[j.TestVerdict, ...], tuple[j.WeekCell, ...]]:
    """A test each Monday of the period but for the weeks above."""
    tests, verdicts, weeks = [], [], []
    for n in range(52):
        start = date(2025, 6, 2) + timedelta(weeks=n)
        end = start + timedelta(days=6)
        if start in (MISSED, CLOSED):
            result, note = ("missed", "no test logged") if start == MISSED else ("exempt", "closed for the holidays")
            weeks.append(j.WeekCell(start, end, result, (), note))
            continue
        grew = "growth" if start == FAILED else "no growth"
        test = bio_test(rows, start, grew, "no growth" if start == INVALID else "growth")
        word = {FAILED: "failed", INVALID: "invalid"}.get(start, "passed")
        why = {
            "failed": "growth in the test",
            "invalid": "doesn't count: control did not grow",
            "passed": "control grew",
        }
        tests.append(test)
        verdicts.append(j.TestVerdict(test.row.origin, word, why[word], start + timedelta(days=1)))
        weeks.append(j.WeekCell(start, end, word, (evidence(test, f"test of {start}"),), why[word]))
    weeks[-1] = replace(weeks[-1], result="awaited", note="incubating")
    return tuple(tests), tuple(verdicts), tuple(weeks)


def first_unit(rows: Rows) -> tuple[f.UnitFacts, j.UnitJudgement]:
    """The cassette unit with everything: service, a failure that was resolved, an open item that forbids use."""
    row = rows.row
    unit_row = row(date(2024, 3, 4))
    seal = f.PositionFact(row(date(2024, 3, 4)), "P1", "cassette seal", "seal")
    valve = f.PositionFact(row(date(2024, 3, 4)), "P2", "check valve", "valve")
    intake = f.PositionFact(row(date(2024, 3, 4)), "P3", "compressor intake filter", "filter")
    lines = tuple(
        f.PlanLineFact(
            row(date(2024, 3, 4)), code, position.row.origin, title, "replace", 24, None, None, 30, 14,
            "maker's instructions (invented)", "4", "at grade 2 replace", "A", date(2024, 3, 4), False,
        )
        for code, position, title in (
            ("seal-replace", seal, "Replace the cassette seal"),
            ("check-valve-replace", valve, "Replace the check valve"),
            ("intake-replace", intake, "Replace the intake filter"),
        )
    )  # fmt: skip
    tests, verdicts, weeks = weekly(rows)
    failing = next(test for test in tests if test.row.happened_on == FAILED)
    retest = bio_test(rows, RETEST)
    loads = tuple(
        f.LoadFact(
            row(FAILED - timedelta(days=n)),
            str(4460 + n),
            "134 °C wrapped",
            "hand instruments",
            False,
            "released",
        )
        for n in (3, 2, 1)
    )
    case_row = row(FAILED + timedelta(days=1))
    followup = f.FollowUpFact(
        row(FAILED + timedelta(days=1)), "retest", "repeat with a control of the same lot", "Ilse Brandt",
        RETEST, RETEST, None, "Ilse Brandt", "no growth, control grew", row(RETEST),
    )  # fmt: skip
    out = f.UnitEventFact(row(FAILED + timedelta(days=1)), "withdrawn", "positive spore test", "Ilse Brandt")
    back = f.UnitEventFact(row(RETEST + timedelta(days=1)), "returned", "repeat passed", "Ilse Brandt")
    service = job(rows, date(2026, 3, 4), seal.row.origin, valve.row.origin, intake.row.origin)
    service = replace(service, parts=tuple(replace(p, row=replace(p.row, late=True)) for p in service.parts))
    air = tuple(
        f.AirRemovalFact(
            row(date(2026, 4, 1) + timedelta(days=n)), "fail" if n == 4 else "pass", str(n), "empty", "AR-9"
        )
        for n in range(9)
    )
    leak = f.LeakFact(
        row(date(2026, 4, 2)), Decimal("0.11"), Decimal("0.13"), "EN 13060", "pass", "1.1 kPa in 10 min"
    )
    unit = f.UnitFacts(
        unit_row, "S1 Łódź", "SN-ÆØÅ-0091", "Nordlys (invented)", "Kassett 6 (invented)", "cassette", Decimal("5.1"),
        "(01)00000000000000(21)0091",
        placements=(f.PlacementFact(row(date(2024, 3, 4)), date(2024, 3, 4), "Room 2", "in use"),),
        positions=(seal, valve, intake),
        fits=(
            f.FitFact(row(date(2024, 3, 4)), seal.row.origin, "yes", date(2024, 3, 4), ""),
            f.FitFact(row(date(2024, 3, 4)), intake.row.origin, "none", date(2024, 3, 4), "none on this version"),
        ),
        plan=lines,
        events=(out, back),
        counters=(f.CounterFact(row(date(2026, 3, 4)), "cycles", Decimal(812), Decimal(8000), "new board"),),
        jobs=(service,),
        bio_tests=(*tests, retest),
        chemical=tuple(f.ChemicalFact(row(date(2026, 4, 3)), 5, r, "9", "inside", "CI-3") for r in ("pass", "fail")),
        air_removal=air,
        leaks=(leak,),
        loads=loads,
        cases=(f.CaseFact(case_row, "biological", failing.row.origin, (followup,)),),
        gaps=(f.GapFact(row(date(2025, 6, 9)), "", date(2025, 6, 1), date(2025, 6, 8), "log lost", "leak", "I. B."),),
        documents=(
            f.DocumentFact(row(date(2025, 7, 1)), "", "instructions", "Instructions for use", date(2024, 1, 1), None,
                           "ab" * 32, "instructions.pdf"),
        ),
    )  # fmt: skip
    steps = (
        j.Step("withdraw", "Take the unit out of service", "done", FAILED, (evidence(out, "withdrawn"),), REGIME),
        j.Step(
            "retest",
            "Repeat with a control of the same lot",
            "done",
            RETEST,
            (evidence(retest, "passed"),),
            REGIME,
        ),
        j.Step(
            "notify",
            "Tell the authority",
            "not needed",
            None,
            (),
            REGIME,
            "asked for at repeated growth only",
        ),
        j.Step("find cause", "Find the cause", "late", None, (), MEMORY, "due by 10 Feb 2026"),
    )
    case = j.Case(
        case_row.origin, "biological", "growth in a spore test", FAILED, FAILED + timedelta(days=1), "returned",
        RETEST, 1, 1, "none needed: the repeat passed", steps, (evidence(failing, "growth after 24 h"),),
    )  # fmt: skip
    look_back = j.LookBack(
        "positive spore test of 2026-02-02", case_row.origin, FAILED - timedelta(days=7),
        "spore test of 26 Jan 2026", FAILED,
        tuple(evidence(load, f"cycle {load.cycle_number}, {load.contents}") for load in loads),
        "2 cycles on the counter are in no log", (), (),
    )  # fmt: skip
    judged = j.UnitJudgement(
        unit.ref, unit.label, AS_OF,
        j.UnitStanding(j.Word.OUT, "R4", "a positive spore test is not resolved", date(2026, 5, 26),
                   (evidence(failing, "growth after 24 h"),), "a repeat that passes", None, REGIME),
        clocks=(
            j.Clock(j.DueKind.PLAN, "seal-replace", "Replace the cassette seal", j.State.OVERDUE,
                    date(2026, 3, 4), date(2026, 5, 20), evidence(unit, "installed 4 Mar 2024"),
                    "every 24 months", MEMORY),
            j.Clock(j.DueKind.PLAN, "check-valve-replace", "Replace the check valve", j.State.OK,
                    date(2028, 1, 12), None, evidence(service, "deferred"), "every 24 months", MEMORY,
                    "deferred until 12 Jan 2028"),
            j.Clock(j.DueKind.PLAN, "intake-replace", "Replace the intake filter", j.State.NO_EVIDENCE,
                    None, None, None, "every 24 months", MEMORY),
        ),
        findings=(
            j.Finding("plan-overdue", j.Severity.PUT_RIGHT, date(2026, 5, 20), "Cassette seal overdue by 12 days",
                      "replace it", (evidence(unit, "installed"),), MEMORY, "service company"),
            j.Finding("positive-test-open", j.Severity.FORBIDS, date(2026, 5, 26),
                      "Growth in the spore test of 25 May 2026", "withdraw, then repeat the test",
                      (evidence(failing, "growth"),), REGIME, "clinic"),
        ),
        verdicts=verdicts, cases=(case,), look_backs=(look_back,), weeks=weeks,
    )  # fmt: skip
    return unit, judged


def second_unit(rows: Rows) -> tuple[f.UnitFacts, j.UnitJudgement]:
    """A unit of which almost nothing is known."""
    row = rows.row(date(2026, 1, 9), paper="blue folder, page 12")
    unit = f.UnitFacts(row, "S2", "0044", "Nordlys (invented)", "Gravis 18 (invented)", "gravity", Decimal(18), "")
    standing = j.UnitStanding(
        j.Word.NOT_IN_USE, "R1", "stored as spare", None, (), "the responsible person", date(2026, 9, 1)
    )
    return unit, j.UnitJudgement(unit.ref, "S2", AS_OF, standing, (), (), (), (), (), ())


def clinic() -> tuple[f.ClinicFacts, j.ClinicJudgement]:
    """The facts and the judgement of the invented clinic."""
    rows = Rows()
    terms = f.TermsFact(
        rows.row(date(2024, 3, 1)), date(2024, 3, 1), CLINIC, "dental", "Østergade 4, Gdańsk", "Europe/Warsaw", 0,
        "invented-dental",
    )  # fmt: skip
    pairs = (first_unit(rows), second_unit(rows))
    closure = f.ClosureFact(rows.row(CLOSED), "", CLOSED, CLOSED + timedelta(days=6), "holidays")
    duty = f.LocalDutyFact(rows.row(date(2025, 1, 1)), date(2025, 1, 1), "biological-test", "weekly", 1, "own policy")
    correction = f.CorrectionFact(
        rows.number + 1, datetime(2026, 3, 6, 9, 0, tzinfo=UTC), "Ilse Brandt", pairs[0][0].ref, "part",
        "c0ffee00" * 4, date(2026, 3, 4), "lot misread", (("lot", "B25-113", "B25-118"),),
    )  # fmt: skip
    voided = replace(correction, number=rows.number + 2, ref="deadbeef" * 4, what="spore test", changes=())
    facts = f.ClinicFacts(
        "clinic-1", "zolc", (terms,), (duty,), (closure,), tuple(unit for unit, _ in pairs),
        corrections=(correction, voided),
        heads=(f.LedgerHead("Żółć & Ærø Dental", rows.number + 2, sha256(b"head").hexdigest()),),
    )  # fmt: skip
    judgement = j.ClinicJudgement(
        "clinic-1", CLINIC, AS_OF, "invented-dental", "Dental, invented", "2003", (REGIME,),
        tuple(judged for _, judged in pairs),
        (j.Finding("no-procedure", j.Severity.NOTE, None, "No written procedure on file", "file it", (), None, ""),),
    )  # fmt: skip
    return facts, judgement


def empty_clinic() -> tuple[f.ClinicFacts, j.ClinicJudgement]:
    """A clinic with a name in the judgement and nothing else."""
    return f.ClinicFacts("clinic-2", "empty", ()), j.ClinicJudgement(
        "clinic-2", "Bare Room", AS_OF, "", "", "", (), (), ()
    )
