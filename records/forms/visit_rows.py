"""The rows of one job in the visit form. A row left blank is no row; a half-filled one is complained about."""

from __future__ import annotations

from records.models import ConditionFinding, FittedPart, Job, JobConclusion, Reading, VerificationTest
from records.models.units import ACTIONS, REPAIR_CLASSES
from records.models.visits import OUTCOMES, VERIFICATIONS
from records.wording import JOB_REASONS, NOT_ON_THIS_UNIT

from .base import Refusable, marked
from .fields import Choice, Day, Line, Lines, Measured, Number, OneOf, TimeOfDay, Whole
from .work import MEANWHILE

NONE = "none"


def _words_of(model, field: str):
    return model._meta.get_field(field).choices


class RowForm(Refusable):
    """A row for one unit. `of_job` says which rows of the register it may point to."""

    FIELD_OF: dict[str, str] = {}

    def __init__(self, *args, of_job=None, **kwargs):
        super().__init__(*args, **kwargs)
        if of_job is not None and "position" in self.fields:
            self.fields["position"].take(of_job.positions)
        if of_job is not None and "part_lot" in self.fields:
            self.fields["part_lot"].take(of_job.part_lots)

    @property
    def is_blank(self) -> bool:
        return not self.has_changed()

    @property
    def stands(self) -> str:
        """What a row that was filled in before says first, "" of a new one and of one in which something is wrong."""
        if not self.initial or self.errors:
            return ""
        told = [str(bf.value()) for bf in self.visible_fields() if isinstance(bf.field, Line | Lines) and bf.value()]
        return told[0] if told else ""

    def values(self) -> dict:
        return {k: v for k, v in self.cleaned_data.items() if v is not None}


class JobForm(RowForm):
    """Why the unit was worked on, and in what state it was handed over."""

    reason = Choice("Reason", JOB_REASONS)
    complaint = Lines("Complaint, in the user’s words", longest=2000)
    contamination = Choice("Contamination", _words_of(Job, "contamination"))
    class_stated = Choice("Repair class", REPAIR_CLASSES, initial="A")
    class_reason = Line("Why that class", longest=300)


class SafeStep(RowForm):
    """One step of making the unit safe: done, not done and why, or nothing of it on this unit (`if_fitted`)."""

    done = Choice(
        "Done?", [("done", "done"), ("no", "not done"), (NONE, NOT_ON_THIS_UNIT)], required=False, blank="not stated"
    )
    at = TimeOfDay("At")
    why_not = Line("Why not, or why it has none", longest=300)

    def __init__(self, *args, if_fitted: bool = True, **kwargs):
        super().__init__(*args, **kwargs)
        if not if_fitted:
            self.fields["done"].choices = [pair for pair in self.fields["done"].choices if pair[0] != NONE]

    def clean(self):
        values = super().clean()
        if values.get("done") == "no" and not values.get("why_not"):
            self.add_error("why_not", "Not done: say why, so that the next person knows what to watch for.")
        if values.get("done") == NONE and not values.get("why_not"):
            self.add_error("why_not", "Not on this unit: say how you know, such as “gravity unit, no vacuum”.")
        if values.get("why_not") and values.get("done") not in ("no", NONE):
            self.add_error(
                "done", "There is a reason, but the step is not marked “not done”. Mark it, or clear the reason."
            )
        return values

    @property
    def is_safe(self) -> bool:
        """Whether it was done, or the unit has nothing of it. Call when the form is valid."""
        return self.cleaned_data.get("done") in ("done", NONE)

    def values(self):
        done, at, why = (self.cleaned_data[name] for name in ("done", "at", "why_not"))
        if done == "done":
            return f"done at {at:%H:%M}" if at else "done"
        return f"{NOT_ON_THIS_UNIT}: {why}" if done == NONE else why


class OutcomeRow(RowForm):
    """What became of one line of the plan. Nothing chosen: it was not part of this visit."""

    outcome = Choice("Outcome", OUTCOMES, blank="not part of this visit")
    found = Line("Found", longest=500)
    reason = Line("Reason", longest=500)
    deferred_until = Day("Deferred until", required=False)
    decided_by = Line("Decided by")
    agreed_by = Line("Agreed by")


class ExtraTaskRow(OutcomeRow):
    """A task that is not on the plan."""

    action = Choice("Action", ACTIONS)
    position = OneOf("Position", required=False, blank="the whole unit")
    outcome = Choice("Outcome", OUTCOMES)

    field_order = ["action", "position", "outcome", "found", "reason"]


class FindingRow(RowForm):
    component = Line("Component", required=True)
    position = OneOf("Position", required=False, blank="not a listed position")
    grade = Choice("Condition", _words_of(ConditionFinding, "grade"), coerce=int)
    seen = Line("What was seen", longest=500, required=True)
    decision = Choice("Decision", _words_of(ConditionFinding, "decision"))
    rule = Line("Rule", longest=500)
    reason = Line("Reason", longest=500)
    repair_class = Choice("Repair class", REPAIR_CLASSES, initial="A")
    part_needed = Line("Part to be brought", longest=160)
    part_needed_number = Line("Its number", longest=80)
    part_needed.optional_word = "needed while the part is awaited"


