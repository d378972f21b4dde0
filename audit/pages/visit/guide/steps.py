"""The order of the pages of a visit, the same as on the paper sheet of a visit (`audit.binder.blank_forms.visit`).

The order is a rule of the trade, common practice, no source: the unit is identified before anything is believed of
it, made safe before it is opened, measured before anything is cleaned or adjusted, and proven before it is released.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from records.wording import MAKE_SAFE_IF_FITTED, MAKE_SAFE_STEPS, NOT_ON_THIS_UNIT

IDENTIFY, SAFE, FOUND, TASKS, PROVE, END = "identify", "safe", "found", "tasks", "prove", "end"
TITLES = {
    IDENTIFY: "Is it this unit?",
    SAFE: "Before work",
    FOUND: "Readings as found",
    TASKS: "Tasks",
    PROVE: "As left, and tests",
    END: "Conclusion and signatures",
}
ORDER = tuple(TITLES)
TASK, EXTRA = "task-", "extra-"  # with the code of the line of the plan; with a number from 1 on
KIT = "kit-"  # a kit that was opened, with a number from 1 on
ALONG = 2  # how many pages of tasks that are not on the plan, and of kits, a device takes along
MOST_EXTRA = 9
IDLE = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class StepToMakeSafe:
    """One step of making a unit safe. `field` names its tick on the page; `if_fitted`: a unit may have nothing of it.

    The field is named by the key, so that a draft of another list is never read as an answer to this one.
    """

    key: str
    text: str
    if_fitted: bool

    @property
    def field(self) -> str:
        return f"{SAFE_FIELD}{self.key.replace(' ', '_')}"

    def answer(self, said: Mapping[str, Any]) -> str:
        """What is recorded of it out of the answers of the page: done with its time, that this unit has none, or the
        words why not; "" while nothing is said."""
        at: time | None = said.get(f"{self.field}_at")
        if said.get(self.field):
            return f"done at {at:%H:%M}" if at else "done"
        if said.get(f"{self.field}_none"):
            return f"{NOT_ON_THIS_UNIT}: stated by who did the work"
        return said.get(f"{self.field}_no") or ""

    def is_open(self, said: Mapping[str, Any]) -> bool:
        """Whether the unit is not safe by this step: neither done, nor is there nothing of it on the unit."""
        return not (said.get(self.field) or said.get(f"{self.field}_none"))


SAFE_FIELD = "s_"
SAFE_STEPS = tuple(StepToMakeSafe(key, text, key in MAKE_SAFE_IF_FITTED) for key, text, _ in MAKE_SAFE_STEPS)
# Common practice, no source: what is not safe is not opened.
STOP_UNSAFE = (
    "Stop. Do not open the unit, take off a cover or put a hand in it. Make it safe first, or leave it as it is and "
    "say so at the end."
)


def unsafe(said: Mapping[str, Any] | None) -> list[str]:
    """The steps that nobody says were done, each with what was said of it; `said` None: the page is still blank."""
    if said is None:
        return [f"“{TITLES[SAFE]}” is still blank"]
    return [f"{s.text}: {s.answer(said) or 'no answer yet'}" for s in SAFE_STEPS if s.is_open(said)]


def is_step(name: str, codes: Collection[str]) -> bool:
    """Whether a page of that name exists for a unit with these lines on its plan."""
    if name.startswith(TASK):
        return name.removeprefix(TASK) in codes
    for kind in (EXTRA, KIT):
        if name.startswith(kind):
            return name.removeprefix(kind) in {str(n) for n in range(1, MOST_EXTRA + 1)}
    return name in TITLES


def after(name: str, due: Sequence[str], answered: Collection[str]) -> str:
    """The page that follows `name`; "" after the last one of the unit.

    `due` are the codes of the due tasks in their order, `answered` the names of the pages with an answer. After a
    task comes the next due one without an answer, then an earlier one that was passed over.
    """
    if name == FOUND:
        return next_task(due, answered) or TASKS
    if name.startswith((TASK, EXTRA, KIT)):
        code = name.removeprefix(TASK)
        start = due.index(code) + 1 if code in due else 0
        return next_task([*due[start:], *due[:start]], {*answered, name}) or PROVE
    if name == TASKS:
        return next_task(due, answered) or PROVE
    place = ORDER.index(name) + 1
    return ORDER[place] if place < len(ORDER) else ""


def straight_on(name: str, due: Sequence[str]) -> str:
    """The page that follows in plain order, whatever has an answer: where a device without a signal goes on."""
    code = name.removeprefix(TASK)
    passed = due[: due.index(code) + 1] if name.startswith(TASK) and code in due else ()
    return after(name, due, {TASK + each for each in (due if name == TASKS else passed)})


def next_task(due: Sequence[str], answered: Collection[str]) -> str:
    """The first due task without an answer, "" when all have one."""
    return next((TASK + code for code in due if TASK + code not in answered), "")


def to_add(has_kits: bool) -> list[str]:
    """The pages that a device takes along for what may be added to the plan."""
    kinds = (EXTRA, KIT) if has_kits else (EXTRA,)
    return [f"{kind}{n}" for kind in kinds for n in range(1, ALONG + 1)]


def is_idle(saved_at: datetime, now: datetime) -> bool:
    """Whether nobody has saved anything for `IDLE`, that span included."""
    return now - saved_at >= IDLE
