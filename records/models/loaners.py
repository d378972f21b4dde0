"""A company's units that are lent to clinics: which there are, where each went and when it came back.

The company's books name the clinics; a clinic's ledger names the company, and no other clinic.
"""

from __future__ import annotations

from django.db import models

from records.wording import CONTAMINATION

from .base import Fact, UnitFact, person_field, text, words
from .people import Clinic, Organisation
from .stock import StockPlace
from .units import EQUIPMENT_TYPES, Unit


class PoolUnit(Fact):
    """A fact: the company has this unit to lend, from that day on; `place` is the store where it stood then."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    label = models.CharField("number or name on the unit", max_length=60)
    serial = models.CharField(max_length=60)
    maker = models.CharField(max_length=120)
    model = models.CharField(max_length=120)
    equipment_type = models.CharField(max_length=30, choices=words(*EQUIPMENT_TYPES))
    chamber_litres = models.DecimalField(max_digits=6, decimal_places=1)
    udi = text(120)
    template = models.UUIDField("edition of a template that it follows", null=True, blank=True)
    place = models.ForeignKey(StockPlace, models.PROTECT, related_name="+")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"template": "it follows none"}

    class Meta(Fact.Meta):
        verbose_name = "unit to lend"
        verbose_name_plural = "units to lend"

    def __str__(self):
        return f"{self.label} ({self.model}, serial {self.serial})"


class PoolUnitEnd(Fact):
    """A fact: the unit is not lent any more: sold, scrapped, given away."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    pool_unit = models.ForeignKey(PoolUnit, models.PROTECT, related_name="ends")
    reason = models.CharField(max_length=300)

    class Meta(Fact.Meta):
        verbose_name = "end of lending a unit"
        verbose_name_plural = "ends of lending units"


class Loan(Fact):
    """A fact: the unit went to the clinic. `record` is the unit there, `in_place_of` the clinic's own, by ref."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    pool_unit = models.ForeignKey(PoolUnit, models.PROTECT, related_name="loans")
    clinic = models.ForeignKey(Clinic, models.PROTECT, related_name="+")
    record = models.UUIDField("its record at the clinic")
    in_place_of = models.UUIDField("the clinic's unit that it stands in for", null=True, blank=True)
    to_store = models.ForeignKey(StockPlace, models.PROTECT, null=True, blank=True, related_name="+")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "in_place_of": "it stands in for no other unit",
        "to_store": "no unit of the clinic was taken along",
    }

    def __str__(self):
        return f"{self.pool_unit.label} lent to {self.clinic.name} on {self.happened_on}"


class LoanEnd(Fact):
    """A fact: the unit came back from the clinic, to which store, and in what state it was handed over."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    loan = models.ForeignKey(Loan, models.PROTECT, related_name="ends")
    place = models.ForeignKey(StockPlace, models.PROTECT, related_name="+")
    contamination = models.CharField(max_length=24, choices=words(*CONTAMINATION))
    brought_by = person_field("who took it back")
    note = text(300)

    class Meta(Fact.Meta):
        verbose_name = "end of a loan"
        verbose_name_plural = "ends of loans"


class LoanerHere(UnitFact):
    """A fact of the clinic: the unit is lent by `company` from that day on, in place of `instead_of`.

    It ends with the event "loaner out" of the same unit. `loan` is the ref of the loan in the company's books.
    """

    company = models.CharField("who lends it", max_length=200)
    instead_of = models.ForeignKey(Unit, models.PROTECT, null=True, blank=True, related_name="+")
    loan = models.UUIDField("the loan in the books of who lends it")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"instead_of": "it stands in for no other unit"}

    class Meta(Fact.Meta):
        verbose_name = "loaner"

    def __str__(self):
        return f"lent by {self.company} from {self.happened_on}"
