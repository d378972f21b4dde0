"""Forms of the books: credentials, instruments and their calibrations, part recall notices."""

from __future__ import annotations

from records.models import Calibration, Credential, PartRecall

from .base import EntryForm
from .fields import Choice, Day, Line, Lines, OneOf


class CredentialForm(EntryForm):
    kind = Choice("Kind", Credential._meta.get_field("kind").choices)
    title = Line("Title on the paper", longest=200, required=True)
    person = Line("Whose", longest=200, help_text="Leave blank when it is yours.")
    valid_from = Day("Valid from")
    valid_to = Day("Last valid day", required=False, help_text="Leave blank when the paper states no end.")


class InstrumentForm(EntryForm):
    legend = "A measuring instrument. Readings name it by its name here."

    name = Line("Name", longest=120, required=True)
    kind = Line("What it is", longest=60, required=True, help_text="Such as pressure gauge or thermometer.")
    serial = Line("Serial number", longest=80)
    on = Day("In use since")


class CalibrationForm(EntryForm):
    instrument = OneOf("Instrument", unknown="That instrument is not in your books. Add it first.")
    on = Day("Day of the calibration")
    certificate = Line("Certificate number", longest=120, required=True)
    result = Choice("Result", Calibration._meta.get_field("result").choices)
    as_found = Lines("As found, with the unit of measure", longest=300)
    valid_to = Day("Last day it holds")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["instrument"].take(self.ground.instruments())


class PartRecallForm(EntryForm):
    legend = "A notice that a part is in doubt. A number or lot left blank means all of them."

    on = Day("Received on")
    part = Line("Part", longest=160, required=True)
    number = Line("Part number as printed", longest=80)
    lot = Line("Lot as printed", longest=80)
    made_from = Day("From", required=False, help_text="Leave blank when the notice names no first day.")
    made_to = Day("To, that day included", required=False, help_text="Leave blank when it names no last day.")
    issued_by = Line("Issued by", longest=160, required=True)
    reason = Lines("Reason", required=True)
    action = Choice("What the notice asks for", PartRecall._meta.get_field("action").choices)
