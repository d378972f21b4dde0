"""Rows of a table through form and writer: judged one by one as each form would be, then recorded together.

Nothing is written until every row is right or set aside: all entries stand in one transaction, 500 rows an entry. A
row that is on record already is recognised and not written again.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import islice
from uuid import UUID

from django.core.exceptions import NON_FIELD_ERRORS
from django.db import transaction
from django.utils.datastructures import MultiValueDict

from records import log
from records.forms import EntryContext, LeakForm
from records.log import gathering, may_be_logged
from records.log.submission import submission
from records.models import BioTest, Entry, Load

from .kinds import READING
from .on_record import OnRecord
from .rows import RowFault, RowReader, ToldRow

ROWS_OF_ENTRY = 500
MOST_TOLD = 1_000  # faults that are told of one table; how many there are is counted
LONGEST_PAPER = Entry._meta.get_field("paper").max_length

WRITERS = {
    "spore-tests": log.start_bio_test,
    "loads": log.log_load,
    "air-removal-tests": log.log_air_removal,
    "leak-tests": log.log_leak,
    "checks": log.log_user_check,
    "chemical-indicators": log.log_chemical,
}
Told = Callable[[int], None]
Against = Callable[[object, date], tuple[str, ...]]


@dataclass
class Verdict:
    """What became of the rows: `right` may be recorded, `known` are on record, `wrong` have a fault that stands.

    `faults` are at most MOST_TOLD; `left_out` are no rows of the table. `names` are those of people who are not on
    record yet, each with its number of rows.
    """

    right: int = 0
    known: list[tuple[int, str]] = field(default_factory=list)
    wrong: list[int] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    left_out: list[tuple[int, str, str]] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    first: date | None = None
    last: date | None = None

    @property
    def asked(self) -> dict[str, int]:
        """How many of the told faults each code would confirm."""
        found: dict[str, int] = {}
        for fault in self.faults:
            if fault.confirm:
                found[fault.confirm] = found.get(fault.confirm, 0) + 1
        return found


class Judge:
    """Form and writer of one kind for one table.

    `confirmed`: codes of what really happened so, in all rows; `paper`: as entries name it, "" for what was seen.
    `against(unit, day)`: why a unit may not be used on a day, as judgement says.
    """

    def __init__(
        self, ground: EntryContext, reader: RowReader, *, confirmed: Iterable[str] = (), paper: str = "",
        against: Against = lambda unit, on: (),
    ) -> None:  # fmt: skip
        self.ground, self.reader, self.kind = ground, reader, reader.kind
        self.confirmed, self.paper, self.against = tuple(confirmed), paper[:LONGEST_PAPER], against
        used = {*reader.mapping.columns, *reader.mapping.fixed}
        self.form, self.blank = _form(self.kind.form, ground, used, "")
        self.second, self.blank_read = None, {}
        if self.kind.reading:
            self.second, self.blank_read = _form(self.kind.reading, ground, used, READING)
        self.writer = WRITERS[self.kind.code]
        self.gathering = gathering.Gathering()
        self._said: dict[tuple, tuple[str, ...]] = {}

    def faults_of(self, told: ToldRow) -> list[RowFault]:
        """What speaks against the row, tried as it would be recorded."""
        try:
            with gathering.trying(self.gathering):
                self.write(told)
        except log.Refused as refused:
            return [self._as_fault(told, problem, READING in problem.field) for problem in refused.problems]
        return []

    def cleaned(self, told: ToldRow) -> list[RowFault]:
        """What reading the row and filling in the form found; where that is nothing the row has its `values`."""
        if told.faults:
            return told.faults
        found = self._filled(self.form, told, told.data, "")
        if self.second is not None and told.reading:
            found += self._filled(self.second, told, told.reading, READING)
        if not found:
            told.values = self._values(told)
        return found

    def _filled(self, form, told: ToldRow, data: dict[str, str], before: str) -> list[RowFault]:
        form.data = _as_sent(form, data, self.confirmed)
        if form._errors:
            for bound in (form, *form._bound_fields_cache.values()):
                bound.__dict__.pop("confirms", None)
        form.full_clean()
        faults = []
        for name, messages in form.errors.items():
            at = "" if name == NON_FIELD_ERRORS else before + name
            faults += [self.reader.fault(told, at, message) for message in messages]
        return faults

    def _values(self, told: ToldRow) -> tuple[dict, dict | None]:
        common = {"paper": self.paper, "confirmed": self.confirmed}
        values = self.blank | self.form.values() | common
        if self.second is None or not told.reading:
            return values, None
        return values, self.blank_read | self.second.values() | common

    def write(self, told: ToldRow) -> None:
        """Through the writers, within a gathering. Raises Refused; the place of a reading's fault begins so."""
        values, read = dict(told.values[0]), told.values[1]
        common = {"by": self.ground.account, "request_key": None, "clinic": self.ground.clinic}
        if self.kind.model is Load:
            values["standing_against"] = self._against(values["unit"], values["on"])
        row = self.writer(**common, **values)
        if read is not None and self.kind.model is BioTest:
            try:
                log.read_bio_test(**common, bio_test=row, **read)
            except log.Refused as refused:
                raise log.Refused(
                    log.Problem(READING + problem.field, problem.message, problem.confirm)
                    for problem in refused.problems
                ) from None

    def _against(self, unit, on: date) -> tuple[str, ...]:
        key = (unit.pk, on)
        if key not in self._said:
            self._said[key] = self.against(unit, on)
        return self._said[key]

    def _as_fault(self, told: ToldRow, problem, of_reading: bool) -> RowFault:
        name = problem.field.removeprefix(READING)
        name = self.form.FIELD_OF.get(name, name)
        return self.reader.fault(told, (READING if of_reading else "") + name, problem.message, problem.confirm)


