"""The forms of the pages of a visit. What is typed is kept as typed; what is wrong with it is said beside it.

No result is chosen beforehand. What is suggested (a part, a name, a day, an instrument) can be seen and changed.
"""

from __future__ import annotations

import json

from django import forms as django_forms

from audit.binder.blank_forms.work import DECISIONS
from audit.facts.names import GRADES, repair_class
from audit.judge.work.classes import AWAITED
from audit.pages.visit.guide.job import part_cases
from audit.pages.visit.guide.steps import SAFE_STEPS
from records.forms.base import Refusable
from records.forms.fields import Choice, Day, Line, Lines, Number, Tick, TimeOfDay, Whole
from records.log import may_be_logged
from records.log.together import Order
from records.models.units import ACTIONS
from records.wording import CONTAMINATION, JOB_REASONS

from .asked import Clash, Demand, LastDay, OneAnswer, PageAsks, applies, described, missing

SAME, DIFFERS = "same", "differs"
OUTCOME_WORDS = (
    ("done", "done"),
    ("not due", "not due yet"),
    ("deferred", "postponed"),
    ("not applicable", "not fitted on this unit"),
    ("not possible", "not possible today"),
    ("not done", "not done"),
)
OLD_PARTS = (
    ("scrapped", "scrapped"),
    ("kept", "kept at the clinic"),
    ("returned", "returned"),
    ("none was fitted", "none was fitted"),
    ("not known", "not known"),
)
DECIDED = [(word, "must be replaced, part not with me" if word == AWAITED else word) for word in DECISIONS]
INSTEAD = {
    "zero pressure": "Not shown on the gauge: what was done instead",
    "clean": "Neither: why",
}


def radio(label, choices, **kwargs):
    """One of a few words as large targets; nothing is chosen beforehand."""
    field = Choice(label, choices, **kwargs)
    field.widget = django_forms.RadioSelect()
    field.choices = [pair for pair in field.choices if pair[0] != ""]
    return field


class StepForm(Refusable):
    """One page. `unit` is the unit of the visit as the page needs it (`visit_units.VisitUnit`)."""

    def __init__(self, data=None, *, unit, **kwargs):
        self.unit = unit
        super().__init__(data, auto_id="f-%s", **kwargs)
        self.fit()
        self._mark_needed()

    def fit(self) -> None:
        """Shape the fields after the unit."""

    def needs(self) -> list[Demand]:
        """What must be answered, and when, beyond what a field demands by itself."""
        return []

    def answers(self) -> list[OneAnswer]:
        """Of which fields exactly one is answered."""
        return []

    def clashes(self) -> list[Clash]:
        """Which answers contradict each other."""
        return []

    def orders(self) -> list[Order]:
        """Which numbers must not be above which others."""
        return []

    def last_days(self) -> list[LastDay]:
        """Which answers may be used up to and with a certain day."""
        return []

    @property
    def shows_expired(self) -> bool:
        """Whether something that may be chosen here is past its last day, or is said to be."""
        days = [day for rule in self.last_days() for day in (rule.days or {}).values()]
        told = any(self._errors.get(rule.field) for rule in self.last_days()) if self._errors else False
        return told or any(day < self.unit.on for day in days) or bool(self["expired_fitted"].value())

    def beside(self) -> dict:
        """What other pages say and all of them amount to, by names with a point or an @ in them."""
        return {}

    @property
    def asked(self) -> PageAsks:
        """All that the page asks between its fields."""
        every = (self.needs, self.answers, self.clashes, self.orders, self.last_days)
        return PageAsks(*(tuple(each()) for each in every))

    def known_lots(self) -> dict | None:
        """What a typed lot number means, where the page asks one."""
        return None

    def _mark_needed(self) -> None:
        """No field that is demanded as things stand is called “if any”."""
        values = {"outcome": "done"} | self.beside() | (self.data if self.is_bound else self.initial)
        asked = self.asked
        now = {need.field for need in asked.needs if applies(need, values)}
        for name in {need.field for need in asked.needs}:
            self.fields[name].optional_word = "needed" if name in now else "if it applies"
        for one in asked.answers:  # one of them is demanded, so none of them is “if any”
            for name in one.of:
                self.fields[name].optional_word = "one of these"

    @property
    def rules(self) -> str:
        """What the page asks, as JSON for a device that checks it without a signal."""
        return json.dumps(described(self.fields, self.asked, self.known_lots()))

    def clean(self):
        values = super().clean()
        for name, message in missing(self.asked, self.beside() | values, self.unit.on):
            if name not in self.errors:
                self.add_error(name, message)
        return values


