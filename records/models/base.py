"""The base of every fact: added once, never changed. Shared field kinds.

A fact points to other facts by their *origin* row (the first version); which version is in force is worked out on
reading, so correcting a visit loses none of its jobs. The three layers that keep a fact unchanged: this class, the
triggers in the database (`records.ledger.triggers`), the hash chain (`records.ledger.tamper_check`).
"""

from __future__ import annotations

import functools
import uuid

from django.apps import apps
from django.db import models


class FactIsPermanent(Exception):
    """Raised on any attempt to change or delete a fact. Correct it instead, see `records.log.correct`."""


class FactQuerySet(models.QuerySet):
    def _refuse(self, *args, **kwargs):
        raise FactIsPermanent(
            f"{self.model._meta.verbose_name} rows are never changed or deleted. "
            "Log a correction with a reason instead."
        )

    update = delete = bulk_update = aupdate = adelete = _refuse

    def bulk_create(self, objs, *args, **kwargs):
        raise FactIsPermanent("Facts enter one submission at a time, through records.log.")

    def newest(self):
        """The newest version of each row, those entered in error among them."""
        return self.filter(amended_by__isnull=True)

    def origins(self):
        """The first version of each row: what other rows point to."""
        return self.filter(amends__isnull=True)

    def in_force(self):
        """The newest version of each row that was not entered in error."""
        return self.newest().exclude(_voided())


@functools.cache
def _voided() -> models.Exists:
    # By its label: the module of the ledger is built on this one.
    return models.Exists(apps.get_model("records.Voiding").objects.filter(target=models.OuterRef("origin")))


class Fact(models.Model):
    """What happened. `ref` names this version, `origin` the first one; both survive export."""

    ref = models.UUIDField(unique=True, editable=False)
    origin = models.UUIDField(db_index=True, editable=False)
    entry = models.ForeignKey("records.Entry", models.PROTECT, related_name="+", editable=False)
    line = models.PositiveSmallIntegerField(editable=False)
    amends = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="amended_by", editable=False
    )
    amend_reason = models.CharField(max_length=500, blank=True, editable=False)
    happened_on = models.DateField(help_text="The day it happened, as the clinic's calendar has it.")
    happened_at = models.DateTimeField(null=True, blank=True, help_text="The time, if known.")
    zone = models.CharField(max_length=64, default="UTC", editable=False)

    objects = FactQuerySet.as_manager()

    # Nullable columns must say what an empty one means; a test walks all of them.
    EMPTY_MEANS = {"amends": "the first version", "happened_at": "the time of day is not known"}

    class Meta:
        abstract = True
        base_manager_name = "objects"

    def __str__(self):
        return f"{self._meta.verbose_name} of {self.happened_on}"

    @property
    def is_origin(self) -> bool:
        return self.ref == self.origin

    def origin_row(self) -> Fact:
        """The first version of this row: what other rows must point to."""
        return self if self.is_origin else type(self).objects.get(ref=self.origin)

    @property
    def short_ref(self) -> str:
        return str(self.ref)[:8]

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise FactIsPermanent(
                f"This {self._meta.verbose_name} is already recorded and is never changed. "
                "Log a correction with a reason instead."
            )
        if self.entry_id is None:
            raise FactIsPermanent("A fact is written only by records.log, as part of an entry.")
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args, **kwargs):
        raise FactIsPermanent(
            f"This {self._meta.verbose_name} is never deleted. If it did not happen, log it as entered in error."
        )


class ClinicFact(Fact):
    """A fact of one clinic, in that clinic's ledger."""

    clinic = models.ForeignKey("records.Clinic", models.PROTECT, related_name="+", editable=False)

    class Meta(Fact.Meta):
        abstract = True


class UnitFact(ClinicFact):
    """A fact of one unit at one clinic; the clinic is the one of its day."""

    unit = models.ForeignKey("records.Unit", models.PROTECT, related_name="+", editable=False)

    class Meta(Fact.Meta):
        abstract = True


def person_field(verbose_name="", **kwargs):
    """A person named in a fact. The name itself lies in PersonText, so that it can be erased on demand."""
    return models.ForeignKey(
        "records.PersonText", models.PROTECT, related_name="+", verbose_name=verbose_name, **kwargs
    )


def words(*values: str) -> list[tuple[str, str]]:
    """Choices whose code is also the word on the screen."""
    return [(v, v) for v in values]


def text(max_length=2000, **kwargs):
    return models.CharField(max_length=max_length, blank=True, default="", **kwargs)


def new_ref() -> uuid.UUID:
    return uuid.uuid4()
