"""Facts to JSON and back, for the open file format. Generic over the dataclasses of `audit.facts` by their types.

Days are ISO dates, moments ISO with offset, decimals strings (so that 0.10 stays 0.10), tuples lists. Reading checks
everything and lists every fault with its path; nothing is guessed. Versions 2 to 9 added fields that have a default,
or more words, so files of the versions before are read as they are. The schema is `audit/exchange/history-9.json`.
"""

from __future__ import annotations

import dataclasses
import types
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from audit.facts import ClinicFacts, CycleRecordingFact, FollowUpFact, SignatureFact, UnitEventFact, UnitFacts
from audit.facts.codes import WORDS
from audit.facts.names import CLAIMED, PASSKEY, SIGNED
from audit.facts.walk import holding

UNIT_FORMAT, CLINIC_FORMAT, VERSION = "steam-unit-history", "steam-clinic-export", 9
READS = (1, 2, 3, 4, 5, 6, 7, 8, 9)
SPANS = (("from_on", "to_on"), ("valid_from", "valid_to"), ("made_from", "made_to"))


class BadFile(ValueError):
    """A file that cannot be used. `faults`: (path inside the file, what is wrong with it)."""

    def __init__(self, faults):
        self.faults = tuple(faults)
        super().__init__("; ".join(f"{path}: {why}" for path, why in self.faults))


def to_json(value: Any) -> Any:
    """The value as what `json.dumps` takes, without fields whose metadata say `written` is False."""
    if dataclasses.is_dataclass(value):
        return {name: to_json(getattr(value, name)) for name in _written(type(value))}
    if isinstance(value, tuple | list):
        return [to_json(v) for v in value]
    if isinstance(value, dict):
        return {str(k): to_json(v) for k, v in value.items()}
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    return value


def from_json(cls: type, data: Any) -> Any:
    """A value of `cls` from parsed JSON. Raises BadFile with every fault."""
    faults: list[tuple[str, str]] = []
    out = _read(cls, data, "", faults)
    if faults:
        raise BadFile(faults)
    return out


def export_of(clinic: ClinicFacts) -> dict:
    """The file of a whole clinic."""
    return {"format": CLINIC_FORMAT, "version": VERSION, "clinic": to_json(clinic)}


def read_history(data: Any) -> ClinicFacts:
    """The facts of a unit history or a clinic export. Raises BadFile."""
    if not isinstance(data, dict):
        raise BadFile([("(whole file)", "must be an object with format, version and clinic")])
    faults = []
    if data.get("format") not in (UNIT_FORMAT, CLINIC_FORMAT):
        faults.append(("format", f"is {data.get('format')!r}; must be {UNIT_FORMAT!r} or {CLINIC_FORMAT!r}"))
    version = data.get("version")
    if version not in READS or type(version) is not int:
        faults.append(("version", f"is {version!r}; this program reads versions {' and '.join(map(str, READS))}"))
    for key in sorted(set(data) - {"format", "version", "clinic"}):
        faults.append((key, "is not a key of the file; it holds format, version and clinic"))
    if "clinic" not in data:
        faults.append(("clinic", "is missing"))
    if faults:
        raise BadFile(faults)
    try:
        clinic = from_json(ClinicFacts, data["clinic"])
    except BadFile as error:
        raise BadFile((f"clinic.{path}", why) for path, why in error.faults) from None
    if faults := list(_torn(clinic)):
        raise BadFile(faults)
    return replace(clinic, units=tuple(map(_as_claimed, clinic.units)))


def _as_claimed(unit: UnitFacts) -> UnitFacts:
    """The unit with what its file says was signed as the file's own claim: nothing here has seen it signed."""
    jobs = [replace(j, signatures=tuple(map(_claimed_signature, j.signatures))) for j in unit.jobs]
    loads = [replace(x, released_given=CLAIMED) if x.released_given in (SIGNED, PASSKEY) else x for x in unit.loads]
    cases = [replace(c, followups=tuple(map(_claimed_step, c.followups))) for c in unit.cases]
    events = tuple(map(_claimed_signature, unit.events))
    return replace(unit, jobs=tuple(jobs), loads=tuple(loads), events=events, cases=tuple(cases))


def _claimed_step(step: FollowUpFact) -> FollowUpFact:
    return replace(step, done_given=CLAIMED) if step.done_given in (SIGNED, PASSKEY) else step


def _claimed_signature(signature: SignatureFact | UnitEventFact) -> SignatureFact | UnitEventFact:
    return replace(signature, given=CLAIMED) if signature.given in (SIGNED, PASSKEY) else signature


