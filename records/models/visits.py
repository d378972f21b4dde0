"""Service: a visit has jobs, a job is one unit in one visit with everything done to it."""

from __future__ import annotations

from django.db import models

from records.wording import CONTAMINATION, JOB_REASONS

from .base import ClinicFact, Fact, UnitFact, person_field, text, words
from .people import ServiceCompany
from .units import ACTIONS, REPAIR_CLASSES, PlanLine, Position


class Visit(ClinicFact):
    """Somebody came (or the clinic's own people took up tools). `happened_at` is the arrival."""

    company = models.ForeignKey(ServiceCompany, models.PROTECT, null=True, blank=True, related_name="+")
    servicer = models.CharField(max_length=200)
    technician = person_field("technician")
    report_number = text(60)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"company": "an outside servicer or the clinic's own people"}

    def __str__(self):
        return f"Visit of {self.servicer} on {self.happened_on}"


class VisitEnd(ClinicFact):
    """The departure."""

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="ends")

    class Meta(Fact.Meta):
        verbose_name = "end of visit"


class Job(UnitFact):
    """One unit in one visit."""

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="jobs")
    reason = models.CharField(max_length=20, choices=words(*JOB_REASONS))
    complaint = text(help_text="In the user's words.")
    worked_by = person_field("worked by")
    contamination = models.CharField(
        max_length=24,
        choices=words(*CONTAMINATION),
    )
    make_safe = models.JSONField(default=list, blank=True, help_text="Steps: [what, done or why not].")
    class_stated = models.CharField(max_length=1, choices=REPAIR_CLASSES, default="A")
    class_reason = text(300)

    def __str__(self):
        return f"{self.unit.label}: {self.reason} on {self.happened_on}"


