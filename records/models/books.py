"""What an organisation keeps of its people and its measuring instruments, in its own ledger."""

from __future__ import annotations

from django.db import models

from .base import Fact, person_field, text, words
from .people import Organisation


class Credential(Fact):
    """What somebody is trained or licensed for. `valid_to` is the last valid day."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    person = person_field("whose")
    kind = models.CharField(max_length=12, choices=words("training", "licence", "competence", "other"))
    title = models.CharField(max_length=200)
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"valid_to": "the paper states no end"}


class Instrument(Fact):
    """A measuring instrument. `name` is how readings name it."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=60)
    serial = text(80, verbose_name="serial number")

    def __str__(self):
        return f"{self.name}, serial {self.serial}" if self.serial else self.name


class Calibration(Fact):
    """An instrument compared with a reference. `valid_to` is the last day on which it holds."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="calibrations")
    certificate = models.CharField(max_length=120)
    result = models.CharField(
        max_length=20, choices=words("in tolerance", "adjusted", "out of tolerance", "no result")
    )
    as_found = text(300, verbose_name="as found, with the unit of measure")
    valid_to = models.DateField("last day it holds")
