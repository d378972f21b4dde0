"""The seal: who sealed the file, how to check it, what a reader of PDF files says, and what it does not show."""

from __future__ import annotations

from collections.abc import Iterable

from audit.binder.scope import Scope
from audit.binder.sealing import Sealing
from audit.binder.sections import Cell, Column, KeyValues, Paragraph, Section, Signed, Table
from audit.binder.written_on_paper import NO_BREAK, day
from audit.facts.heads import LedgerHead

SEAL = "seal"


def in_fours(fingerprint: str) -> str:
    """A fingerprint as it is read aloud: capitals in groups of four, eight groups to a line."""
    groups = [fingerprint[n : n + 4].upper() for n in range(0, len(fingerprint), 4)]
    return "\n".join(NO_BREAK.join(groups[n : n + 8]) for n in range(0, len(groups), 8))


_UNKNOWN = (
    "It will add that the signer is unknown or not trusted: the certificate is the sealing party's own, and no "
    "authority vouches for it. “Unknown signer” is not “altered”. Compare the fingerprint above by telephone, "
    "with a number that you found elsewhere."
)
_VOUCHED = (
    "Whether it knows the authority that issued the certificate depends on the program. “Unknown signer” is not "
    "“altered”: the fingerprint above can be compared by telephone, with a number that you found elsewhere."
)


def _statement(scope: Scope) -> Signed:
    sealing = scope.sealing
    if sealing is None:
        said = "There was no key to sign with, or none was asked for: nothing shows that this file is as it was made."
        return Signed((("This file is not sealed", (said,)),))
    when = f"on {day(scope.facts.day_of(sealing.at))}; the time stands in the signature itself"
    issued = f"Issued by {sealing.issued_by}." if sealing.issued_by else ""
    lines = (
        f"{when}. It covers the whole file; nothing may be added to it.",
        *((issued,) if issued else ()),
        "Fingerprint of the certificate (SHA-256), to compare by telephone:",
        *in_fours(sealing.fingerprint).split("\n"),
    )
    return Signed(((f"Sealed by {sealing.by} for {scope.name}", lines),))


def _ways(sealing: Sealing | None, heads: tuple[LedgerHead, ...]) -> KeyValues:
    entries = " and ".join(f"entry {head.number} of the ledger of {head.name}" for head in heads)
    pairs = []
    if sealing is not None:
        web = (
            f"Open {sealing.address} and choose this file. The page says: unaltered, altered, or not ours; whether "
            "the records still bear it out; and what was corrected since. No log-in is needed."
        )
        reader = (
            "Open its list of signatures. What it should say: the document has not been altered since it was signed, "
            f"by {sealing.by}. " + (_UNKNOWN if sealing.own else _VOUCHED)
        )
        pairs += [("1 On the web", Cell(web)), ("2 By a reader of PDF files", Cell(reader))]
    command = "Or run manage.py verify_binder FILE.pdf where the records are kept."
    records = f"Ask to see {entries or 'the ledger'}. The hashes must be those below. {command}"
    pairs.append((f"{len(pairs) + 1} By the records", Cell(records)))
    return KeyValues("How to check this file", tuple(pairs))


def ledgers_table(heads: tuple[LedgerHead, ...], letters: Iterable[tuple[str, str]]) -> Table:
    """The heads of the ledgers; `letters` are (organisation, letter before its record numbers)."""
    named = dict(letters)
    columns = (
        Column("Ledger of", 130, names=True),
        Column("Letter", 30),
        Column("Entries", 40, "right"),
        Column("Hash of the last entry (SHA-256)", 310),
    )
    rows = tuple(
        (Cell(head.name), Cell(named.get(head.organisation, "none")), Cell(str(head.number)), Cell(_fours(head.hash)))
        for head in heads
    )
    return Table("The ledgers that it rests on", columns, rows, "Ledgers: no ledger entry on record.")


def _fours(digest: str) -> str:
    """A hash in groups of eight, so that it can be read out."""
    return " ".join(digest[n : n + 8] for n in range(0, len(digest), 8))


def seal_section(scope: Scope) -> Section:
    """Who sealed it, three ways to check it, what it rests on, what it does not show."""
    shows = (
        "It shows that not one byte of this file changed since it was sealed; that the entries named in it are in "
        "the ledgers, in that order; and when each was logged. It does not show that what people entered is true, "
        "that nothing was left out, or that a unit is safe. It is no certificate of sterility and no licence."
    )
    writing = (
        "A comment, a highlight or a form filled in changes the file. Readers will then say that it was changed "
        "after it was signed, and they are right; it does not mean that the record was forged. Keep this file as "
        "it came, and write on a copy. On paper the seal cannot be checked: use the records."
    )
    inside = (
        "contents.json holds everything that these pages say, as data; manifest.json what the file rests on; "
        "attached papers lie beside them as they were filed. A reader of PDF files lists them as attachments. "
        f"{_extent(scope)}"
    )
    chain = (
        "Each entry carries the hash of the one before it: a changed, removed or inserted entry gives another "
        "last hash. A letter before a record number names the ledger; no letter, the clinic's own."
    )
    return Section(
        SEAL,
        "The seal, and how to check it",
        1,
        (
            _statement(scope),
            _ways(scope.sealing, scope.heads),
            ledgers_table(scope.heads, scope.letters.items()),
            Paragraph(chain, "small"),
            Paragraph("What the seal shows, and what it does not", "strong"),
            Paragraph(shows),
            Paragraph("If you write on it", "strong"),
            Paragraph(writing),
            Paragraph("What is inside the file", "strong"),
            Paragraph(inside),
        ),
        flows=True,
    )


def _extent(scope: Scope) -> str:
    if scope.extent == "everything":
        return "This binder was ordered with everything on record."
    return (
        "This binder was ordered for an inspector: of loads the last eight weeks, every window of a look-back and "
        "every load that is not plain are printed. The binder with everything on record prints all; the clinic "
        "orders it."
    )
