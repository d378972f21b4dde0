"""Forms of kits: what lies in one, and some that came. Their ground has `books` and `today`."""

from __future__ import annotations

from records.log.errors import InputPlace
from records.log.kit_rules import kits_of
from records.models import Part

from .base import EntryForm, standing_rows
from .fields import Day, Line, OneOf, Whole
from .stock import PIECES_AT_MOST, places_to_choose

ROWS, MORE = 8, 4
MOST_PIECES = 500


class KitForm(EntryForm):
    """`kit` is the one whose list is changed, None for a new one."""

    legend = (
        "What lies in one bag, and how many pieces of each. In a visit every piece is accounted for: fitted, left "
        "out, the old one kept, or not in the bag."
    )

    name = Line("Name", longest=120, required=True, help_text="As your people call it, such as two-year kit.")
    number = Line("Kit number as printed", longest=80, help_text="Letter by letter, where one is printed.")

    def __init__(self, *args, kit=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.beside = ()
        parts = standing_rows(Part.objects.filter(owner=self.ground.books.pk).order_by("name", "id"))
        held = [(row.part.origin, row.quantity) for row in kit.list] if kit else []
        for n in range(max(ROWS, len(held) + MORE)):
            self.fields[f"part_{n}"] = OneOf(
                f"Part {n + 1}", parts, required=False, blank="none", name=lambda p: f"{p.name} {p.number}".strip(),
                unknown="That part is not in your books. Add it first.",
            )  # fmt: skip
            self.beside = (*self.beside, (f"part_{n}", f"quantity_{n}"))
            self.fields[f"quantity_{n}"] = Whole(f"Pieces of part {n + 1}", largest=MOST_PIECES)
        if kit:
            self.initial |= {"name": kit.name, "number": kit.number}
            for n, (origin, quantity) in enumerate(held):
                self.initial |= {f"part_{n}": str(origin), f"quantity_{n}": quantity}

    def _rows(self) -> list[int]:
        numbers = (int(name.removeprefix("part_")) for name in self.fields if name.startswith("part_"))
        return [n for n in numbers if self.cleaned_data.get(f"part_{n}")]

    def clean(self):
        values = super().clean()
        for name in [each for each in self.fields if each.startswith("part_")]:
            pieces = name.replace("part_", "quantity_")
            if values.get(pieces) and not values.get(name) and name not in self.errors:
                self.add_error(name, "Which part? Choose it, or clear the number beside it.")
        return values

    def values(self) -> dict:
        values = super().values()
        components = [(values[f"part_{n}"], values[f"quantity_{n}"]) for n in self._rows()]
        return {"name": values["name"], "number": values["number"], "components": components}

    def refuse(self, place, message, confirm=""):
        place = InputPlace.named(place) if isinstance(place, str) else place
        match place.parts:
            case ("components", int(n), str(field)):
                super().refuse(f"{field}_{self._rows()[n]}", message, confirm)
            case _:
                super().refuse(place, message, confirm)


class KitReceivedForm(EntryForm):
    """Some kits came: of each component its own lot."""

    legend = (
        "A receipt of each component, with its own lot as printed on the piece. Without a printed lot a piece is "
        "traced by your own receipt number."
    )

    on = Day("Received on")
    receipt_lot = Line(
        "Own receipt number", longest=80, required=True, help_text="The same for every piece of these kits."
    )
    kits = Whole(
        "How many kits came", required=True, largest=PIECES_AT_MOST // MOST_PIECES, help_text="Of this list."
    )
    place = OneOf(
        "Put where", unknown="That is no place of yours. Choose one of the list.",
        help_text="One of your stores and vans. A new one is added on the page of parts.",
    )  # fmt: skip

    def __init__(self, *args, kit, **kwargs):
        super().__init__(*args, **kwargs)
        self.kit = kit
        places = places_to_choose(self.ground)
        self.fields["place"].take(places)
        if len(places) == 1:
            self.initial.setdefault("place", places[0])
        for n, row in enumerate(kit.list):
            self.fields[f"lot_{n}"] = Line(
                f"{row.part.name}: lot as printed",
                longest=80,
                help_text="Letter by letter. Blank when none is printed.",
            )
            self.fields[f"expiry_{n}"] = Day(
                f"{row.part.name}: to be fitted by", required=False, help_text="Leave blank when none is printed."
            )

    def values(self) -> dict:
        values = super().values()
        lots = {
            row.origin: {"lot": values.pop(f"lot_{n}"), "expiry": values.pop(f"expiry_{n}")}
            for n, row in enumerate(self.kit.list)
        }
        return values | {"lots": lots}


def kit_of_books(books, ref):
    """The kit of the books by the ref of its row, as its list stands now; None where there is none."""
    return next((kit for kit in kits_of(books) if str(kit.origin) == str(ref)), None)
