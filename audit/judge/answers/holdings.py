"""Answers about the record itself: what it holds, which units there are."""

from __future__ import annotations

from collections.abc import Iterable

from audit.facts import in_order
from audit.judge.judgement import Evidence

from .asked import AskedPlace, AskedQuestion, Reply, View, cited, day_of, joined, none_found, number, share


def logbook_headings(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether something stands under each heading of a logbook: tests, plant history, cycles, training, pressure."""
    unit = view.facts
    papers = (*unit.documents, *(d for d in place.clinic.documents if d.unit in ("", unit.ref)))
    trained = [c for c in place.clinic.credentials if c.holder == "clinic" and c.kind == "training"]
    return _headings(
        question,
        {
            "periodic tests": (*unit.bio_tests, *unit.air_removal, *unit.leaks, *unit.checks),
            "plant history": unit.jobs,
            "cycles": unit.loads,
            "training": (*trained, *(d for d in papers if d.kind == "training")),
            "pressure examination": [d for d in papers if d.kind == "pressure examination"],
        },
    )


def stages_apart(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether installation, commissioning, validation, periodic tests and maintenance are each on record."""
    unit = view.facts
    papers = (*unit.documents, *(d for d in place.clinic.documents if d.unit == unit.ref))
    first = [j for j in unit.jobs if j.reason == "installation" and j.tests]
    return _headings(
        question,
        {
            "installation": [e for e in unit.events if e.kind in ("installed", "loaner in")],
            "commissioning": (*first, *(d for d in papers if d.kind == "commissioning")),
            "validation": [d for d in papers if d.kind == "validation report"],
            "periodic tests": (*unit.bio_tests, *unit.air_removal, *unit.leaks, *unit.checks),
            "maintenance": [j for j in unit.jobs if j.reason != "installation"],
        },
    )


def _headings(question: AskedQuestion, held: dict[str, Iterable]) -> Reply:
    found = {name: in_order(rows) for name, rows in held.items()}
    empty = [name for name, rows in found.items() if not rows]
    if len(empty) == len(found):
        return none_found(question, "Nothing is on record under any of the headings.")
    words = "; ".join(f"{name}: {len(rows)}" for name, rows in found.items())
    proof = cited(
        (rows[-1], f"{name}: newest of {len(rows)}, {day_of(rows[-1])}") for name, rows in found.items() if rows
    )
    gap = f"nothing under {', '.join(empty)}; {question.gap}" if empty else ""
    return Reply(share(len(found) - len(empty), len(found)), f"On record: {words}.", proof, gap)


# ------------------------------------------------------------------------------------------------ which units


def units_on_record(place: AskedPlace, question: AskedQuestion) -> Reply:
    """Which units there are, and whether each may be used on the day."""
    if not place.views:
        return none_found(question, "No unit is on record.")
    told = joined(f"{_named(v)}, serial {v.facts.serial}: {v.said.standing.word}" for v in place.views)
    usable = sum(_usable(v) for v in place.views)
    words = f"{number(len(place.views), 'unit')} on record, {usable} may be used: {told}."
    out = [f"{_named(v)}: {v.said.standing.lifted_by}" for v in place.views if not _usable(v)]
    return Reply(share(usable, len(place.views)), words, _units(place.views), joined(out))


def two_units(place: AskedPlace, question: AskedQuestion) -> Reply:
    """Whether at least two units may be used on the day."""
    if not place.views:
        return none_found(question, "No unit is on record.")
    usable = [v for v in place.views if _usable(v)]
    words = f"{len(usable)} of {number(len(place.views), 'unit')} on record may be used on {place.as_of.isoformat()}."
    gap = "" if len(usable) >= 2 else f"{number(2 - len(usable), 'more unit')} that may be used; {question.gap}"
    return Reply(share(min(len(usable), 2), 2), words, _units(usable if len(usable) >= 2 else place.views), gap)


def _named(view: View) -> str:
    """ "unit A", and not "unit Unit 1"."""
    label = view.facts.label
    return label if label.lower().startswith("unit") else f"unit {label}"


def _usable(view: View) -> bool:
    return view.said.standing.word.may_be_used


def _units(views: Iterable[View]) -> tuple[Evidence, ...]:
    return cited((v.facts, f"{_named(v)}: {v.said.standing.word}, {v.said.standing.reason}") for v in views)
