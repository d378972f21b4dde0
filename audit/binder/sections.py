"""What a binder is made of: frozen values without any drawing, so that paper and JSON say the same.

A binder is a tuple of sections in reading order; a section is a heading with blocks. Cells and sentences name
the rows they rest on in the short form of `audit.binder.scope.Scope.row`. A `to` is the id of a section in the
same binder, "" where there is nothing to jump to.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum

from audit.binder.pictures.values import Charts
from audit.facts.heads import LedgerHead

# How much a binder prints: what an inspector reads, or each row on record.
INSPECTOR, EVERYTHING = "inspector", "everything"
EXTENTS = (INSPECTOR, EVERYTHING)


@dataclass(frozen=True, slots=True)
class Cell:
    """Text in a table or beside a key. A newline starts a new line; `proof` marks names of rows.

    `page` asks the paper for a page number: of the row of that name (a record number, or what `Table.known_as` calls
    it) in the section `to`, of the section itself where it is "" or the row is not printed by name there; None asks
    for none. `span` counts the columns that it takes, at
    least one. `frame` is "" or how an exception stands out beside its word: "framed", "black". `bold` are words of
    the text that are set so, each where it first stands. A sign (□ ◩ ■ ● ○ ✓) before a blank opens a text that hangs.

    `pages` asks in a table for several page numbers: (section, row) each, two to a line, each number once.
    """

    text: str
    to: str = ""
    strong: bool = False
    proof: bool = False
    page: str | None = None
    span: int = 1
    frame: str = ""
    pages: tuple[tuple[str, str], ...] = ()
    bold: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Column:
    """`weight` is the share of the width, in points of a text width of 510; `align` is left, right or center.

    `names` marks the column whose cells name their rows (row heads for a screen reader); the first one where none
    does. `small` is set in the smallest size: record numbers.
    """

    title: str
    weight: float
    align: str = "left"
    names: bool = False
    small: bool = False


@dataclass(frozen=True, slots=True)
class Paragraph:
    """`style`: body, small (below tables), strong (introduces what follows), lead (the first page's sentence).

    `bold` are words of the text that are set so, each where it first stands.
    """

    text: str
    style: str = "body"
    bold: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Title:
    """The large words of the cover: what the file is, whose it is, which days it covers."""

    what: str
    name: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KeyValues:
    caption: str
    pairs: tuple[tuple[str, Cell], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """`rows` have one cell for each column, but for those that span; `empty` is printed in place of one without rows.

    `ruled` holds the numbers of the rows, from 0, above which a line is drawn; None: above each. `tight` sets it
    closer, for logs of hundreds of lines. `halves` sets the rows in two columns side by side, the left one first,
    each under its own column heads; `thirds` in three, in the smallest size but where it is
    one of `halves` too. `known_as` has a name for each row, or
    none: by it the `page` of a cell elsewhere asks for the page of the row (not of a table in halves or thirds).
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    empty: str = "No record found."
    ruled: tuple[int, ...] | None = None
    tight: bool = False
    halves: bool = False
    thirds: bool = False
    known_as: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Masthead:
    """The head of the first page: whose place it is, with lines under it; at its right a box of labels and words."""

    name: str
    lines: tuple[str, ...]
    box: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """Two columns of blocks; what stands left is read first. Each kind of block may stand in them but pictures."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class MonthCalendar:
    """Months side by side, each row a week of the month or one kind of test; a cell is the day, or marks and words.

    Each of `rows` is its label and one cell for each month; "" is nothing due and nothing done. `key` says what each
    sign that is used means. A row of one label alone may carry a duty by the month. `note` stands behind the key.
    """

    caption: str
    months: tuple[str, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]
    key: tuple[tuple[str, str], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Signed:
    """Framed statements side by side, each a title and lines: who signed what, when and how; nobody yet, where so."""

    statements: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Cautions:
    """Warnings in a frame."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StandingBox:
    """The answer to "may it be used?", with everything it rests on."""

    word: str
    reason: str
    pairs: tuple[tuple[str, Cell], ...]
    outranked: str


@dataclass(frozen=True, slots=True)
class TimelineStep:
    """`state`: done, failed, open, late, not needed. `asks` is what the rules ask; `record` names the rows."""

    state: str
    when: str
    title: str
    lines: tuple[str, ...]
    asks: str = ""
    record: str = ""


@dataclass(frozen=True, slots=True)
class CaseTimeline:
    caption: str
    steps: tuple[TimelineStep, ...]


@dataclass(frozen=True, slots=True)
class CycleMark:
    """A cycle by its number and day. `state`: passed, failed (a test), load."""

    number: int
    state: str
    day: str


@dataclass(frozen=True, slots=True)
class CycleBar:
    """Cycles along a bar, by rising number, at least two and not all of one number; `alt` says them in words."""

    marks: tuple[CycleMark, ...]
    alt: str


@dataclass(frozen=True, slots=True)
class Links:
    """A label and, on the same line, short texts that each lead somewhere: "Answers that rest on this: 3, 17".

    No cell is empty and each has a `to`.
    """

    label: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class AttachedPage:
    """A page of an attached paper, as large as there is room. `key` names what is placed.

    `natural` is its size in points, `alt` says what it shows to who cannot see it, `note` is printed under it.
    """

    key: str
    number: int
    of: int
    natural: tuple[float, float]
    alt: str
    note: str


@dataclass(frozen=True, slots=True)
class Photo:
    """`key` names what is placed, in letters and digits; `pixels` is its size across and down."""

    key: str
    pixels: tuple[int, int]
    caption: str
    alt: str


@dataclass(frozen=True, slots=True)
class Photos:
    """Small photos side by side, each with its caption under it."""

    photos: tuple[Photo, ...]


Block = (
    Paragraph
    | Title
    | KeyValues
    | Table
    | Masthead
    | Beside
    | MonthCalendar
    | Signed
    | Cautions
    | StandingBox
    | CaseTimeline
    | CycleBar
    | Links
    | Charts
    | AttachedPage
    | Photos
)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it.

    `level` 1 starts a new page, but where it `flows` on, or `joins` a page that holds little; it names the running
    head. 1 and 2 are listed in the outline, 3 is not. `aside` stands after the title in a smaller size: model and
    serial number of a unit.
    """

    id: str
    title: str
    level: int
    blocks: tuple[Block, ...] = ()
    flows: bool = False
    aside: str = ""
    joins: bool = False


@dataclass(frozen=True, slots=True)
class RulesFollowed:
    """Rules in one edition, followed from `first` to `last`, both inclusive and cut to the period.

    `edition` "" and `valid_from` None: rules of that name are not on file.
    """

    id: str
    title: str
    edition: str
    valid_from: date | None  # the day from which the edition is in force
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class Question:
    """A question with its answers, as the questions' chapter prints it in one row.

    `answers` are (label of the unit, answer); the label is "" for the whole place. `words` say what the record shows,
    `missing` what it lacks and who can supply it, `accepted` who accepted that; each "" for nothing.
    """

    number: int
    group: str
    question: str
    answers: tuple[tuple[str, str], ...]
    words: str
    missing: str
    accepted: str
    source: str


@dataclass(frozen=True, slots=True)
class NotAskedHere:
    """A subject that other texts ask about and the rules of this place do not.

    `held` are (label of the unit, answer) of what is on record anyway; the label is "" for the whole place. `told`
    says it in words, with what is missing, and of nothing on record who would supply it.
    """

    group: str
    subject: str
    held: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]
    told: str = ""


@dataclass(frozen=True, slots=True)
class Binder:
    """The whole of it. `from_on` and `to_on` are inclusive. The first section is the cover.

    `forbidding` counts the open items that forbid use and the units that are out of service. `rules` are those of the
    period, oldest first, and of the day of the answer last; `heads` the clinic's ledger first, then its company's.
    """

    title: str
    clinic: str
    period: str
    from_on: date
    to_on: date
    as_of: date
    known_at: datetime | None
    forbidding: int
    sections: tuple[Section, ...]
    heads: tuple[LedgerHead, ...] = ()
    rules: tuple[RulesFollowed, ...] = ()
    extent: str = INSPECTOR
    questions: tuple[Question, ...] = ()
    not_asked: tuple[NotAskedHere, ...] = ()
    named: tuple[tuple[str, str], ...] = ()  # (record number, first characters of the ref) of each row that it names


def to_json(value):
    """A binder (or any part of it) as dicts, lists, strings, numbers, booleans and None.

    A dataclass becomes a dict whose "kind" is the class name; days and moments are ISO 8601; decimals text.
    """
    if is_dataclass(value):
        content = {field.name: to_json(getattr(value, field.name)) for field in fields(value)}
        return {"kind": type(value).__name__, **content}
    if isinstance(value, tuple | list):
        return [to_json(each) for each in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Enum):
        return to_json(value.value)
    if isinstance(value, Decimal):
        return format(value, "f")
    if value is None or isinstance(value, str | int | float | bool):
        return value
    raise TypeError(f"A binder holds plain values only, not {type(value).__name__}: {value!r}")
