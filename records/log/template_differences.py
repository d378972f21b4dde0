"""What an edition of a template says otherwise than one unit: nothing of what the unit alone has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from records.models import Unit, UnitTemplate

from .settled import plan_on, positions_by_code
from .template_content import (
    TemplateContent,
    contents_of,
    followed,
    part_key,
    parts_of,
    reading_key,
    readings_of,
)
from .templates import editions

LINE = (
    "title", "action", "months", "cycles", "hours", "lead_days", "grace_days", "source", "edition", "rule",
    "repair_class",
)  # fmt: skip
READING = ("unit_of_measure", "lower", "upper", "limit_source")
GONE, NEW, CHANGED = "not done any more", "new", "changed"


@dataclass(frozen=True, slots=True)
class TemplateDifference:
    """What an edition says otherwise than the unit. `own`: it was changed on the unit since it was copied there.

    `now` and `then` are the words of both, "" where one of them has nothing of it.
    """

    key: str
    kind: str  # new, changed, not done any more
    title: str
    now: str
    then: str
    own: bool


@dataclass(frozen=True)
class _Compared:
    """By key what is said, as words for people and as values to compare."""

    title: dict[str, str]
    words: dict[str, str]
    values: dict[str, tuple]

    def __contains__(self, key: str) -> bool:
        return key in self.values


def _of_content(content: TemplateContent) -> _Compared:
    parts = [(part_key(p.part, p.position), p.part.name, _part_words(p), (p.quantity,)) for p in content.parts]
    return _state(content.positions, content.lines, parts, content.readings)


def _of_unit(unit: Unit, on: date) -> _Compared:
    parts = [(part_key(p, p.position), p.name, _part_words(p), (p.quantity,)) for p in parts_of(unit, on)]
    return _state(positions_by_code(unit).values(), plan_on(unit, on), parts, readings_of(unit, on))


def _state(positions, lines, parts, readings) -> _Compared:
    rows = [(f"position:{p.code}", p.name, "", ()) for p in positions]
    rows += [(f"line:{x.code}", x.title, _line_words(x), _line_values(x)) for x in lines]
    rows += [*parts]
    rows += [(reading_key(r), str(r), _reading_words(r), tuple(getattr(r, n) for n in READING)) for r in readings]
    return _Compared(*({key: each[n] for key, *each in rows} for n in range(3)))


def _line_values(line) -> tuple:
    return (line.position.code if line.position else "", *(getattr(line, name) for name in LINE))


def _line_words(line) -> str:
    every = [f"every {getattr(line, n)} {n}" for n in ("months", "cycles", "hours") if getattr(line, n)]
    said = [line.title, line.action, *every, *([line.rule] if line.rule else []), f"class {line.repair_class}"]
    said += [f"grace {line.grace_days} days"] if line.grace_days else []
    return ", ".join(said) + f"; {line.source}" + (f", {line.edition}" if line.edition else "")


def _part_words(part) -> str:
    return f"{part.quantity} of it"


def _reading_words(reading) -> str:
    low, high = (f"{x.normalize():f}" if x is not None else "" for x in (reading.lower, reading.upper))
    limits = f"{low} to {high}" if low and high else f"from {low}" if low else f"up to {high}" if high else "no limit"
    return f"{limits} {reading.unit_of_measure}" + (f"; {reading.limit_source}" if reading.limit_source else "")


def differences(unit: Unit, template: UnitTemplate, on: date) -> list[TemplateDifference]:
    """What that edition says otherwise than the unit on that day; nothing of what the unit alone has."""
    here, line = _of_unit(unit, on), editions(template)
    contents = {pk: _of_content(content) for pk, content in contents_of(line).items()}
    there = contents[template.pk]
    now = followed(unit)
    edition = next((each for each in line if now is not None and each.ref == now.template), None)
    before = contents[edition.pk] if edition else None
    found = []
    for key, values in there.values.items():
        if key in here and here.values[key] == values:
            continue
        kind = CHANGED if key in here else NEW
        own = _own(key, here, before)
        found.append(TemplateDifference(key, kind, there.title[key], here.words.get(key, ""), there.words[key], own))
    for key in sorted(_once_said(contents.values()) & (here.values.keys() - there.values.keys())) if edition else ():
        found.append(TemplateDifference(key, GONE, here.title[key], here.words[key], "", _own(key, here, before)))
    return found


def _own(key: str, here: _Compared, before: _Compared | None) -> bool:
    """Whether the unit says something else than what was copied to it; of what it never had, whether it was left."""
    if key in here:
        return before is None or before.values.get(key) != here.values[key]
    return before is not None and key in before


def _once_said(editions: Iterable[_Compared]) -> set[str]:
    """The keys of lines, parts and readings of any edition: what a unit has of these may have come from one."""
    return {key for each in editions for key in each.values if not key.startswith("position:")}
