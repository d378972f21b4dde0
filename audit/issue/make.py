"""One binder from the record to the bytes of its unsigned file. Page, command and jobs all come through here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from audit.binder.attached import Paper
from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out
from audit.binder.pdf.draw import draw
from audit.binder.pdf.finish import finished
from audit.binder.pdf.page import sheet
from audit.binder.sealing import Sealing
from audit.binder.sections import Binder
from audit.facts import ClinicFacts
from audit.facts.heads import LedgerHead
from audit.gather.heads import heads, numbers
from audit.gather.read import clinic_facts, day_at
from audit.gather.responsible import responsible
from audit.issue import papers as on_file
from audit.issue.seal.embed import embed, files
from audit.issue.seal.manifest import contents_json, manifest, program
from audit.issue.wish import Wish
from audit.judge.evaluate import evaluate_over
from records import clock
from records.models import Clinic

Told = Callable[[int, int, str], None]

STEPS = (
    "reading the record",
    "reading the papers on file",
    "judging each day",
    "writing the contents",
    "laying out the pages",
    "drawing the pages",
    "attaching the papers",
)


_TRIES = 10


class TooBusy(ValueError):
    """The record did not come to rest while it was read: the message says the way out."""


@dataclass(frozen=True, slots=True)
class Made:
    """`body` is the whole unsigned file, the same bytes for the same facts, days, sealing and program."""

    wish: Wish
    binder: Binder
    manifest: dict
    body: bytes
    pages: int


def _silent(done: int, total: int, what: str) -> None:
    pass


def contents(
    clinic: Clinic, wish: Wish, told: Told = _silent, sealing: Sealing | None = None
) -> tuple[Binder, tuple[Paper, ...]]:
    """The binder as data, and the papers that it shows. Raises ValueError when the period ends before it starts.

    `sealing` is what the binder says of its signature; None: that it is not sealed.
    """
    told(0, len(STEPS), STEPS[0])
    facts, as_of, read = _read(clinic, wish)
    told(1, len(STEPS), STEPS[1])
    papers = on_file.gather_papers(clinic, facts, from_on=wish.from_on, to_on=wish.to_on, as_of=as_of)
    told(2, len(STEPS), STEPS[2])
    judgement, kept = evaluate_over(facts, as_of, wish.from_on, wish.to_on)
    told(3, len(STEPS), STEPS[3])
    binder = binder_contents(
        facts,
        judgement,
        from_on=wish.from_on,
        to_on=wish.to_on,
        coverage=kept,
        papers=papers,
        heads=read,
        extent=wish.extent,
        responsible=responsible(clinic, wish.known_at),
        sealing=sealing,
    )
    return binder, papers


def _read(clinic: Clinic, wish: Wish) -> tuple[ClinicFacts, date, tuple[LedgerHead, ...]]:
    """The facts, the day of the answer, and the ledgers as they stood; read again if something was logged meanwhile.

    Otherwise the binder would claim to rest on an entry that it never saw. Raises TooBusy.
    """
    for _ in range(_TRIES):
        before = numbers(clinic)
        facts = clinic_facts(clinic, known_at=wish.known_at)
        as_of = wish.as_of or day_at(facts, wish.known_at or clock.now())
        found = heads(clinic, facts, as_of)
        if numbers(clinic) == before:
            return facts, as_of, found
    raise TooBusy(
        f"Entries of {clinic.slug} came in faster than they could be read, {_TRIES} times in a row. "
        "Make the binder again in a minute."
    )


def make(clinic: Clinic, wish: Wish, told: Told = _silent, sealing: Sealing | None = None) -> Made:
    """The unsigned file, which says of its signature what `sealing` says.

    `told(done, total, what)` is called before each step. Raises as `contents` does.
    """
    binder, papers = contents(clinic, wish, told, sealing)
    as_data = contents_json(binder)
    paper = sheet(wish.page)
    told(4, len(STEPS), STEPS[4])
    pages = lay_out(binder, paper)
    told(5, len(STEPS), STEPS[5])
    drawn = draw(binder, pages, paper)
    told(6, len(STEPS), STEPS[6])
    stated = manifest(binder, binder.heads, binder.rules, papers, program(), contents=as_data, pages=len(pages))
    body = finished(
        drawn.content,
        lambda pdf: on_file.fill(pdf, papers, drawn.placed),
        lambda pdf: embed(pdf, files(stated, as_data, papers), binder.as_of),
    )
    return Made(wish, binder, stated, body, len(pages))
