"""Turns one merged rules file into values, checking each table and each key of it."""

from __future__ import annotations

from datetime import date

from audit.facts.names import TESTS
from audit.regimes.source import MEMORY, Source

from .components import components
from .model import (
    ANY,
    CLASSES,
    DAY_GRADES,
    KINDS,
    KINDS_OF_PLACE,
    TRIGGERS,
    ComponentTests,
    Duty,
    EditionEnd,
    FailurePath,
    LookBackRule,
    NoticeRule,
    PathStep,
    Regime,
    ReleaseRule,
    Requalification,
    Retention,
    Validity,
    VerificationSet,
)
from .read_duty import CHAMBERS, duty_of
from .table import RegimeTable

ORDERS = ("", "biological first", "air removal first")
WHEN = ("always", "repeat failed")
CAUSES = ("either", "both")
RECALLS = ("at once", "repeat failed", "none stated")
SCOPES = ("since last pass", "the load")
MEASURES = ("days", "business days", "hours")
STARTS = ("record", "last entry", "end of life")


class Reader:
    """One edition of one file; `at` goes before each key in errors ("before[0].")."""

    def __init__(self, file: str, raw: dict, at: str = ""):
        self.sources: dict[Source, str] = {}
        self.whole = RegimeTable(file, at.removesuffix("."), raw, self.sources)

    def regime(self) -> Regime:
        """The values. Raises RegimeError."""
        whole = self.whole
        texts = {k: whole.get(k, str) for k in ("id", "title", "place", "programme", "edition")}
        out = Regime(
            **texts,
            valid_from=whole.get("valid_from", date),
            **self._first_day(),
            inherits=whole.get("inherits", str, ""),
            duties=self._duties(),
            failure=tuple(self._all("failure", KINDS, "a kind of failure", path_of)),
            requalification=_closed(requalification_of, whole.table("requalification")),
            verification=tuple(self._verification()),
            validity=_closed(validity_of, whole.table("validity")),
            release=_closed(release_of, whole.table("release")) if "release" in whole.raw else None,
            retention=tuple(_closed(retention_of, t) for t in whole.tables("retention")),
            look_back=tuple(self._all("look_back", TRIGGERS, "a trigger of a look-back", look_back_of)),
            ended=_closed(ended_of, whole.table("ended")) if "ended" in whole.raw else None,
            sources=tuple(self.sources),
            notes=whole.words("notes"),
            components=tuple(self._components()),
            decisive=self._words(lambda source: source.grade != MEMORY),
            unread=self._words(lambda source: source.grade == MEMORY),
            **self._where(texts["programme"]),
        )
        whole.close()
        return out

    def _words(self, wanted) -> tuple[tuple[Source, str], ...]:
        return tuple((source, words) for source, words in self.sources.items() if words and wanted(source))

    def _first_day(self) -> dict:
        """How well the first day is known: its grade, with where it stands, or with why no text was read for it."""
        whole = self.whole
        if "valid_from_grade" not in whole.raw:
            way_out = f"Say how well the first day is known: {', '.join(DAY_GRADES)}"
            whole.fail("valid_from_grade", "is missing", way_out)
        grade = whole.get("valid_from_grade", str, among=DAY_GRADES)
        stands = "valid_from_citation" if grade in ("read", "quoted") else "valid_from_unread"
        for key in {"valid_from_citation", "valid_from_unread"} - {stands}:
            if key in whole.raw:
                whole.fail(key, f"stands beside the grade {grade!r}", f"Write {stands}, or mend the grade")
        if stands == "valid_from_unread" or stands in whole.raw:
            return {"valid_from_grade": grade, stands: whole.get(stands, str)}
        return {"valid_from_grade": grade}

    def _where(self, programme: str) -> dict:
        """Country and what within it, and the kinds of place: of the programme, unless the file names them."""
        whole = self.whole
        out = {key: whole.get(key, str, "") for key in ("country", "region", "locality")}
        for inner, outer in (("locality", "region"), ("region", "country")):
            if out[inner] and not out[outer]:
                whole.fail(outer, f"is missing beside the {inner} {out[inner]!r}", "Say what it lies in")
        kinds = whole.words("kinds", KINDS_OF_PLACE) or (programme,)
        if kinds[0] not in (ANY, *KINDS_OF_PLACE):
            way_out = f"Add kinds: one or more of {', '.join(KINDS_OF_PLACE)}"
            whole.fail("programme", f"is {programme!r}, which is no kind of place", way_out)
        return out | {"kinds": kinds, "where_adopted": whole.get("where_adopted", bool, False)}

    def _duties(self) -> tuple[Duty, ...]:
        out: dict[str, Duty] = {}
        for table in self.whole.tables("duty"):
            if isinstance(id := table.raw.get("id"), str):  # its place in the list says little once lists are merged
                table.at = self.whole.name(f"duty.{id}")
            duty = _closed(duty_of, table)
            if duty.id in out:
                table.fail("id", f"is {duty.id!r}, as another duty's", "Give each duty its own id")
            out[duty.id] = duty
        return tuple(out.values())

    def _all(self, key: str, known: tuple[str, ...], what: str, build):
        for name, table in self.whole.named(key).items():
            if name not in known:
                table.fail("", f"is not {what}", f"Use one of: {', '.join(known)}")
            yield _closed(lambda t, name=name: build(name, t), table)

    def _components(self):
        for name, table in self.whole.named("component").items():
            yield _closed(lambda t, name=name: component_of(name, t), table)

    def _verification(self):
        tables = self.whole.table("verification")
        for one in CLASSES:
            yield _closed(lambda t, one=one: verification_of(one, t), tables.table(one))
        tables.close()


