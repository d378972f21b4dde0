"""Entries of a ledger as they were hashed, out of the rows as they are stored, some hundred at a time.

Each comes with what it points to outside itself, by model and key, so that whoever takes a record out knows what else
it rests on. What cannot be rendered is refused: the tamper check says what is wrong with it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from records.ledger import canon, stored
from records.models import Entry, Ledger, fact_models

AT_A_TIME = 400


class NotRendered(Exception):
    """A row of the ledger is malformed: the message says where and the way out."""


@dataclass(frozen=True, slots=True)
class EntryTaken:
    """An entry as JSON values. `at` orders entries of all ledgers as they were written; `own` are its facts' keys.

    `kinds` are those of the rows, in their order: a row with a column of that name does not say its own.
    """

    organisation: int
    number: int
    at: int
    hash: str
    entry: dict
    rows: list[dict]
    kinds: list[str]
    own: dict[type, set[int]]
    points_to: dict[type, set[int]]


def of_ledger(organisation, last: int) -> Iterator[EntryTaken]:
    """Every entry of the organisation's ledger up to number `last` (inclusive), oldest first. Raises NotRendered."""
    found = Entry.objects.filter(ledger__organisation_id=organisation.pk, number__lte=last).order_by("number")
    keys = list(found.values_list("pk", flat=True))
    for at in range(0, len(keys), AT_A_TIME):
        yield from of_keys(keys[at : at + AT_A_TIME])


def of_keys(keys: list[int]) -> Iterator[EntryTaken]:
    """The entries of these keys, some hundred at most, as they were written. Raises NotRendered."""
    entries, rows, bad = {}, defaultdict(list), []
    for model in (Entry, *fact_models()):
        column = "id" if model is Entry else "entry_id"
        places = ", ".join(["%s"] * len(keys))
        sql = f'SELECT {stored.columns_of(model)} FROM "{model._meta.db_table}" WHERE "{column}" IN ({places})'
        for row, wrong in stored.rows_of(model, stored.raw_rows(sql, keys)):
            bad += [(row, each) for each in wrong]
            if model is Entry:
                entries[row.pk] = row
            else:
                rows[row.entry_id].append(row)
    whose = dict(
        Ledger.objects.filter(pk__in={e.ledger_id for e in entries.values()}).values_list("pk", "organisation")
    )
    targets = stored.Targets()
    ledgers = {each.pk: each for each in Ledger.objects.filter(pk__in=whose).select_related("organisation")}
    targets.learn(stored.wanted_by([*entries.values(), *(r for of_one in rows.values() for r in of_one)]))
    for key in sorted(entries):
        entry, own = entries[key], sorted(rows[key], key=lambda row: row.line or 0)
        entry.ledger = ledgers[entry.ledger_id]
        for row in (entry, *own):
            bad += [(row, each) for each in targets.point(row)]
        if bad:
            row, what = bad[0]
            raise NotRendered(
                f"{row._meta.verbose_name} {row.pk}, {what.column}: {what.what}. Nothing was written. Run "
                "`manage.py verify_ledger`, and put the record back from a backup that verifies."
            )
        yield _taken(entry, own, whose[entry.ledger_id])


def _taken(entry: Entry, rows: list, organisation: int) -> EntryTaken:
    own: dict[type, set[int]] = defaultdict(set)
    for row in rows:
        own[type(row)].add(row.pk)
    return EntryTaken(
        organisation=organisation,
        number=entry.number,
        at=entry.pk,
        hash=entry.hash,
        entry=canon.render_entry(entry),
        rows=[canon.render_row(row, entry.form) for row in rows],
        kinds=[row._meta.model_name for row in rows],
        own=dict(own),
        points_to=stored.wanted_by([entry, *rows]),
    )
