"""The forms of the pages of a visit. What is typed is kept as typed; what is wrong with it is said beside it.

No result is chosen beforehand. What is suggested (a part, a name, a day, an instrument) can be seen and changed.
"""

from __future__ import annotations

import json

from django import forms as django_forms

from audit.binder.blank_forms.work import DECISIONS
from audit.facts.names import GRADES, TESTS, repair_class
from audit.pages.visit.guide.job import MORE_READINGS, reading_key
from audit.pages.visit.guide.proof import MEASURED, WITH_VALUES
from audit.pages.visit.guide.steps import SAFE_STEPS
from records.forms.base import Refusable
from records.forms.fields import Choice, Day, Line, Lines, Measured, Number, Tick, TimeOfDay, Whole
from records.forms.visit_rows import TestRow
from records.log import row_rules
from records.log.errors import InputPlace
from records.log.visits import passed_outside
from records.models.units import ACTIONS
from records.wording import CONTAMINATION, JOB_REASONS

from .asked import Demand, OneAnswer, applies, described, missing

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
RESULTS = ("pass", "fail", "not done", "not applicable")
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

    def known_lots(self) -> dict | None:
        """What a typed lot number means, where the page asks one."""
        return None

    def _mark_needed(self) -> None:
        """No field that is demanded as things stand is called “if any”."""
        values = {"outcome": "done"} | (self.data if self.is_bound else self.initial)
        for need in self.needs():
            self.fields[need.field].optional_word = "needed" if applies(need, values) else "if it applies"

    @property
    def rules(self) -> str:
        """What the page asks, as JSON for a device that checks it without a signal."""
        return json.dumps(described(self.fields, self.needs(), self.answers(), self.known_lots()))

    def clean(self):
        values = super().clean()
        for name, message in missing(self.needs(), self.answers(), values):
            if name not in self.errors:
                self.add_error(name, message)
        return values

    def need(self, name: str, message: str) -> None:
        if self.cleaned_data.get(name) in (None, "", False) and name not in self.errors:
            self.add_error(name, message)


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


class FoundForm(StepForm):
    instrument = Line("Measured with")
    calibration_due = Day("Its calibration is due on", required=False)

    def fit(self):
        for known in self.unit.readings:
            self.fields[reading_key(known)] = Number(_of(known), places=4, digits=14)
        for n in range(MORE_READINGS):
            more = {
                "quantity": Line("What was measured", longest=80),
                "unit_of_measure": Line("Unit of measure", longest=20, help_text="Such as °C, kPa, minutes, Ω."),
                "point": Line("Where", longest=80),
                "as_found": Number("As found", places=4, digits=14),
                "lower": Number("Lower limit", places=4, digits=14),
                "upper": Number("Upper limit", places=4, digits=14),
                "limit_source": Line("Source of the limit", longest=200),
            }
            self.fields |= {f"x{n}_{name}": field for name, field in more.items()}

    def known(self):
        return [(reading, self[reading_key(reading)]) for reading in self.unit.readings]

    def more(self):
        prefixes = [f"x{n}_" for n in range(MORE_READINGS)]
        return [[self[name] for name in self.fields if name.startswith(prefix)] for prefix in prefixes]

    def needs(self):
        found = []
        for n in range(MORE_READINGS):
            limits = tuple({f"x{n}_{name}": None} for name in ("lower", "upper"))
            typed = ({f"x{n}_as_found": None}, *limits)
            found += [
                Demand(f"x{n}_quantity", "What was measured? Name it, such as chamber temperature.", typed),
                Demand(f"x{n}_unit_of_measure", "In which unit of measure? Such as °C, kPa, minutes or Ω.", typed),
                Demand(f"x{n}_limit_source", "A limit needs its source: which document and edition says so?", limits),
            ]
        return found