def _closed(build, table: RegimeTable):
    out = build(table)
    table.close()
    return out


# ------------------------------------------------------------------------------------------------ after a failure


def path_of(kind: str, t: RegimeTable) -> FailurePath:
    """A failure path. Raises RegimeError, also where `withdraws_from` is 1: that is `withdraws`."""
    withdraws, number = t.get("withdraws", bool), t.get("withdraws_from", int, 0)
    if number == 1:
        t.fail("withdraws_from", "is 1", "Write withdraws = true, or 2 or more")
    return FailurePath(
        kind=kind,
        withdraws=withdraws,
        withdraws_from=number,
        withdraws_outside=t.get("withdraws_outside", bool, False),
        repeats=t.get("repeats", int),
        repeat_chamber=t.get("repeat_chamber", str, "any", CHAMBERS),
        same_cycle_type=t.get("same_cycle_type", bool, False),
        needs_normal=t.get("needs_normal", bool, False),
        cause_before_repeat=t.get("cause_before_repeat", bool, False),
        cause_asks=t.get("cause_asks", str, "either", CAUSES),
        return_passes=t.get("return_passes", int, 0),
        return_chamber=t.get("return_chamber", str, "any", CHAMBERS),
        return_each_cycle_type=t.get("return_each_cycle_type", bool, False),
        return_air_removal=t.get("return_air_removal", int, 0),
        return_order=t.get("return_order", str, "", ORDERS),
        recall=t.get("recall", str, "none stated", RECALLS),
        unless_confined=t.get("unless_confined", bool, False),
        recall_scope=t.get("recall_scope", str, "since last pass", SCOPES),
        recall_words=t.get("recall_words", str, ""),
        implant_words=t.get("implant_words", str, ""),
        notices=tuple(_closed(notice_of, n) for n in t.tables("notice")),
        steps=tuple(_closed(step_of, s) for s in t.tables("step")),
        source=t.source(),
    )


def notice_of(t: RegimeTable) -> NoticeRule:
    """Somebody to be told. Raises RegimeError, also for holidays that the `holidays` library does not know."""
    measure, place = t.get("measure", str, among=MEASURES), t.get("holidays", str, "")
    if place and measure != "business days":
        t.fail("holidays", f"means nothing with {measure!r}", "Take it out, or measure in 'business days'")
    if place and not holidays_known(place):
        t.fail("holidays", f"is {place!r}, whose public holidays are not known", "Use ISO 3166, such as 'US-MT'")
    within, when = t.get("within", int), t.get("when", str, "always", WHEN)
    return NoticeRule(t.get("who", str), within, measure, place, when, t.source(), t.get("note", str, ""))


