"""The last two pages of a visit: how the work on a unit ends, and the head of the whole visit."""

from __future__ import annotations

from django import forms as django_forms

from audit.facts.names import repair_class
from audit.judge.proof_after_work import LIMITED, NOT_RELEASED, NOT_WORKED, PENDING, RELEASED
from records.forms.fields import Day, Line, Tick, TimeOfDay
from records.log.work_rules import KEPT, OUT

from .asked import Clash, Demand
from .forms import Refusable, StepForm, radio

ENDINGS = (
    (RELEASED, "released"),
    (LIMITED, "released with a limit"),
    (PENDING, "released while a result is pending"),
    (NOT_RELEASED, "not released"),
    (NOT_WORKED, "not worked on"),
)
LEFT_OUT = "left out of use"
OUTSIDE = "A reading was left outside its limits. Say why it is released all the same."
AT_CLINIC = (
    ("returned to use", "returns it to use"),
    (LEFT_OUT, "has seen that it stays out of use"),
    ("refused", "refuses to sign"),
    ("nobody present", "nobody was present"),
)


MEANWHILE = (
    (OUT, "no: it is taken out of service now (also when nobody knows)"),
    (KEPT, "yes, as before the visit, for the reason above"),
)


class VisitEndForm(StepForm):
    """Only endings that the proof allows are offered, and no class below the one that follows from the work."""

    class_stated = radio("Repair class", [], required=False)
    class_reason = Line("Why a higher class", longest=300)
    conclusion = radio("How it ends", [])
    limitation = Line("Limited to what", longest=300)
    acceptor = Line(
        "Accepted at the clinic by",
        help_text="They sign the return to use with an own log-in; until then the unit waits for the result.",
    )
    deadline = Day("Until", required=False)
    reason = Line("Reason", longest=500)
    meanwhile = radio("Not worked on: may it be used meanwhile?", MEANWHILE, required=False)
    technician = Tick("I release it")
    clinic = radio("The clinic", AT_CLINIC, required=False)
    clinic_name = Line("Name", longest=200)
    clinic_role = Line("Role", longest=80)
    clinic_reason = Line("Reason, if not signed", longest=300)

    def fit(self):
        held = self.unit.proof
        self.fields["class_stated"].choices = [(c, repair_class(c)) for c in held.classes]
        self.fields["class_stated"].error_messages["invalid_choice"] = (
            f"The work done is of class {repair_class(held.derived)}: the class may be raised, never lowered. "
            "Choose that class or a higher one."
        )
        self.fields["conclusion"].choices = [pair for pair in ENDINGS if pair[0] in held.endings]
        self.fields["conclusion"].error_messages["invalid_choice"] = (
            f"“%(value)s” cannot be claimed yet. {held.why_not}".strip()
        )
        self.fields["technician"].label = f"I release it: {self.unit.technician}"

    def every_ending(self) -> list[tuple]:
        """(value, words, button) of each ending; no button where it is not offered.

        Those are for a page that is filled in without the server, which judges them when they reach it.
        """
        offered = {button.data["value"]: button for button in self["conclusion"]}
        return [(value, words, offered.get(value)) for value, words in ENDINGS]

    def needs(self):
        raised = tuple(c for c in self.unit.proof.classes if c != self.unit.proof.derived)
        pending, limited = ({"conclusion": (PENDING,)},), ({"conclusion": (LIMITED,)},)
        released = ({"conclusion": (RELEASED, LIMITED, PENDING)},)
        clinic = "Say what the clinic does: it returns the unit to use, refuses, or nobody is there."
        return [
            Demand("class_reason", "A class above the one that follows from the work needs its reason.",
                 ({"class_stated": raised},)),
            Demand("limitation", "Limited to what? Say which cycles or loads are allowed.", limited),
            Demand("acceptor", "Something must be replaced. Who at the clinic accepts its use until then?",
                 ({"conclusion": (LIMITED,), "@awaited": None},)),
            Demand("acceptor", "Released while a result is pending. Who at the clinic accepts that?", pending),
            Demand("deadline", "Released while a result is pending. Until which day?", pending),
            Demand("reason", "This needs its reason.", ({"conclusion": (NOT_RELEASED, NOT_WORKED)},)),
            Demand("reason", OUTSIDE, ({"conclusion": (RELEASED, LIMITED, PENDING), "@outside": None},)),
            Demand("meanwhile", "Not worked on. May it be used meanwhile? When nobody knows, take it out of service.",
                 ({"conclusion": (NOT_WORKED,)},)),
            Demand("technician", "A release is signed: tick it as the technician.", released),
            Demand("clinic", clinic, released),
            Demand("clinic_name", "A signature needs the name of the person.",
                 ({"clinic": ("returned to use", LEFT_OUT, "refused")},)),
            Demand("clinic_reason", "That is a record too: say why.", ({"clinic": ("refused", "nobody present")},)),
        ]  # fmt: skip

    def clashes(self):
        out = "Released, and the clinic leaves it out of use? Only one of the two is so."
        back = "It is not released, so nobody returns it to use. Choose that the clinic has seen that it stays out."
        released = (RELEASED, LIMITED, PENDING)
        return [
            Clash("clinic", out, ({"conclusion": released, "clinic": (LEFT_OUT,)},)),
            Clash("clinic", back, ({"conclusion": (NOT_RELEASED,), "clinic": ("returned to use",)},)),
        ]

    def beside(self):
        held = self.unit.proof
        return {"@outside": "; ".join(held.outside), "@awaited": "; ".join(held.awaited)}


class HeadForm(Refusable):
    """Day and times of the whole visit."""

    on = Day("Day")
    at = TimeOfDay("Arrived at")
    departed_at = TimeOfDay("Left at")
    report_number = Line("Report number", longest=60)
    request_key = django_forms.UUIDField(required=False, widget=django_forms.HiddenInput)

    FIELD_OF = {"happened_on": "on", "happened_at": "at"}

    def __init__(self, data=None, **kwargs):
        super().__init__(data, auto_id="f-%s", **kwargs)
