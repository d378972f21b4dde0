"""Kits: which parts lie in one bag, and how many of each. In the books of who puts them together or buys them so."""

from __future__ import annotations

from django.db import models

from .base import Fact, text
from .parts import Part
from .people import Organisation


class Kit(Fact):
    """A kit as its list says. Another list is another kit, `instead_of` the one before."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    number = text(80, verbose_name="kit number as printed")
    instead_of = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="followed_by")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"instead_of": "it takes the place of no other list"}

    def __str__(self):
        return self.name


class KitComponent(Fact):
    """So many pieces of one kind of part in each kit."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    kit = models.ForeignKey(Kit, models.PROTECT, related_name="components")
    part = models.ForeignKey(Part, models.PROTECT, related_name="+")
    quantity = models.PositiveSmallIntegerField("pieces in one kit", default=1)

    class Meta(Fact.Meta):
        verbose_name = "component of a kit"
        verbose_name_plural = "components of kits"

    def __str__(self):
        return f"{self.quantity} × {self.part}"
