"""The papers of a binder: which documents belong in it, their bytes from the store, their pages ready to place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from audit.binder.attached import Paper
from audit.facts import ClinicFacts, DocumentFact
from records.files import blobs
from records.files.paper_check import PLAIN

from .apart import Apart
from .limits import EMBEDDED_BYTES, MOST_SHOWN, MOST_SHOWN_IN_ALL
from .prepare import Prepared

LOST, CHANGED, UNFIT = "paper-lost", "paper-changed", "paper-not-shown"


def gather_papers(clinic, facts: ClinicFacts, *, from_on: date, to_on: date, as_of: date) -> tuple[Paper, ...]:
    """The documents filed by `as_of` that hold on a day from `from_on` to `to_on` (both inclusive) or on `as_of`.

    Those of the whole place first, then unit by unit; each by kind, first valid day and order of logging. Never
    raises for a bad file: it becomes a paper that says what is wrong.
    """
    found: list[Paper] = []
    with Apart() as reader:
        for number, fact in enumerate(_asked(facts, from_on, to_on, as_of), start=1):
            found.append(_paper(reader, clinic, number, fact, found))
    return tuple(found)


def _asked(facts: ClinicFacts, from_on: date, to_on: date, as_of: date) -> Iterator[DocumentFact]:
    for documents in (facts.documents, *(unit.documents for unit in facts.units)):
        for fact in sorted(documents, key=lambda d: (d.kind, d.valid_from, d.row.number, d.row.line)):
            if fact.row.happened_on <= as_of and (_holds(fact, from_on, to_on) or _holds(fact, as_of, as_of)):
                yield fact


def _holds(fact: DocumentFact, first: date, last: date) -> bool:
    return fact.valid_from <= last and (fact.valid_to is None or fact.valid_to >= first)


def _paper(reader: Apart, clinic, number: int, fact: DocumentFact, before: list[Paper]) -> Paper:
    blank = Paper(
        number=number, row=fact.row, unit=fact.unit, title=fact.title, kind=fact.kind, valid_from=fact.valid_from,
        valid_to=fact.valid_to, filename=fact.filename, sha256=fact.sha256, size=None, media_type=PLAIN,
    )  # fmt: skip
    try:
        content = blobs.read(clinic, fact.sha256)
    except ValueError:
        return _bad(blank, CHANGED, "The stored file is not the one that was filed: its SHA-256 differs.")
    except OSError:
        return _bad(blank, LOST, "The file is not in the store.")
    same = next((each for each in before if each.sha256 == fact.sha256), None)
    if same is not None:
        return _again(blank, same)
    left = MOST_SHOWN_IN_ALL - sum(len(each.pages) for each in before)
    made = reader.prepared(content, fact.filename, min(MOST_SHOWN, left))
    room = EMBEDDED_BYTES - sum(len(each.content) for each in before)
    return _filled(replace(blank, size=len(content), media_type=made.examined.media_type), made, content, room, left)


def _bad(paper: Paper, rule: str, problem: str) -> Paper:
    way_out = "Bring the store back from a copy, or file the paper again and enter this one in error."
    return replace(paper, rule=rule, problem=problem, way_out=way_out)


def _again(paper: Paper, same: Paper) -> Paper:
    """The same bytes filed twice are embedded and shown once."""
    note = f"The same file as paper {same.number}, “{same.title}”: embedded and shown there."
    return replace(
        paper, size=same.size, media_type=same.media_type, total=same.total, rule=same.rule, problem=same.problem,
        way_out=same.way_out, note=note,
    )  # fmt: skip


def _filled(paper: Paper, made: Prepared, content: bytes, room: int, left: int) -> Paper:
    examined = made.examined
    notes = []
    embedded = b""
    if examined.active:
        notes.append("The original is not embedded, because opening it may do something; it stays in the store.")
    elif examined.media_type == PLAIN:
        notes.append("The original is not embedded, for a file of its kind may do something when it is opened.")
    elif len(content) > room:
        notes.append("The original is not embedded: this file would become too large. It stays in the store.")
    else:
        embedded = content
    if not examined.fault and not examined.pages:
        notes.append("A file of this kind has no pages to show.")
    elif not examined.fault and len(made.pages) < examined.pages:
        notes.append(_unshown(made, left, "embedded" if embedded else "stored"))
    return replace(
        paper, content=embedded, sheets=made.sheets, pages=made.pages, total=examined.pages,
        rule=UNFIT if examined.fault else "", problem=examined.fault, way_out=examined.way_out, note=" ".join(notes),
    )  # fmt: skip


def _unshown(made: Prepared, left: int, where: str) -> str:
    first, last = len(made.pages) + 1, made.examined.pages
    which = f"Pages {first} to {last} are" if first < last else f"Page {last} is"
    most = f"{MOST_SHOWN} pages are the most that are shown of one paper"
    if left < MOST_SHOWN:
        most = f"{MOST_SHOWN_IN_ALL} pages are the most that are shown of all papers"
    return f"{which} in the {where} original only: {made.unshown or most}."
