"""Forms of the register: a new unit with its positions and plan, its events, what is fitted."""

from __future__ import annotations

from django import forms

from records.log.withdrawals import offered
from records.models import LoanerHere
from records.models.units import ACTIONS, EQUIPMENT_TYPES, REPAIR_CLASSES, Fit

from .base import Dated, EntryForm, Refusable, positions_of
from .fields import Choice, Day, Line, Lines, Measured, Number, OneOf, Remembered, Tick, Whole

LEFT = ("loaner out", "taken back by who lent it")  # where the company itself cannot say so here any more
STATES = Fit._meta.get_field("state").choices


class UnitEventForm(Dated):
    legend = (
        "Taking a unit out of service is one step. Its return is judged from tests and repairs, not from this form."
    )

    kind = Choice(
        "What happened",
        [
            ("withdrawn", "taken out of service"),
            ("returned", "returned to use"),
            ("relocated", "relocated"),
            ("decommissioned", "decommissioned"),
        ],
    )
    ends = OneOf(
        "Which withdrawal it ends",
        required=False,
        blank="none, or it is no return",
        unknown="That withdrawal is not one of this unit’s that stand. Choose one of the list.",
        name=lambda event: f"out since {event.happened_on}: {event.reason}",
    )
    reason = Lines("Reason", help_text="Needed for taking out, returning and decommissioning.")

    confirmable = True

    def __init__(self, *args, unit=None, **kwargs):
        super().__init__(*args, **kwargs)
        named = self.data.get("ends", "")
        standing = offered(unit, self.ground.today, named) if unit is not None else []
        if unit is not None and LoanerHere.objects.in_force().filter(unit=unit).exists():
            self.fields["kind"].choices = [*self.fields["kind"].choices, LEFT]
        if standing:
            self.fields["ends"].take(standing)
        else:
            del self.fields["ends"]


class FitForm(EntryForm):
    legend = "Whether a position of the unit has its part, from a day on."

    position = OneOf("Position", name=lambda p: f"{p.unit.label}: {p.name}")
    state = Choice("Fitted", STATES)
    effective_on = Day("From which day on")
    note = Line("Note", longest=300)

    def __init__(self, *args, unit=None, **kwargs):
        super().__init__(*args, **kwargs)
        units = {u.pk: u for u in self.ground.units() if unit is None or u.pk == unit.pk}
        places = positions_of(*units)
        for position in places:
            position.unit = units[position.unit_id]
        order = list(units)
        self.fields["position"].take(sorted(places, key=lambda p: order.index(p.unit_id)))
        self.initial.setdefault("effective_on", self.ground.today)


class ProgramForm(EntryForm):
    legend = (
        "What a program must reach in its exposure, out of the maker’s instructions. A load that reached less "
        "is asked about, and does not pass."
    )
    confirmable = True

    name = Remembered("Program", longest=60, required=True)
    exposure_minutes = Number("Least exposure in minutes", digits=5)
    temperature_low = Measured("Temperature from", "°C", digits=5)
    temperature_high = Measured("Temperature to", "°C", digits=5)
    pressure_low = Measured("Pressure from", "kPa", digits=6)
    pressure_high = Measured("Pressure to", "kPa", digits=6)
    source = Line("Source", longest=200, required=True)
    effective_on = Day("From which day on")
    retired = Tick("This program is not run any more")

    def __init__(self, *args, used=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["name"].offer(used)
        self.initial.setdefault("effective_on", self.ground.today)


class UnitForm(EntryForm):
    legend = "The plate of the unit, where it stands, what sits on it, and what is planned for it."

    FIELD_OF = EntryForm.FIELD_OF | {"name": "label"}

    label = Line("Number or name on the unit", longest=60, required=True)
    maker = Line("Maker, as on the plate", required=True)
    model = Line("Model, as on the plate", required=True)
    serial = Line("Serial number", longest=60, required=True)
    equipment_type = Choice("Type of sterilizer", EQUIPMENT_TYPES)
    chamber_litres = Number("Chamber in litres", digits=6, required=True)
    udi = Line("UDI (unique device identifier)", longest=120, help_text="If the unit carries one.")
    room = Line("Room", required=True)
    on = Day("Stands here since")
    installed = Tick("Log it as installed on that day", help_text="Without this, duties have no day to count from.")
    historic = Line("Copied from paper: which page", longest=300)

    PLATE = ("label", "maker", "model", "serial", "equipment_type", "chamber_litres", "udi")

    def values(self) -> dict:
        values = super().values()
        values["unit"] = {name: values.pop(name) for name in self.PLATE}
        return values


class PositionRow(Refusable):
    code = forms.SlugField(
        label="Code",
        max_length=60,
        error_messages={
            "required": "The position needs a short code. Enter one, such as door-seal.",
            "invalid": "A code has letters, digits and hyphens only, such as door-seal.",
        },
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    name = Line("Position", required=True)
    component = Line("Component", longest=60, required=True)
    fit = Choice("Fitted", STATES)
    note = Line("Note", longest=300)


class PlanRow(Refusable):
    code = forms.SlugField(
        label="Code",
        max_length=60,
        error_messages={
            "required": "The plan line needs a short code. Enter one, such as replace-seal.",
            "invalid": "A code has letters, digits and hyphens only, such as replace-seal.",
        },
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    title = Line("What is to be done", longest=160, required=True)
    position = Line("Position code", longest=60, help_text="Blank for the whole unit.")
    action = Choice("Action", ACTIONS)
    months = Whole("Every … months", largest=600)
    cycles = Whole("Every … cycles")
    hours = Whole("Every … hours")
    source = Line("Source", longest=200, required=True, help_text="Which document says so.")
    edition = Line("Edition", longest=60)
    rule = Line("Rule for leaving or replacing", longest=500)
    repair_class = Choice("Repair class", REPAIR_CLASSES, initial="A")
