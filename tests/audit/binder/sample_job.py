"""One invented service visit to a cassette unit, with an outcome of every kind."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from decimal import Decimal

from audit import facts as f
from tests.audit.binder.sample_rows import Rows


def job(rows: Rows, on: date, seal: str, check_valve: str, intake: str) -> f.JobFact:
    """A two-year service on a cassette unit, as common practice has it (no source)."""
    row = rows.row

    def outcome(line, position, action, result, found="", **more):
        blank = {"reason": "", "deferred_until": None, "decided_by": "", "agreed_by": ""}
        return f.OutcomeFact(row(on), line, position, action, result, found, **{**blank, **more})

    outcomes = (
        outcome("seal-replace", seal, "replace", "done", "old seal hardened at the hinge side"),
        outcome(
            "check-valve-replace",
            check_valve,
            "replace",
            "deferred",
            "renewed five months ago",
            reason="renewed on 12 Jan 2026 after a fault",
            deferred_until=date(2028, 1, 12),
            decided_by="Tomasz Gładyś",
            agreed_by="Ilse Brandt",
        ),
        outcome("intake-replace", intake, "replace", "not applicable", reason="not fitted on this unit"),
        outcome("", "", "inspect", "not done", reason="clinic closed at noon"),
        outcome("drain-clean", "", "clean", "not possible", reason="drain cover seized"),
    )
    findings = (
        f.FindingFact(
            row(on), seal, "cassette seal", 2, "hardened, not torn", "replace", "replace at grade 2", "", "A"
        ),
        f.FindingFact(
            row(on),
            "",
            "solenoid plunger",
            0,
            "moves freely, clean",
            "clean",
            "inspect, clean, grease",
            "",
            "A",
        ),
        f.FindingFact(row(on), "", "o-ring of the inlet", 3, "perished", "replace", "replace at grade 3", "", "A"),
    )
    low, high = Decimal("134.0"), Decimal("137.0")
    readings = (
        f.ReadingFact(
            row(on),
            "holding temperature",
            "°C",
            "chamber drain",
            Decimal("134.6"),
            Decimal("134.90"),
            low,
            high,
            "maker's instructions, edition 4 (invented)",
            "logger L-07",
            date(2026, 11, 1),
        ),
        f.ReadingFact(
            row(on),
            "insulation resistance",
            "MΩ",
            "",
            None,
            Decimal("54"),
            Decimal("2"),
            None,
            "",
            "tester",
            None,
        ),
    )
    parts = (
        f.PartFact(
            row(on), seal, "cassette seal", "XQ-0417 (invented)", "B25-118", "printed", "R-0931",
            date(2029, 6, 30), 1, "replaced on plan", "scrapped", "two-year kit",
        ),
        f.PartFact(
            row(on), "", "o-ring of the inlet", "XQ-0090 (invented)", "", "unreadable", "R-0877",
            None, 2, "replaced on condition", "kept", "",
        ),
    )  # fmt: skip
    tests = (
        f.VerificationFact(row(on), "V1", "pass", "134.9 °C for 4 min 12 s", "8812", ""),
        f.VerificationFact(row(on), "V5", "pass", "54 MΩ", "", ""),
        f.VerificationFact(row(on), "V2", "not applicable", "", "", "gravity displacement, no vacuum"),
    )
    return f.JobFact(
        row(on),
        visit="visit-31",
        servicer="Fjord Sterilizer Service (invented)",
        worked_by="Tomasz Gładyś",
        arrived_at=datetime.combine(on, time(8, 5), UTC),
        departed_at=datetime.combine(on, time(11, 40), UTC),
        reason="planned",
        complaint="",
        contamination="clinic states: chamber emptied and wiped",
        make_safe=(
            "cooled to room temperature: done",
            "pressure at zero: done",
            "unplugged, plug in hand: done",
        ),
        class_stated="A",
        class_reason="planned parts of the same kind",
        outcomes=outcomes,
        findings=findings,
        readings=readings,
        parts=parts,
        tests=tests,
        signatures=(
            f.SignatureFact(row(on), "released", "Tomasz Gładyś", "technician", ""),
            f.SignatureFact(row(on), "returned to use", "Ilse Brandt", "responsible person", ""),
        ),
        conclusion=f.ConclusionFact(row(on), "released", "", "", None, "all tests passed"),
    )
