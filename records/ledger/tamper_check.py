"""Tamper check: recompute an organisation's chain of entries from the rows as they are stored.

Nothing that is stored is trusted to be readable: what is malformed is named, and the check goes on. What concerns no
single ledger is looked at in `records.ledger.database`, papers and photos in `records.ledger.on_disk`.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import islice

from records.ledger import canon, names, stored
from records.ledger.excerpts import Excerpt
from records.ledger.faults import Fault
from records.models import Account, Entry, Job, Ledger, Organisation, PersonText, fact_models

BEGIN = "0" * 64
MOST_FAULTS = 100  # of one ledger: where all of it was rewritten, a hundred say it


@dataclass(frozen=True, slots=True)
class LedgerVerdict:
    """`broken_at` is the number of the first entry that does not add up, None when all do.

    `faults` are all that were found (a hundred at most), by entry; `why` says the first one. `head` is the hash of
    the newest entry that is there. `excerpt`: the ledger is one of which only some entries stand here.
    """

    organisation: str
    entries: int
    head: str
    broken_at: int | None
    why: str
    faults: tuple[Fault, ...] = ()
    excerpt: bool = False

    @property
    def whole(self) -> bool:
        return self.broken_at is None

    @property
    def sentence(self) -> str:
        if self.whole:
            brought = ", those of its book that were brought in" if self.excerpt else ""
            return f"{self.organisation}: {self.entries} entries{brought}, unaltered, head {self.head[:16]}…"
        return f"{self.organisation}: entry {self.broken_at} is broken: {self.why}"


@dataclass
class _Read:
    """One ledger as it is stored. `bad` are malformed values by row, `rows` by the key of their entry."""

    entries: list[Entry] = field(default_factory=list)
    rows: dict[int, list] = field(default_factory=lambda: defaultdict(list))
    bad: dict[tuple[type, int], list[stored.BadValue]] = field(default_factory=lambda: defaultdict(list))
    signed: names.NamesOnRecord = field(default_factory=names.NamesOnRecord)
    unit_of_job: dict[int, int] = field(default_factory=dict)

    def bad_of(self, row) -> list[stored.BadValue]:
        return self.bad.get((type(row), row.pk), [])


def verify(organisation: Organisation, excerpt: Excerpt | None = None) -> LedgerVerdict:
    """Recompute every hash of the organisation's ledger, oldest first. What cannot be read is a fault like others.

    `excerpt` names the entries of a ledger that was brought in in part; only what it names may stand alone.
    """
    read = _read(organisation)
    found = [*_chain(read, excerpt), *_end(organisation, read)]
    found.sort(key=lambda fault: fault.entry or 1)
    found = [replace(fault, organisation=organisation.name) for fault in found]
    first = found[0] if found else None
    return LedgerVerdict(
        organisation=organisation.name,
        entries=len(read.entries),
        head=(read.entries[-1].hash if read.entries else BEGIN) or "",
        broken_at=(first.entry or 1) if first else None,
        why=first.what if first else "",
        faults=tuple(found[:MOST_FAULTS]),
        excerpt=excerpt is not None,
    )


# ------------------------------------------------------------------------------------------------ as it is stored


def _read(organisation: Organisation) -> _Read:
    read = _Read()
    own = 'JOIN "records_ledger" l ON l."id" = e."ledger_id" WHERE l."organisation_id" = %s'
    _take(read, Entry, f'FROM "records_entry" e {own}', "e", organisation)
    for model in fact_models():
        joined = f'FROM "{model._meta.db_table}" r JOIN "records_entry" e ON e."id" = r."entry_id" {own}'
        _take(read, model, joined, "r", organisation)
    read.entries.sort(key=lambda entry: (entry.number or 0, entry.pk))
    read.unit_of_job = {r.pk: r.unit_id for rows in read.rows.values() for r in rows if isinstance(r, Job)}
    every = [*read.entries, *(row for rows in read.rows.values() for row in rows)]
    _point(read, organisation, every)
    return read


def _take(read: _Read, model, source: str, alias: str, organisation: Organisation) -> None:
    raws = stored.raw_rows(f"SELECT {stored.columns_of(model, alias)} {source}", [organisation.pk])
    for row, bad in stored.rows_of(model, raws):
        if model is Entry:
            read.entries.append(row)
        else:
            read.rows[row.entry_id].append(row)
        if bad:
            read.bad[model, row.pk] += bad


def _point(read: _Read, organisation: Organisation, every: list) -> None:
    targets, wanted = stored.Targets(), stored.wanted_by(every)
    targets.learn(wanted)
    ledger = Ledger(organisation=organisation)
    for row in every:
        if isinstance(row, Entry):
            row.ledger = ledger
        if pointless := targets.point(row):
            read.bad[type(row), row.pk] += pointless
    read.signed = names.read(wanted.get(PersonText, set()), wanted.get(Account, set()))


# ------------------------------------------------------------------------------------------------ entry by entry


def _chain(read: _Read, excerpt: Excerpt | None = None) -> Iterator[Fault]:
    before, number = None, 0
    last_keys: dict[type, int] = {}
    for at, entry in enumerate(read.entries):
        following = read.entries[at + 1] if at + 1 < len(read.entries) else None
        if entry.number is not None and entry.number != number + 1:
            yield from _missing(number, entry.number, excerpt)
        if excerpt is not None and entry.number is not None and excerpt.is_other(entry.number, entry.hash):
            yield Fault("it is not the entry that was brought in", entry=entry.number, column="hash")
        yield from _link(before, entry, number)
        rows = sorted(read.rows.get(entry.pk, []), key=lambda row: (row.line or 0, row._meta.model_name, row.pk))
        yield from _content(read, entry, rows, following)
        yield from _order(entry, rows, last_keys)
        number = number + 1 if entry.number is None else entry.number
        before = entry
    if excerpt is not None and number < excerpt.last:
        yield Fault("the last of the entries that were brought in are missing", entry=number + 1)


def _missing(last: int, there: int, excerpt: Excerpt | None) -> Iterator[Fault]:
    if there <= last:
        yield Fault(f"there are two entries {there}", entry=there)
    gone = (n for n in range(last + 1, there) if excerpt is None or not excerpt.may_lack(n))
    for number in islice(gone, MOST_FAULTS):
        yield Fault(f"entry {number} is missing", entry=number)


def _link(before: Entry | None, entry: Entry, number: int) -> Iterator[Fault]:
    at = number + 1 if entry.number is None else entry.number
    if entry.previous != (before.hash if before else BEGIN) and at == number + 1:
        yield Fault("it does not follow from the entry before", entry=at, column="previous")
    if before and before.logged_at and entry.logged_at and entry.logged_at <= before.logged_at:
        yield Fault("it was not logged after the entry before", entry=at, column="logged_at")
    if before and entry.pk <= before.pk:
        yield Fault(
            f"its place in the table ({entry.pk}) is not after that of the entry before", entry=at, column="id"
        )


def _content(read: _Read, entry: Entry, rows: list, following: Entry | None) -> Iterator[Fault]:
    at, malformed = entry.number, False
    for row in (entry, *rows):
        for bad in read.bad_of(row):
            malformed = True
            yield Fault(bad.what, entry=at, row="" if row is entry else _named(row), column=bad.column)
    if [row.line for row in rows] != list(range(1, len(rows) + 1)):
        yield Fault("a row of it was removed or added", entry=at)
    elif not malformed:
        yield from _hash(entry, rows, following)
    for row in rows:
        yield from _of_its_entry(read, entry, row)
    for row in (entry, *rows):
        for column, what in read.signed.faults_of(row):
            yield Fault(what, entry=at, row="" if row is entry else _named(row), column=column)


def _hash(entry: Entry, rows: list, following: Entry | None) -> Iterator[Fault]:
    try:
        as_it_stands = canon.hash_of(entry, rows)
    except (FileNotFoundError, KeyError):
        what = f"it says that it was written under form {entry.form}, which does not list its rows"
        yield Fault(what, entry=entry.number, column="form")
        return
    except (TypeError, ValueError, ArithmeticError, AttributeError) as error:
        yield Fault(f"what it holds cannot be rendered: {error}", entry=entry.number)
        return
    if as_it_stands == entry.hash:
        return
    if following is not None and following.previous == as_it_stands:
        yield Fault("its hash is not that of its rows, which the next entry names", entry=entry.number, column="hash")
        return
    of = ", ".join(_named(row) for row in rows[:5]) + (", …" if len(rows) > 5 else "")
    yield Fault("its rows are not what was recorded", entry=entry.number, row=of)


def _of_its_entry(read: _Read, entry: Entry, row) -> Iterator[Fault]:
    """What a row says of its place: its reference follows from the request, its unit is that of its job."""
    if entry.account_id is not None and entry.request_key is not None and row.line is not None:
        account = entry._state.fields_cache.get("account")
        if account is not None and account.ref is not None:
            ref = uuid.uuid5(uuid.uuid5(account.ref, str(entry.request_key)), str(row.line))
            if row.ref is not None and row.ref != ref:
                what = "its reference is not the one it was given"
                yield Fault(what, entry=entry.number, row=_named(row), column="ref")
    unit, job = getattr(row, "unit_id", None), getattr(row, "job_id", None)
    if unit is not None and read.unit_of_job.get(job, unit) != unit:
        yield Fault("it names another unit than its job", entry=entry.number, row=_named(row), column="unit_id")


def _order(entry: Entry, rows: list, last_keys: dict[type, int]) -> Iterator[Fault]:
    """Rows of one day are read in the order of their keys, which is the order in which they were written."""
    for row in rows:
        last = last_keys.get(type(row))
        if last is not None and row.pk <= last:
            what = f"its place in the table ({row.pk}) is not after that of the row before it ({last})"
            yield Fault(what, entry=entry.number, row=_named(row), column="id")
        last_keys[type(row)] = row.pk


def _named(row) -> str:
    short = str(row.ref)[:8] if row.ref is not None else f"{row._meta.db_table} {row.pk}"
    return f"{row._meta.verbose_name} {short}"


# ------------------------------------------------------------------------------------------------ where it ends


def _end(organisation: Organisation, read: _Read) -> Iterator[Fault]:
    last = read.entries[-1] if read.entries else None
    number = (last.number or 0) if last else 0
    raws = stored.raw_rows(
        f'SELECT {stored.columns_of(Ledger)} FROM "records_ledger" WHERE "organisation_id" = %s', [organisation.pk]
    )
    if not raws:
        yield Fault("its ledger has no head, so nobody can tell how many entries there were", entry=number + 1)
        return
    head, bad = next(stored.rows_of(Ledger, raws[:1]))
    for each in bad:
        yield Fault(each.what, entry=number + 1, row="head", column=each.column)
    if last is None:
        what = "it holds no entry; whoever opens an organisation makes the first one"
        yield Fault(what if not head.number else f"all {head.number} entries were removed", entry=1)
        return
    stated = {"number": (head.number, last.number), "hash": (head.hash, last.hash)}
    if head.number is not None and head.number > number:
        yield Fault("the last entries were removed: the head names more than there is", entry=number + 1)
        return
    stated["logged_at"] = head.logged_at, last.logged_at
    malformed = {each.column for each in bad}
    for column, (said, there) in stated.items():
        if said != there and column not in malformed:
            what = f"the head says another {column.replace('_', ' ')} than its last entry"
            yield Fault(what, entry=number + 1, row="head", column=column)
