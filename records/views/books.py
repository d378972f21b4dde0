"""Pages of the books: what is entered goes to the account's own organisation, the company's or the clinic's."""

from __future__ import annotations

from functools import partial

from django.urls import reverse

from records import forms, log

from .base import at_clinic, entry_page


def _in_books(request, ground, form, writer, title):
    """A company's row is no row of the clinic's: afterwards back to where the entries are listed."""
    request_next = request.GET.copy()
    request_next.setdefault("next", reverse("entries", args=[ground.clinic.slug]))
    request.GET = request_next
    write = partial(writer, owner=ground.books)
    return entry_page(request, ground, form, write, title=f"{title} in the books of {ground.books.name}")


@at_clinic()
def add_credential(request, ground):
    return _in_books(request, ground, forms.CredentialForm, log.log_credential, "Enter a credential")


@at_clinic()
def add_instrument(request, ground):
    return _in_books(request, ground, forms.InstrumentForm, log.log_instrument, "Enter an instrument")


@at_clinic()
def log_calibration(request, ground):
    return _in_books(request, ground, forms.CalibrationForm, log.log_calibration, "Enter a calibration")


@at_clinic()
def log_part_recall(request, ground):
    return _in_books(request, ground, forms.PartRecallForm, log.log_part_recall, "Enter a part recall notice")
