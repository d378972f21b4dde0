"""Forms of the monitoring record: spore tests, chemical indicators, air removal, air leak, loads, lots.

Each entry has one form here, whatever the page. A page may leave fields out and fill others in; what may be recorded
is for `records.log` to say.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal

from django import forms

from records.log import row_rules
from records.log.leak_rate import KPA, LEAK_LIMIT, LEAK_LIMIT_SOURCE, leak_rate, leak_result
from records.models import BioTest, IndicatorLot, UserCheck
from records.wording import PURPOSE_WORDS, PURPOSES
from records.writing.measures import convert

from .base import EntryForm, Transcribed
from .fields import Choice, Day, Line, Lines, Measured, Number, OneOf, Remembered, Tick, Whole

_PLACES = 12  # decimals to which a rise is converted before it is rounded up: none is made smaller by converting
NO_LOT = "The lot is not known. Choose the box, or add it first with the lot on its label."
PERSON = "Leave blank when it was you."
CHAMBER = ("empty", "full", "not stated")
CHECKED = ("pass", "fail", "not recorded")
DECISIONS = ("released", "rejected")


def purpose_field() -> Choice:
    """Why a test was run, as the person states it; routine unless something else is chosen."""
    words = [(code, PURPOSE_WORDS.get(code, code)) for code in PURPOSES]
    return Choice("Why was it run?", words, required=False, blank="not stated", initial="routine")


class OnUnit(Transcribed):
    """About one unit of the clinic; `unit_is_known` where the address of the page says which."""

    unit = OneOf("Unit", unknown="That unit does not stand at this clinic. Choose one of its units.")
    unit_is_known = False

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        if self.unit_is_known:
            del self.fields["unit"]
        else:
            self.fields["unit"].take(self.ground.units())
        self.order_fields(["request_key", "next", "unit", "on", "at"])


class BioTestForm(OnUnit):
    legend = "The test as it was run. What it shows is entered when it is read."
    confirmable = True
    seldom = ("chamber", "site", "place", "run_by", "paper")

    lot = OneOf("Lot of the test", unknown=NO_LOT, missing=NO_LOT)
    control_lot = OneOf(
        "Lot of the control",
        required=False,
        blank="no control was run",
        unknown=NO_LOT,
        help_text="Test and control come from one lot. Without a control the test doesn’t count.",
    )
    # What the script of scanning fills: see static/audit/scan.js.
    lot.widget.attrs |= {"data-scan": "lot", "data-scan-with": "control_lot"}
    control_lot.widget.attrs["data-scan"] = "lot"
    cycle_type = Line(
        "Cycle",
        longest=60,
        required=True,
        help_text="The program as the unit names it, such as wrapped.",
    )
    cycle_number = Line("Cycle number", longest=40)
    chamber = Choice("Chamber", CHAMBER, initial="not stated")
    purpose = purpose_field()
    purpose.required = True
    site = Choice("Read where", BioTest._meta.get_field("site").choices, initial="clinic")
    place = Line("Place in the chamber")
    implant = Tick("The load held an implant")
    mechanical = Choice("Gauges and printout of this cycle", CHECKED, required=False, blank="nobody looked yet")
    chemical = Choice("Chemical indicators of this cycle", CHECKED, required=False, blank="nobody looked yet")
    run_by = Line("Run by", longest=200, help_text=PERSON)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for name in ("lot", "control_lot"):
            self.fields[name].take(self.ground.indicator_lots("biological"))

    def clean(self):
        """The writer's rule, asked here too, so that what is missing is all said at once."""
        values = super().clean()
        self.take(row_rules.bio_test(values.get))
        return values


class ReadBioForm(Transcribed):
    confirmable = True
    seldom = ("incubator_temperature", "read_by", "paper")

    test = Choice("What the test shows", ("growth", "no growth", "no result"))
    control = Choice(
        "What the control shows",
        ("growth", "no growth", "no result", "not stated"),
        help_text="The control was not sterilized, so it must grow. If it did not, the test doesn’t count.",
    )
    incubated_hours = Number("Hours of incubation", digits=6)
    incubator_temperature = Measured("Incubator temperature", "°C", digits=4)
    known_on = Day(
        "Known at the clinic on", required=False, help_text="Leave blank when it was known on the day it was read."
    )
    report = Line("Laboratory and report number", longest=160)
    read_by = Line("Read by", longest=200, help_text=PERSON)


