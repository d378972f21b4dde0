"""Invitations: working state. That somebody belongs to an organisation is the membership they lead to, a fact."""

from __future__ import annotations

from django.db import models

from .base import new_ref, text
from .people import Account, Organisation


class Invitation(models.Model):
    """A link by which somebody takes a role. Only the SHA-256 of its token is kept; `expires_on` is its last day."""

    ref = models.UUIDField(unique=True, default=new_ref, editable=False)
    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="+")
    role = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    email = text(200)
    digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(Account, models.CASCADE, related_name="+")
    made_at = models.DateTimeField()
    expires_on = models.DateField()
    taken_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    def __str__(self):
        return f"{self.name}, {self.role}"