class TaskForm(StepForm):
    outcome = radio("What became of it", OUTCOME_WORDS)
    grade = radio("Condition", list(GRADES.items()), required=False, coerce=int, empty_value=None)
    decision = radio("Decision", DECISIONS, required=False)
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
        ]

    def _part_cases(self) -> tuple:
        """When a part was fitted: replaced by decision, done as planned, or one of its numbers is stated."""
        planned = self.line is not None and self.line.action == "replace"
        replaced = ({"decision": ("replace", "repair kit")}, *(({"outcome": ("done",)},) if planned else ()))
        return (*replaced, *({name: None} for name in ("lot", "lot_printed", "receipt_lot")))

    def clean(self):
        self._lot_as_scanned(self.cleaned_data)
        values = super().clean()
        if values.get("from_kit") or not applies(Demand("old_part", "", self._part_cases()), values):
            values["part_name"] = ""
        return values

    def known_lots(self):
        """`means`: numbers, in small letters, that mean one lot of own stock here; `others`: those of other parts,
        each with what is wrong."""
        numbers = {number for lot in self.unit.lots for number in (lot.lot, lot.receipt_lot) if number}
        named = {number: self.unit.lots_named(number, self.line) for number in sorted(numbers)}
        others = {n: self._of_another(n, other[0]) for n, (meant, other) in named.items() if other and not meant}
        return {
            "means": [number.lower() for number, (meant, _) in named.items() if len(meant) == 1],
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


class ProveForm(StepForm):
    def fit(self):
        for known in self.unit.readings:
            self.fields[reading_key(known)] = Number(_of(known), places=4, digits=14)
        for n, name in self.unit.more_measured():
            self.fields[f"x{n}"] = Number(name, places=4, digits=14)
        for code, title in TESTS.items():
            self.fields[code] = radio(title, RESULTS, required=False)
            if code in WITH_VALUES:
                self.fields |= {f"{code}_{name}": _in_its_unit(TestRow.base_fields[name]) for name in MEASURED}
            self.fields[f"{code}_value"] = Line("Value, with its unit of measure", longest=200)
            self.fields[f"{code}_cycle"] = Line("Cycle number", longest=40)
            self.fields[f"{code}_why"] = Line("Why not done, or not applicable", longest=300)

    def measured(self):
        pairs = [(reading, self[reading_key(reading)]) for reading in self.unit.readings]
        return [*pairs, *((None, self[f"x{n}"]) for n, _ in self.unit.more_measured())]

    def tests(self, codes):
        return [self._test(code) for code in codes]

    def _test(self, code: str) -> dict:
        measured = [self[f"{code}_{name}"] for name in MEASURED if f"{code}_{name}" in self.fields]
        return {
            "code": code,
            "result": self[code],
            "measured": measured,
            "measured_open": any(field.value() or field.errors for field in measured),
            "more": [self[f"{code}_{name}"] for name in ("value", "cycle", "why")],
        }

    def needs(self):
        words = "This needs its reason: an inspector will ask for it."
        return [Demand(f"{code}_why", words, ({code: ("not done", "not applicable")},)) for code in TESTS]

    def clean(self):
        values = super().clean()
        for code in WITH_VALUES:
            test = {name: values.get(f"{code}_{name}") for name in MEASURED} | {"result": values.get(code)}
            for problem in row_rules.verification(test.get):
                self.add_error(f"{code}_{problem.field}", problem.message)
            for problem in passed_outside(InputPlace(), test | {"code": code}, self._left(values)):
                self.add_error(code, problem.message)
        return values

    def _left(self, values) -> list[dict]:
        """The known readings as left, with their limits."""
        names = ("quantity", "unit_of_measure", "lower", "upper")
        return [
            {name: getattr(known, name) for name in names} | {"as_left": values.get(reading_key(known))}
            for known in self.unit.readings
        ]


def _in_its_unit(field: Number) -> Number:
    """The number of the same name in a visit's form, in the unit in which it is recorded: a draft keeps no other."""
    label = f"{field.label}, {field.base}" if isinstance(field, Measured) else field.label
    return Number(label, places=field.decimal_places, digits=field.max_digits)


def _of(reading) -> str:
    where = f", {reading.point}" if reading.point else ""
    return f"{reading.quantity}{where}, {reading.unit_of_measure}"
