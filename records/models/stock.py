"""Where parts lie and what became of each lot: facts in the books of who received it.

How many lie where is in no column: it is computed from what came, went and was fitted, and what was counted last.
"""

from __future__ import annotations

from django.db import models

from .base import Fact, person_field, text, words
from .parts import PartLot, PartRecall
from .people import Clinic, Organisation


class StockPlace(Fact):
    """A store or a van. Of a van the keeper is who takes parts out of it."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=words("store", "van"))
    keeper = person_field("whose it is", null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"keeper": "nobody's alone"}

    class Meta(Fact.Meta):
        verbose_name = "place for parts"
        verbose_name_plural = "places for parts"

    def __str__(self):
        return self.name


class StockMove(Fact):
    """What became of some parts of one lot.

    `place` is where they were put when received, where they were when moved, returned to the supplier, thrown away or
    taken to be fitted, and where they were counted. `quantity` of a count is what lies there.
    """

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    lot = models.ForeignKey(PartLot, models.PROTECT, related_name="moves")
    kind = models.CharField(
        max_length=12, choices=words("received", "moved", "fitted", "returned", "thrown away", "counted")
    )
    quantity = models.PositiveIntegerField("how many")
    place = models.ForeignKey(StockPlace, models.PROTECT, related_name="+", verbose_name="where")
    to_place = models.ForeignKey(
        StockPlace, models.PROTECT, null=True, blank=True, related_name="+", verbose_name="to where"
    )
    # By its ref and not as a pointer: the part stands in the ledger of the clinic, and what is entered in error there
    # takes nothing out of these books.
    fitted = models.UUIDField("the fitted part that it was", null=True, blank=True)
    reason = text(300)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"to_place": "it was not moved", "fitted": "it is of no one fitted part"}

    class Meta(Fact.Meta):
        verbose_name = "movement of parts"
        verbose_name_plural = "movements of parts"

    def __str__(self):
        return f"{self.kind}: {self.quantity} of {self.lot}"


class RecallTold(Fact):
    """A clinic was told of a part recall notice: by whom, whom there, and how."""

    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    recall = models.ForeignKey(PartRecall, models.PROTECT, related_name="told")
    clinic = models.ForeignKey(Clinic, models.PROTECT, related_name="+")
    told_by = person_field("who told it")
    told_to = person_field("who was told")
    how = models.CharField(max_length=12, choices=words("letter", "mail", "telephone", "in person"))
    said = text(500, verbose_name="what was said")

    class Meta(Fact.Meta):
        verbose_name = "word of a part recall"
        verbose_name_plural = "words of part recalls"

    def __str__(self):
        return f"{self.clinic.name} told by {self.how} on {self.happened_on}"
