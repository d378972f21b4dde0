"""Answers about the people of the clinic: who sterilizes, and who of them is trained."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date
from itertools import chain

from audit.facts import CredentialFact, UnitFacts
from audit.facts.dates import add_months
from audit.judge.judgement import Evidence
from audit.judge.lookback.matching import name_key

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
    since,
)


def people_trained(place: AskedPlace, question: AskedQuestion) -> Reply:
    """Whether the training on record of each person of the clinic holds, and is no older than the months named.

    Everybody counts who has a training on record and who, within those months, ran or read a test, signed or logged
    a check, logged a load or decided about one. Where a row names nobody, who did it is not known.
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
    """(names by their key of all who did something in the last `months`, how many rows name nobody)."""
    first = place.since(months)
    rows = Counter(chain.from_iterable(_doers(view.facts, first) for view in place.views))
    names = {name_key(name): name for doers in rows for name in doers if name_key(name)}
    unnamed = sum(n for doers, n in rows.items() if not all(name_key(name) for name in doers))
    return names, unnamed


def _doers(unit: UnitFacts, first: date) -> Iterator[tuple[str, ...]]:
    """For each row since `first` the names it must carry, "" where one is missing; rows of a company are not ours.

    A reading by a laboratory names nobody of the clinic.
    """
    for test in since(unit.bio_tests, first):
        if not test.row.logged_for:
            yield (test.run_by, *(r.read_by for r in test.readings if not r.report and not r.row.logged_for))
    for check in since(unit.checks, first):
        if not check.row.logged_for:
            yield (check.signed_by or check.row.logged_by,)
    loads = since(unit.loads, first)
    if not any([x.released_row is not None for x in loads]):  # most often: nobody decided apart
        yield from zip([x.row.logged_by for x in loads if not x.row.logged_for], strict=True)
        loads = ()
    for load in loads:
        row = load.row
        if not row.logged_for:
            yield (row.logged_by,)
        if load.released_row is not None and load.released and not load.released_row.logged_for:
            yield (load.released_row.logged_by,)
    for kind in (unit.air_removal, unit.leaks, unit.chemical):
        for test in since(kind, first):
            if not test.row.logged_for:
                yield (test.row.logged_by,)


def _begun(credential: CredentialFact) -> tuple:
    return credential.valid_from, credential.row.number, credential.row.line


def _holds(credential: CredentialFact, day: date) -> bool:
    return credential.valid_from <= day and (credential.valid_to is None or day <= credential.valid_to)


def _period(credential: CredentialFact) -> str:
    until = f" to {credential.valid_to.isoformat()}" if credential.valid_to else ", no end stated"
    return f"valid from {credential.valid_from.isoformat()}{until}"
