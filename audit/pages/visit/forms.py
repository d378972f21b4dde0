"""The forms of the pages of a visit. What is typed is kept as typed; what is wrong with it is said beside it.

No result is chosen beforehand. What is suggested (a part, a name, a day, an instrument) can be seen and changed.
"""

from __future__ import annotations

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

    def fit(self) -> None:
        """Shape the fields after the unit."""

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

    def clean(self):
        values = super().clean()
        if values.get("reason") == "breakdown":
            self.need("complaint", "A breakdown has a complaint. Write it down in the user’s own words.")
        for step in SAFE_STEPS:
            said = [bool(values.get(name)) for name in (step.field, f"{step.field}_none", f"{step.field}_no")]
            if not any(said):
                self.add_error(step.field, "Tick it once it is done, or say why it is not.")
            elif sum(said) > 1:
                self.add_error(f"{step.field}_no", "It has two answers that shut each other out. Leave one of them.")
        return values


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

    def clean(self):
        values = super().clean()
        for n in range(MORE_READINGS):
            typed = any(values.get(f"x{n}_{name}") not in (None, "") for name in ("as_found", "lower", "upper"))
            if typed:
                self.need(f"x{n}_quantity", "What was measured? Name it, such as chamber temperature.")
                self.need(f"x{n}_unit_of_measure", "In which unit of measure? Such as °C, kPa, minutes or Ω.")
        return values


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

    def clean(self):
        values = super().clean()
        self._lot_as_scanned(values)
        outcome = values.get("outcome")
        if outcome in ("deferred", "not possible", "not applicable", "not done"):
            self.need("reason", "This needs its reason: an inspector will ask for it.")
        if outcome == "deferred":
            self.need("deferred_until", "Until when? Enter the day.")
            self.need("decided_by", "Who decided that? Enter the name.")
        if values.get("decision"):
            if values.get("grade") is None:
                self.add_error("grade", "A decision rests on the condition. Choose it.")
            self.need("found", "A decision rests on what was seen. Say it in a few words.")
        self._part(values)
        return values

    def _lot_as_scanned(self, values) -> None:
        """A lot that was scanned or typed is the one in own stock where exactly one is meant by it."""
        typed = (values.get("lot_printed") or "").strip()
        if not typed or values.get("lot"):
            return
        meant, others = self.unit.lots_named(typed, self.line)
        if len(meant) == 1:
            values["lot"] = str(meant[0].origin)
        elif others and not meant and values.get("lot_state") != "printed":
            self.add_error(
                "lot_printed",
                f"Lot {typed} in own stock is “{others[0].part.name}”, which is not what belongs here. Choose "
                "the lot that was fitted. Where two parts only share a number: enter the part’s name and choose "
                "“printed”.",
            )

    def _part(self, values) -> None:
        replaced = values.get("decision") in ("replace", "repair kit")
        planned = self.line is not None and self.line.action == "replace" and values.get("outcome") == "done"
        stated = values.get("lot") or values.get("lot_printed") or values.get("receipt_lot")
        if not (replaced or planned or stated):
            values["part_name"] = ""
            return
        if not values.get("lot"):
            self.need("part_name", "Which part? Enter its name, or choose a lot from own stock.")
            if not stated and not values.get("lot_state"):
                self.add_error("lot", "Which lot was fitted? Choose it, scan it, or say that none is printed.")
        self.need("old_part", "What became of the old part?")


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

    def clean(self):
        values = super().clean()
        for code in TESTS:
            if values.get(code) in ("not done", "not applicable"):
                self.need(f"{code}_why", "This needs its reason: an inspector will ask for it.")
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
