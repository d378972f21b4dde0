"""One builder a kind of row: a row in, a fact out. No queries here; `t` is what `gather` has read.

Rows of work stand in `rows_of_work`, corrections in `corrections`.
"""

from __future__ import annotations

from decimal import Decimal

from audit import facts as f
from audit.facts.names import PASSKEY, SIGNED, TOLD
from audit.judge.biological import plain_text
from records import models as m
from records.log import signatures
from records.log.signatures import SIGNED_SINCE

# The people a row names, to be read along with it.
PEOPLE = {
    m.UnitEvent: ("by",),
    m.Visit: ("technician",),
    m.Job: ("worked_by",),
    m.Signature: ("signed_by",),
    m.LoadRelease: ("decided_by",),
    m.BioTest: ("run_by",),
    m.BioReading: ("read_by",),
    m.KnownGap: ("accepted_by",),
    m.UserCheck: ("signed_by",),
    m.Load: ("run_by", "loaded_by"),
    m.LoadRelease: ("decided_by",),
    m.Inspection: ("visitor",),
    m.PointMet: ("done_by",),
    m.FaultReport: ("reported_by",),
    m.FaultSettled: ("settled_by",),
    m.VisitAgreed: ("agreed_with", "agreed_by"),
    m.VisitCalledOff: ("told_by", "told_to"),
    m.Credential: ("person",),
}


def tidy(number: Decimal | None) -> Decimal | None:
    """A decimal without the zeros that the column adds: 134.2, not 134.2000."""
    if number is None:
        return None
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number.normalize()


def given(row) -> str:
    """How the name of who signed a row, or decided, came in, as `records.log.signatures.given` says it.

    A signature by passkey has a code of its own. Of an entry from before anybody could sign, "not asked" stands for
    what was entered or told.
    """
    code = signatures.given(row)
    if code == SIGNED and row.amend_reason == signatures.SIGNED_BY_PASSKEY:
        return PASSKEY
    return "not asked" if code in ("entered", "told") and row.entry.form < SIGNED_SINCE else code


def _unit_ref(t, row) -> str:
    return t.origins.get((m.Unit, row.unit_id), "") if row.unit_id else ""


def position_ref(t, row) -> str:
    """The origin of the position that a row names, "" for none."""
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
        t.read.row(r), position=position_ref(t, r), state=r.state, effective_on=r.effective_on, note=r.note
    )


def plan_line(t, r) -> f.PlanLineFact:
    """A version of a plan line: limits in months, cycles and hours of use (None: no such limit), the rest in days."""
    return f.PlanLineFact(
        t.read.row(r), code=r.code, position=position_ref(t, r), title=r.title, action=r.action, months=r.months,
        cycles=r.cycles, hours=r.hours, lead_days=r.lead_days, grace_days=r.grace_days, source=r.source,
        edition=r.edition, rule=r.rule, repair_class=r.repair_class, effective_on=r.effective_on,
        retired=r.retired,
    )  # fmt: skip


def program(t, r) -> f.ProgramFact:
    """What a program needs from `effective_on` on: minutes, degrees Celsius, kPa on the gauge; None: not stated."""
    limits = ("exposure_minutes", "temperature_low", "temperature_high", "pressure_low", "pressure_high")
    return f.ProgramFact(
        t.read.row(r), name=r.name, source=r.source, effective_on=r.effective_on, retired=r.retired,
        **{name: tidy(getattr(r, name)) for name in limits},
    )  # fmt: skip


def unit_event(t, r) -> f.UnitEventFact:
    """An event of the unit as a whole, with the name of who said so, or that this name was erased and when."""
    return f.UnitEventFact(
        t.read.row(r), kind=r.kind, reason=r.reason, by=str(r.by), ends=t.origins.get((m.UnitEvent, r.ends_id), ""),
        given=event_given(t, r),
    )  # fmt: skip


def event_given(t, r) -> str:
    """As `given`. That a name was erased changes nothing: whose it is stays."""
    if r.amends_id is not None:  # looked up here, where every version is, and not in the database
        r.amends = next((x for x in t.every[m.UnitEvent] if x.pk == r.amends_id), None)
    return given(r)


def counter(t, r) -> f.CounterFact:
    """Cycles or hours as shown, and what to add for the life total; without padding zeros."""
    return f.CounterFact(
        t.read.row(r), counter=r.counter, shown=tidy(r.shown), offset=tidy(r.offset), offset_reason=r.offset_reason
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
        minutes=tidy(r.minutes),
        settling=tidy(r.settling),
        start_pressure=tidy(r.start_pressure),
        start_temperature=tidy(r.start_temperature),
    )


def load(t, r, release) -> f.LoadFact:
    """A load with its decision. `release` is the decision in force, None for none; use time in minutes.

    One that was logged in an entry of its own keeps its row in `released_row`, and so its own day.
    """
    apart = release is not None and release.entry_id != r.entry_id
    return f.LoadFact(
        t.read.row(r), cycle_number=r.cycle_number, program=r.program, contents=r.contents, implant=r.implant,
        released=release.decision if release else "", mechanical=r.mechanical, chemical=r.chemical,
        minutes=tidy(r.minutes), released_row=t.read.row(release) if apart else None, packs=r.packs,
        held_packs=r.held_packs, held_pouches=r.held_pouches, held_cassettes=r.held_cassettes,
        pack_condition=r.pack_condition, exposure_minutes=tidy(r.exposure_minutes),
        exposure_temperature=tidy(r.exposure_temperature), exposure_pressure=tidy(r.exposure_pressure),
        run_by=str(r.run_by), loaded_by=str(r.loaded_by) if r.loaded_by_id else "",
        decided_by=str(release.decided_by) if release else "", reason=release.reason if release else "",
        released_given=given(release) if release else "",
    )  # fmt: skip


def user_check(t, r) -> f.UserCheckFact:
    """A check by the people of the place; `signed_by` is "" where nobody signed."""
    return f.UserCheckFact(
        t.read.row(r), kind=r.kind, result=r.result, value=tidy(r.value), unit_of_measure=r.unit_of_measure,
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
        done_row=t.read.row(done) if done else None, done_given=done_given(done) if done else "",
    )  # fmt: skip


def done_given(done) -> str:
    """How the name of who did a follow-up came in, as `given`; of a step that nobody signs, as it was typed.

    It is told where the name is not that of who entered it. Names that were erased are not shown to be the same.
    """
    return given(done)


def typed_given(row, name: str) -> str:
    """How a name that was typed into a row came in, as `done_given`."""
    if not name:
        return ""
    if row.entry.paper:
        return "paper"
    if row.entry.form < SIGNED_SINCE:
        return "not asked"
    return "entered" if plain_text(name) == plain_text(str(row.entry.logged_by)) else TOLD


def unit(t, r, parts: dict) -> f.UnitFacts:
    """The plate as corrected, chamber in litres; `parts` are the unit's facts by field name, each kind in order."""
    return f.UnitFacts(
        t.read.row(r), label=r.label, serial=r.serial, maker=r.maker, model=r.model,
        equipment_type=r.equipment_type, chamber_litres=r.chamber_litres, udi=r.udi, **parts,
    )  # fmt: skip
