"""Papers on file. The bytes lie beside the database under their SHA-256, see `records.files.blobs`."""

from __future__ import annotations

from django.db import models

from .base import ClinicFact, Fact

# What a paper is: chosen by whoever files it, never guessed from its title. As recorded, with what is said for it.
DOCUMENT_KINDS = (
    ("instructions", "instructions of the maker"),
    ("device licence", "licence or clearance of the device"),
    ("commissioning", "commissioning report"),
    ("validation report", "validation report"),
    ("written scheme", "written scheme of examination"),
    ("pressure examination", "pressure examination"),
    ("quarterly test report", "report of the quarterly tests"),
    ("laboratory report", "laboratory report"),
    ("service report", "service report"),
    ("contract", "contract for maintenance"),
    ("appointment", "appointment of who leads infection control or decontamination"),
    ("job description", "job description: the written duties of a person"),
    ("training", "training"),
    ("insurance", "insurance"),
    ("procedure", "procedure"),
    ("posting", "posting: what hangs on the wall, since when"),
    ("other", "other"),
)


class Document(ClinicFact):
    """A paper, valid from a day on and, where it says so, to a last day (inclusive)."""

    unit = models.ForeignKey("records.Unit", models.PROTECT, null=True, blank=True, related_name="+")
    kind = models.CharField(max_length=24, choices=DOCUMENT_KINDS)
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