class ReadingRow(RowForm):
    quantity = Line("What was measured", longest=80, required=True)
    # The writer asks for the unit of measure, in the words that fit the reading.
    unit_of_measure = Line("Unit of measure", longest=20, help_text="Such as °C, kPa, minutes, Ω.")
    unit_of_measure.optional_word = "needed"
    point = Line("Where", longest=80)
    as_found = Number("As found", places=4, digits=14)
    as_left = Number("As left", places=4, digits=14)
    lower = Number("Lower limit", places=4, digits=14)
    upper = Number("Upper limit", places=4, digits=14)
    limit_source = Line("Source of the limit", longest=200)
    instrument = Line("Instrument")
    calibration_due = Day("Its calibration is due on", required=False)
    found_while = Choice("As found was taken", _words_of(Reading, "found_while"), required=False, blank="not stated")
    instrument_left = Line("Instrument of as left")
    instrument_left.optional_word = "if another"
    calibration_due_left = Day("The calibration of that one is due on", required=False)

    def values(self):
        # As found and as left stay in, empty too: a reading without a number is complained about.
        return self.cleaned_data


class PartRow(RowForm):
    part_lot = OneOf(
        "From own stock",
        required=False,
        blank="not from own stock",
        unknown="That lot was not received by your company or this clinic. Choose one of your own lots.",
        name=marked,
    )
    name = Line("Part", longest=160, help_text="Blank when it is from own stock.")
    number = Line("Part number as printed", longest=80)
    lot_state = Choice(
        "Lot on the part",
        ("printed", "not printed", "unreadable"),
        required=False,
        help_text="Blank when it is from own stock.",
    )
    lot = Line("Lot as printed", longest=80)
    receipt_lot = Line("Own receipt lot", longest=80)
    expiry = Day("Expires on", required=False)
    part_lot.widget.attrs["data-scan-fill"] = "lot"
    number.widget.attrs["data-scan-fill"] = "gtin"
    lot.widget.attrs["data-scan"] = "lot"
    expiry.widget.attrs["data-scan-fill"] = "expiry"
    quantity = Whole("How many", required=True, largest=999, initial=1)
    action = Choice("Action", _words_of(FittedPart, "action"))
    position = OneOf("Position", required=False, blank="not a listed position")
    old_part = Choice("Old part", _words_of(FittedPart, "old_part"))
    kit = Line("From which kit")

    def clean(self):
        values = super().clean()
        if values.get("part_lot") is None and "part_lot" not in self.errors:
            if not values.get("name"):
                self.add_error("name", "Which part? Enter its name, or choose a lot from own stock.")
            if not values.get("lot_state"):
                self.add_error("lot_state", "Is a lot printed on the part? Say so, or choose a lot from own stock.")
        return values

    def values(self):
        return {k: v for k, v in self.cleaned_data.items() if v not in (None, "")}


class TestRow(RowForm):
    __test__ = False  # a row of the form, not a test of this program

    code = Choice("Test", VERIFICATIONS)
    result = Choice("Result", _words_of(VerificationTest, "result"))
    temperature_low = Measured("Least temperature", "°C", digits=7)
    temperature_high = Measured("Greatest temperature", "°C", digits=7)
    band_low = Measured("Band from", "°C", digits=7)
    band_high = Measured("Band to", "°C", digits=7)
    minutes = Number("Holding time in minutes", places=2, digits=7)
    minutes_needed = Number("Holding time needed, in minutes", places=2, digits=7)
    pressure_low = Measured("Least pressure, absolute", "kPa", digits=7)
    pressure_high = Measured("Greatest pressure, absolute", "kPa", digits=7)
    value = Line("Value in words", longest=200)
    cycle_number = Line("Cycle number", longest=40)
    reason = Line("Reason, if not done", longest=300)


class SignatureRow(RowForm):
    meaning = Choice(
        "Signed for",
        [
            ("released", "released by the technician"),
            ("returned to use", "returned to use by the clinic"),
            ("left out of use", "left out of use, seen by the clinic"),
            ("refused", "the clinic refused to sign"),
            ("nobody present", "nobody was present"),
        ],
    )
    name = Line("Name", longest=200)
    role = Line("Role", longest=80)
    reason = Line("Reason, if not signed", longest=300)

    FIELD_OF = {"signed_by": "name"}


class CounterRow(RowForm):
    counter = Choice("Counter", ("cycles", "hours"))
    shown = Number("Value shown", required=True)
    offset = Number("Add for the life total")
    offset_reason = Line("Why it is added", longest=300)


class ConclusionForm(RowForm):
    conclusion = Choice("How the job ends", _words_of(JobConclusion, "conclusion"))
    limitation = Line("Limited to what", longest=300)
    acceptor = Line(
        "Accepted at the clinic by", help_text="Of a pending result or a limited use: they sign the return to use."
    )
    deadline = Day("Until", required=False)
    meanwhile = Choice("Not worked on: may it be used meanwhile?", MEANWHILE, required=False, blank="worked on")
    reason = Line("Reason", longest=500)

    def clean(self):
        values = super().clean()
        if values.get("conclusion") == "not worked on" and not values.get("meanwhile") and not self.errors:
            words = "Not worked on. May it be used meanwhile? When nobody knows, take it out of service."
            self.add_error("meanwhile", words)
        return values
