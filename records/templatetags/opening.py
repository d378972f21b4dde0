"""Clinics that a company opened and that nobody of their own keeps yet."""

from __future__ import annotations

from django import template

from records import access

register = template.Library()


@register.inclusion_tag("records/_without_coordinator.html", takes_context=True)
def without_coordinator(context, clinic):
    """What is still to be done at such a clinic, for who may do it; nothing for everybody else. One query."""
    waits = access.without_coordinator(context["user"]).filter(pk=clinic.pk).exists()
    return {"clinic": clinic, "waits": waits}