class IdentifyForm(StepForm):
    plate = radio("The plate", [(SAME, "says the same"), (DIFFERS, "something differs")])
    positions = radio("Options and positions", [(SAME, "are as on record"), (DIFFERS, "something differs")])
    note = Lines("If something differs: what the unit itself shows", longest=500)
    cycles = Number("Cycle counter now")
    cycles_add = Number("Add for the life total")
    cycles_why = Line("Why it is added, or why it runs lower", longest=300)
    hours = Number("Hour counter now")
    hours_add = Number("Add for the life total")
    hours_why = Line("Why it is added, or why it runs lower", longest=300)

    def fit(self):
        if not self.unit.about.unit.positions:
            del self.fields["positions"]
        if self.unit.last_counter("hours") is None and not self.data.get("hours"):
            for name in ("hours", "hours_add", "hours_why"):
                del self.fields[name]

    def orders(self):
        found = []
        for counter in ("cycles", "hours"):
            last = self.unit.last_counter(counter)
            if last is not None and counter in self.fields:
                words = may_be_logged.counter_words(counter, "{high}", last.total, last.row.happened_on)
                found.append(
                    Order(last.total, counter, counter, words, unless=(f"{counter}_why",), plus_else=last.offset)
                )
        return found

    def needs(self):
        words = "Why is it added? Say it, or clear the number."
        names = [c for c in ("cycles", "hours") if c in self.fields]
        return [Demand(f"{c}_why", words, ({f"{c}_add": None},)) for c in names]


class SafeForm(StepForm):
    reason = radio("Why you are here", JOB_REASONS)
    complaint = Lines("Complaint, in the user’s words", longest=2000)
    contamination = radio("Contamination, stated by the clinic", CONTAMINATION)

    def fit(self):
        for n, step in enumerate(SAFE_STEPS, start=1):
            self.fields[step.field] = Tick(f"{n}. {step.text}")
            self.fields[f"{step.field}_at"] = TimeOfDay("at")
            if step.if_fitted:
                self.fields[f"{step.field}_none"] = Tick("Not on this unit")
            self.fields[f"{step.field}_no"] = Line(INSTEAD.get(step.key, "Not done: why"), longest=300)

    def steps(self):
        """(tick, time, tick that the unit has none or None, why not) of each step, for the page."""
        names = [step.field for step in SAFE_STEPS]
        return [
            (self[n], self[f"{n}_at"], self[f"{n}_none"] if f"{n}_none" in self.fields else None, self[f"{n}_no"])
            for n in names
        ]

    def needs(self):
        words = "A breakdown has a complaint. Write it down in the user’s own words."
        return [Demand("complaint", words, ({"reason": ("breakdown",)},))]

    def answers(self):
        none = "Tick it once it is done, or say why it is not."
        many = "It has two answers that shut each other out. Leave one of them."
        names = ([n for n in (s.field, f"{s.field}_none", f"{s.field}_no") if n in self.fields] for s in SAFE_STEPS)
        return [OneAnswer(tuple(each), none, many) for each in names]


EXPIRED = "It expired on {day}. Fit another one; if this one is in, tick that it is."


def expired_tick() -> Tick:
    """That a part past its last day was fitted: asked only where one is."""
    return Tick("The lot has expired, and was fitted all the same: it is recorded and flagged")


def last_days_of(lots) -> dict:
    """The origin of each lot that expires to the day up to and with which it may be fitted."""
    return {str(lot.origin): lot.expiry for lot in lots if lot.expiry is not None}


OF_FITTED = ("lot", "lot_printed", "receipt_lot", "from_kit")  # what says that a part was fitted