def _form(form_class: type, ground: EntryContext, used: set[str], before: str) -> tuple:
    """The form, used for one row after the other, and what it says of the fields that no column fills.

    Those are cleaned once: what is blank in every row says the same in each. What the form needs stays in it, so that
    it is missed.
    """
    form = form_class({}, ground=ground)
    blank = {}
    for name in [n for n, each in form.fields.items() if not each.required and before + n not in used]:
        if name not in _STAY:
            blank[name] = form.fields.pop(name).clean("")
    blank.pop("next", None)
    return form, blank


# Filled without a column of their own: by the day that has a time, by who wrote the table; and what the form asks of.
_STAY = ("request_key", "at", "run_by", "read_by", "unit_of_measure", "seen_rate")


def _as_sent(form, data: dict[str, str], confirmed: tuple[str, ...]) -> MultiValueDict:
    """As a browser would send it. A number with its unit behind it goes as the field beside it says."""
    sent = {name: [text] for name, text in data.items()} | {"request_key": [_ANY_KEY], "confirmed": list(confirmed)}
    for name in data:
        if " " in data[name] and hasattr(form.fields.get(name), "base"):
            sent[name], sent[f"{name}_in"] = ([part] for part in data[name].split(" ", 1))
    if isinstance(form, LeakForm):
        sent["seen_rate"] = [LeakForm.WHEN_SENT]
    return MultiValueDict(sent)


_ANY_KEY = str(uuid.UUID(int=0))


# ------------------------------------------------------------------------------------------------ the whole table


