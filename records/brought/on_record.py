"""Which rows of a table are on record already: the same kind, unit, day, time and content, whoever entered them.

Every version counts, corrected and entered in error too: what was put right here is not brought back by the table it
once came from. Who did it is left out of the comparison: a name may be written in two ways.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from uuid import UUID

from records.forms import EntryContext
from records.models import BioReading, BioTest, PersonText

from .kinds import PERSONS, KindOfRows

_NO_CONTENT = (*PERSONS, "paper", "confirmed", "on", "at", "unit", "decision", "reason")


class OnRecord:
    """The rows of one kind at a clinic, and those of the table that were looked at so far."""

    def __init__(self, ground: EntryContext, kind: KindOfRows) -> None:
        self.ground, self.kind = ground, kind
        self._entries: dict[tuple, int] | None = None  # by what a row says, the number of its entry
        self._readings: dict[tuple, int] = {}
        self._seen: dict[tuple, int] = {}
        self._fields: tuple[str, ...] = ()

    def look(self, number: int, values: dict, read: dict | None) -> tuple[str, str]:
        """(why it is on record, what speaks against it) of a row of the table; ("", "") where it is new."""
        if self._entries is None:
            self._read(values)
        row = (values["unit"].pk, values["on"], values.get("at"), *(_plain(values[name]) for name in self._fields))
        with_reading = (row, _reading(read))
        if (before := self._seen.setdefault(with_reading, number)) != number:
            return "", (
                f"This says the same as row {before}. Leave one of them out; if there were two, give each its time "
                "or its cycle number."
            )
        entry = self._entries.get(row)
        if entry is None:
            return "", ""
        if read is None or (row, _reading(read)) in self._readings:
            return f"on record since entry {self._readings.get(with_reading, entry)}", ""
        return "", (
            f"This test is on record (entry {entry}) without this result. Enter the result there, on the page of the "
            "test; and if another stands there that is wrong, correct it."
        )

    def names(self) -> set[str]:
        """The names that are on record at the clinic, its company and the account."""
        ground = self.ground
        of = {ground.clinic.pk, ground.books.pk}
        known = PersonText.objects.filter(person__organisation_id__in=of, erased_on=None)
        return {*known.values_list("value", flat=True), ground.account.full_name}

    def _read(self, values: dict) -> None:
        model = self.kind.model
        have = {field.name for field in model._meta.concrete_fields}
        self._fields = tuple(sorted(name for name in values if name in have and name not in _NO_CONTENT))
        columns = [model._meta.get_field(name).attname for name in self._fields]
        rows = model.objects.filter(clinic=self.ground.clinic)
        self._entries = {}
        versions: dict[UUID, list[tuple]] = {}
        for origin, entry, unit, on, at, *rest in rows.values_list(
            "origin", "entry__number", "unit_id", "happened_on", "happened_at", *columns
        ).iterator():
            row = (unit, on, at, *map(_plain, rest))
            self._entries.setdefault(row, entry)
            if model is BioTest:
                versions.setdefault(origin, []).append(row)
        if model is BioTest:
            self._readings = dict(self._readings_of(versions))

    def _readings_of(self, tests: dict[UUID, list[tuple]]) -> Iterator[tuple[tuple, int]]:
        rows = BioReading.objects.filter(clinic=self.ground.clinic)
        for origin, *said, entry in rows.values_list(
            "bio_test__origin", "test", "control", "happened_on", "entry__number"
        ).iterator():
            for row in tests.get(origin, ()):
                yield (row, tuple(said)), entry


def _reading(read: dict | None) -> tuple | None:
    return None if read is None else (read["test"], read["control"], read["on"])


def _plain(value):
    """Comparable with what a column gives back: nothing is “not recorded” too, a row its key, 3 is 3.0."""
    if value in (None, "", False, "not recorded"):
        return None
    if hasattr(value, "pk"):
        return value.pk
    return Decimal(value) if isinstance(value, Decimal | int) and not isinstance(value, bool) else value
