"""The day of the first clinic, and its forms, as somebody opens them."""

from __future__ import annotations

from django.urls import reverse

from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import signed_in


def at(world, name, ref=None):
    return reverse(name, args=[world.clinic.slug, *([] if ref is None else [ref])])


def of_unit(world, name):
    return at(world, name, world.unit.ref)


def day(client, world, role="coordinator"):
    return signed_in(client, world, role).get(at(world, "day"))


def opened(client, world, name, role="coordinator", query=""):
    """The form of one kind on its own page."""
    address = of_unit(world, name)
    return typed_in.form_to(signed_in(client, world, role).get(address + query), address)
