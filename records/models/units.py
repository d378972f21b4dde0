"""Units, what sits on them and what is planned for them. Superseded by later rows, never edited."""

from __future__ import annotations

from django.db import models

from .base import ClinicFact, Fact, UnitFact, person_field, text, words
from .people import Organisation

EQUIPMENT_TYPES = ("gravity", "dynamic air removal", "cassette")


class UnitModel(Fact):
    """A type of sterilizer as its plate names it, in the books of whoever described it."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    maker = models.CharField(max_length=120)
    name = models.CharField(max_length=120)
    equipment_type = models.CharField(max_length=30, choices=words(*EQUIPMENT_TYPES))
    chamber_litres = models.DecimalField(max_digits=6, decimal_places=1)

    class Meta(Fact.Meta):
        verbose_name = "unit model"

    def __str__(self):
        return f"{self.maker} {self.name}"


class Unit(Fact):
    """One individual sterilizer. The plate is copied, so that a change to a model changes no unit's past."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    label = models.CharField("number or name on the unit", max_length=60)
    serial = models.CharField(max_length=60)
    maker = models.CharField(max_length=120)
    model = models.CharField(max_length=120)
    equipment_type = models.CharField(max_length=30, choices=words(*EQUIPMENT_TYPES))
    chamber_litres = models.DecimalField(max_digits=6, decimal_places=1)
    udi = text(120)
    unit_model = models.ForeignKey(UnitModel, models.PROTECT, null=True, blank=True, related_name="+")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"unit_model": "the model is not described in our books"}

    def __str__(self):
        return f"{self.label} ({self.model}, serial {self.serial})"


class Placement(ClinicFact):
    """Where a unit stands from a day on. The newest placement says which clinic has it."""

    unit = models.ForeignKey(Unit, models.PROTECT, related_name="placements")
    effective_on = models.DateField()
    room = models.CharField(max_length=120)
    use = models.CharField(max_length=20, choices=words("in use", "stored as spare"), default="in use")


class Position(UnitFact):
    """A place on the unit where a part sits."""

    code = models.SlugField(max_length=60)
    name = models.CharField(max_length=120)
    component = models.CharField(max_length=60)

    def __str__(self):
        return self.name


class Fit(UnitFact):
    """Whether a position has its part, from a day on."""

    position = models.ForeignKey(Position, models.PROTECT, related_name="fits")
    effective_on = models.DateField()
    state = models.CharField(
        max_length=10,
        choices=[
            ("yes", "yes"),
            ("none", "none on this version"),
            ("missing", "should be there, is missing"),
            ("unknown", "unknown"),
        ],
    )
    note = text(300)


ACTIONS = ("inspect", "clean", "lubricate", "replace", "test", "calibrate")
REPAIR_CLASSES = (("A", "routine"), ("B", "significant"), ("C", "major"), ("X", "do not use"))


class PlanLine(UnitFact):
    """What is to be done to which position, how often, and which document says so. Whichever limit comes first."""

    code = models.SlugField(max_length=60)
    position = models.ForeignKey(Position, models.PROTECT, null=True, blank=True, related_name="+")
    title = models.CharField(max_length=160)
    action = models.CharField(max_length=12, choices=words(*ACTIONS))
    months = models.PositiveSmallIntegerField(null=True, blank=True)
    cycles = models.PositiveIntegerField(null=True, blank=True)
    hours = models.PositiveIntegerField(null=True, blank=True)
    lead_days = models.PositiveSmallIntegerField(default=60)
    grace_days = models.PositiveSmallIntegerField(default=0)
    source = models.CharField(max_length=200)
    edition = text(60)
    rule = text(500)
    repair_class = models.CharField(max_length=1, choices=REPAIR_CLASSES, default="A")
    effective_on = models.DateField()
    retired = models.BooleanField(default=False)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "position": "the whole unit",
        "months": "no limit in months",
        "cycles": "no limit in cycles",
        "hours": "no limit in hours",
    }

    class Meta(Fact.Meta):
        verbose_name = "plan line"

    def __str__(self):
        return self.title


class Program(UnitFact):
    """What a program of the unit must reach in its exposure, and which document says so; from a day on.

    The newest row of one name in effect holds. Both ends of a band are inside it.
    """

    name = models.CharField("program, as the unit names it", max_length=60)
    exposure_minutes = models.DecimalField(
        "least exposure in minutes", max_digits=5, decimal_places=1, null=True, blank=True
    )
    temperature_low = models.DecimalField(
        "least temperature in °C", max_digits=5, decimal_places=1, null=True, blank=True
    )
    temperature_high = models.DecimalField(
        "greatest temperature in °C", max_digits=5, decimal_places=1, null=True, blank=True
    )
    pressure_low = models.DecimalField(
        "least pressure in kPa on the gauge", max_digits=6, decimal_places=1, null=True, blank=True
    )
    pressure_high = models.DecimalField(
        "greatest pressure in kPa on the gauge", max_digits=6, decimal_places=1, null=True, blank=True
    )
    source = models.CharField(max_length=200)
    effective_on = models.DateField()
    retired = models.BooleanField(default=False)

    EMPTY_MEANS = Fact.EMPTY_MEANS | dict.fromkeys(
        ("exposure_minutes", "temperature_low", "temperature_high", "pressure_low", "pressure_high"),
        "the document states no such limit",
    )

    class Meta(Fact.Meta):
        verbose_name = "program of a unit"
        verbose_name_plural = "programs of units"

    def __str__(self):
        return self.name


UNIT_EVENTS = ("installed", "relocated", "withdrawn", "returned", "decommissioned", "loaner in", "loaner out")


class UnitEvent(UnitFact):
    """Something that happened to the unit as a whole. Withdrawing is the red switch; there is no green one."""

    kind = models.CharField(max_length=20, choices=words(*UNIT_EVENTS))
    reason = text(500)
    by = person_field("by whom")
    # Of a return: the withdrawal that it ends.
    ends = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"ends": "no withdrawal is named"}

    class Meta(Fact.Meta):
        verbose_name = "unit event"


class CounterReading(UnitFact):
    """A counter as shown, and what to add to it for the life total after a board change."""

    job = models.ForeignKey("records.Job", models.PROTECT, null=True, blank=True, related_name="+")
    counter = models.CharField(max_length=10, choices=words("cycles", "hours"))
    shown = models.DecimalField("value shown", max_digits=12, decimal_places=1)
    offset = models.DecimalField("add for the life total", max_digits=12, decimal_places=1, default=0)
    offset_reason = text(300)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"job": "read outside a visit"}

    class Meta(Fact.Meta):
        verbose_name = "counter reading"
