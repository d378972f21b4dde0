"""The ledger: one chain of entries an organisation. An entry is one submission is one transaction."""

from __future__ import annotations

from django.db import models

from .base import Fact, FactIsPermanent, FactQuerySet, person_field, text
from .people import Account, Organisation


class Ledger(models.Model):
    """The head of an organisation's chain. Working state: locked while writing, rebuilt from the entries."""

    organisation = models.OneToOneField(Organisation, models.PROTECT, related_name="ledger")
    number = models.PositiveIntegerField(default=0)
    hash = models.CharField(max_length=64, default="0" * 64)
    logged_at = models.DateTimeField(null=True)
    # What the clocks said when the newest entry was logged: the server's, and since which start of the machine how
    # many seconds had passed. From one entry to the next both must go alike (`records.log.leaps`).
    clock_at = models.DateTimeField(null=True)
    boot = models.CharField(max_length=40, default="", db_default="")
    steady = models.FloatField(null=True)
    clock_accepted = models.BooleanField(default=False, db_default=False)

    @property
    def ref(self):
        """What an entry names its ledger by: whose it is."""
        return self.organisation.ref


class Entry(models.Model):
    """One submission. `hash` covers the entry, its facts in order and the previous entry's hash."""

    ledger = models.ForeignKey(Ledger, models.PROTECT, related_name="entries")
    number = models.PositiveIntegerField()
    form = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=60)
    request_key = models.UUIDField()
    content = models.CharField(max_length=64)
    account = models.ForeignKey(Account, models.PROTECT, related_name="+")
    logged_at = models.DateTimeField()
    logged_by = person_field()
    logged_for = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="+")
    written_at = models.DateTimeField()
    paper = text(300, help_text="The page it was transcribed from; blank when it was witnessed.")
    clock_off = models.BigIntegerField("seconds by which the clock was off", null=True, blank=True)
    previous = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    objects = FactQuerySet.as_manager()

    EMPTY_MEANS = {
        "logged_for": "the organisation's own people",
        "clock_off": "the clock had not leapt; of an entry before form 6, it was not looked at",
    }

    class Meta:
        base_manager_name = "objects"
        constraints = [
            models.UniqueConstraint(fields=["ledger", "number"], name="entry_number_once"),
            models.UniqueConstraint(fields=["account", "request_key"], name="entry_request_once"),
        ]
        verbose_name_plural = "entries"

    def __str__(self):
        return f"entry {self.number}"

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise FactIsPermanent("An entry of the ledger is never changed.")
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args, **kwargs):
        raise FactIsPermanent("An entry of the ledger is never deleted.")


class Voiding(Fact):
    """A row was entered in error: it did not happen. It stays visible, and judgement leaves it out."""

    kind = models.CharField(max_length=40)
    target = models.UUIDField(unique=True)  # origin of the row
    reason = models.CharField(max_length=500)

    class Meta(Fact.Meta):
        verbose_name = "entered in error"
        verbose_name_plural = "entered in error"
