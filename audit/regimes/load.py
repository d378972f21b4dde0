"""Reads the rules files beside this module: inheritance, validation, plain values out.

A file names what it inherits; tables are merged key by key, duties by their id, lists replaced whole. Each rule of
its own carries `citation`, `checked_on` and `grade`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from datetime import date
from functools import cache
from pathlib import Path

from audit.judgement import Source

from .model import (
    CLASSES,
    EVENTS,
    FREQUENCIES,
    GRADES,
    KINDS,
    SUBJECTS,
    TRIGGERS,
    Duty,
    FailurePath,
    LookBackRule,
    NoticeRule,
    PathStep,
    Regime,
    RegimeError,
    Requalification,
    Retention,
    Validity,
    VerificationSet,
)

FOLDER = Path(__file__).parent
_TOP = {"id", "title", "place", "programme", "edition", "valid_from", "inherits"}
_TABLES = {
    "duty",
    "failure",
    "requalification",
    "verification",
    "validity",
    "retention",
    "look_back",
    "notes",
    "before",
}
_CHAMBERS = ("any", "empty", "full")
_ORDERS = ("", "biological first", "air removal first")


def regime_ids(folder: Path = FOLDER) -> tuple[str, ...]:
    """The ids of all rules on file, sorted."""
    return tuple(sorted(p.stem for p in folder.glob("*.toml")))


def all_regimes() -> dict[str, Regime]:
    """Every set of rules by id."""
    return {one: load_regime(one) for one in regime_ids()}


@cache
def load_regime(id: str, folder: Path = FOLDER) -> Regime:
    """The rules with that id. Raises RegimeError naming the file, the key and the way out."""
    if id not in regime_ids(folder):
        known = ", ".join(regime_ids(folder))
        raise RegimeError(f"{id}.toml", "id", f"there are no rules {id!r}", f"Known rules: {known}")
    return _Reader(f"{id}.toml", _merged(id, folder, ())).regime()


def _merged(id: str, folder: Path, seen: tuple[str, ...]) -> dict:
    file = f"{id}.toml"
    if id in seen:
        raise RegimeError(file, "inherits", f"goes in a circle: {' > '.join((*seen, id))}", "Break the circle")
    if not (folder / file).is_file():
        raise RegimeError(f"{seen[-1]}.toml", "inherits", f"names {id!r}, which has no file", "Name rules on file")
    try:
        own = tomllib.loads((folder / file).read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise RegimeError(file, "(whole file)", f"is not TOML: {error}", "Mend the line named") from error
    unknown = sorted(set(own) - _TOP - _TABLES)
    if unknown:
        raise RegimeError(file, unknown[0], "is not a key of a rules file", f"Use {sorted(_TOP | _TABLES)}")
    if own.get("id") != id:
        raise RegimeError(file, "id", f"is {own.get('id')!r}", f"It must be the file's name, {id!r}")
    parent = own.get("inherits", "")
    if not parent:
        return own
    tables = {k: v for k, v in _merged(parent, folder, (*seen, id)).items() if k not in _TOP}
    return _merge(tables, own)  # who one is, one says oneself; only rules are inherited


def _merge(base: dict, own: dict) -> dict:
    out = dict(base)
    for key, value in own.items():
        if isinstance(value, dict) and isinstance(base.get(key), dict):
            out[key] = _merge(base[key], value)
        elif key == "duty":
            mine = {d.get("id") for d in value}
            out[key] = [d for d in base.get(key, []) if d.get("id") not in mine] + value
        else:
            out[key] = value
    return out


class _Reader:
    """Turns one merged table into values, checking each key."""

    def __init__(self, file: str, raw: dict):
        self.file, self.raw = file, raw
        self.sources: dict[Source, None] = {}

    def fail(self, key: str, what: str, way_out: str):
        raise RegimeError(self.file, key, what, way_out)

    def get(self, table: dict, at: str, key: str, kind: type, default=None, among: Iterable | None = None):
        where = f"{at}.{key}" if at else key
        value = table.get(key, default)
        if value is None:
            self.fail(where, "is missing", f"Add it ({kind.__name__})")
        if type(value) is not kind:
            self.fail(where, f"is {value!r}", f"It must be of kind {kind.__name__}")
        if kind is int and value < 0:
            self.fail(where, f"is {value}", "It must not be negative")
        if among is not None and value not in among:
            self.fail(where, f"is {value!r}", f"Use one of: {', '.join(among)}")
        return value

    def words(self, table: dict, at: str, key: str) -> tuple[str, ...]:
        return tuple(self.get(table, at, key, list, []))

    def source(self, table: dict, at: str) -> Source:
        checked = self.get(table, at, "checked_on", date)
        grade = self.get(table, at, "grade", str, among=GRADES)
        out = Source(self.get(table, at, "citation", str), checked.isoformat(), grade)
        self.sources[out] = None
        return out

    def regime(self) -> Regime:
        raw = self.raw
        texts = {k: self.get(raw, "", k, str) for k in ("id", "title", "place", "programme", "edition")}
        return Regime(
            **texts,
            valid_from=self.get(raw, "", "valid_from", date),
            inherits=self.get(raw, "", "inherits", str, ""),
            duties=tuple(self.duty(d, f"duty[{n}]") for n, d in enumerate(raw.get("duty", []))),
            failure=tuple(self.path(k, t) for k, t in self.get(raw, "", "failure", dict).items()),
            requalification=self.requalification(),
            verification=tuple(self.verification(c) for c in CLASSES),
            validity=self.validity(),
            retention=tuple(self.retention(r, f"retention[{n}]") for n, r in enumerate(raw.get("retention", []))),
            look_back=tuple(self.look_back(k, t) for k, t in raw.get("look_back", {}).items()),
            sources=tuple(self.sources),
            notes=self.words(raw, "", "notes"),
        )

    def duty(self, t: dict, at: str) -> Duty:
        every = self.get(t, at, "every", str, among=FREQUENCIES)
        count = self.get(t, at, "count", int, 1)
        if count < 1:
            self.fail(f"{at}.count", f"is {count}", "It must be 1 or more")
        events = self.words(t, at, "events")
        if every == "after-event" and not events:
            self.fail(f"{at}.events", "is missing", "Say after which events")
        for event in events:
            if event not in EVENTS:
                self.fail(f"{at}.events", f"names {event!r}", f"Use some of: {', '.join(EVENTS)}")
        hours = self.get(t, at, "hours", int, 0)
        words = FREQUENCIES[every].format(count=count, hours=hours, events=" or ".join(events))
        return Duty(
            id=self.get(t, at, "id", str),
            subject=self.get(t, at, "subject", str, "biological", SUBJECTS),
            title=self.get(t, at, "title", str),
            every=every,
            count=count,
            hours=hours,
            events=events,
            passes=self.get(t, at, "passes", int, 1),
            chamber=self.get(t, at, "chamber", str, "any", _CHAMBERS),
            each_cycle_type=self.get(t, at, "each_cycle_type", bool, False),
            idle_days=self.get(t, at, "idle_days", int, 0),
            equipment=self.words(t, at, "equipment"),
            forbids=self.get(t, at, "forbids", bool, False),
            signed=self.get(t, at, "signed", bool, False),
            lead_days=self.get(t, at, "lead_days", int, 0),
            words=words,
            note=self.get(t, at, "note", str, ""),
            source=self.source(t, at),
        )

    def path(self, kind: str, t: dict) -> FailurePath:
        at = f"failure.{kind}"
        if kind not in KINDS:
            self.fail(at, "is not a kind of failure", f"Use one of: {', '.join(KINDS)}")
        return FailurePath(
            kind=kind,
            withdraws=self.get(t, at, "withdraws", bool),
            repeats=self.get(t, at, "repeats", int),
            repeat_chamber=self.get(t, at, "repeat_chamber", str, "any", _CHAMBERS),
            same_cycle_type=self.get(t, at, "same_cycle_type", bool, False),
            needs_normal=self.get(t, at, "needs_normal", bool, False),
            cause_before_repeat=self.get(t, at, "cause_before_repeat", bool, False),
            return_passes=self.get(t, at, "return_passes", int, 0),
            return_chamber=self.get(t, at, "return_chamber", str, "any", _CHAMBERS),
            return_each_cycle_type=self.get(t, at, "return_each_cycle_type", bool, False),
            return_air_removal=self.get(t, at, "return_air_removal", int, 0),
            return_order=self.get(t, at, "return_order", str, "", _ORDERS),
            recall=self.get(t, at, "recall", str, "none stated", ("at once", "repeat failed", "none stated")),
            unless_confined=self.get(t, at, "unless_confined", bool, False),
            recall_scope=self.get(t, at, "recall_scope", str, "since last pass", ("since last pass", "the load")),
            recall_words=self.get(t, at, "recall_words", str, ""),
            implant_words=self.get(t, at, "implant_words", str, ""),
            notices=tuple(self.notice(s, f"{at}.notice[{n}]") for n, s in enumerate(t.get("notice", []))),
            source=self.source(t, at),
            steps=tuple(self.step(s, f"{at}.step[{n}]") for n, s in enumerate(t.get("step", []))),
        )

    def notice(self, t: dict, at: str) -> NoticeRule:
        return NoticeRule(
            who=self.get(t, at, "who", str),
            within=self.get(t, at, "within", int),
            measure=self.get(t, at, "measure", str, among=("days", "business days", "hours")),
            holidays=self.get(t, at, "holidays", str, ""),
            when=self.get(t, at, "when", str, "always", ("always", "repeat failed")),
            source=self.source(t, at),
        )

    def look_back(self, trigger: str, t: dict) -> LookBackRule:
        at = f"look_back.{trigger}"
        if trigger not in TRIGGERS:
            self.fail(at, "is not a trigger of a look-back", f"Use one of: {', '.join(TRIGGERS)}")
        return LookBackRule(trigger, self.get(t, at, "words", str), self.source(t, at))

    def step(self, t: dict, at: str) -> PathStep:
        when = self.get(t, at, "when", str, "always", ("always", "repeat failed"))
        return PathStep(self.get(t, at, "action", str), self.get(t, at, "title", str), when, self.source(t, at))

    def requalification(self) -> Requalification:
        at = "requalification"
        t = self.get(self.raw, "", at, dict)
        return Requalification(
            biological=self.get(t, at, "biological", int),
            air_removal=self.get(t, at, "air_removal", int),
            chamber=self.get(t, at, "chamber", str, "any", _CHAMBERS),
            each_cycle_type=self.get(t, at, "each_cycle_type", bool, False),
            order=self.get(t, at, "order", str, "", _ORDERS),
            source=self.source(t, at),
        )

    def verification(self, repair_class: str) -> VerificationSet:
        at = f"verification.{repair_class}"
        t = self.get(self.get(self.raw, "", "verification", dict), "verification", repair_class, dict)
        return VerificationSet(
            repair_class,
            self.words(t, at, "tests"),
            self.words(t, at, "dynamic"),
            self.words(t, at, "recommended"),
            self.get(t, at, "requalify", bool, False),
            self.source(t, at),
        )

    def validity(self) -> Validity:
        at = "validity"
        t = self.get(self.raw, "", at, dict)
        return Validity(
            self.get(t, at, "control_not_stated_counts", bool, False),
            self.get(t, at, "awaited_days_clinic", int),
            self.get(t, at, "awaited_days_laboratory", int),
            self.source(t, at),
        )

    def retention(self, t: dict, at: str) -> Retention:
        return Retention(
            what=self.get(t, at, "what", str),
            months=self.get(t, at, "months", int, 0),
            calendar_years=self.get(t, at, "calendar_years", int, 0),
            starts=self.get(t, at, "starts", str, "record", ("record", "last entry", "end of life")),
            words=self.get(t, at, "words", str),
            source=self.source(t, at),
        )
