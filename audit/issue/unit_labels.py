"""Labels for the units of a clinic: which address each holds, and the sheets. Pages and command both come here.

The address names the unit, not the clinic, so that a label stays right when the unit is moved.
"""

from __future__ import annotations

from datetime import date
from urllib.parse import urlsplit

from django.urls import reverse

from audit.binder.pdf.unit_labels import PER_SHEET, Label, render_labels
from records.models import Unit
from records.scan.scanned import SHORT

__all__ = ["PER_SHEET", "label_of", "print_labels"]


def label_of(unit: Unit, site: str) -> Label:
    """The label of a unit on the site whose address begins with `site`, such as https://standing.example."""
    site = site.rstrip("/")
    address = site + reverse("labelled-unit", args=[unit.origin])
    parts = urlsplit(site)
    short = parts.netloc + parts.path + reverse("labelled-unit", args=[unit.origin.hex[:SHORT]]).rstrip("/")
    return Label(unit.label, unit.serial, address, short)


def print_labels(
    clinic, units: list[Unit], site: str, today: date, *, skip: int = 0, page: str = "letter"
) -> tuple[bytes, int]:
    """The sheets with the labels of these units, in their order, and how many sheets. See `render_labels`."""
    return render_labels(clinic.name, [label_of(unit, site) for unit in units], today, skip=skip, page_size=page)
