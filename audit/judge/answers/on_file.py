"""Answers from papers and credentials: what is on file, in date, looked at within a year; who is trained."""

from __future__ import annotations

from datetime import date

from audit.facts import CredentialFact, DocumentFact
from audit.facts.dates import add_months
from audit.judge.judgement import Evidence
from audit.judge.lookback.matching import name_key

from .asked import (
    IN_PART,
    MOST,
    NO,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    Question,
    Reply,
    View,
    joined,
    none_found,
    number,
    share,
)

INSTRUCTIONS = "instructions"


def on_file(place: AskedPlace, question: Question) -> Reply:
    """Whether a paper or a credential of the clinic, of the kind `about` and with one of `words` in its title, holds.

    Where the question names months, it must also have been issued or looked at within them.
    """
    return _best(place, question, _matching(place, question))


def paper_of_unit(place: AskedPlace, view: View, question: Question) -> Reply:
    """The same for papers of one unit; the maker's instructions may also be on file for the whole place."""
    own = [d for d in view.facts.documents if d.kind == question.about]
    whole = (view.facts.ref, "") if question.about == INSTRUCTIONS else (view.facts.ref,)
    own += [d for d in place.clinic.documents if d.kind == question.about and d.unit in whole]
    return _best(place, question, own)


def people_trained(place: AskedPlace, question: Question) -> Reply:
    """Whether the training on record of each person of the clinic holds, and is no older than the months named."""
    people: dict[str, list[CredentialFact]] = {}
    for one in place.clinic.credentials:
        if one.holder == "clinic" and one.kind == "training" and one.valid_from <= place.as_of:
            people.setdefault(name_key(one.person), []).append(one)
    if not people:
        return none_found(question, "No training of the clinic's people is on record.")
    months = question.months or RECENT_MONTHS
    newest = [max(held, key=_begun) for _, held in sorted(people.items())]
    good = [c for c in newest if _holds(c, place.as_of) and add_months(c.valid_from, months) >= place.as_of]
    bad = [c for c in newest if c not in good]
    words = f"The training of {len(good)} of {number(len(newest), 'person', 'people')} on record is in date and no "
    words += f"older than {months} months."
    proof = tuple(Evidence(c.row.ref, f"{c.title}, {c.person}, {_period(c)}") for c in (*good, *bad)[-MOST:])
    gap = f"training of {joined(f'{c.person} ({_period(c)})' for c in bad)}; {question.gap}" if bad else ""
    return Reply(share(len(good), len(newest)), words, proof, gap)


# ------------------------------------------------------------------------------------------------ shared


def _matching(place: AskedPlace, question: Question) -> list[DocumentFact | CredentialFact]:
    clinic = [c for c in place.clinic.credentials if c.holder == "clinic"]
    units = [d for view in place.views for d in view.facts.documents]
    return [p for p in (*place.clinic.documents, *units, *clinic) if _fits(p, question)]


def _fits(paper, question: Question) -> bool:
    """Of the kind where one is named, and with one of the words in its title where some are."""
    title = paper.title.casefold()
    kind = question.about in ("", paper.kind)
    return kind and (not question.words or any(word in title for word in question.words))


def _best(place: AskedPlace, question: Question, papers: list) -> Reply:
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
    if question.months and add_months(last.valid_from, question.months) < place.as_of:
        words += f" It is older than {question.months} months."
        return Reply(IN_PART, words, proof, f"one of the last {question.months} months; {question.gap}")
    return Reply(YES, words, proof)


def _begun(paper) -> tuple:
    return paper.valid_from, paper.row.number, paper.row.line


def _holds(paper, day: date) -> bool:
    return paper.valid_from <= day and (paper.valid_to is None or day <= paper.valid_to)


def _period(paper) -> str:
    until = f" to {paper.valid_to.isoformat()}" if paper.valid_to else ", no end stated"
    return f"valid from {paper.valid_from.isoformat()}{until}"
