"""The forms of the day: each the shortest honest way to one entry. What is filled in is shown; a result never is."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django import forms

from records import clock
from records.forms.base import EntryForm
from records.forms.fields import Choice, Clock, Day, Line, Measured, Number, OneOf, Tick
from records.forms.monitoring import CHAMBER, CHECKED, NO_LOT, PERSON
from records.log.indicators import KPA, LEAK_LIMIT, LEAK_LIMIT_SOURCE, leak_rate, leak_result
from records.log.submission import answered
from records.models import BioTest
from records.writing.measures import convert

PSI = convert(Decimal(1), "psi", "kPa", 6)
STANDS_OPEN = timedelta(minutes=15)


def box_words(box) -> str:
    """A box of indicators as it is told apart in a narrow list: its lot first."""
    expiry = f", use by {box.expiry}" if box.expiry else ""
    return f"Lot {box.lot}{expiry}, {box.name}"


class Pick(Choice):
    """One of a few words as large targets. Nothing is chosen beforehand."""

    def __init__(self, label, choices, *, required=True, **kwargs):
        super().__init__(label, choices, required=required, widget=forms.RadioSelect, **kwargs)
        self.choices = list(self.choices)[1:]


class DeskForm(EntryForm):
    """An entry about one unit, at the moment shown. `upfront` is asked at once, the rest stands under "more"."""

    on = Day("Day")
    at = Clock("Time")
    opened = forms.CharField(required=False, widget=forms.HiddenInput)
    ticking = forms.CharField(required=False, widget=forms.HiddenInput)

    upfront_names: tuple[str, ...] = ()
    button = "Record"
    outbox = ""
    NOT_WRITTEN = ("request_key", "next", "opened", "ticking")

    def __init__(self, *args, lots=None, initial=None, **kwargs):
        ground = kwargs["ground"]
        now = clock.now().astimezone(ZoneInfo(ground.zone))
        filled = {"at": f"{now:%H:%M}", "opened": f"{now:%Y-%m-%dT%H:%M}"} | (initial or {})
        super().__init__(*args, initial=filled, **kwargs)
        self.lots = lots or {}
        self.address = ""

    @property
    def upfront(self) -> list:
        return [self[name] for name in self.upfront_names if name in self.fields]

    @property
    def more(self) -> list:
        return [bf for bf in self if not bf.is_hidden and bf.name not in self.upfront_names]

    @property
    def more_open(self) -> bool:
        return any(bf.errors for bf in self.more)

    @property
    def more_words(self) -> str:
        return ", ".join(bf.label[:1].lower() + bf.label[1:] for bf in self.more)

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


class StartForm(DeskForm):
    confirmable = True
    button = "Start the spore test"

    lot = OneOf("Lot of the test", unknown=NO_LOT, missing=NO_LOT, name=box_words)
    control_lot = OneOf(
        "Lot of the control", required=False, blank="no control was run", unknown=NO_LOT, name=box_words,
        help_text="Test and control come from one lot. Without a control the test doesn’t count.",
    )  # fmt: skip
    cycle_number = Line("Cycle number", longest=40)
    cycle_type = Line("Cycle", longest=60, required=True, help_text="The program as the unit names it.")
    mechanical = Pick("Gauges and printout of this cycle", CHECKED, required=False)
    chemical = Pick(
        "Chemical indicators of this cycle", CHECKED, required=False,
        help_text="Leave both blank when nobody has looked yet: “not recorded” is then written.",
    )  # fmt: skip
    chamber = Choice("Chamber", CHAMBER, initial="not stated")
    purpose = Choice("Why it was run", BioTest._meta.get_field("purpose").choices, initial="routine")
    site = Choice("Read where", BioTest._meta.get_field("site").choices, initial="clinic")
    implant = Tick("The load held an implant")
    run_by = Line("Run by", longest=200, help_text=PERSON)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        boxes = self.lots.get("biological") or []
        self.fields["lot"].widget.attrs |= {"data-scan": "lot", "data-scan-with": "control_lot"}
        self.fields["control_lot"].widget.attrs["data-scan"] = "lot"
        for name in ("lot", "control_lot"):
            self.fields[name].take(boxes)
        self.after_failure = self.initial.get("purpose", "routine") != "routine"

    upfront_names_routine = ("lot", "control_lot", "cycle_number", "cycle_type", "mechanical", "chemical")

    @property
    def upfront_names(self):
        more = ("purpose", "chamber") if self.after_failure else ()
        return (*self.upfront_names_routine, *more)

    def clean(self):
        values = super().clean()
        for name in ("mechanical", "chemical"):
            if values.get(name):
                continue
            if values.get("purpose", "routine") != "routine":
                self.add_error(
                    name, "A test after a failure may count only with this. Choose “not recorded” if nobody looked."
                )
            else:
                values[name] = "not recorded"
        return values


GREW = (("growth", "grew"), ("no growth", "no growth"), ("no result", "no result"))


class ReadForm(DeskForm):
    confirmable = True
    button = "Record the reading"
    upfront_names = ("test", "control")

    test = Pick("The test", GREW)
    control = Pick("The control", GREW, help_text="It must grow. If it did not, the test doesn’t count.")
    incubated_hours = Number("Hours of incubation", digits=6, help_text="Leave blank: counted from run to reading.")
    incubator_temperature = Measured("Incubator temperature", "°C", digits=4)
    read_by = Line("Read by", longest=200, help_text=PERSON)

    def __init__(self, *args, timed: bool = True, **kwargs):
        super().__init__(*args, **kwargs)
        if not timed:
            self.upfront_names = (*self.upfront_names, "incubated_hours")
            self.fields["incubated_hours"].help_text = "The time of the run is not known, so say how long it was in."


class ReportForm(ReadForm):
    """What a laboratory found in a test that was sent to it."""

    button = "Record the report"
    upfront_names = ("test", "control", "report", "on", "known_on", "paper_file")

    report = Line(
        "Laboratory and report number", longest=160, required=True, help_text="Such as Invented Lab, report 2231."
    )
    known_on = Day("It came on")
    paper_file = forms.FileField(label="The report as a file", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        del self.fields["at"], self.fields["incubated_hours"], self.fields["incubator_temperature"]
        self.fields["control"].choices = [*GREW, ("not stated", "not stated")]
        self.fields["on"].label = "Read by the laboratory on"
        self.initial.update(on=None, known_on=self.ground.today)

    def values(self):
        return {"at": None} | super().values()


class AirForm(DeskForm):
    button = "Record the air-removal test"
    upfront_names = ("result", "cycle_number")

    result = Pick("Result", ("pass", "fail"))
    cycle_number = Line("Cycle number", longest=40)
    chamber = Choice("Chamber", CHAMBER, initial="empty")
    lot = OneOf("Lot", required=False, blank="the lot was not noted", unknown=NO_LOT, name=box_words)
    run_by = Line("Run by", longest=200, help_text=PERSON)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].take(self.lots.get("chemical") or [])
        self.fields["lot"].widget.attrs["data-scan"] = "lot"


class LeakForm(DeskForm):
    """The rate is shown before it is recorded: `seen_rate` is the one that stood on the page.

    A rise in psi is recorded in kPa: the record of a leak test knows no psi.
    """

    button = "Record the leak test"
    upfront_names = ("rise", "unit_of_measure", "minutes")
    NOT_WRITTEN = (*DeskForm.NOT_WRITTEN, "seen_rate")

    rise = Number("Pressure rise", places=3, digits=8, required=True)
    unit_of_measure = Pick("Measured in", (*KPA, "psi"))
    minutes = Number("Over how many minutes", digits=5, required=True)
    limit = Number("Limit in kPa/min", places=4, digits=8, required=True, initial=LEAK_LIMIT)
    limit_source = Line("Source of the limit", longest=200, required=True, initial=LEAK_LIMIT_SOURCE)
    run_by = Line("Run by", longest=200, help_text=PERSON)
    seen_rate = forms.CharField(required=False, widget=forms.HiddenInput)

    kpa = (*((name, f"{factor:f}") for name, factor in KPA.items()), ("psi", f"{PSI:f}"))
    shown = None

    def in_kpa(self, values: dict) -> dict:
        """The values with a rise in psi told in kPa."""
        if values.get("unit_of_measure") != "psi":
            return values
        rise = convert(values["rise"], "psi", "kPa", self.fields["rise"].decimal_places)
        return values | {"rise": rise, "unit_of_measure": "kPa"}

    def values(self) -> dict:
        return self.in_kpa(super().values())

    def clean(self):
        values = super().clean()
        rise, minutes, limit = (values.get(name) for name in ("rise", "minutes", "limit"))
        if None in (rise, minutes, limit) or minutes <= 0 or rise < 0 or not values.get("unit_of_measure"):
            return values
        told = self.in_kpa(values)
        rate = leak_rate(told["rise"], told["unit_of_measure"], minutes)
        self.shown = (rate, limit, leak_result(rate, limit))
        if self._seen(values) != rate:
            self.add_error(
                None, f"The rate is {rate:f} kPa a minute, the limit {limit:f}: {self.shown[2]}. Look at it, then "
                "press the button again to record it.",
            )  # fmt: skip
            self.data = self.data.copy()
            self.data["seen_rate"] = f"{rate:f}"
        return values

    @staticmethod
    def _seen(values) -> Decimal | None:
        text = values.get("seen_rate") or ""
        return Decimal(text) if text.replace(".", "", 1).isdigit() else None


class ChemicalForm(DeskForm):
    confirmable = True
    button = "Record the chemical indicator"
    upfront_names = ("type", "result", "cycle_number")

    type = Choice("Type of indicator", [(n, f"type {n}") for n in range(1, 7)], coerce=int)
    result = Pick("Result", ("pass", "fail", "not read"))
    cycle_number = Line("Cycle number", longest=40)
    where = Line("Where it lay", help_text="Such as inside the pack, or outside it.")
    lot = OneOf("Lot", required=False, blank="the lot was not noted", unknown=NO_LOT, name=box_words)
    read_by = Line("Read by", longest=200, help_text=PERSON)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].take(self.lots.get("chemical") or [])
        self.fields["lot"].widget.attrs["data-scan"] = "lot"


class LoadForm(DeskForm):
    button = "Record the load"
    again = "Record it, then the next load"
    upfront_names = ("cycle_number", "program", "contents", "mechanical", "chemical", "decision", "reason")

    cycle_number = Line("Cycle number", longest=40, required=True)
    program = Line("Program", longest=60, required=True)
    contents = Line(
        "Contents", longest=300, help_text="By number or description. Never name or describe a person treated."
    )
    mechanical = Pick("Gauges and printout", CHECKED, required=False)
    chemical = Pick("Chemical indicators", CHECKED, required=False)
    decision = Pick(
        "Decision on the load", ("released", "rejected"), required=False,
        help_text="Without one the load waits on the page Today.",
    )  # fmt: skip
    reason = Line("Reason of the decision", longest=300, help_text="Needed when it is rejected.")
    implant = Tick("Held an implant")
    minutes = Number("Use time of the cycle in minutes", digits=6)
    run_by = Line("Run by", longest=200, help_text=PERSON)

    def clean(self):
        values = super().clean()
        failed = [n for n in ("mechanical", "chemical") if values.get(n) == "fail"]
        if values.get("decision") == "rejected" and not values.get("reason"):
            self.add_error("reason", "Rejected why? The next person needs it, in a few words.")
        if values.get("decision") == "released" and failed and not values.get("reason"):
            self.add_error(
                "reason", "Something failed in this cycle and the load is released. If that was so, say why."
            )
        return values
