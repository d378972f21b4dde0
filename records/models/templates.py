"""What a company knows of a type of unit, edition by edition; and what of it was copied to one unit.

A template lies in the books of the company. What is copied to a unit lies in the clinic's own ledger, as text: it
stays when the company changes, and a later edition changes no unit by itself.
"""

from __future__ import annotations

from django.db import models

from .base import Fact, UnitFact, text, words
from .kits import Kit
from .parts import Part
from .people import Organisation
from .units import ACTIONS, EQUIPMENT_TYPES, REPAIR_CLASSES, Position


class UnitTemplate(Fact):
    """One edition of what belongs to a type of unit; its rows point to it. The next edition is `instead_of` it."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    maker = models.CharField(max_length=120)
    model = models.CharField(max_length=120)
    equipment_type = models.CharField(max_length=30, choices=words(*EQUIPMENT_TYPES))
    chamber_litres = models.DecimalField(max_digits=6, decimal_places=1)
    source = models.CharField("the maker's document", max_length=200)
    source_edition = text(60, verbose_name="edition of that document")
    edition = models.PositiveSmallIntegerField("edition of this template")
    instead_of = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="followed_by")
    changed = text(500, verbose_name="what is different from the edition before")
    retired = models.BooleanField("not offered any more", default=False)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"instead_of": "the first edition"}

    class Meta(Fact.Meta):
        verbose_name = "template of units"
        verbose_name_plural = "templates of units"

    def __str__(self):
        return f"{self.name}, edition {self.edition}"


class OfTemplate(Fact):
    """A row of one edition."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    template = models.ForeignKey(UnitTemplate, models.PROTECT, related_name="%(class)ss")

    class Meta(Fact.Meta):
        abstract = True


class TemplatePosition(OfTemplate):
    """A place where a part sits; `always`: every unit of that type has it, else it is asked of each unit."""

    code = models.SlugField(max_length=60)
    name = models.CharField(max_length=120)
    component = models.CharField(max_length=60)
    always = models.BooleanField("on every unit of this type", default=True)

    class Meta(Fact.Meta):
        verbose_name = "position of a template"

    def __str__(self):
        return self.name


class TemplateLine(OfTemplate):
    """A line of the plan as the maker states it. Of months, cycles and hours what comes first."""

    code = models.SlugField(max_length=60)
    position = models.ForeignKey(TemplatePosition, models.PROTECT, null=True, blank=True, related_name="+")
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

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "position": "the whole unit",
        "months": "no limit in months",
        "cycles": "no limit in cycles",
        "hours": "no limit in hours",
    }

    class Meta(Fact.Meta):
        verbose_name = "plan line of a template"

    def __str__(self):
        return self.title


class TemplatePart(OfTemplate):
    """A kind of part of the company's books that belongs to a position, and how many."""

    position = models.ForeignKey(TemplatePosition, models.PROTECT, null=True, blank=True, related_name="+")
    part = models.ForeignKey(Part, models.PROTECT, related_name="+")
    quantity = models.PositiveSmallIntegerField(default=1)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"position": "the whole unit"}

    class Meta(Fact.Meta):
        verbose_name = "part of a template"


class TemplateKit(OfTemplate):
    """A kit of the company's books that is for such units."""

    kit = models.ForeignKey(Kit, models.PROTECT, related_name="+")

    class Meta(Fact.Meta):
        verbose_name = "kit of a template"


class OfReading(models.Model):
    """What is measured, in which unit of measure, and the limits, both inclusive, with the document that says so."""

    quantity = models.CharField(max_length=80)
    unit_of_measure = models.CharField(max_length=20)
    point = text(80)
    lower = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    upper = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    limit_source = text(200)

    LIMITS_EMPTY = {"lower": "no lower limit", "upper": "no upper limit"}

    class Meta:
        abstract = True


class TemplateReading(OfTemplate, OfReading):
    """A reading that a visit to such a unit takes."""

    EMPTY_MEANS = Fact.EMPTY_MEANS | OfReading.LIMITS_EMPTY

    class Meta(Fact.Meta):
        verbose_name = "reading of a template"

    def __str__(self):
        return f"{self.quantity}, {self.point}" if self.point else self.quantity


class UnitFromTemplate(UnitFact):
    """Positions, plan, parts, kits and readings of the unit were copied out of that edition on that day.

    `template` is the ref of the edition in the company's books; `kept` what of it was not taken over, by its key.
    """

    company = models.CharField("whose template it is", max_length=200)
    name = models.CharField(max_length=120)
    edition = models.PositiveSmallIntegerField()
    template = models.UUIDField("which edition")
    kept = models.JSONField("stayed as it was on this unit", default=list, blank=True)

    class Meta(Fact.Meta):
        verbose_name = "edition of a template that a unit follows"
        verbose_name_plural = "editions of templates that units follow"

    def __str__(self):
        return f"{self.name}, edition {self.edition}"


class UnitPart(UnitFact):
    """A part that belongs to the unit, from a day on; the newest row of one number or name and position holds.

    It says nothing of what is fitted. `kit`: a kit that holds it.
    """

    position = models.ForeignKey(Position, models.PROTECT, null=True, blank=True, related_name="+")
    name = models.CharField(max_length=160)
    number = text(80, verbose_name="part number as printed")
    quantity = models.PositiveSmallIntegerField(default=1)
    kit = text(120)
    effective_on = models.DateField()
    retired = models.BooleanField(default=False)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"position": "the whole unit"}

    class Meta(Fact.Meta):
        verbose_name = "part that belongs to a unit"
        verbose_name_plural = "parts that belong to units"

    def __str__(self):
        return self.name


class UnitReading(UnitFact, OfReading):
    """A reading that a visit to the unit takes, from a day on; the newest row of one quantity and point holds."""

    effective_on = models.DateField()
    retired = models.BooleanField(default=False)

    EMPTY_MEANS = Fact.EMPTY_MEANS | OfReading.LIMITS_EMPTY

    class Meta(Fact.Meta):
        verbose_name = "reading that a unit asks"
        verbose_name_plural = "readings that units ask"

    def __str__(self):
        return f"{self.quantity}, {self.point}" if self.point else self.quantity
