"""Answers about the people of the clinic: who sterilizes, and who of them is trained."""

from __future__ import annotations

from datetime import date

from audit.facts import CredentialFact
from audit.facts.dates import add_months
from audit.judge.judgement import Evidence
from audit.judge.lookback.matching import name_key
from audit.judge.who_did import STERILIZES, deeds, plainly_logged

from .asked import (
    IN_PART,
    MOST,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    AskedQuestion,
    Reply,
    joined,
    none_found,
    number,
    share,
)


def people_trained(place: AskedPlace, question: AskedQuestion) -> Reply:
    """Whether the training on record of each person of the clinic holds, and is no older than the months named.

    Everybody counts who has a training on record and who, within those months, ran or read a test, signed or logged
    a check, logged a load, put it in or decided about it. Where a row names nobody, who did it is not known.
    """
    people: dict[str, list[CredentialFact]] = {}
    for one in place.clinic.credentials:
        if one.holder == "clinic" and one.kind == "training" and one.valid_from <= place.as_of:
            people.setdefault(name_key(one.person), []).append(one)
    months = question.months or RECENT_MONTHS
    names, unnamed = _who_did(place, months)
    untrained = {key: name for key, name in sorted(names.items()) if key not in people}
    if not people:
        words = "No training of the clinic's people is on record."
        words += f" {number(len(names), 'person', 'people')} ran tests, checks or loads." if names else ""
        return none_found(question, words)
    newest = [max(held, key=_begun) for _, held in sorted(people.items())]
    good = [c for c in newest if _holds(c, place.as_of) and add_months(c.valid_from, months) >= place.as_of]
    bad = [c for c in newest if c not in good]
    everyone = len(newest) + len(untrained)
    words = f"The training of {len(good)} of {number(everyone, 'person', 'people')} on record is in date and no "
    words += f"older than {months} months."
    gap = [f"{c.person} ({_period(c)})" for c in bad] + [
        f"{name} (no training on record)" for name in untrained.values()
    ]
    gap = [f"training of {joined(gap)}"] if gap else []
    if unnamed or not names:
        told = f"{number(unnamed, 'test, check or load', 'tests, checks or loads')} without a name"
        told = told if unnamed else f"nobody is named who ran a test or a load in the last {months} months"
        words += f" {told[:1].upper()}{told[1:]}."
        gap.append("the names of all who sterilize")
    proof = tuple(Evidence(c.row.ref, f"{c.title}, {c.person}, {_period(c)}") for c in (*good, *bad)[-MOST:])
    answer = share(len(good), everyone)
    answer = IN_PART if answer == YES and gap else answer
    return Reply(answer, words, proof, f"{'; '.join(gap)}; {question.gap}" if gap else "")


def _who_did(place: AskedPlace, months: int) -> tuple[dict[str, str], int]:
    """(names by their key of all who did something in the last `months`, how many tests, checks or loads lack one).

    Rows of a company are not ours; a reading by a laboratory names nobody of the clinic.
    """
    first = place.since(months)
    plain, rows = [], []
    for view in place.views:
        loads, others = plainly_logged(place.recent(view.facts.loads, months))
        plain += loads
        rows += [d for d in deeds(view.facts, first, others) if d.own and d.what in STERILIZES]
    loggers, loaders = {x.row.logged_by for x in plain}, {x.loaded_by for x in plain}
    named = {name: name_key(name) for name in {*loggers, *loaders, *[d.name for d in rows]}}
    nobody = {name for name, key in named.items() if not key}
    unnamed = [d.of for d in rows if d.name in nobody]
    if nobody & loggers:
        unnamed += [x for x in plain if x.row.logged_by in nobody]
    if nobody & loaders - {""}:
        unnamed += [x for x in plain if x.loaded_by and x.loaded_by in nobody]
    names = {key: name for name, key in sorted(named.items()) if key}
    return names, len({x.row.origin for x in unnamed})


def _begun(credential: CredentialFact) -> tuple:
    return credential.valid_from, credential.row.number, credential.row.line


def _holds(credential: CredentialFact, day: date) -> bool:
    return credential.valid_from <= day and (credential.valid_to is None or day <= credential.valid_to)


def _period(credential: CredentialFact) -> str:
    until = f" to {credential.valid_to.isoformat()}" if credential.valid_to else ", no end stated"
    return f"valid from {credential.valid_from.isoformat()}{until}"
