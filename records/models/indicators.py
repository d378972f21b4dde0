"""Monitoring: indicator lots, biological, chemical, air-removal and leak tests, loads."""

from __future__ import annotations

from django.db import models

from records.wording import PURPOSES

from .base import Fact, UnitFact, person_field, text, words
from .people import Organisation

CHECKED = words("pass", "fail", "not recorded")
# Why a test was run. After a failure, work or a move it is the statement that it ran after that.
_PURPOSES = words(*PURPOSES)


def purpose_field() -> models.CharField:
    """Why a test was run; "" on tests of before it was asked for."""
    return models.CharField(max_length=20, choices=_PURPOSES, blank=True, default="", db_default="")


class IndicatorLot(Fact):
    """A box of indicators as its label reads."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=words("biological", "chemical"))
    name = models.CharField(max_length=120)
    lot = models.CharField(max_length=60)
    expiry = models.DateField(null=True, blank=True)
    incubation_hours = models.PositiveSmallIntegerField(default=0)
    incubation_low = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    incubation_high = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    chemical_type = models.PositiveSmallIntegerField(null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "expiry": "not printed on the box",
        "incubation_low": "the label states none",
        "incubation_high": "the label states none",
        "chemical_type": "not a chemical indicator",
    }

    class Meta(Fact.Meta):
        verbose_name = "indicator lot"

    def __str__(self):
        expiry = f", use by {self.expiry}" if self.expiry else ""
        return f"{self.name}, lot {self.lot}{expiry}"


class BioTest(UnitFact):
    """A spore test as it was run. What the reading shows is a row of its own."""

    cycle_number = text(40)
    cycle_type = models.CharField(max_length=60)
    chamber = models.CharField(max_length=12, choices=words("empty", "full", "not stated"))
    purpose = models.CharField(
        max_length=20,
        choices=_PURPOSES,
        default="routine",
    )
    site = models.CharField("read where", max_length=12, choices=words("clinic", "laboratory"))
    place = models.CharField("place in the chamber", max_length=120, blank=True, default="", db_default="")
    lot = models.ForeignKey(IndicatorLot, models.PROTECT, related_name="+")
    control_lot = models.ForeignKey(IndicatorLot, models.PROTECT, null=True, blank=True, related_name="+")
    implant = models.BooleanField("the load held an implant", default=False)
    mechanical = models.CharField(max_length=14, choices=words("pass", "fail", "not recorded"))
    chemical = models.CharField(max_length=14, choices=words("pass", "fail", "not recorded"))
    run_by = person_field("run by")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"control_lot": "no control was run"}

    class Meta(Fact.Meta):
        verbose_name = "spore test (biological indicator)"


class BioReading(UnitFact):
    """One look at a spore test and its control. `happened_at` is when it was read."""

    bio_test = models.ForeignKey(BioTest, models.PROTECT, related_name="readings")
    test = models.CharField("the test", max_length=12, choices=words("growth", "no growth", "no result"))
    control = models.CharField(
        "the control", max_length=12, choices=words("growth", "no growth", "no result", "not stated")
    )
    known_on = models.DateField("known at the clinic on")
    known_at = models.DateTimeField(null=True, blank=True)
    incubated_hours = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    incubator_temperature = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    read_by = person_field("read by")
    report = text(160, verbose_name="laboratory and report number")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "known_at": "the time of day is not known",
        "incubated_hours": "not stated",
        "incubator_temperature": "not stated",
    }

    class Meta(Fact.Meta):
        verbose_name = "reading of a spore test"
        verbose_name_plural = "readings of spore tests"


class ChemicalResult(UnitFact):
    """A chemical indicator as it was read. Types 1 to 6 of ISO 11140-1."""

    type = models.PositiveSmallIntegerField(choices=[(n, f"type {n}") for n in range(1, 7)])
    result = models.CharField(max_length=10, choices=words("pass", "fail", "not read"))
    cycle_number = text(40)
    where = text(120)
    lot = models.ForeignKey(IndicatorLot, models.PROTECT, null=True, blank=True, related_name="+")
    read_by = person_field("read by")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"lot": "the lot was not noted"}

    class Meta(Fact.Meta):
        verbose_name = "chemical indicator result"


class AirRemovalTest(UnitFact):
    """A steam penetration test of a dynamic-air-removal unit."""

    result = models.CharField(max_length=10, choices=words("pass", "fail"))
    cycle_number = text(40)
    chamber = models.CharField(max_length=12, choices=words("empty", "full", "not stated"), default="empty")
    purpose = purpose_field()
    lot = models.ForeignKey(IndicatorLot, models.PROTECT, null=True, blank=True, related_name="+")
    run_by = person_field("run by")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"lot": "the lot was not noted"}

    class Meta(Fact.Meta):
        verbose_name = "air-removal test"


class LeakTest(UnitFact):
    """An air-leak test: what was read with its unit and duration, and the rate in kPa/min computed from it."""

    rise = models.DecimalField("pressure rise", max_digits=8, decimal_places=3)
    unit_of_measure = models.CharField(max_length=8, choices=words("kPa", "mbar", "bar", "mmHg"))
    minutes = models.DecimalField("over minutes", max_digits=5, decimal_places=1)
    settling = models.DecimalField(
        "minutes of settling before", max_digits=5, decimal_places=1, null=True, blank=True
    )
    start_pressure = models.DecimalField(
        "absolute pressure at the start in kPa", max_digits=7, decimal_places=2, null=True, blank=True
    )
    start_temperature = models.DecimalField(
        "temperature at the start in °C", max_digits=5, decimal_places=1, null=True, blank=True
    )
    purpose = purpose_field()
    rate = models.DecimalField("rate in kPa/min", max_digits=8, decimal_places=4)
    limit = models.DecimalField("limit in kPa/min", max_digits=8, decimal_places=4)
    limit_source = models.CharField(max_length=200)
    result = models.CharField(max_length=10, choices=words("pass", "fail"))
    run_by = person_field("run by")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "settling": "not recorded",
        "start_pressure": "not recorded",
        "start_temperature": "not recorded",
    }

    class Meta(Fact.Meta):
        verbose_name = "air-leak test"


class Load(UnitFact):
    """A cycle with goods in it. Contents by number or description, never a person treated."""

    cycle_number = models.CharField(max_length=40)
    program = models.CharField(max_length=60)
    contents = text(300)
    implant = models.BooleanField("held an implant", default=False)
    # "" on loads of before these were asked for.
    mechanical = models.CharField(
        "gauges and printout", max_length=14, choices=CHECKED, blank=True, default="", db_default=""
    )
    chemical = models.CharField(
        "chemical indicators", max_length=14, choices=CHECKED, blank=True, default="", db_default=""
    )
    packs = models.CharField(
        "packs when taken out", max_length=14, choices=words("dry", "wet", "not recorded"), blank=True, default="",
        db_default="",
    )  # fmt: skip
    minutes = models.DecimalField("use time in minutes", max_digits=6, decimal_places=1, null=True, blank=True)
    run_by = person_field("run by")
    held_packs = models.PositiveSmallIntegerField("wrapped packs", null=True, blank=True)
    held_pouches = models.PositiveSmallIntegerField("pouches", null=True, blank=True)
    held_cassettes = models.PositiveSmallIntegerField("cassettes", null=True, blank=True)
    pack_condition = models.CharField(
        "wrapping when taken out", max_length=14, choices=words("intact", "damaged", "not recorded"), blank=True,
        default="", db_default="",
    )  # fmt: skip
    # What gauges, printout or data showed of the exposure: its length, and the least temperature and pressure in it.
    exposure_minutes = models.DecimalField(
        "exposure in minutes", max_digits=5, decimal_places=1, null=True, blank=True
    )
    exposure_temperature = models.DecimalField(
        "temperature of the exposure in °C", max_digits=5, decimal_places=1, null=True, blank=True
    )
    exposure_pressure = models.DecimalField(
        "pressure of the exposure in kPa on the gauge", max_digits=6, decimal_places=1, null=True, blank=True
    )
    loaded_by = person_field("loaded by", null=True, blank=True)

    EMPTY_MEANS = (
        Fact.EMPTY_MEANS
        | {"minutes": "not recorded"}
        | dict.fromkeys(
            (
                "held_packs", "held_pouches", "held_cassettes", "exposure_minutes", "exposure_temperature",
                "exposure_pressure", "loaded_by",
            ),
            "not recorded; not asked before form 7",
        )
    )  # fmt: skip


class LoadRelease(UnitFact):
    """The decision on a load."""

    load = models.ForeignKey(Load, models.PROTECT, related_name="releases")
    decision = models.CharField(max_length=10, choices=words("released", "rejected"))
    reason = text(300)
    decided_by = person_field("decided by")

    class Meta(Fact.Meta):
        verbose_name = "release of a load"
        verbose_name_plural = "releases of loads"


class UserCheck(UnitFact):
    """A check of the unit by the people of the place."""

    kind = models.CharField(
        max_length=24,
        choices=words("automatic control", "safety check", "thermometer comparison", "water", "air detector"),
    )
    purpose = purpose_field()
    result = models.CharField(max_length=10, choices=words("pass", "fail", "not done"))
    value = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    unit_of_measure = text(20)
    cycle_number = text(40)
    cycle_type = text(60)
    signed_by = person_field("signed by", null=True, blank=True)
    note = text(500)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"value": "the check has no value", "signed_by": "nobody signed"}

    class Meta(Fact.Meta):
        verbose_name = "user check"
