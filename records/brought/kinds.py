"""What may be brought in, kind by kind: the form whose fields its columns fill, and the heads they go by elsewhere.

A kind has no rules of its own: fields, words and limits are those of the form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from django.forms import Field

from records import forms
from records.forms import fields
from records.models import AirRemovalTest, BioTest, ChemicalResult, Fact, LeakTest, Load, UserCheck

READING = "read:"  # before the names of what is read of a spore test
_LEFT_OUT = ("request_key", "next", "paper", "seen_rate")
SAME_LOT = "the lot of the test"  # a control out of the same box


@dataclass(frozen=True, slots=True)
class RowColumn:
    """One thing that a column may hold. `kind`: day, time, number, whole, words, tick, unit, lot or text."""

    name: str
    label: str
    kind: str
    needed: bool
    base: str = ""  # the unit of measure in which it is kept
    places: int = 0
    choices: tuple[tuple[str, str], ...] = ()
    person: bool = False
    heads: tuple[str, ...] = ()


@dataclass(frozen=True)
class KindOfRows:
    """`code` stands in addresses, `title` on pages, `entry` is what its entries in the ledger are called."""

    code: str
    title: str
    entry: str
    form: type[forms.EntryForm]
    model: type[Fact]
    lots: str  # the kind of its boxes, "" for none
    heads: Mapping[str, tuple[str, ...]]
    reading: type[forms.EntryForm] | None = None

    @cached_property
    def columns(self) -> dict[str, RowColumn]:
        """By name, in the order of the form; what is read of a spore test after it."""
        found = {name: self._column(name, field) for name, field in _fields(self.form)}
        for name, field in _fields(self.reading) if self.reading else ():
            found[READING + name] = self._column(READING + name, field)
        if self.reading:
            for name in ("on", "test", "control"):
                was = found[READING + name]
                label = "Read on" if name == "on" else was.label
                found[READING + name] = RowColumn(
                    was.name, label, was.kind, False, choices=was.choices, heads=was.heads
                )
        return found

    def _column(self, name: str, field: Field) -> RowColumn:
        bare_name = name.removeprefix(READING)
        choices = tuple((str(code), str(words)) for code, words in getattr(field, "choices", ()) if code != "")
        kind = _kind_of(bare_name, field)
        return RowColumn(
            name=name,
            label="Read at" if name == READING + "at" else str(field.label),
            kind=kind,
            needed=field.required and kind != "words" or (field.required and field.initial in (None, "")),
            base=getattr(field, "base", "") or _BASES.get(bare_name, ""),
            places=getattr(field, "decimal_places", None) or 0,
            choices=choices if kind == "words" else (),
            person=bare_name in PERSONS,
            heads=self.heads.get(name, ()),
        )


PERSONS = ("run_by", "read_by", "loaded_by", "signed_by")
_BASES = {"minutes": "min", "exposure_minutes": "min", "settling": "min", "start_pressure": "kPa"}


def _fields(form: type) -> list[tuple[str, Field]]:
    names = [n for n in form.base_fields if n not in _LEFT_OUT]
    first = [n for n in ("unit", "on", "at") if n in names]
    return [(n, form.base_fields[n]) for n in (*first, *(n for n in names if n not in first))]


def _kind_of(name: str, field: Field) -> str:
    if isinstance(field, fields.OneOf):
        return "unit" if name == "unit" else "lot"
    for cls, kind in _KINDS.items():
        if isinstance(field, cls):
            return kind
    return "text"


_KINDS = {
    fields.Day: "day", fields.TimeOfDay: "time", fields.Whole: "whole", fields.Number: "number",
    fields.Choice: "words", fields.Tick: "tick",
}  # fmt: skip

_UNIT = ("sterilizer", "steriliser", "unit", "unit number", "unit no", "autoclave", "machine", "device", "serial",
         "serial number", "equipment", "sterilizer number", "sterilizer no", "autoclave no")  # fmt: skip
_ON = ("day", "date", "test date", "date of test", "run on", "date run", "date tested", "cycle date", "day run")
_AT = ("time", "time of day", "start time", "time run", "time of test", "start", "cycle start")
_CYCLE = ("cycle number", "cycle no", "cycle", "cycle nr", "run number", "run no", "load number", "load no")
_PROGRAM = ("program", "programme", "cycle type", "type of cycle", "cycle program", "cycle name")
_RUN_BY = ("run by", "operator", "by", "initials", "name", "person", "done by", "tested by", "staff", "who")
_LOT = ("lot", "lot number", "lot no", "batch", "batch number", "test lot", "indicator lot", "lot of the test")
_RESULT = ("result", "outcome", "pass fail", "passed", "test result")
_COMMON = {"unit": _UNIT, "on": _ON, "at": _AT, "cycle_number": _CYCLE, "run_by": _RUN_BY}
_CHECKED = {
    "mechanical": ("mechanical", "gauges", "printout", "gauges and printout", "physical", "parameters",
                   "mechanical result", "physical parameters"),
    "chemical": ("chemical", "chemical indicator", "chemical indicators", "indicator", "strip", "ci",
                 "chemical result"),
}  # fmt: skip

KINDS: dict[str, KindOfRows] = {
    kind.code: kind
    for kind in (
        KindOfRows(
            "spore-tests", "Spore tests", "spore tests from a table", forms.BioTestForm, BioTest, "biological",
            _COMMON | _CHECKED | {
                "lot": _LOT,
                "control_lot": ("control lot", "lot of the control", "lot control"),
                "cycle_type": _PROGRAM,
                "purpose": ("purpose", "why", "reason", "reason for test"),
                "site": ("read where", "read at", "laboratory or clinic", "where read"),
                "place": ("place", "position", "location", "place in the chamber", "shelf"),
                "chamber": ("chamber", "load or empty"),
                "implant": ("implant", "held an implant", "implants"),
                READING + "on": ("read on", "date read", "day read", "result date", "read date", "date of reading"),
                READING + "at": ("time read", "read time"),
                READING + "test": ("test", "result", "test result", "spore result", "spore test", "reading",
                                   "bi result", "result of the test", "outcome"),
                READING + "control": ("control", "control result", "result of the control", "control vial"),
                READING + "incubated_hours": ("hours", "incubation hours", "hours of incubation", "incubated"),
                READING + "incubator_temperature": ("incubator temperature", "incubation temperature", "incubator"),
                READING + "known_on": ("known on", "report received", "received", "date of report"),
                READING + "report": ("report", "report number", "laboratory", "lab report", "report no", "lab"),
                READING + "read_by": ("read by", "reader"),
            },
            reading=forms.ReadBioForm,
        ),
        KindOfRows(
            "loads", "Loads", "loads from a table", forms.LoadForm, Load, "",
            _COMMON | _CHECKED | {
                "program": _PROGRAM,
                "contents": ("contents", "content", "load", "items", "what was in it", "description"),
                "implant": ("implant", "held an implant", "implants"),
                "held_packs": ("packs", "wrapped packs", "number of packs"),
                "held_pouches": ("pouches", "number of pouches"),
                "held_cassettes": ("cassettes", "number of cassettes"),
                "exposure_minutes": ("exposure", "exposure minutes", "exposure time", "minutes of exposure",
                                     "sterilization time", "hold time", "holding time"),
                "exposure_temperature": ("temperature", "temp", "exposure temperature", "max temperature"),
                "exposure_pressure": ("pressure", "exposure pressure"),
                "packs": ("dry", "packs dry", "dryness", "wet or dry"),
                "pack_condition": ("wrapping", "packaging", "pack condition"),
                "loaded_by": ("loaded by",),
                "minutes": ("use time", "cycle time", "duration", "total time", "minutes"),
                "decision": ("decision", "released", "release", "load released", "disposition"),
                "reason": ("reason", "reason of the decision", "why"),
            },
        ),
        KindOfRows(
            "air-removal-tests", "Air-removal tests", "air-removal tests from a table", forms.AirRemovalForm,
            AirRemovalTest, "chemical",
            _COMMON | {"result": _RESULT, "lot": _LOT, "purpose": ("purpose", "why", "reason"),
                       "chamber": ("chamber",)},
        ),
        KindOfRows(
            "leak-tests", "Air-leak tests", "air-leak tests from a table", forms.LeakForm, LeakTest, "",
            _COMMON | {
                "rise": ("rise", "pressure rise", "leak", "rise of pressure", "pressure change"),
                "unit_of_measure": ("measured in", "unit of measure", "uom", "in"),
                "minutes": ("minutes", "over minutes", "duration", "over how many minutes", "test time"),
                "limit": ("limit", "limit kpa min"),
                "limit_source": ("source of the limit", "limit source"),
                "settling": ("settling", "settling time", "stabilization", "minutes to settle"),
                "start_pressure": ("start pressure", "pressure at the start"),
                "start_temperature": ("start temperature", "temperature at the start"),
                "purpose": ("purpose", "why", "reason"),
            },
        ),
        KindOfRows(
            "checks", "User checks", "user checks from a table", forms.UserCheckForm, UserCheck, "",
            _COMMON | {
                "kind": ("check", "kind", "kind of check", "what was checked"),
                "result": _RESULT,
                "value": ("value", "value read", "reading", "measured"),
                "unit_of_measure": ("measured in", "unit of measure", "uom"),
                "cycle_type": _PROGRAM,
                "purpose": ("purpose", "why", "reason"),
                "signed_by": ("signed by", "signature", "signed", "initials", "operator", "by"),
                "note": ("note", "notes", "remark", "remarks", "comment", "comments"),
            },
        ),
        KindOfRows(
            "chemical-indicators", "Chemical indicators", "chemical indicators from a table", forms.ChemicalForm,
            ChemicalResult, "chemical",
            _COMMON | {
                "type": ("type", "indicator type", "type of indicator", "class"),
                "result": _RESULT,
                "where": ("where", "where it lay", "place", "position"),
                "lot": _LOT,
                "read_by": ("read by", "operator", "by", "initials"),
            },
        ),
    )
}  # fmt: skip

# What a word is commonly used for in such tables: common practice, no source. Of anything else it is asked. “Pass” of
# a spore test is not among them: whether it says more than that the test did not grow, only who wrote it knows.
_PASSES = {"pass": "pass", "passed": "pass", "p": "pass", "ok": "pass", "fail": "fail", "failed": "fail", "f": "fail"}
_GROWTH = {
    "negative": "no growth", "neg": "no growth", "no growth": "no growth", "positive": "growth", "pos": "growth",
    "growth": "growth",
}  # fmt: skip
WORDS: dict[str, dict[str, str]] = {
    "test": _GROWTH, "control": _GROWTH, "result": _PASSES, "mechanical": _PASSES, "chemical": _PASSES,
    "site": {"lab": "laboratory", "in house": "clinic", "office": "clinic"},
}  # fmt: skip


def code_of(column: RowColumn, word: str) -> str:
    """The code that a word surely stands for in that column; "" where it must be asked."""
    from .cells import bare

    said = bare(word)
    for code, words in column.choices:
        if said in (bare(code), bare(words)):
            return code
    code = WORDS.get(column.name.removeprefix(READING), {}).get(said, "")
    return code if code in dict(column.choices) else ""