class ChemicalForm(OnUnit):
    confirmable = True
    seldom = ("read_by", "paper")

    type = Choice("Type of indicator", [(n, f"type {n}") for n in range(1, 7)], coerce=int)
    result = Choice("Result", ("pass", "fail", "not read"))
    where = Line("Where it lay", help_text="Such as inside the pack, or outside it.")
    cycle_number = Line("Cycle number", longest=40)
    lot = OneOf("Lot", required=False, blank="the lot was not noted", unknown=NO_LOT)
    lot.widget.attrs["data-scan"] = "lot"
    read_by = Line("Read by", longest=200, help_text=PERSON)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].take(self.ground.indicator_lots("chemical"))


class AirRemovalForm(OnUnit):
    confirmable = True
    seldom = ("chamber", "run_by", "paper")

    result = Choice("Result", ("pass", "fail"))
    purpose = purpose_field()
    chamber = Choice("Chamber", CHAMBER, initial="empty")
    cycle_number = Line("Cycle number", longest=40)
    lot = OneOf("Lot", required=False, blank="the lot was not noted", unknown=NO_LOT)
    lot.widget.attrs["data-scan"] = "lot"
    run_by = Line("Run by", longest=200, help_text=PERSON)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].take(self.ground.indicator_lots("chemical"))


class LeakForm(OnUnit):
    """The rate is looked at before it is recorded: `seen_rate` is the one that stood on the page, in kPa a minute.

    Where no rate could be asked for, `WHEN_SENT` says that the page told so. A rise in psi is recorded in kPa: the
    record of a leak test knows no psi.
    """

    legend = "The rate is computed from the rise and its duration, and held against the limit (the limit included)."
    WHEN_SENT = "when it is sent"
    confirmable = True
    seldom = ("run_by", "paper")

    rise = Number("Pressure rise", places=3, digits=8, required=True)
    unit_of_measure = Choice("Measured in", (*KPA, "psi"))
    minutes = Number("Over how many minutes", digits=5, required=True)
    limit = Number("Limit in kPa/min", places=4, digits=8, required=True, initial=LEAK_LIMIT)
    limit_source = Line("Source of the limit", longest=200, required=True, initial=LEAK_LIMIT_SOURCE)
    settling = Number("Minutes to settle before", digits=5)
    start_pressure = Number("Pressure at the start, absolute, in kPa", places=2, digits=7)
    start_temperature = Measured("Temperature at the start", "°C", digits=5)
    purpose = purpose_field()
    run_by = Line("Run by", longest=200, help_text=PERSON)
    seen_rate = forms.CharField(required=False, widget=forms.HiddenInput)

    # (rate, limit, "pass" or "fail") of what was typed, both in kPa a minute; None before that can be said.
    shown = None

    def _in_kpa(self, values: dict) -> dict:
        if values.get("unit_of_measure") != "psi":
            return values
        step = Decimal(1).scaleb(-self.fields["rise"].decimal_places)
        rise = convert(values["rise"], "psi", "kPa", _PLACES).quantize(step, ROUND_CEILING)
        return values | {"rise": rise, "unit_of_measure": "kPa"}

    def values(self) -> dict:
        values = self._in_kpa(super().values())
        del values["seen_rate"]
        return values

    def clean(self):
        values = super().clean()
        rise, minutes, limit = (values.get(name) for name in ("rise", "minutes", "limit"))
        if None in (rise, minutes, limit) or minutes <= 0 or rise < 0 or not values.get("unit_of_measure"):
            return values
        told = self._in_kpa(values)
        rate = leak_rate(told["rise"], told["unit_of_measure"], minutes)
        self.shown = (f"{rate:f}", f"{limit:f}", leak_result(rate, limit))
        if values.get("seen_rate") not in (self.shown[0], self.WHEN_SENT):
            self.add_error(
                None, f"The rate is {rate:f} kPa a minute, the limit {limit:f}: {self.shown[2]}. Look at it, then "
                "press the button again to record it.",
            )  # fmt: skip
            self.data = self.data.copy()
            self.data["seen_rate"] = self.shown[0]
        return values


