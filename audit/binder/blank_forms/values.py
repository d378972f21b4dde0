"""What a form on paper is made of: frozen values without any drawing. What is known stands in it, the rest is blank.

All heights are millimetres. A blank place is never lower than `HAND`, so that a hand can write in it.
"""

from __future__ import annotations

from dataclasses import dataclass

from audit.binder.sections import Block, Column

HAND = 7.0  # the least height of a place to write in


@dataclass(frozen=True, slots=True)
class FormEntry:
    """One place of a form.

    `label` stands small at its upper edge, `printed` is what is known already, `ticks` are words with a box each,
    `hint` stands small at the lower edge. `room` leaves a place to write below what is printed; a place that holds
    neither print nor ticks is one anyway.
    """

    label: str = ""
    printed: str = ""
    ticks: tuple[str, ...] = ()
    hint: str = ""
    weight: float = 1.0
    strong: bool = False
    room: bool = False
    shaded: bool = False  # nothing is asked here: closed, not in use
    stacked: bool = False  # ticks under one another

    @property
    def writable(self) -> bool:
        return not self.shaded and (self.room or not (self.printed or self.ticks))


@dataclass(frozen=True, slots=True)
class Boxes:
    """Labelled boxes side by side, line under line; `tall` is the least height of a line."""

    caption: str
    lines: tuple[tuple[FormEntry, ...], ...]
    tall: float = 10.0


@dataclass(frozen=True, slots=True)
class FormTable:
    """A ruled table with places to write; `tall` is the least height of a row. Without rows `empty` is printed."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[FormEntry, ...], ...]
    tall: float = HAND
    note: str = ""  # printed small under the table
    grows: bool = False  # its last row is repeated until the last page of the form is full
    empty: str = "Nothing to enter here."


FormBlock = Block | Boxes | FormTable


@dataclass(frozen=True, slots=True)
class PaperForm:
    """One form about one unit. `page_name` is what an entry copied from it names as its page."""

    id: str
    title: str
    unit: str
    page_name: str
    blocks: tuple[FormBlock, ...]


@dataclass(frozen=True, slots=True)
class Forms:
    """Forms of one kind for one clinic, each on a sheet of its own. `made` says from which records, in words."""

    kind: str  # day, week, visit
    title: str
    clinic: str
    made: str
    forms: tuple[PaperForm, ...]


def blank(count: int) -> tuple[FormEntry, ...]:
    """So many places to write in."""
    return (FormEntry(),) * count


def said(text: str, *, strong: bool = False, room: bool = False) -> FormEntry:
    """A place with print in it."""
    return FormEntry(printed=text, strong=strong, room=room)


def tick(*words: str, stacked: bool = False) -> FormEntry:
    """A place with a box before each word."""
    return FormEntry(ticks=words, stacked=stacked)