class TaskForm(StepForm):
    outcome = radio("What became of it", OUTCOME_WORDS)
    grade = radio("Condition", list(GRADES.items()), required=False, coerce=int, empty_value=None)
    decision = radio("Decision", DECIDED, required=False)
    bring = Line("Part to be brought", longest=160)
    bring_number = Line("Its number", longest=80)
    found = Lines("What was seen", longest=500)
    why = Line("Why so, where the rule says otherwise", longest=500)
    repair_class = radio("Class of this repair", [], required=False)
    reason = Line("Reason", longest=500)
    deferred_until = Day("Postponed until", required=False)
    decided_by = Line("Decided by")
    agreed_by = Line("Agreed by, at the clinic")
    lot = radio("Lot, from own stock", [], required=False)
    part_name = Line("Part", longest=160)
    part_number = Line("Part number as printed", longest=80)
    expired_fitted = expired_tick()
    lot_printed = Line("Lot as printed", longest=80)
    lot_state = radio("Lot on the part", ("printed", "not printed", "unreadable"), required=False)
    receipt_lot = Line("Own receipt lot", longest=80)
    expiry = Day("Expires on", required=False)
    quantity = Whole("How many", largest=999)
    old_part = radio("The old part was", OLD_PARTS, required=False)
    kit = Line("From which kit")
    from_kit = radio("Or out of a kit that this visit accounts for", [], required=False)

    line = None

    def __init__(self, data=None, *, unit, line=None, **kwargs):
        self.line = line
        super().__init__(data, unit=unit, **kwargs)

    def fit(self):
        self.fields["lot_printed"].widget.attrs["data-scan"] = "lot"
        self.fields["part_number"].widget.attrs["data-scan-fill"] = "gtin"
        self.fields["expiry"].widget.attrs["data-scan-fill"] = "expiry"
        lowest = (self.line.repair_class if self.line else "") or "A"
        letters = "ABCX"["ABCX".index(lowest) :]
        self.fields["repair_class"].choices = [(letter, repair_class(letter)) for letter in letters]
        self.fields["lot"].choices = self.unit.lot_choices(self.line)
        self.fields["from_kit"].choices = [(kit.name, kit.name) for kit in self.unit.kits]
        if not self.unit.kits:
            del self.fields["from_kit"]

    def last_days(self):
        fitted = self._part_cases()
        return [
            LastDay("lot", EXPIRED, last_days_of(self.unit.lots), unless=("expired_fitted",)),
            LastDay("expiry", EXPIRED, None, fitted, unless=("expired_fitted", "lot", "from_kit")),
        ]

    def needs(self):
        left = ({"outcome": ("deferred", "not possible", "not applicable", "not done")},)
        postponed, decided = ({"outcome": ("deferred",)},), ({"decision": None},)
        part = self._part_cases()
        lot = "Which lot was fitted? Choose it, scan it, or say that none is printed."
        which = "Which part? Enter its name, or choose a lot from own stock."
        return [
            Demand("reason", "This needs its reason: an inspector will ask for it.", left),
            Demand("deferred_until", "Until when? Enter the day.", postponed),
            Demand("decided_by", "Who decided that? Enter the name.", postponed),
            Demand("grade", "A decision rests on the condition. Choose it.", decided),
            Demand("found", "A decision rests on what was seen. Say it in a few words.", decided),
            Demand("part_name", which, part, ("lot", "from_kit")),
            Demand("lot", lot, part, ("lot_printed", "receipt_lot", "lot_state", "from_kit")),
            Demand("old_part", "What became of the old part?", part, ("from_kit",)),
            Demand("bring", "Which part is to be brought? Enter its name.", ({"decision": (AWAITED,)},)),
        ]

    def clashes(self):
        fitted = tuple({"decision": (AWAITED,), name: None} for name in OF_FITTED)
        others = tuple(word for word, _ in OUTCOME_WORDS if word != "deferred")
        found = [
            Clash("decision", "A part was fitted here, and the decision says that it is not with you. Which is it?",
                  fitted),
            Clash("deferred_until", "This was not postponed. Leave the day out, or choose “postponed”.",
                  ({"outcome": others, "deferred_until": None},)),
        ]  # fmt: skip
        if self.line is not None and self.line.action == "replace":
            words = (
                "“Done” says that it was replaced, and the decision that the part is not with you. Choose “not "
                "possible today” with its reason, or another decision."
            )
            found.append(Clash("outcome", words, ({"outcome": ("done",), "decision": (AWAITED,)},)))
        return found

    def _part_cases(self) -> tuple:
        return part_cases(self.line is not None and self.line.action == "replace")

    def clean(self):
        self._lot_as_scanned(self.cleaned_data)
        values = super().clean()
        if values.get("from_kit") or not applies(Demand("old_part", "", self._part_cases()), values):
            values["part_name"] = ""
        return values

    def known_lots(self):
        """`means`: numbers, in small letters, to the one lot of own stock that each means here; `others`: those of
        other parts, each with what is wrong."""
        numbers = {number for lot in self.unit.lots for number in (lot.lot, lot.receipt_lot) if number}
        named = {number: self.unit.lots_named(number, self.line) for number in sorted(numbers)}
        others = {n: self._of_another(n, other[0]) for n, (meant, other) in named.items() if other and not meant}
        return {
            "means": {n.lower(): str(meant[0].origin) for n, (meant, _) in named.items() if len(meant) == 1},
            "others": {number.lower(): words for number, words in others.items()},
        }

    @staticmethod
    def _of_another(typed: str, lot) -> str:
        return (
            f"Lot {typed} in own stock is “{lot.part.name}”, which is not what belongs here. Choose the lot that was "
            "fitted. Where two parts only share a number: enter the part’s name and choose “printed”."
        )

    def _lot_as_scanned(self, values) -> None:
        """A lot that was scanned or typed is the one in own stock where exactly one is meant by it."""
        typed = (values.get("lot_printed") or "").strip()
        if not typed or values.get("lot"):
            return
        meant, others = self.unit.lots_named(typed, self.line)
        if len(meant) == 1:
            values["lot"] = str(meant[0].origin)
        elif others and not meant and values.get("lot_state") != "printed":
            self.add_error("lot_printed", self._of_another(typed, others[0]))


class ExtraForm(TaskForm):
    """A task that is not on the plan."""

    what = Line("Which task", longest=120, required=True)
    action = radio("Action", ACTIONS)
    position = Choice("Where", [], required=False, blank="the whole unit")
    found = Lines("What was seen", longest=370)  # recorded with the name of the task in front of it

    def fit(self):
        super().fit()
        self.fields["position"].choices = [
            ("", "— the whole unit —"),
            *((p.row.origin, p.name) for p in self.unit.about.unit.positions),
        ]
