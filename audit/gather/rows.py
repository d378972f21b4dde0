"""One builder a kind of row: a row in, a fact out. No queries here; `t` is what `gather` has read."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from audit import facts as f
from records import models as m
from records.log.signatures import given_in_words

# The people a row names, to be read along with it.
PEOPLE = {
    m.UnitEvent: ("by",),
    m.Visit: ("technician",),
    m.Job: ("worked_by",),
    m.Signature: ("signed_by",),
    m.BioTest: ("run_by",),
    m.BioReading: ("read_by",),
    m.KnownGap: ("accepted_by",),
    m.UserCheck: ("signed_by",),
    m.Load: ("run_by", "loaded_by"),
    m.LoadRelease: ("decided_by",),
    m.Inspection: ("visitor",),
    m.PointMet: ("done_by",),
    m.Credential: ("person",),
}


# What a test after work may hold as numbers.
MEASURED = (
    "temperature_low", "temperature_high", "pressure_low", "pressure_high", "minutes", "band_low", "band_high",
    "minutes_needed",
)  # fmt: skip


def _tidy(number):
    """A decimal without the zeros that the column adds: 134.2, not 134.2000."""
    if number is None:
        return None
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number.normalize()


def _unit_ref(t, row) -> str:
    return t.origins.get((m.Unit, row.unit_id), "") if row.unit_id else ""


def _position_ref(t, row) -> str:
    return t.origins.get((m.Position, row.position_id), "") if row.position_id else ""


def terms(t, r) -> f.TermsFact:
    """What the clinic is and which rules it follows, from a day on; `zone` is an IANA name, `week_start` 0 Monday."""
    return f.TermsFact(
        t.read.row(r), effective_on=r.effective_on, name=r.name, programme=r.programme, address=r.address,
        zone=r.time_zone, week_start=r.week_start, regime=r.regime,
    )  # fmt: skip


def local_duty(t, r) -> f.LocalDutyFact:
    """The clinic's own duty as typed; whether it can be used is for judgement to say, not here."""
    return f.LocalDutyFact(
        t.read.row(r), effective_on=r.effective_on, duty=r.duty, every=r.every, count=r.count, source=r.source
    )


def closure(t, r) -> f.ClosureFact:
    """Days without patients, both ends inclusive; `unit` is the unit's origin, "" for the whole place."""
    return f.ClosureFact(t.read.row(r), unit=_unit_ref(t, r), from_on=r.from_on, to_on=r.to_on, why=r.why)


def gap(t, r) -> f.GapFact:
    """A known gap, both ends inclusive; `unit` is the unit's origin, "" for the whole place."""
    return f.GapFact(
        t.read.row(r), unit=_unit_ref(t, r), from_on=r.from_on, to_on=r.to_on, what=r.what, why=r.why,
        accepted_by=str(r.accepted_by),
    )  # fmt: skip


def document(t, r) -> f.DocumentFact:
    """A paper on file, without its bytes: `sha256` finds them. `valid_to` is the last valid day, None for none."""
    return f.DocumentFact(
        t.read.row(r), unit=_unit_ref(t, r), kind=r.kind, title=r.title, valid_from=r.valid_from,
        valid_to=r.valid_to, sha256=r.sha256, filename=r.filename,
    )  # fmt: skip


def placement(t, r) -> f.PlacementFact:
    """Where the unit stands from `effective_on` on, that day included."""
    return f.PlacementFact(t.read.row(r), effective_on=r.effective_on, room=r.room, use=r.use)


def position(t, r) -> f.PositionFact:
    """A place on the unit; other facts name it by its origin."""
    return f.PositionFact(t.read.row(r), code=r.code, name=r.name, component=r.component)


def fit(t, r) -> f.FitFact:
    """Whether the position has its part from `effective_on` on, that day included; `position` is its origin."""
    return f.FitFact(
        t.read.row(r), position=_position_ref(t, r), state=r.state, effective_on=r.effective_on, note=r.note
    )


