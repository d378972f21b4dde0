"""Parts and the lots they came in. Lots belong to the organisation that received them."""

from __future__ import annotations

from django.db import models

from .base import Fact, text
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
