"""What changes if other rules are followed: rule by rule whether they ask more, less or otherwise, with both sources.

Two rules are compared only in what can be ordered: how long may lie between two tests, how many pass in a row, which
units and events are covered, whether use waits. More in one and less in another is "otherwise", never a sum. Between
two tests once a week there may be 13 days, once a month 61: the longest that each permits is what is compared.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from math import inf

from .by_subject import LOADS, RECORDS, SPORES, SUBJECTS_TOLD, WORK
from .in_words import RuleLine, line_of
from .model import ComponentTests, Duty, FailurePath, NoticeRule, Regime, Requalification, Retention, VerificationSet
from .read import RECALLS, STARTS
from .read_duty import EQUIPMENT

LOOK_BACK = "Loads affected (look-back)"
NOT_ASKED = "not asked by these rules"
REGULAR, PATH = "regular", "the way back after a failure"
# The most days that may lie between two, by frequency; of the counted ones the days are counted below.
LONGEST = {
    "each-implant-load": 0,
    "after-event": 0,
    "day-of-use-and-cycle-type": 0.5,
    "day-of-use": 1,
    "calendar-week": 13,
    "calendar-week-with-patients": 13.5,
    "calendar-month": 61,
    "calendar-quarter": 183,
    "calendar-year": 730,
}
MONTH = 31
HOURS = {"hours": 1, "days": 24, "business days": 24 + 48 / 5}  # weekends beside: five business days are a week


class Asks(StrEnum):
    """How what is asked now stands to what was asked before."""

    MORE = "more"
    LESS = "less"
    OTHERWISE = "otherwise"
    SAME = "the same"


@dataclass(frozen=True, slots=True)
class RuleDifference:
    """One rule that is not the same in both. `before` or `after` is None where one of them does not ask it."""

    subject: str
    asks: Asks  # never SAME
    before: RuleLine | None
    after: RuleLine | None

    @property
    def head(self) -> str:
        """What the rule is about, in a few words."""
        return (self.after or self.before).head


def differences(before: Regime, after: Regime) -> tuple[RuleDifference, ...]:
    """Every rule in which the two editions differ, by subject in the order of `by_subject`, then as on file.

    Notes, sources and how early a task is shown as due soon are no difference in what is asked.
    """
    held, now = dict(_rules(before)), dict(_rules(after))
    order = [words for words, _, _ in SUBJECTS_TOLD] + [LOOK_BACK]
    keys = sorted(dict.fromkeys((*held, *now)), key=lambda key: order.index(key[0]))
    found = (_difference(key[0], held.get(key), now.get(key)) for key in keys)
    return tuple(one for one in found if one.asks is not Asks.SAME)


def _difference(subject: str, before, after) -> RuleDifference:
    old, new = (line_of(rule) if rule is not None else None for rule in (before, after))
    if old is None or new is None:
        return RuleDifference(subject, Asks.LESS if new is None else Asks.MORE, old, new)
    same_words = _words(before) == _words(after)
    return RuleDifference(subject, _asks(_weights(before), _weights(after), same_words), old, new)


def _words(rule: object) -> str:
    """What is asked; from which day on a task is shown as due soon is not."""
    return line_of(replace(rule, lead_days=0) if isinstance(rule, Duty) else rule).text


def _asks(before: tuple, after: tuple, same_words: bool) -> Asks:
    """By what can be ordered; where that is alike the words decide between the same and otherwise."""
    if before == after:
        return Asks.SAME if same_words else Asks.OTHERWISE
    pairs = list(zip(before, after, strict=True))
    if all(new >= old for old, new in pairs):
        return Asks.MORE
    return Asks.LESS if all(new <= old for old, new in pairs) else Asks.OTHERWISE


# ------------------------------------------------------------------------------------------------ which with which


def _rules(regime: Regime) -> Iterator[tuple[tuple, object]]:
    """Every rule that is compared, under what it is compared by: its subject first."""
    seen: set[tuple] = set()
    for duty in regime.duties:
        key = (_subject_of(duty.subject, 1), *_which(duty))
        yield (key if key not in seen else (*key, duty.id)), duty
        seen.add(key)
    for path in regime.failure:
        subject = _subject_of(path.kind, 2)
        yield (subject, PATH, path.kind), path
        for notice in path.notices:
            yield (subject, PATH, path.kind, notice.who), notice
    yield (SPORES, "in a row"), regime.requalification
    yield (SPORES, "validity"), regime.validity
    if regime.release:
        yield (LOADS, "release"), regime.release
    for asked in regime.verification:
        yield (WORK, asked.repair_class), asked
    for asked in regime.components:
        yield (WORK, asked.component), asked
    only = len(regime.retention) == 1
    for kept in regime.retention:
        yield (RECORDS, "" if only else kept.what), kept
    for rule in regime.look_back:
        yield (LOOK_BACK, rule.trigger), rule


def _which(duty: Duty) -> tuple[str, str]:
    """A regular duty is compared with the regular one of its subject, whatever it is called; others by their id."""
    if duty.every in ("after-event", "each-implant-load"):
        return duty.every, duty.id if duty.every == "after-event" else ""
    return REGULAR, ""


def _subject_of(word: str, column: int) -> str:
    return next(told[0] for told in SUBJECTS_TOLD if word in told[column])


# ------------------------------------------------------------------------------------------------ what can be ordered


def _weights(rule: object) -> tuple:
    """What can be ordered of a rule: numbers, truths and sets, each larger where more is asked."""
    kinds = {Duty: _duty, FailurePath: _path, NoticeRule: _notice, Requalification: _in_a_row, Retention: _kept}
    kinds |= {VerificationSet: _tests, ComponentTests: _tests}
    return kinds[type(rule)](rule) if type(rule) in kinds else ()


def _chamber(chamber: str) -> frozenset[str]:
    return frozenset() if chamber == "any" else frozenset({chamber})


def _longest(duty: Duty) -> float:
    if duty.every in LONGEST:
        return LONGEST[duty.every]
    return duty.count * (MONTH if duty.every in ("rolling-months", "stated-date") else 1)


def _duty(duty: Duty) -> tuple:
    return (
        -_longest(duty),
        -(duty.hours or inf),
        frozenset(duty.events),
        duty.passes,
        _chamber(duty.chamber),
        duty.each_cycle_type,
        -(duty.idle_days or inf),
        frozenset(duty.equipment or EQUIPMENT),
        duty.forbids,
        duty.signed,
        duty.site == "laboratory",
        bool(duty.place),
    )


def _path(path: FailurePath) -> tuple:
    return (
        path.withdraws,
        -(1 if path.withdraws else path.withdraws_from or inf),
        path.repeats,
        _chamber(path.repeat_chamber),
        path.same_cycle_type,
        path.needs_normal,
        path.cause_before_repeat,
        path.cause_asks == "both",
        path.return_passes,
        _chamber(path.return_chamber),
        path.return_each_cycle_type,
        path.return_air_removal,
        -RECALLS.index(path.recall),
        not path.unless_confined,
        path.recall_scope == "since last pass",
        frozenset(step.action for step in path.steps),
    )


def _notice(notice: NoticeRule) -> tuple:
    return (-notice.within * HOURS[notice.measure], notice.when == "always")


def _in_a_row(asked: Requalification) -> tuple:
    return (asked.biological, asked.air_removal, _chamber(asked.chamber), asked.each_cycle_type)


def _kept(kept: Retention) -> tuple:
    """Two calendar years after its own are more than 24 months."""
    return (kept.months or (kept.calendar_years * 12 + 0.5 if kept.calendar_years else 0), STARTS.index(kept.starts))


def _tests(asked: VerificationSet | ComponentTests) -> tuple:
    more = (frozenset(asked.values), asked.requalify) if isinstance(asked, VerificationSet) else ()
    return (frozenset(asked.tests), frozenset(asked.dynamic), *more)
