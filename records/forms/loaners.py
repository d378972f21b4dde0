"""Forms of loaners: a unit to lend, lent to a clinic, back again, not lent any more."""

from __future__ import annotations

from records.log.loaners import PoolLine, pool_of
from records.log.templates import offered
from records.models import StockPlace
from records.models.units import EQUIPMENT_TYPES
from records.wording import CONTAMINATION

from .base import EntryForm, standing_rows
from .fields import Choice, Day, Line, Number, OneOf, Whole

_A_STORE = "One of your stores. A new one is added on the page of parts."
_UNKNOWN_PLACE = "That is no place of yours. Choose one of the list."


def stores_of(books) -> list[StockPlace]:
    """The stores of the books by name: a unit stands in a store, never in a van."""
    return standing_rows(StockPlace.objects.filter(owner=books.pk, kind="store").order_by("name", "id"))


def _only(field: OneOf, initial: dict, name: str, rows: list) -> None:
    """Offer the rows; the only one there is stands chosen."""
    field.take(rows)
    if len(rows) == 1 and field.required:
        initial.setdefault(name, rows[0])


class PoolUnitForm(EntryForm):
    legend = "A unit of your own that you lend. Its plate comes from its template, where there is one."

    label = Line("Number or name on the unit", longest=60, required=True, help_text="What your people call it.")
    serial = Line("Serial number", longest=60, required=True, help_text="Off the plate, letter by letter.")
    template = OneOf(
        "Template", required=False, blank="none", name=str, help_text="Then the plate below stays blank."
    )
    maker = Line("Maker, as on the plate", help_text="Only without a template.")
    model = Line("Model, as on the plate", help_text="Only without a template.")
    equipment_type = Choice(
        "Type of sterilizer", EQUIPMENT_TYPES, required=False, help_text="Only without a template."
    )
    chamber_litres = Number("Chamber in litres", digits=6, help_text="Only without a template.")
    udi = Line("UDI (unique device identifier)", longest=120, help_text="If the unit carries one.")
    place = OneOf("In which store", unknown=_UNKNOWN_PLACE, help_text=_A_STORE)
    on = Day("Lent from which day on", help_text="The first day on which it can go to a clinic.")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["template"].take(offered(self.ground.books))
        _only(self.fields["place"], self.initial, "place", stores_of(self.ground.books))


class _InStore:
    """A free unit as it is offered: by its own ref, with the store where it stands."""

    def __init__(self, line: PoolLine) -> None:
        self.line, self.ref, self.unit = line, line.unit.ref, line.unit

    def __str__(self) -> str:
        return f"{self.unit.label}, {self.unit.model}, serial {self.unit.serial}; in {self.line.place.name}"


class LendForm(EntryForm):
    """A unit of the pool goes to the clinic of the page, in place of one of its own or of none."""

    legend = (
        "The loaner becomes a unit of this clinic’s record, with its plan. It is out of service until somebody has "
        "installed and proved it here and returns it to use. The unit that it stands in for is taken out of service."
    )

    pool_unit = OneOf(
        "Which loaner", unknown="That unit is not free. Choose one of the list.", help_text="Those free."
    )
    in_place_of = OneOf(
        "In place of", required=False, blank="none, it stands beside the others", name=lambda u: u.label,
        help_text="Choose none where no unit of the clinic is replaced.",
    )  # fmt: skip
    to_store = OneOf(
        "That unit", required=False, blank="stays at the clinic, out of service", unknown=_UNKNOWN_PLACE,
        name=lambda p: f"is taken along to {p.name}", help_text="Where it goes meanwhile.",
    )  # fmt: skip
    on = Day("On which day", help_text="The day on which it stands at the clinic.")
    room = Line("Room", required=True, help_text="Where it stands there.")
    label = Line("Number or name there", longest=60, help_text="Blank: as in the pool.")
    cycles = Whole("Cycle counter now", help_text="As the display shows it: cycles at this clinic count from here.")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        books = self.ground.rights.company
        free = [_InStore(line) for line in pool_of(books) if line.free]
        _only(self.fields["pool_unit"], self.initial, "pool_unit", free)
        self.fields["in_place_of"].take(self.ground.units())
        self.fields["to_store"].take(stores_of(books))

    def values(self) -> dict:
        values = super().values()
        return values | {"pool_unit": values["pool_unit"].unit}


class LoanBackForm(EntryForm):
    legend = "The loaner is back. Its record at the clinic stays there and says that it left."

    on = Day("On which day", help_text="The day on which it left the clinic.")
    place = OneOf("To which store", unknown=_UNKNOWN_PLACE, help_text=_A_STORE)
    contamination = Choice("Handed over", CONTAMINATION, help_text="As the clinic declares it in writing.")
    brought_by = Line("Who took it back", longest=200, help_text="Blank when it was you.")
    note = Line("Note", longest=300, help_text="What the next one should know, such as a dent or a missing tray.")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        _only(self.fields["place"], self.initial, "place", stores_of(self.ground.books))


class PoolUnitEndForm(EntryForm):
    legend = "It is not offered any more. Its history stays."

    on = Day("From which day on", help_text="The first day on which it is not lent.")
    reason = Line("Why", longest=300, required=True, help_text="Such as sold, scrapped.")
