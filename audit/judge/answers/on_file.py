"""Answers from papers and credentials: what is on file, in date, looked at within a year."""

from __future__ import annotations

from datetime import date

from audit.facts import CredentialFact, DocumentFact
from audit.facts.dates import add_months
from audit.judge.judgement import Evidence

from .asked import (
    IN_PART,
    MOST,
    NO,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    AskedQuestion,
    Reply,
    View,
    joined,
    none_found,
    number,
    share,
    with_beyond,
)

INSTRUCTIONS = "instructions"
_ENDING = ("insurance", "contract")  # kinds that run out: one without a last day is not known to hold


def on_file(place: AskedPlace, question: AskedQuestion) -> Reply:
    """Whether a paper or a credential of the clinic holds, of one of the kinds asked.

    Kinds are chosen, not guessed: a title never makes a paper one of a kind. Only within a general kind (`GENERAL`),
    which says nothing of what the paper is about, one of `words` must stand in its title.

    Where the question names months, it must also have been issued or looked at within them. Of what no paper shows
    (`beyond`) the answer is never plain "yes".
    """
    return with_beyond(question, _best(place, question, _matching(place, question)))


def papers_current(place: AskedPlace, question: AskedQuestion) -> Reply:
    """Whether every paper of the kinds asked, the newest of each title, holds and was looked at within the months."""
    newest: dict[str, DocumentFact | CredentialFact] = {}
    for paper in sorted((p for p in _matching(place, question) if p.valid_from <= place.as_of), key=_begun):
        newest[" ".join(paper.title.casefold().split())] = paper
    if not newest:
        return none_found(question, "No such paper is on record.")
    months = question.months or RECENT_MONTHS
    fresh = [p for p in newest.values() if _holds(p, place.as_of) and not _old(p, months, place.as_of)]
    bad = [p for p in newest.values() if p not in fresh]
    proof = tuple(Evidence(p.row.ref, f"{p.title}, {_period(p)}") for p in (*fresh, *bad)[-MOST:])
    words = (
        f"{len(fresh)} of {number(len(newest), 'such paper')} on record in date and no older than {months} months."
    )
    gap = f"{joined(f'{p.title} ({_period(p)})' for p in bad)}; {question.gap}" if bad else ""
    return Reply(share(len(fresh), len(newest)), words, proof, gap)


def paper_of_unit(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """The same for papers of one unit; the maker's instructions may also be on file for the whole place."""
    own = [d for d in view.facts.documents if d.kind == question.about]
    whole = (view.facts.ref, "") if question.about == INSTRUCTIONS else (view.facts.ref,)
    own += [d for d in place.clinic.documents if d.kind == question.about and d.unit in whole]
    return _best(place, question, own)


# ------------------------------------------------------------------------------------------------ shared


def _matching(place: AskedPlace, question: AskedQuestion) -> list[DocumentFact | CredentialFact]:
    clinic = [c for c in place.clinic.credentials if c.holder == "clinic"]
    units = [d for view in place.views for d in view.facts.documents]
    return [p for p in (*place.clinic.documents, *units, *clinic) if _fits(p, question)]


def _fits(paper, question: AskedQuestion) -> bool:
    """Of one of the kinds, and with one of the words in its title where some are named."""
    title = paper.title.casefold()
    return paper.kind in question.kinds and (not question.words or any(word in title for word in question.words))


def _best(place: AskedPlace, question: AskedQuestion, papers: list) -> Reply:
    begun = sorted((p for p in papers if p.valid_from <= place.as_of), key=_begun)
    if not begun:
        return none_found(question, "No such paper is on record.")
    held = [p for p in begun if _holds(p, place.as_of)]
    proof = tuple(Evidence(p.row.ref, f"{p.title}, {_period(p)}") for p in (held or begun)[-MOST:])
    if not held:
        last = begun[-1]
        return Reply(NO, f"The newest on record, {last.title}, is {_period(last)}.", proof, question.gap)
    last = held[-1]
    words = f"{last.title}, {_period(last)}; {number(len(held), 'such paper')} in date on record."
    if last.kind in _ENDING and last.valid_to is None:
        return Reply(IN_PART, words, proof, f"the day on which it ends; {question.gap}")
    if question.months and _old(last, question.months, place.as_of):
        words += f" It is older than {question.months} months."
        return Reply(IN_PART, words, proof, f"one of the last {question.months} months; {question.gap}")
    return Reply(YES, words, proof)


def _old(paper, months: int, as_of: date) -> bool:
    return add_months(paper.valid_from, months) < as_of


def _begun(paper) -> tuple:
    return paper.valid_from, paper.row.number, paper.row.line


def _holds(paper, day: date) -> bool:
    return paper.valid_from <= day and (paper.valid_to is None or day <= paper.valid_to)


def _period(paper) -> str:
    until = f" to {paper.valid_to.isoformat()}" if paper.valid_to else ", no end stated"
    return f"valid from {paper.valid_from.isoformat()}{until}"