def plan_line(t, r) -> f.PlanLineFact:
    """A version of a plan line: limits in months, cycles and hours of use (None: no such limit), the rest in days."""
    return f.PlanLineFact(
        t.read.row(r), code=r.code, position=_position_ref(t, r), title=r.title, action=r.action, months=r.months,
        cycles=r.cycles, hours=r.hours, lead_days=r.lead_days, grace_days=r.grace_days, source=r.source,
        edition=r.edition, rule=r.rule, repair_class=r.repair_class, effective_on=r.effective_on,
        retired=r.retired,
    )  # fmt: skip


def program(t, r) -> f.ProgramFact:
    """What a program needs from `effective_on` on: minutes, degrees Celsius, kPa on the gauge; None: not stated."""
    limits = ("exposure_minutes", "temperature_low", "temperature_high", "pressure_low", "pressure_high")
    return f.ProgramFact(
        t.read.row(r), name=r.name, source=r.source, effective_on=r.effective_on, retired=r.retired,
        **{name: _tidy(getattr(r, name)) for name in limits},
    )  # fmt: skip


def unit_event(t, r) -> f.UnitEventFact:
    """An event of the unit as a whole, with the name of who said so, or that this name was erased and when."""
    return f.UnitEventFact(
        t.read.row(r), kind=r.kind, reason=r.reason, by=str(r.by), ends=t.origins.get((m.UnitEvent, r.ends_id), ""),
    )  # fmt: skip


def counter(t, r) -> f.CounterFact:
    """Cycles or hours as shown, and what to add for the life total; without padding zeros."""
    return f.CounterFact(
        t.read.row(r), counter=r.counter, shown=_tidy(r.shown), offset=_tidy(r.offset), offset_reason=r.offset_reason
    )


def outcome(t, r) -> f.OutcomeFact:
    """What became of a task; `plan_line` is the code in the first version of the line, "" for none."""
    return f.OutcomeFact(
        t.read.row(r), plan_line=t.plan_codes.get(r.plan_line_id, ""), position=_position_ref(t, r),
        action=r.action, outcome=r.outcome, found=r.found, reason=r.reason, deferred_until=r.deferred_until,
        decided_by=r.decided_by, agreed_by=r.agreed_by,
    )  # fmt: skip


def finding(t, r) -> f.FindingFact:
    """The condition of a component as seen, grade 0 to 3; `position` is its origin, "" for the unit."""
    return f.FindingFact(
        t.read.row(r), position=_position_ref(t, r), component=r.component, grade=r.grade, seen=r.seen,
        decision=r.decision, rule=r.rule, reason=r.reason, repair_class=r.repair_class,
    )  # fmt: skip


def reading(t, r) -> f.ReadingFact:
    """A measured pair with its limits, in `unit_of_measure`, without padding zeros; None stays None, never 0."""
    return f.ReadingFact(
        t.read.row(r), quantity=r.quantity, unit_of_measure=r.unit_of_measure, point=r.point,
        as_found=_tidy(r.as_found), as_left=_tidy(r.as_left), lower=_tidy(r.lower), upper=_tidy(r.upper),
        limit_source=r.limit_source, instrument=r.instrument, calibration_due=r.calibration_due,
    )  # fmt: skip


def part(t, r) -> f.PartFact:
    """A part fitted, as typed or copied from its lot when it was logged: a lot corrected later does not show here."""
    return f.PartFact(
        t.read.row(r), position=_position_ref(t, r), name=r.name, number=r.number, lot=r.lot,
        lot_state=r.lot_state, receipt_lot=r.receipt_lot, expiry=r.expiry, quantity=r.quantity, action=r.action,
        old_part=r.old_part, kit=r.kit,
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
        **{name: _tidy(getattr(r, name)) for name in MEASURED},
    )


def signature(t, r) -> f.SignatureFact:
    """Who signed, by name and role; the name is "" where nobody was there to sign."""
    name = str(r.signed_by) if r.signed_by else ""
    given = given_in_words(r)
    return f.SignatureFact(t.read.row(r), meaning=r.meaning, name=name, role=r.role, reason=r.reason, given=given)


