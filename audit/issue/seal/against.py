"""Compare the record with what left it earlier: statements of heads, and binders, which carry heads too."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from audit.facts.heads import LedgerHead
from records.ledger.faults import Fault
from records.models import Entry, Organisation

from . import heads, stamps
from .keys import known_certificates
from .look import look
from .manifest import is_whole
from .signature import detached, signatures

LARGEST_BINDER = 50 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class HeadsElsewhere:
    """The heads of one file. `problem` says why nothing was compared with it, "" when it is signed by us.

    `at` is the moment of signing as the file has it, None when it has none; `stamp` is that of somebody else.
    """

    name: str
    problem: str
    at: datetime | None = None
    heads: tuple[LedgerHead, ...] = ()
    stamp: stamps.Stamp | None = None


def read(path: Path) -> HeadsElsewhere:
    """The file of a statement or of a binder. Never raises for what is in it; OSError when it cannot be read."""
    limit = LARGEST_BINDER if path.suffix == ".pdf" else heads.LARGEST
    if path.stat().st_size > limit:
        return HeadsElsewhere(path.name, f"it has more than {limit // 1024 // 1024} MB, as none of ours has")
    content = path.read_bytes()
    return _binder(path.name, content) if content.startswith(b"%PDF-") else _statement(path, content)


def _statement(path: Path, content: bytes) -> HeadsElsewhere:
    try:
        stated = heads.from_bytes(content)
    except heads.NotAStatement as error:
        return HeadsElsewhere(path.name, str(error))
    signed = path.with_suffix(heads.SIGNATURE)
    if not signed.exists():
        return HeadsElsewhere(path.name, f"its signature {signed.name} is not beside it")
    found = detached(signed.read_bytes()[: heads.LARGEST], content)
    if not found.fits:
        return HeadsElsewhere(path.name, "its signature does not fit: the file or the signature was changed")
    if _print_of(found.certificate) not in known_certificates():
        return HeadsElsewhere(path.name, "it is signed with a key that this installation never used")
    token = path.with_suffix(heads.STAMP)
    stamp = stamps.look(token.read_bytes()[: stamps.LARGEST], content) if token.exists() else None
    if stamp is not None and stamp.problem:
        return HeadsElsewhere(path.name, f"its time stamp {token.name} proves nothing: {stamp.problem}")
    return HeadsElsewhere(path.name, "", stated.at, stated.heads, stamp)


def _binder(name: str, content: bytes) -> HeadsElsewhere:
    known = known_certificates()
    whole = [f for f in signatures(content) if f.fits and f.end == len(content) and _print_of(f.certificate) in known]
    if not whole:
        return HeadsElsewhere(name, "it is not a binder as this installation signed it")
    seen = look(content)
    if seen.problem or seen.manifest is None or not is_whole(seen.manifest):
        return HeadsElsewhere(name, f"what it rests on cannot be read: {seen.problem or 'its manifest is missing'}")
    said = tuple(
        LedgerHead(h["organisation"], h["name"], h["number"], h["hash"]) for h in seen.manifest["ledgers"]
    )  # fmt: skip
    return HeadsElsewhere(name, "", None, said)


def _print_of(certificate: bytes) -> str:
    return hashlib.sha256(certificate).hexdigest()


def faults(anchors: Iterable[HeadsElsewhere], only: frozenset[str] | None = None) -> list[Fault]:
    """What the record no longer holds of what these files state, by organisation and entry.

    `only` are refs of organisations to look at, None for all.
    """
    anchors = [anchor for anchor in anchors if not anchor.problem]
    there = _entries({head.organisation for anchor in anchors for head in anchor.heads})
    found = {}
    for anchor in anchors:
        for head in anchor.heads:
            if only is not None and head.organisation not in only:
                continue
            if what := _missing(there, anchor, head):
                found.setdefault((head.organisation, head.number, head.hash), Fault(what, head.name, head.number))
    return sorted(found.values(), key=lambda fault: (fault.organisation, fault.entry))


def _missing(there: dict[str, dict[int, str]], anchor: HeadsElsewhere, head: LedgerHead) -> str:
    when = f" on {anchor.at:%Y-%m-%d}" if anchor.at else ""
    if anchor.stamp is not None and anchor.stamp.at is not None:
        when = f" by {anchor.stamp.at:%Y-%m-%d}, as {anchor.stamp.by} stamped"
    if head.organisation not in there:
        return f"{anchor.name} states it{when}, and there is no such organisation any more"
    stored = there[head.organisation].get(head.number)
    if stored is None:
        return f"it stood here{when}, as {anchor.name} states, and is not there any more"
    if stored != head.hash:
        return f"it is another entry than stood here{when}, as {anchor.name} states: the ledger was rewritten"
    return ""


def _entries(refs: set[str]) -> dict[str, dict[int, str]]:
    """By organisation the hash of every entry by its number; of one without a ledger nothing."""
    found: dict[str, dict[int, str]] = {str(o.ref): {} for o in Organisation.objects.filter(ref__in=refs)}
    rows = Entry.objects.filter(ledger__organisation__ref__in=refs).order_by()
    for ref, number, digest in rows.values_list("ledger__organisation__ref", "number", "hash").iterator():
        found[str(ref)][number] = digest
    return found