def _torn(clinic: ClinicFacts) -> Iterator[tuple[str, str]]:
    """What no single field shows: a row that stands twice, a position that is named and not there."""
    seen: dict[tuple[type, str], str] = {}
    known, loads = {""}, set()
    for path, fact in _facts(clinic, "clinic"):
        where = seen.setdefault((type(fact), fact.row.ref), path)
        if where != path:
            yield f"{path}.row.ref", f"is {fact.row.ref!r}, which stands at {where} already; each row stands once"
        if isinstance(fact, UnitFacts):  # comes before everything of the unit
            known = {p.row.origin for p in fact.positions} | {""}
            loads = {x.row.origin for x in fact.loads}
        if getattr(fact, "position", "") not in known:
            yield f"{path}.position", f"is {fact.position!r}, which is no position of this unit"
        if isinstance(fact, CycleRecordingFact) and fact.load not in loads:
            yield f"{path}.load", f"is {fact.load!r}, which is no load of this unit"


def _facts(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    """As `audit.facts.walk`, each fact with its path."""
    for name in holding(type(value)):
        held = getattr(value, name)
        for n, each in enumerate(held if isinstance(held, tuple) else ()):
            here = f"{path}.{name}[{n}]"
            if hasattr(each, "row"):
                yield here, each
            yield from _facts(each, here)


@cache
def _written(cls: type) -> tuple[str, ...]:
    return tuple(f.name for f in dataclasses.fields(cls) if f.metadata.get("written", True))


@cache
def _hints(cls: type) -> dict[str, Any]:
    return get_type_hints(cls)


def _read(kind: Any, data: Any, path: str, faults: list) -> Any:
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        inner = [a for a in get_args(kind) if a is not type(None)]
        return None if data is None else _read(inner[0], data, path, faults)
    if origin is tuple:
        return _read_tuple(get_args(kind), data, path, faults)
    if dataclasses.is_dataclass(kind):
        return _read_object(kind, data, path, faults)
    return _read_plain(kind, data, path, faults)


def _read_tuple(args, data: Any, path: str, faults: list) -> tuple:
    if not isinstance(data, list):
        faults.append((path, f"must be a list, is {_short(data)}"))
        return ()
    many = len(args) == 2 and args[1] is Ellipsis
    if not many and len(data) != len(args):
        faults.append((path, f"must have {len(args)} entries, has {len(data)}"))
        return ()
    kinds = [args[0]] * len(data) if many else args
    return tuple(_read(k, d, f"{path}[{n}]", faults) for n, (k, d) in enumerate(zip(kinds, data, strict=True)))


def _read_object(cls: type, data: Any, path: str, faults: list) -> Any:
    if not isinstance(data, dict):
        faults.append((path or "(whole value)", f"must be an object, is {_short(data)}"))
        return None
    before = len(faults)
    fields = {f.name: f for f in dataclasses.fields(cls) if f.name in _written(cls)}
    for key in sorted(set(data) - set(fields)):
        faults.append((_under(path, key), f"is not a field of {cls.__name__}"))
    values = {}
    for name, field in fields.items():
        if name in data:
            values[name] = _read(_hints(cls)[name], data[name], _under(path, name), faults)
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            faults.append((_under(path, name), "is missing"))
    if len(faults) > before:
        return None
    for name, allowed in WORDS.get(cls, {}).items():
        if name in values and values[name] not in allowed:
            faults.append((_under(path, name), f"is {_short(values[name])}; must be one of {_list(allowed)}"))
    for first, last in SPANS:
        if first in values and values.get(last) is not None and values[first] and values[last] < values[first]:
            faults.append((_under(path, last), f"is {values[last]}, before {first} {values[first]}"))
    return cls(**values)


def _under(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _read_plain(kind: type, data: Any, path: str, faults: list) -> Any:
    if kind in (date, datetime, Decimal):
        return _read_text(kind, data, path, faults)
    if type(data) is not kind:
        faults.append((path, f"must be {_NAMES.get(kind, kind.__name__)}, is {_short(data)}"))
        return None
    if kind is str and not data.isprintable() and _unseen(data):
        faults.append((path, f"holds a character that cannot be seen: {_short(data)}"))
    return data


def _unseen(text: str) -> bool:
    """Control characters other than line breaks and tabs; anything else may stand in what people wrote."""
    return any(unicodedata.category(c) == "Cc" and c not in "\n\r\t" for c in text)


def _read_text(kind: type, data: Any, path: str, faults: list) -> Any:
    try:
        if not isinstance(data, str):
            raise ValueError
        value = Decimal(data) if kind is Decimal else kind.fromisoformat(data)
        if kind is Decimal and not value.is_finite():
            raise ValueError
        if kind is datetime and value.tzinfo is None:
            raise ValueError
        return value
    except (ValueError, InvalidOperation):
        faults.append((path, f"must be {_NAMES[kind]}, is {_short(data)}"))
        return None


_NAMES = {
    date: "a day such as 2026-03-31",
    datetime: "a moment with offset such as 2026-03-31T10:00:00+00:00",
    Decimal: 'a number in quotes such as "0.13"',
    str: "text",
    int: "a whole number",
    bool: "true or false",
}


def _list(allowed) -> str:
    return ", ".join(repr(a) for a in allowed)


def _short(data: Any) -> str:
    text = repr(data)
    return text if len(text) <= 40 else text[:37] + "..."
