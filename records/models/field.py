"""What is recorded beside the work itself: advice that was given on a question, photos."""

from __future__ import annotations

from django.db import models

from .base import Fact, UnitFact, text, words

HOW_ASKED = ("on site", "telephone", "message")


class Advice(UnitFact):
    """Somebody asked whether the unit may be used, and what they were told. The answer shown then is copied."""

    asked_by = text(120, verbose_name="who asked")
    how = models.CharField("how it was asked", max_length=12, choices=words(*HOW_ASKED))
    question = models.CharField("what was asked", max_length=500)
    answer = models.CharField("the answer shown then", max_length=60)
    reason = models.CharField("its reason", max_length=1000)
    told = models.CharField("what was advised", max_length=1000)

    class Meta(Fact.Meta):
        verbose_name = "advice"
        verbose_name_plural = "advice"


class Photo(UnitFact):
    """A photo of the unit or of something on it. `about` is the origin of the row that it shows, empty for none.

    Kept as it was made again here, smaller and without what the camera wrote into it.
    """

    about = models.UUIDField("about the row", null=True, blank=True)
    caption = models.CharField("what it shows", max_length=300)
    width = models.PositiveIntegerField("pixels across")
    height = models.PositiveIntegerField("pixels down")
    size = models.PositiveIntegerField("bytes")
    sha256 = models.CharField("SHA-256", max_length=64)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"about": "about the unit as such"}

    class Meta(Fact.Meta):
        verbose_name = "photo"
