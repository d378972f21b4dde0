"""Rows of work on a unit to facts: a job, what was found, fitted, tested and signed. No queries here."""

from __future__ import annotations

from audit import facts as f
from records import models as m

from .rows import given, position_ref, tidy, typed_given

# What a test after work may hold as numbers.
MEASURED = (
    "temperature_low", "temperature_high", "pressure_low", "pressure_high", "minutes", "band_low", "band_high",
    "minutes_needed",
)  # fmt: skip


def outcome(t, r) -> f.OutcomeFact:
    """What became of a task; `plan_line` is the code in the first version of the line, "" for none."""
    return f.OutcomeFact(
        t.read.row(r), plan_line=t.plan_codes.get(r.plan_line_id, ""), position=position_ref(t, r),
        action=r.action, outcome=r.outcome, found=r.found, reason=r.reason, deferred_until=r.deferred_until,
        decided_by=r.decided_by, agreed_by=r.agreed_by,
    )  # fmt: skip


def finding(t, r) -> f.FindingFact:
    """The condition of a component as seen, grade 0 to 3; `position` is its origin, "" for the unit."""
    return f.FindingFact(
        t.read.row(r), position=position_ref(t, r), component=r.component, grade=r.grade, seen=r.seen,
        decision=r.decision, rule=r.rule, reason=r.reason, repair_class=r.repair_class,
        part_needed=r.part_needed, part_needed_number=r.part_needed_number,
    )  # fmt: skip


def reading(t, r) -> f.ReadingFact:
    """A measured pair with its limits, in `unit_of_measure`, without padding zeros; None stays None, never 0."""
    return f.ReadingFact(
        t.read.row(r), quantity=r.quantity, unit_of_measure=r.unit_of_measure, point=r.point,
        as_found=tidy(r.as_found), as_left=tidy(r.as_left), lower=tidy(r.lower), upper=tidy(r.upper),
        limit_source=r.limit_source, instrument=r.instrument, calibration_due=r.calibration_due,
        found_while=r.found_while, instrument_left=r.instrument_left, calibration_due_left=r.calibration_due_left,
    )  # fmt: skip


def part(t, r) -> f.PartFact:
    """A part fitted, as typed or copied from its lot when it was logged: a lot corrected later does not show here."""
    return f.PartFact(
        t.read.row(r), position=position_ref(t, r), name=r.name, number=r.number, lot=r.lot,
        lot_state=r.lot_state, receipt_lot=r.receipt_lot, expiry=r.expiry, quantity=r.quantity, action=r.action,
        old_part=r.old_part, kit=r.kit, kit_fate=r.kit_fate, kit_pieces=r.kit_pieces,
    )  # fmt: skip


def verification(t, r) -> f.VerificationFact:
    """One test after work: what was measured, None where it was not recorded; `value` is the text as typed."""
    return f.VerificationFact(
        t.read.row(r),
        code=r.code,
        result=r.result,
        value=r.value,
        cycle_number=r.cycle_number,
        reason=r.reason,
        **{name: tidy(getattr(r, name)) for name in MEASURED},
    )


def signature(t, r) -> f.SignatureFact:
    """Who signed, by name and role; the name is "" where nobody was there to sign."""
    name = str(r.signed_by) if r.signed_by else ""
    return f.SignatureFact(t.read.row(r), meaning=r.meaning, name=name, role=r.role, reason=r.reason, given=given(r))


def conclusion(t, r) -> f.ConclusionFact:
    """How a job ended; `deadline` is the last day on which a pending result is accepted, None if none is."""
    return f.ConclusionFact(
        t.read.row(r), conclusion=r.conclusion, limitation=r.limitation, acceptor=r.acceptor, deadline=r.deadline,
        reason=r.reason, accepted_given=typed_given(r, r.acceptor),
    )  # fmt: skip


def job(t, r, visit, departure, first_id: int, leaves) -> f.JobFact:
    """A job with its leaves, each kind in order. `first_id` is the id of its first version, which leaves point to.

    `visit` and `departure` are the rows in force, None where there is none; their times are UTC. Of several
    conclusions the one logged last holds.
    """

    def made(model, build):
        return f.in_order(build(t, leaf) for leaf in leaves[model].get(first_id, ()))

    # By the order of logging, not by the day: the conclusion logged last holds.
    conclusions = [conclusion(t, leaf) for leaf in leaves[m.JobConclusion].get(first_id, ())]
    return f.JobFact(
        t.read.row(r),
        visit=t.origins.get((m.Visit, r.visit_id), ""),
        servicer=visit.servicer if visit else "",
        worked_by=str(r.worked_by),
        arrived_at=visit.happened_at if visit else None,
        departed_at=departure.happened_at if departure else None,
        reason=r.reason,
        complaint=r.complaint,
        contamination=r.contamination,
        make_safe=tuple(": ".join(str(part) for part in step) for step in r.make_safe),
        class_stated=r.class_stated,
        class_reason=r.class_reason,
        outcomes=made(m.TaskOutcome, outcome),
        findings=made(m.ConditionFinding, finding),
        readings=made(m.Reading, reading),
        parts=made(m.FittedPart, part),
        tests=made(m.VerificationTest, verification),
        signatures=made(m.Signature, signature),
        conclusion=conclusions[-1] if conclusions else None,
    )