class JobFact(UnitFact):
    """A leaf of a job."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="%(class)ss")

    class Meta(Fact.Meta):
        abstract = True


OUTCOMES = ("done", "not due", "deferred", "not possible", "not applicable", "not done")


class TaskOutcome(JobFact):
    """What became of one task. A blank is not an outcome."""

    plan_line = models.ForeignKey(PlanLine, models.PROTECT, null=True, blank=True, related_name="+")
    position = models.ForeignKey(Position, models.PROTECT, null=True, blank=True, related_name="+")
    action = models.CharField(max_length=12, choices=words(*ACTIONS))
    outcome = models.CharField(max_length=16, choices=words(*OUTCOMES))
    found = text(500)
    reason = text(500)
    deferred_until = models.DateField(null=True, blank=True)
    decided_by = text(120)
    agreed_by = text(120)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "plan_line": "an unplanned task",
        "position": "the whole unit",
        "deferred_until": "the outcome is not a deferral",
    }

    class Meta(Fact.Meta):
        verbose_name = "task outcome"


class ConditionFinding(JobFact):
    """The condition of a component as it was seen, and the decision on it."""

    position = models.ForeignKey(Position, models.PROTECT, null=True, blank=True, related_name="+")
    component = models.CharField(max_length=120)
    grade = models.PositiveSmallIntegerField(
        choices=[(0, "0 as new"), (1, "1 worn"), (2, "2 at its limit"), (3, "3 failed")]
    )
    seen = models.CharField(max_length=500)
    decision = models.CharField(
        max_length=12,
        choices=words("leave", "clean", "adjust", "repair kit", "replace", "part awaited", "condemn"),
    )
    # Of “part awaited”, it must be replaced and the part was not at hand: what is to be brought.
    part_needed = text(160, db_default="")
    part_needed_number = text(80, verbose_name="number of the part needed", db_default="")
    rule = text(500)
    reason = text(500)
    repair_class = models.CharField(max_length=1, choices=REPAIR_CLASSES, default="A")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"position": "not a listed position"}

    class Meta(Fact.Meta):
        verbose_name = "condition finding"


def _measured(**kwargs):
    return models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True, **kwargs)


class Reading(JobFact):
    """A measured pair, as found and as left, with its limits, where they stand, and the instrument of each."""

    quantity = models.CharField(max_length=80)
    unit_of_measure = models.CharField(max_length=20)
    point = text(80)
    as_found = _measured()
    as_left = _measured()
    lower = _measured()
    upper = _measured()
    limit_source = text(200)
    instrument = text(120)
    calibration_due = models.DateField(null=True, blank=True)
    # Whether the unit was still hot when the value as found was taken; "" where nobody said.
    found_while = models.CharField(
        "as found was taken", max_length=16, blank=True, default="", db_default="",
        choices=words("before cool-down", "after cool-down"),
    )  # fmt: skip
    # "" where as left was taken with `instrument` too, or was not asked apart (before form 11).
    instrument_left = text(120, verbose_name="instrument of as left, if another", db_default="")
    calibration_due_left = models.DateField("its calibration was due on", null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "as_found": "not measured",
        "as_left": "not measured",
        "lower": "no lower limit",
        "upper": "no upper limit",
        "calibration_due": "no calibrated instrument was used",
        "calibration_due_left": "as left was taken with the instrument of as found, or with none that is calibrated",
    }


FITTED, KEPT, LEFT_OUT, NOT_IN_BAG = KIT_FATES = ("fitted", "old one kept", "left out", "not in the bag")


class FittedPart(JobFact):
    """A part that was put on. What identifies it is copied, so a later change of the part list changes nothing."""

    position = models.ForeignKey(Position, models.PROTECT, null=True, blank=True, related_name="+")
    part_lot = models.ForeignKey("records.PartLot", models.PROTECT, null=True, blank=True, related_name="+")
    name = models.CharField(max_length=160)
    number = text(80, verbose_name="part number as printed")
    lot = text(80)
    lot_state = models.CharField(max_length=12, choices=words("printed", "not printed", "unreadable"))
    receipt_lot = text(80, verbose_name="own receipt lot")
    expiry = models.DateField(null=True, blank=True)
    quantity = models.PositiveSmallIntegerField(default=1)
    action = models.CharField(
        max_length=22, choices=words("replaced on plan", "replaced on condition", "found in place")
    )
    old_part = models.CharField(
        max_length=20, choices=words("scrapped", "kept", "returned", "none was fitted", "not known")
    )
    kit = text(120)
    # Of a piece out of a kit what became of it, and how many pieces. What was not fitted has a quantity of 0.
    kit_fate = models.CharField(
        max_length=16, choices=words(*KIT_FATES), blank=True, default="", db_default="",
        verbose_name="what became of the piece out of the kit",
    )  # fmt: skip
    kit_pieces = models.PositiveSmallIntegerField("pieces out of the kit", null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "position": "not a listed position",
        "part_lot": "not from our own stock",
        "expiry": "the part carries none",
        "kit_pieces": "not out of a kit that was accounted for piece by piece, or not asked before form 9",
    }

    class Meta(Fact.Meta):
        verbose_name = "fitted part"


VERIFICATIONS = [
    ("V1", "V1 function cycle, readings against an independent instrument"),
    ("V2", "V2 air leak or pressure hold"),
    ("V3", "V3 steam penetration"),
    ("V4", "V4 calibration of temperature, pressure, time"),
    ("V5", "V5 electrical safety"),
    ("V6", "V6 interlock, safety valve, cut-outs"),
    ("V7", "V7 one biological indicator"),
    ("V8", "V8 qualification set"),
    ("V9", "V9 performance with load"),
    ("V10", "V10 statutory examination"),
]


def _measured(name: str, places: int) -> models.DecimalField:
    return models.DecimalField(name, max_digits=7, decimal_places=places, null=True, blank=True)


class VerificationTest(JobFact):
    """One test before the unit goes back into use."""

    code = models.CharField(max_length=3, choices=VERIFICATIONS)
    result = models.CharField(max_length=16, choices=words("pass", "fail", "not done", "not applicable"))
    value = text(200)
    # What was measured from the begin to the end of the holding time, and the band it must stay in.
    temperature_low = _measured("least temperature in °C", 1)
    temperature_high = _measured("greatest temperature in °C", 1)
    pressure_low = _measured("least absolute pressure in kPa", 1)
    pressure_high = _measured("greatest absolute pressure in kPa", 1)
    minutes = _measured("holding time in minutes", 2)
    band_low = _measured("lower end of the temperature band in °C", 1)
    band_high = _measured("upper end of the temperature band in °C", 1)
    minutes_needed = _measured("holding time needed in minutes", 2)
    cycle_number = text(40)
    reason = text(300)

    EMPTY_MEANS = Fact.EMPTY_MEANS | dict.fromkeys(
        (
            "temperature_low",
            "temperature_high",
            "pressure_low",
            "pressure_high",
            "minutes",
            "band_low",
            "band_high",
            "minutes_needed",
        ),
        "not recorded",
    )

    class Meta(Fact.Meta):
        verbose_name = "verification test"


class JobConclusion(JobFact):
    """What the technician concludes. `pending` needs somebody at the clinic who accepts it, and a deadline."""

    conclusion = models.CharField(
        max_length=16, choices=words("released", "limited", "pending", "not released", "not worked on")
    )
    limitation = text(300)
    acceptor = text(120)
    deadline = models.DateField(null=True, blank=True)
    reason = text(500)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"deadline": "nothing is pending"}

    class Meta(Fact.Meta):
        verbose_name = "conclusion"


class Signature(JobFact):
    """Who signed for what. Refusing, or nobody being there, is a record too."""

    meaning = models.CharField(
        max_length=20, choices=words("released", "returned to use", "left out of use", "refused", "nobody present")
    )
    signed_by = person_field("signed by", null=True, blank=True)
    role = text(80)
    reason = text(300)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"signed_by": "nobody was present"}
