"""Papers on file. The bytes lie beside the database under their SHA-256, see `records.files.blobs`."""

from __future__ import annotations

from django.db import models

from .base import ClinicFact, Fact, words

DOCUMENT_KINDS = (
    "instructions",
    "validation report",
    "pressure examination",
    "laboratory report",
    "service report",
    "training",
    "insurance",
    "procedure",
    "other",
)


class Document(ClinicFact):
    """A paper, valid from a day on and, where it says so, to a last day (inclusive)."""

    unit = models.ForeignKey("records.Unit", models.PROTECT, null=True, blank=True, related_name="+")
    kind = models.CharField(max_length=24, choices=words(*DOCUMENT_KINDS))
    title = models.CharField(max_length=200)
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)
    filename = models.CharField(max_length=200)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "unit": "concerns the whole place",
        "valid_to": "the paper states no end",
    }