class LoadForm(OnUnit):
    confirmable = True
    beside = (
        ("held_packs", "held_pouches", "held_cassettes"),
        ("exposure_minutes", "exposure_temperature", "exposure_pressure"),
    )
    seldom = ("loaded_by", "run_by", "minutes", "paper")

    cycle_number = Line("Cycle number", longest=40, required=True)
    program = Remembered("Program", longest=60, required=True)
    held_packs = Whole("Wrapped packs", largest=9999)
    held_pouches = Whole("Pouches", largest=9999)
    held_cassettes = Whole("Cassettes", largest=9999)
    contents = Line(
        "Contents", longest=300, help_text="By number or description. Never name or describe a person treated."
    )
    implant = Tick("Held an implant")
    mechanical = Choice("Gauges and printout", CHECKED, required=False, blank="not noted")
    exposure_minutes = Number("Exposure in minutes", digits=5)
    exposure_temperature = Measured("Exposure temperature", "°C", digits=5)
    exposure_pressure = Measured("Exposure pressure", "kPa", digits=6)
    chemical = Choice("Chemical indicators", CHECKED, required=False, blank="not noted")
    packs = Choice("Packs when taken out", ("dry", "wet", "not recorded"), required=False, blank="not noted")
    pack_condition = Choice("Wrapping", ("intact", "damaged", "not recorded"), required=False, blank="not noted")
    loaded_by = Remembered("Loaded by", longest=200)
    minutes = Number("Use time of the cycle in minutes", digits=6)
    decision = Choice("Decision on the load", DECISIONS, required=False, blank="none yet")
    reason = Line("Reason of the decision", longest=300, help_text="Needed when it is rejected.")
    run_by = Line("Run by", longest=200, help_text=PERSON)


class LoadReleaseForm(Transcribed):
    """The decision on a load that was logged without one. `against`: what judgement says against its release."""

    confirmable = True
    seldom = ("decided_by", "paper")

    decision = Choice("Decision on the load", DECISIONS)
    reason = Line("Reason", longest=300, help_text="Needed when it is rejected.")
    decided_by = Line("Decided by", longest=200, help_text=PERSON)

    def __init__(self, *args, against: tuple[str, ...] = (), **kwargs):
        super().__init__(*args, **kwargs)
        self.against = against
        if against:
            self.fields["reason"].help_text = "Needed when it is rejected, and for a release all the same."

    def values(self) -> dict:
        return super().values() | {"against": self.against}


class UserCheckForm(OnUnit):
    confirmable = True
    seldom = ("paper",)

    kind = Choice("Check", UserCheck._meta.get_field("kind").choices)
    result = Choice("Result", ("pass", "fail", "not done"))
    value = Number("Value read", places=3, digits=10)
    unit_of_measure = Line("Measured in", longest=20)
    cycle_number = Line("Cycle number", longest=40)
    cycle_type = Line("Cycle", longest=60, help_text="The program as the unit names it, such as wrapped.")
    purpose = purpose_field()
    signed_by = Line("Signed by", longest=200, help_text="The full name. Leave blank when nobody signed.")
    note = Lines("Note", help_text="Needed when it was not done: why not.")


class IndicatorLotForm(EntryForm):
    legend = "A box of indicators, as its label reads."

    kind = Choice("Kind", IndicatorLot._meta.get_field("kind").choices)
    name = Line("Name on the box", required=True)
    lot = Line("Lot as printed", longest=60, required=True)
    on = Day("Received on")
    expiry = Day("Use by", required=False, help_text="Leave blank when it is not printed.")
    lot.widget.attrs["data-scan"] = "lot"
    expiry.widget.attrs["data-scan-fill"] = "expiry"
    incubation_hours = Whole("Least hours of incubation", largest=999, help_text="Biological indicators only.")
    incubation_low = Measured("Incubation from", "°C", digits=4)
    incubation_high = Measured("Incubation to", "°C", digits=4)
    chemical_type = Choice(
        "Type of chemical indicator",
        [(n, f"type {n}") for n in range(1, 7)],
        required=False,
        blank="not a chemical indicator",
        coerce=int,
        empty_value=None,
    )

    def clean(self):
        values = super().clean()
        if values.get("incubation_hours") is None:
            values["incubation_hours"] = 0
        low, high = values.get("incubation_low"), values.get("incubation_high")
        if low is not None and high is not None and low > high:
            raise forms.ValidationError("The incubation range runs backwards. Check both temperatures.")
        return values