def conclusion(t, r) -> f.ConclusionFact:
    """How a job ended; `deadline` is the last day on which a pending result is accepted, None if none is."""
    return f.ConclusionFact(
        t.read.row(r), conclusion=r.conclusion, limitation=r.limitation, acceptor=r.acceptor, deadline=r.deadline,
        reason=r.reason,
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


def lot(r) -> f.LotFact:
    """A box of indicators; `incubation_hours` is the least the label asks, temperatures in degrees Celsius."""
    return f.LotFact(
        ref=str(r.origin), kind=r.kind, name=r.name, lot=r.lot, expiry=r.expiry,
        incubation_hours=r.incubation_hours, incubation_low=r.incubation_low, incubation_high=r.incubation_high,
    )  # fmt: skip


def _lot_text(t, r) -> str:
    known = t.lots.get(r.lot_id)
    return known.lot if known else ""


UNKNOWN_LOT = f.LotFact("", "biological", "not known", "", None, 0, None, None)


def bio_reading(t, r) -> f.BioReadingFact:
    """One look at a spore test: incubation in hours, incubator in degrees Celsius, None where it was not stated."""
    return f.BioReadingFact(
        t.read.row(r), test=r.test, control=r.control, known_on=r.known_on, known_at=r.known_at,
        incubated_hours=r.incubated_hours, incubator_temperature=r.incubator_temperature, read_by=str(r.read_by),
        report=r.report,
    )  # fmt: skip


def bio_test(t, r, readings) -> f.BioTestFact:
    """A spore test with its `readings`, already in order.

    A lot entered in error is `UNKNOWN_LOT`, so that the test still shows; a control lot of None: no control was run.
    """
    control = t.lots.get(r.control_lot_id, UNKNOWN_LOT) if r.control_lot_id else None
    return f.BioTestFact(
        t.read.row(r), cycle_number=r.cycle_number, cycle_type=r.cycle_type, chamber=r.chamber, purpose=r.purpose,
        site=r.site, lot=t.lots.get(r.lot_id, UNKNOWN_LOT), control_lot=control, implant=r.implant,
        mechanical=r.mechanical, chemical=r.chemical, run_by=str(r.run_by), readings=readings, place=r.place,
    )  # fmt: skip


def chemical(t, r) -> f.ChemicalFact:
    """A chemical indicator as read; `lot` is its printed number, "" where none is known; `type` 1 to 6."""
    return f.ChemicalFact(
        t.read.row(r),
        type=r.type,
        result=r.result,
        cycle_number=r.cycle_number,
        where=r.where,
        lot=_lot_text(t, r),
    )


def air_removal(t, r) -> f.AirRemovalFact:
    """A steam penetration test; `lot` as for a chemical indicator."""
    return f.AirRemovalFact(
        t.read.row(r), result=r.result, cycle_number=r.cycle_number, chamber=r.chamber, lot=_lot_text(t, r),
        purpose=r.purpose,
    )  # fmt: skip


def leak(t, r) -> f.LeakFact:
    """A leak test: rate and limit in kPa a minute; `as_read` has rise, unit of measure and minutes as typed."""
    as_read = f"{r.rise.normalize():f} {r.unit_of_measure} over {r.minutes.normalize():f} min"
    return f.LeakFact(
        t.read.row(r),
        rate=r.rate,
        limit=r.limit,
        limit_source=r.limit_source,
        result=r.result,
        as_read=as_read,
        purpose=r.purpose,
        minutes=_tidy(r.minutes),
        settling=_tidy(r.settling),
        start_pressure=_tidy(r.start_pressure),
        start_temperature=_tidy(r.start_temperature),
    )


def load(t, r, release) -> f.LoadFact:
    """A load with its decision. `release` is the decision in force, None for none; use time in minutes.

    One that was logged in an entry of its own keeps its row in `released_row`, and so its own day.
    """
    apart = release is not None and release.entry_id != r.entry_id
    return f.LoadFact(
        t.read.row(r), cycle_number=r.cycle_number, program=r.program, contents=r.contents, implant=r.implant,
        released=release.decision if release else "", mechanical=r.mechanical, chemical=r.chemical,
        minutes=_tidy(r.minutes), released_row=t.read.row(release) if apart else None, packs=r.packs,
        held_packs=r.held_packs, held_pouches=r.held_pouches, held_cassettes=r.held_cassettes,
        pack_condition=r.pack_condition, exposure_minutes=_tidy(r.exposure_minutes),
        exposure_temperature=_tidy(r.exposure_temperature), exposure_pressure=_tidy(r.exposure_pressure),
        run_by=str(r.run_by), loaded_by=str(r.loaded_by) if r.loaded_by_id else "",
        decided_by=str(release.decided_by) if release else "", reason=release.reason if release else "",
        given=given_in_words(release) if release else "",
    )  # fmt: skip


def user_check(t, r) -> f.UserCheckFact:
    """A check by the people of the place; `signed_by` is "" where nobody signed."""
    return f.UserCheckFact(
        t.read.row(r), kind=r.kind, result=r.result, value=_tidy(r.value), unit_of_measure=r.unit_of_measure,
        cycle_number=r.cycle_number, cycle_type=r.cycle_type, signed_by=str(r.signed_by) if r.signed_by else "",
        note=r.note, purpose=r.purpose,
    )  # fmt: skip


def follow_up(t, r, dones) -> f.FollowUpFact:
    """An action in a failure case; done as the last of `dones` in force says, not done where there is none."""
    done = dones[-1] if dones else None
    return f.FollowUpFact(
        t.read.row(r), action=r.action, text=r.what, owner=r.owner, due_on=r.due_on,
        done_on=done.happened_on if done else None, done_at=done.happened_at if done else None,
        done_by=done.done_by if done else "", outcome=done.outcome if done else "",
        done_row=t.read.row(done) if done else None,
    )  # fmt: skip


def unit(t, r, parts: dict) -> f.UnitFacts:
    """The plate as corrected, chamber in litres; `parts` are the unit's facts by field name, each kind in order."""
    return f.UnitFacts(
        t.read.row(r), label=r.label, serial=r.serial, maker=r.maker, model=r.model,
        equipment_type=r.equipment_type, chamber_litres=r.chamber_litres, udi=r.udi, **parts,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------ corrections


def _changes(old, new) -> tuple[tuple[str, str, str], ...]:
    skipped = {"id", "ref", "entry", "line", "amends", "amend_reason", "origin"}
    found = []
    for field in new._meta.concrete_fields:
        before, after = getattr(old, field.attname), getattr(new, field.attname)
        if field.name not in skipped and before != after:
            found.append((str(field.verbose_name), _said(before), _said(after)))
    return tuple(found)


def _said(value) -> str:
    return f"{_tidy(value):f}" if isinstance(value, Decimal) else str(value)


def _correction(t, row, reason, changes) -> f.CorrectionFact:
    unit_id = row.pk if isinstance(row, m.Unit) else getattr(row, "unit_id", None)
    return f.CorrectionFact(
        number=row.entry.number,
        logged_at=row.entry.logged_at,
        logged_by=str(row.entry.logged_by),
        unit=t.origins.get((m.Unit, unit_id), "") if unit_id else "",
        what=str(row._meta.verbose_name),
        ref=str(row.origin),
        happened_on=row.happened_on,
        reason=reason,
        changes=changes,
    )


def corrections(t) -> tuple[f.CorrectionFact, ...]:
    """Every correction and every row entered in error, oldest first."""
    made = []
    by_origin = {}
    for found in (*t.every.values(), *t.books.own()):
        by_id = {r.pk: r for r in found}
        by_origin.update({r.origin: r for r in found})
        for row in found:
            if row.amends_id in by_id:
                made.append(_correction(t, row, row.amend_reason, _changes(by_id[row.amends_id], row)))
    for voiding in t.read.voidings:
        row = by_origin.get(voiding.target)
        if row is not None:
            fact = _correction(t, row, voiding.reason, ())
            made.append(_replace_entry(fact, voiding.entry))
    return tuple(sorted(made, key=lambda c: (c.number, c.what, c.ref)))


def _replace_entry(fact, entry):
    return replace(fact, number=entry.number, logged_at=entry.logged_at, logged_by=str(entry.logged_by))
