"""Recorded cycles: the file of a recorder and what it says of itself. The bytes lie under their SHA-256."""

from __future__ import annotations

from django.db import models

from .base import Fact, UnitFact, text, words
from .indicators import Load

HOW_BROUGHT = ("upload", "collected")


class CycleRecording(UnitFact):
    """The file of a recorder of one cycle with the load it is of. Whether the cycle met its profile is no fact.

    `serial` to `profile` are as the file says them of itself, "" where it does not. `happened_on` is the day on which
    the cycle began by the file; of a file that does not say when it is the day of the load.
    """

    load = models.ForeignKey(Load, models.PROTECT, related_name="recordings")
    how = models.CharField("how it was brought in", max_length=12, choices=words(*HOW_BROUGHT))
    filename = models.CharField("name of the file", max_length=200)
    size = models.PositiveIntegerField("bytes")
    sha256 = models.CharField("SHA-256", max_length=64)
    serial = text(60, verbose_name="serial by the file")
    cycle_number = text(40, verbose_name="cycle number by the file")
    program = text(60, verbose_name="program by the file")
    started = text(60, verbose_name="started by the file")
    logger = text(120, verbose_name="logger by the file")
    ambient = text(40, verbose_name="ambient pressure by the file in kPa")
    profile = text(60, verbose_name="profile by the file")

    EMPTY_MEANS = Fact.EMPTY_MEANS

    class Meta(Fact.Meta):
        verbose_name = "recorded cycle"
