"""The forms of the day: those of `records.forms`, each as the shortest honest way to its entry.

A form here says which fields stand first, which are left out and what is filled in. What is filled in is shown; a
result never is. What may be recorded is for the form of the record and its writer to say.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django import forms

from audit.facts import UnitFacts
from records import clock
from records import forms as entry_forms
from records.forms.base import Dated
from records.forms.fields import Choice, OneOf
from records.log.submission import answered

from .fill import loaders_of, programs_of, reached_before

STANDS_OPEN = timedelta(minutes=15)


def box_words(box) -> str:
    """A box of indicators as it is told apart in a narrow list: its lot first."""
    expiry = f", use by {box.expiry}" if box.expiry else ""
    return f"Lot {box.lot}{expiry}, {box.name}"


def as_targets(field: forms.ChoiceField) -> None:
    """Show one of a few words as large targets. Nothing is chosen beforehand."""
    field.widget = forms.RadioSelect()
    field.widget.is_required = field.required
    field.choices = [(value, words) for value, words in field.choices if value != ""]


class Pick(Choice):
    """One of a few words as large targets. Nothing is chosen beforehand."""

    def __init__(self, label, choices, *, required=True, **kwargs):
        super().__init__(label, choices, required=required, **kwargs)
        as_targets(self)


class DeskForm(Dated):
    """An entry about one unit, at the moment shown. `upfront` is asked at once, the rest stands under "more".

    Of a form of the record `left_out` is not asked, `targets` are shown large, `told` has what a field says here.
    """

    opened = forms.CharField(required=False, widget=forms.HiddenInput)
    ticking = forms.CharField(required=False, widget=forms.HiddenInput)

    unit_is_known = True
    upfront_names: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    targets: tuple[str, ...] = ()
    told: dict[str, dict] = {}
    button = "Record"
    outbox = ""
    NOT_WRITTEN = ("opened", "ticking")

    def __init__(self, *args, initial=None, **kwargs):
        ground = kwargs["ground"]
        now = clock.now().astimezone(ZoneInfo(ground.zone))
        filled = {"at": f"{now:%H:%M}", "opened": f"{now:%Y-%m-%dT%H:%M}"} | (initial or {})
        super().__init__(*args, initial=filled, **kwargs)
        for name in ("paper", *self.left_out):
            self.fields.pop(name, None)
        for name, said in self.told.items():
            for attribute, words in said.items():
                setattr(self.fields[name], attribute, words)
        for name, field in self.fields.items():
            if name in self.targets:
                as_targets(field)
            elif isinstance(field, OneOf):
                field.name = box_words
                field.take(field.rows.values())
        self.address = ""

    @property
    def is_after_something(self) -> bool:
        """Whether why it was run is asked at once: it may be after a failure, a repair or a move."""
        said = self.data.get("purpose") if self.is_bound else self.initial.get("purpose", "routine")
        return said is not None and said != "routine"

    def say_last_cycle(self, number: str) -> None:
        """Show the cycle number that was logged last. The next one is read off the unit, never filled in."""
        if number and "cycle_number" in self.fields:
            self["cycle_number"].help_text = f"Last logged: {number}. Read this one off the printout."

    def _asked_at_once(self) -> list[str]:
        return [name for name in self.upfront_names if name in self.fields]

    def know(self, unit: UnitFacts) -> None:
        """Take up what the unit's record offers to this form beyond what is filled in."""

    @property
    def more_open(self) -> bool:
        """What is filled in there is named in the fold's words; only what is wrong opens it."""
        return any(bf.errors for bf in self.more)

    def values(self) -> dict:
        return {name: v for name, v in super().values().items() if name not in self.NOT_WRITTEN}

    def clean(self):
        values = super().clean()
        if "at" in self.fields and self._time_nobody_meant(values) and not self._known(values):
            self.add_error(
                "at",
                f"The page stood open since {values['at']:%H:%M}, so nobody may have meant that time. Enter when it "
                "was, or leave it blank if that is not known; send it unchanged if it is right.",
            )
        return values

    def _known(self, values) -> bool:
        return bool(values.get("request_key")) and answered(self.ground.account, values["request_key"])

    def _time_nobody_meant(self, values) -> bool:
        """Whether the time is the one the page filled in, long ago or for another day. A script keeps it right."""
        on, at = values.get("on"), values.get("at")
        if on is None or at is None or values.get("ticking") or not values.get("opened"):
            return False
        try:
            opened = datetime.fromisoformat(values["opened"]).replace(tzinfo=ZoneInfo(self.ground.zone))
        except ValueError:
            return False
        if (at.hour, at.minute) != (opened.hour, opened.minute):
            return False
        return on != opened.date() or clock.now() - opened > STANDS_OPEN

    def seen_once(self) -> None:
        """After a refusal the time that stands in the form is meant."""
        self.data = self.data.copy()
        self.data["opened"] = ""