def judged(
    judge: Judge, table: Iterable, told: Told = lambda done: None, aside: frozenset[int] = frozenset()
) -> Verdict:
    """Every row judged, nothing written. `table` yields rows with their numbers; those `aside` are passed over."""
    verdict, on_record = Verdict(), OnRecord(judge.ground, judge.kind)
    for row, why in _sifted(judge, table, on_record, aside):
        faults = why if isinstance(why, list) else []
        if isinstance(why, str):
            verdict.known.append((row.number, why))
        elif not faults:
            faults = judge.faults_of(row)
        if faults:
            verdict.wrong.append(row.number)
            verdict.faults += faults[: MOST_TOLD - len(verdict.faults)]
        elif not isinstance(why, str):
            verdict.right += 1
            _note(verdict, row)
        told(row.number)
    verdict.left_out = judge.reader.left_out
    known = on_record.names()
    verdict.names = {name: n for name, n in verdict.names.items() if name not in known}
    return verdict


def _note(verdict: Verdict, row: ToldRow) -> None:
    on = date.fromisoformat(row.data["on"])
    verdict.first, verdict.last = min(verdict.first or on, on), max(verdict.last or on, on)
    for data in (row.data, row.reading):
        for name in {data.get(each, "") for each in ("run_by", "read_by", "loaded_by", "signed_by")} - {""}:
            verdict.names[name] = verdict.names.get(name, 0) + 1


def _sifted(judge: Judge, table: Iterable, on_record: OnRecord, aside: frozenset[int]) -> Iterator[tuple]:
    """Each row, with what is to be said of it before it is tried: faults, why it is known, or None."""
    for row in judge.reader.rows(each for each in table if each[0] not in aside):
        faults = judge.cleaned(row)
        if faults:
            yield row, faults
            continue
        known, fault = on_record.look(row.number, *row.values)
        if fault:
            yield row, [judge.reader.fault(row, "", fault)]
        else:
            yield row, known or None


class RefusedNow(Exception):
    """What was right when it was judged is refused now: nothing was written. `faults` say why."""

    def __init__(self, faults: list[RowFault]):
        self.faults = faults
        super().__init__("; ".join(f"row {fault.row}: {fault.message}" for fault in faults))


def record(
    judge: Judge, table: Iterable, *, key: UUID, told: Told = lambda done: None,
    aside: frozenset[int] = frozenset(), also: Callable[[], object] | None = None,
) -> list[Entry]:  # fmt: skip
    """Write every row that is not on record yet; the entries, none where there was nothing to write.

    All of them or none: one transaction. The same `key` by the same account is the same entries. `also` logs what
    goes with the first of them, such as the picture of the page. Raises RefusedNow.
    """
    rights = may_be_logged.rights_or_refuse(judge.ground.account, judge.ground.clinic)
    entries: list[Entry] = []
    with transaction.atomic():
        on_record = OnRecord(judge.ground, judge.kind)
        rows = _to_write(judge, table, on_record, aside, told)
        for n, first in enumerate(rows):
            chunk = [first, *islice(rows, ROWS_OF_ENTRY - 1)]
            entries.append(_entry(judge, chunk, uuid.uuid5(key, str(n)), rights.company, also if n == 0 else None))
    return entries


def _to_write(judge: Judge, table: Iterable, on_record: OnRecord, aside: frozenset[int], told: Told) -> Iterator:
    for row, why in _sifted(judge, table, on_record, aside):
        told(row.number)
        if isinstance(why, list):
            raise RefusedNow(why)
        if why is None:
            yield row


def _entry(judge: Judge, rows: list[ToldRow], key: UUID, company, also) -> Entry:
    said = [[row.number, row.data, row.reading] for row in rows]
    inputs = {"rows": hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest(), "paper": judge.paper}
    what, ground = judge.kind.entry, judge.ground
    entry = {"logged_for": company, "paper": judge.paper}
    with submission(ground.clinic, ground.account, key, what, inputs, **entry) as whole:
        if whole.repeated:
            return whole.entry
        with gathering.into(judge.gathering, whole):
            for row in rows:
                _write_one(judge, row)
            if also:
                also()
    return whole.entry


def _write_one(judge: Judge, row: ToldRow) -> None:
    try:
        judge.write(row)
    except log.Refused as refused:
        raise RefusedNow([judge._as_fault(row, p, READING in p.field) for p in refused.problems]) from None
