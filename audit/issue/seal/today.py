"""Whether today's records still contain what a binder states: its ledger entries, and the rows that it names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.core.cache import cache
from django.db.models import Q

from audit.binder.scope import record_number
from audit.issue.whole.brought import excerpt_of
from records.ledger import tamper_check
from records.log.changes import PERMANENT
from records.models import Entry, Ledger, Organisation, Voiding, fact_models

KEPT_SECONDS = 600
# A page waits for no more than this to be recomputed (about half a millisecond an entry); a command for all.
MOST_RECOMPUTED = 5000


@dataclass(frozen=True, slots=True)
class LedgerState:
    """`problem` is "" when the ledger still has the entry and everything up to it adds up.

    `since` counts the entries logged after it, None when the reader may not know. `recomputed` is False when the
    ledger is so long that only the links from entry to entry were followed, and not every row was hashed again.
    """

    name: str
    number: int
    problem: str
    since: int | None
    recomputed: bool = True


@dataclass(frozen=True, slots=True)
class Changed:
    """A row that the binder names and that was corrected or entered in error since; `entry` says by which entry."""

    row: str
    kind: str
    what: str
    entry: int
    logged_at: datetime
    reason: str


@dataclass(frozen=True, slots=True)
class Records:
    """`about` counts the rows logged since about the period of the binder.

    `changed` and `about` are None when the reader may not know.
    """

    ledgers: tuple[LedgerState, ...]
    changed: tuple[Changed, ...] | None
    about: int | None

    @property
    def hold(self) -> bool:
        return bool(self.ledgers) and not any(each.problem for each in self.ledgers)


def compare(
    manifest: Mapping, rows: Iterable[tuple[str, int]], sees: Callable[[Organisation], bool], *, fresh: bool = False
) -> Records:
    """Compare with the records as they stand now.

    `sees` says of which organisations the reader may know more than the file itself tells. A chain that was
    recomputed in the last ten minutes is not recomputed again unless `fresh`. `manifest` is that of a file known to
    be ours.
    """
    stated = manifest["ledgers"]
    found = {str(o.ref): o for o in Organisation.objects.filter(ref__in=[each["organisation"] for each in stated])}
    states, marks = [], []
    for each in stated:
        organisation = found.get(each["organisation"])
        seen = organisation is not None and sees(organisation)
        states.append(_state(each, organisation, seen, fresh))
        if organisation is not None:
            marks.append((organisation, each["number"]))
    # The first ledger is the clinic's own: who may open the clinic may know what became of its binder.
    first = found.get(stated[0]["organisation"]) if stated else None
    shown = first is not None and sees(first)
    if not shown:
        return Records(tuple(states), None, None)
    since = _entries_since(marks)
    period = date.fromisoformat(manifest["from"]), date.fromisoformat(manifest["to"])
    return Records(tuple(states), _changed(since, frozenset(rows)), _about(since, first, period))


def _state(stated: Mapping, organisation: Organisation | None, seen: bool, fresh: bool) -> LedgerState:
    name, number = stated["name"], stated["number"]
    if organisation is None:
        return LedgerState(name, number, "these records hold no ledger of that organisation", None)
    entry = Entry.objects.filter(ledger__organisation=organisation, number=number).first()
    since = Entry.objects.filter(ledger__organisation=organisation, number__gt=number).count() if seen else None
    if entry is None:
        return LedgerState(name, number, f"entry {number} is not there any more", since)
    if entry.hash != stated["hash"]:
        return LedgerState(name, number, f"entry {number} is another one than the binder was made from", since)
    broken, recomputed = _broken_at(organisation, fresh)
    problem = ""
    if broken is not None and broken <= number:
        problem = f"the chain of entries does not add up: entry {broken} was altered"
    return LedgerState(name, number, problem, since, recomputed)


def _broken_at(organisation: Organisation, fresh: bool) -> tuple[int | None, bool]:
    """The first entry that does not add up, None when all do; and whether every row was hashed again for that.

    What was recomputed is kept for a little, as years of entries take a while.
    """
    head = Ledger.objects.filter(organisation=organisation).values_list("number", "hash").first()
    excerpt = excerpt_of(organisation)
    if not fresh and excerpt is None and head and head[0] > MOST_RECOMPUTED:
        return _unlinked_at(organisation), False
    key = f"chain-{organisation.ref}-{head}".replace(" ", "")
    kept = None if fresh else cache.get(key)
    if kept is None:
        kept = (tamper_check.verify(organisation, excerpt).broken_at,)
        cache.set(key, kept, KEPT_SECONDS)
    return kept[0], True


def _unlinked_at(organisation: Organisation) -> int | None:
    """The first entry that does not follow from the one before, None when all do."""
    entries = Entry.objects.filter(ledger__organisation=organisation).order_by("number")
    before = "0" * 64
    links = entries.values_list("number", "previous", "hash").iterator(chunk_size=5000)
    for count, (number, previous, digest) in enumerate(links, start=1):
        if number != count or previous != before:
            return count
        before = digest
    return None


def _entries_since(marks: list[tuple[Organisation, int]]):
    since = Q(pk=None)
    for organisation, number in marks:
        since |= Q(ledger__organisation=organisation, number__gt=number)
    return Entry.objects.filter(since)


def _changed(since, named: frozenset[tuple[str, int]]) -> tuple[Changed, ...]:
    if not named or not since.exists():
        return ()
    found = [*_corrected(since, named), *_entered_in_error(since, named)]
    return tuple(sorted(found, key=lambda c: (c.entry, c.row)))


def _corrected(since, named):
    for model in fact_models():
        rows = model.objects.filter(entry__in=since, amends__isnull=False).select_related("entry", "amends__entry")
        by = {row.amends_id: row for row in rows}
        for row in by.values():
            if _name(row.amends) in named:
                last = _last(row, by)
                yield _told(row.amends, "corrected", last, last.amend_reason)


def _last(row, by: dict):
    while row.pk in by:
        row = by[row.pk]
    return row


def _entered_in_error(since, named):
    voidings = Voiding.objects.filter(entry__in=since).select_related("entry")
    for kind, targets in _by_kind(voidings).items():
        model = next((m for m in fact_models() if m._meta.model_name == kind), None)
        if model is None:
            continue
        for row in model.objects.filter(origin__in=targets).select_related("entry"):
            if _name(row) in named:
                voiding = targets[row.origin]
                yield _told(row, "entered in error", voiding, voiding.reason)


def _by_kind(voidings) -> dict[str, dict]:
    found: dict[str, dict] = {}
    for voiding in voidings:
        found.setdefault(voiding.kind, {})[voiding.target] = voiding
    return found


def _name(row) -> tuple[str, int]:
    return row.short_ref, row.entry.number


def _told(row, what: str, by, reason: str) -> Changed:
    kind = str(row._meta.verbose_name)
    said = record_number(row.entry.number, row.line)
    return Changed(said, kind, what, by.entry.number, by.entry.logged_at, reason)


def _about(since, clinic: Organisation, period: tuple[date, date]) -> int:
    """Rows logged since in the clinic's ledger about days of the period (both inclusive), corrections among them.

    What the program writes about binders says nothing about what happened at the clinic.
    """
    own = since.filter(ledger__organisation=clinic)
    models = [m for m in fact_models() if m._meta.model_name not in PERMANENT]
    return sum(m.objects.filter(entry__in=own, happened_on__range=period).count() for m in models)
