"""Parts and the lots they came in. Lots belong to the organisation that received them."""

from __future__ import annotations

from django.db import models

from .base import Fact, text, words
from .people import Organisation


class Part(Fact):
    """A kind of spare part."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=160)
    number = text(80, verbose_name="part number as printed")
    component = models.CharField(max_length=60)

    def __str__(self):
        return self.name


class PartLot(Fact):
    """One receipt: our own number for it, and the lot as printed where there is one."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, models.PROTECT, related_name="lots")
    receipt_lot = models.CharField("own receipt lot", max_length=80)
    lot = text(80, verbose_name="lot as printed")
    expiry = models.DateField(null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"expiry": "the part carries none"}

    class Meta(Fact.Meta):
        verbose_name = "part lot"

    def __str__(self):
        return f"{self.part.name}, lot {self.lot or self.receipt_lot}"


class PartRecall(Fact):
    """A notice, received on `happened_on`, that a lot of a part is in doubt. Days inclusive."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    part = models.CharField("part in words", max_length=160)
    number = text(80, verbose_name="part number as printed")
    lot = text(80, verbose_name="lot as printed")
    made_from = models.DateField("from", null=True, blank=True)
    made_to = models.DateField("to", null=True, blank=True)
    issued_by = models.CharField(max_length=160)
    reason = models.CharField(max_length=500)
    action = models.CharField(max_length=12, choices=words("replace", "inspect", "use until", "stop use"))

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "made_from": "the notice names no first day",
        "made_to": "the notice names no last day",
    }

    class Meta(Fact.Meta):
        verbose_name = "part recall notice"
