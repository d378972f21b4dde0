"""Inspections: who came, what was to be corrected by when, and that it was done. Each a fact of the place."""

from __future__ import annotations

from django.db import models

from .base import ClinicFact, Fact, person_field, text
from .binders import BinderIssue
from .documents import Document


class Inspection(ClinicFact):
    """Somebody came to inspect the place; `happened_on` and `happened_at` are when they came."""

    visitor = person_field("who came")
    office = models.CharField("from which office", max_length=200)
    occasion = text(200)
    asked = text(verbose_name="what was asked or found")
    binder = models.ForeignKey(BinderIssue, models.PROTECT, null=True, blank=True, related_name="+")
    report = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"binder": "no issued binder was handed out", "report": "no report is on file"}

    def __str__(self):
        return f"{self.office}, {self.happened_on}"


class InspectionPoint(ClinicFact):
    """What an inspection asks to be corrected. Whether it was is a row of its own."""

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="points")
    what = models.CharField("what is to be corrected", max_length=1000)
    due_on = models.DateField("by which day", null=True, blank=True)
    unit = models.ForeignKey("records.Unit", models.PROTECT, null=True, blank=True, related_name="+")
    citation = text(300, verbose_name="rule that it names")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"due_on": "no day was set", "unit": "concerns the whole place"}

    class Meta(Fact.Meta):
        verbose_name = "point of an inspection"
        verbose_name_plural = "points of inspections"

    def __str__(self):
        return self.what


class PointMet(ClinicFact):
    """A point of an inspection was corrected: what was done, when, by whom, and the paper that shows it."""

    point = models.ForeignKey(InspectionPoint, models.PROTECT, related_name="dones")
    outcome = models.CharField("what was done, and what shows it", max_length=1000)
    done_by = person_field("done by")
    document = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"document": "no paper shows it"}

    class Meta(Fact.Meta):
        verbose_name = "point of an inspection met"
        verbose_name_plural = "points of inspections met"

    def __str__(self):
        return self.outcome