def holidays_known(place: str) -> bool:
    """Whether public holidays are known for a country or country-subdivision of ISO 3166."""
    import holidays  # here: it is large, and most rules never need it

    country, _, subdivision = place.partition("-")
    known = holidays.list_supported_countries()
    return country in known and ("-" not in place or subdivision in known[country])


def step_of(t: RegimeTable) -> PathStep:
    """A step after a failure, asked always unless the file says `when`. Raises RegimeError."""
    return PathStep(t.get("action", str), t.get("title", str), t.get("when", str, "always", WHEN), t.source())


# ------------------------------------------------------------------------------------------------ the rest


def look_back_of(trigger: str, t: RegimeTable) -> LookBackRule:
    """What one trigger puts in doubt, in the words of the file. Raises RegimeError."""
    return LookBackRule(trigger, t.get("words", str), t.source())


def ended_of(t: RegimeTable) -> EditionEnd:
    """From which day an edition holds no more, with what is known of the next. Raises RegimeError."""
    return EditionEnd(t.get("on", date), t.get("words", str), t.source())


def requalification_of(t: RegimeTable) -> Requalification:
    """Passes in a row after installation, relocation or a major repair; 0 asks none. Raises RegimeError."""
    return Requalification(
        biological=t.get("biological", int),
        air_removal=t.get("air_removal", int),
        chamber=t.get("chamber", str, "any", CHAMBERS),
        each_cycle_type=t.get("each_cycle_type", bool, False),
        order=t.get("order", str, "", ORDERS),
        source=t.source(),
    )


def verification_of(repair_class: str, t: RegimeTable) -> VerificationSet:
    """The V codes after work of class A, B or C: a list that is left out asks none. Raises RegimeError."""
    tests, dynamic, recommended = (t.words(key, TESTS) for key in ("tests", "dynamic", "recommended"))
    requalify, values = t.get("requalify", bool, False), t.words("values", TESTS)
    return VerificationSet(repair_class, tests, dynamic, recommended, requalify, t.source(), values)


def component_of(name: str, t: RegimeTable) -> ComponentTests:
    """What these rules add after work on a component. Raises RegimeError, also for one that the table has not."""
    known = components()
    if name not in known:
        t.fail("", "is not a component", f"Use one of: {', '.join(known)}")
    tests, dynamic = t.words("tests", TESTS), t.words("dynamic", TESTS)
    if not tests and not dynamic:
        t.fail("tests", "is missing", "Say what these rules add, or take the table out")
    return ComponentTests(name, tests, dynamic, t.source())


def validity_of(t: RegimeTable) -> Validity:
    """When a spore test counts; both waits for a result are in days and must be stated. Raises RegimeError."""
    return Validity(
        t.get("control_not_stated_counts", bool, False),
        t.get("awaited_days_clinic", int),
        t.get("awaited_days_laboratory", int),
        t.source(),
    )


def release_of(t: RegimeTable) -> ReleaseRule:
    """What must be on record before a load is released, and the words that ask it. Raises RegimeError."""
    return ReleaseRule(t.get("mechanical", bool), t.get("words", str), t.source())


def retention_of(t: RegimeTable) -> Retention:
    """How long a record is kept. Raises RegimeError, also for two lengths at once."""
    months, years, starts = (
        t.get("months", int, 0),
        t.get("calendar_years", int, 0),
        t.get("starts", str, "record", STARTS),
    )
    if months and years:
        t.fail("calendar_years", "stands beside months", "State one of the two; write two rules where both hold")
    if starts != "record" and not months:
        t.fail("starts", f"is {starts!r} without months", "State months, or take it out")
    return Retention(t.get("what", str), months, years, starts, t.get("words", str), t.source())
