"""The stored standing: a cache of the last answer, the only thing judgement stores. It is never evidence."""

from __future__ import annotations

from django.db import models


class Standing(models.Model):
    """The answer for one unit at one clinic on one day, with what it was computed from."""

    unit = models.ForeignKey("records.Unit", models.CASCADE, related_name="+")
    clinic = models.ForeignKey("records.Clinic", models.CASCADE, related_name="+")
    unit_ref = models.UUIDField()
    label = models.CharField(max_length=60)
    serial = models.CharField(max_length=60)
    model = models.CharField(max_length=250)
    equipment_type = models.CharField(max_length=30)
    room = models.CharField(max_length=120, blank=True)
    word = models.CharField(max_length=30, db_index=True)
    rule = models.CharField(max_length=4)
    reason = models.TextField()
    since = models.DateField(null=True)
    holds_until = models.DateField(null=True)
    next_due_on = models.DateField(null=True, db_index=True)
    next_due_title = models.CharField(max_length=200, blank=True)
    open_items = models.PositiveSmallIntegerField(default=0)
    as_of = models.DateField()
    ledger_number = models.PositiveIntegerField()
    rules = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["clinic", "unit"], name="one_standing_a_unit")]

    def __str__(self):
        return f"{self.label}: {self.word}"