class StartForm(DeskForm, entry_forms.BioTestForm):
    button = "Start the spore test"
    targets = ("mechanical", "chemical")
    told = {
        "chemical": {"help_text": "Leave both blank when nobody has looked yet: “not recorded” is then written."},
    }
    upfront_names_routine = ("lot", "control_lot", "cycle_number", "cycle_type", "mechanical", "chemical")

    @property
    def upfront_names(self):
        more = ("purpose", "chamber") if self.is_after_something else ()
        return (*self.upfront_names_routine, *more)


GREW = [("growth", "grew"), ("no growth", "no growth"), ("no result", "no result")]


class ReadForm(DeskForm, entry_forms.ReadBioForm):
    """A test that was read in the clinic. Who reads it sees the control: "not stated" is not offered."""

    button = "Record the reading"
    upfront_names = ("test", "control")
    targets = ("test", "control")
    left_out = ("known_on", "report")
    told = {
        "test": {"label": "The test"},
        "control": {
            "label": "The control", "help_text": "It must grow. If it did not, the test doesn’t count."
        },
    }  # fmt: skip
    control_offered = GREW

    def __init__(self, *args, timed: bool = True, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["test"].choices = GREW
        self.fields["control"].widget.choices = self.control_offered
        if (hours := self.fields.get("incubated_hours")) is None:
            return
        hours.help_text = "Leave blank: counted from run to reading."
        if not timed:
            self.upfront_names = (*self.upfront_names, "incubated_hours")
            hours.help_text = "The time of the run is not known, so say how long it was in."


class ReportForm(ReadForm):
    """What a laboratory found in a test that was sent to it."""

    button = "Record the report"
    upfront_names = ("test", "control", "report", "on", "known_on", "paper_file")
    left_out = ("at", "incubated_hours", "incubator_temperature")
    told = ReadForm.told | {
        "report": {"help_text": "Such as Invented Lab, report 2231."},
        "on": {"label": "Read by the laboratory on"},
        "known_on": {"label": "It came on", "help_text": ""},
    }
    control_offered = [*GREW, ("not stated", "not stated")]

    paper_file = forms.FileField(label="The report as a file", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.initial.update(on=None, known_on=self.ground.today)


class AirForm(DeskForm, entry_forms.AirRemovalForm):
    button = "Record the air-removal test"
    targets = ("result",)

    @property
    def upfront_names(self):
        return ("result", "cycle_number", *(("purpose",) if self.is_after_something else ()))


class LeakForm(DeskForm, entry_forms.LeakForm):
    button = "Record the leak test"
    targets = ("unit_of_measure",)

    @property
    def upfront_names(self):
        more = ("purpose",) if self.is_after_something else ()
        return ("rise", "unit_of_measure", "minutes", "settling", "start_pressure", "start_temperature", *more)


class ChemicalForm(DeskForm, entry_forms.ChemicalForm):
    button = "Record the chemical indicator"
    upfront_names = ("type", "result", "cycle_number")
    targets = ("result",)


class LoadForm(DeskForm, entry_forms.LoadForm):
    button = "Record the load"
    again = "Record it, then the next load"
    upfront_names = (
        "cycle_number", "program", "loaded_by", "held_packs", "held_pouches", "held_cassettes", "contents", "implant",
        "mechanical", "exposure_minutes", "exposure_temperature", "exposure_pressure", "chemical", "packs",
        "pack_condition", "decision", "reason",
    )  # fmt: skip
    targets = ("mechanical", "chemical", "packs", "pack_condition", "decision")
    beside = (("cycle_number", "program", "loaded_by"), *entry_forms.LoadForm.beside)
    told = {"decision": {"help_text": "Without one the load waits on the page Today."}}

    def know(self, unit: UnitFacts) -> None:
        """Offer programs and names as logged before, and tell what the last load of the program reached."""
        self.fields["program"].offer(programs_of(unit))
        self.fields["loaded_by"].offer(loaders_of(unit))
        words = "; ".join(reached_before(unit, self.initial.get("program", ""), self.ground.today))
        if words:
            self["exposure_minutes"].help_text = f"{words}. Read this one off the printout or display."


class DecisionForm(DeskForm, entry_forms.LoadReleaseForm):
    button = "Record the decision"
    upfront_names = ("decision", "reason")
    targets = ("decision",)
