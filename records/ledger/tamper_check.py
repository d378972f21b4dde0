"""Tamper check: recompute an organisation's chain of entries from the rows as they stand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from records.ledger import canon
from records.models import Entry, Ledger, Organisation, PersonText, fact_models


@dataclass(frozen=True, slots=True)
class LedgerVerdict:
    """`broken_at` is the number of the first entry that does not add up, None when all do."""

    organisation: str
    entries: int
    head: str
    broken_at: int | None
    why: str

    @property
    def whole(self) -> bool:
        return self.broken_at is None

    @property
    def sentence(self) -> str:
        if self.whole:
            return f"{self.organisation}: {self.entries} entries, unaltered, head {self.head[:16]}…"
        return f"{self.organisation}: entry {self.broken_at} is broken: {self.why}"


def _rows_by_entry(organisation) -> dict[int, list]:
    rows = defaultdict(list)
    for model in fact_models():
        relations = [f.name for f in model._meta.concrete_fields if f.is_relation and f.name != "entry"]
        for row in model.objects.filter(entry__ledger__organisation=organisation).select_related(*relations):
            rows[row.entry_id].append(row)
    return rows


def _altered_names() -> set[int]:
    """Ids of the names that are not what their digest says; an erased one has nothing left to compare."""
    texts = PersonText.objects.filter(erased_on=None)
    return {t.pk for t in texts.iterator() if PersonText.digest_of(t.salt, t.value) != t.digest}


def _names_in(entry, rows) -> set[int]:
    named = {entry.logged_by_id}
    for row in rows:
        named |= {getattr(row, f.attname) for f in row._meta.concrete_fields if f.related_model is PersonText}
    return named


def _fault(entry, rows, previous: str, number: int, altered: set[int]) -> str:
    if entry.number != number:
        return f"entry {number} is missing"
    if entry.previous != previous:
        return "it does not follow from the entry before"
    rows.sort(key=lambda r: r.line)
    if [r.line for r in rows] != list(range(1, len(rows) + 1)):
        return "a row of it was removed or added"
    for row in rows:
        unit, parent = getattr(row, "unit_id", None), getattr(row, "job", None)
        if parent is not None and unit is not None and parent.unit_id != unit:
            return f"row {row.short_ref} names another unit than its job"
    try:
        as_it_stands = canon.hash_of(entry, rows)
    except (FileNotFoundError, KeyError):
        return f"it says that it was written under form {entry.form}, which does not list its rows"
    if as_it_stands != entry.hash:
        return "its rows are not what was recorded"
    if _names_in(entry, rows) & altered:
        return "a name in it is not the one that was signed"
    return ""


def verify(organisation: Organisation) -> LedgerVerdict:
    """Recompute every hash of the organisation's ledger, oldest first, and stop at the first that is broken."""
    rows = _rows_by_entry(organisation)
    entries = Entry.objects.filter(ledger__organisation=organisation).order_by("number")
    entries = list(entries.select_related("ledger__organisation", "account", "logged_by", "logged_for"))
    previous, number, altered = "0" * 64, 0, _altered_names()
    for number, entry in enumerate(entries, start=1):
        fault = _fault(entry, rows.get(entry.pk, []), previous, number, altered)
        if fault:
            return LedgerVerdict(organisation.name, len(entries), previous, number, fault)
        previous = entry.hash
    head = Ledger.objects.filter(organisation=organisation).first()
    if head and (head.number, head.hash) != (number, previous):
        why = "the last entries were removed: the head names more than there is"
        return LedgerVerdict(organisation.name, len(entries), previous, number + 1, why)
    return LedgerVerdict(organisation.name, len(entries), previous, None, "")
