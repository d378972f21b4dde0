"""The page of a visit on which a kit is accounted for, piece by piece, and what a template asks to be measured.

Every piece of the bag has its own line: what became of it, its own lot, where it was put. So none is lost and none is
counted twice, with or without a signal. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

from audit.binder.blank_forms.about import FormSubject
from audit.facts import ReadingFact, Row
from records.forms.fields import Choice, Line, Tick
from records.log.kit_rules import kits_of
from records.models import Kit
from records.models.visits import FITTED, KIT_FATES

from .asked import Demand, LastDay
from .forms import EXPIRED, OLD_PARTS, StepForm, expired_tick, last_days_of, radio

MOST_KITS = 8  # on one page: those that may fit the unit
OF_A_PIECE = ("fate", "lot", "printed", "no_lot", "old", "position")
_LOT = "Which lot was fitted? Choose it, type it as printed, or tick that none is printed."


class KitUsedForm(StepForm):
    """One bag. `k0p1_…` are the fields of the second piece of the first kit offered."""

    kit = radio("Which kit was opened", [])

    def fit(self):
        self.fields["kit"].choices = [(kit.name, kit.name) for kit in self.unit.kits]
        for name, part in self._pieces():
            self.fields[f"{name}_fate"] = radio(f"{part.name}: what became of it", KIT_FATES, required=False)
            choices = [(str(lot.origin), _lot_words(lot)) for lot in self._lots(part)]
            self.fields[f"{name}_lot"] = radio("Lot, from own stock", choices, required=False)
            self.fields[f"{name}_printed"] = Line("Lot as printed, if it is none of these", longest=80)
            self.fields[f"{name}_no_lot"] = Tick("No lot is printed or readable")
            self.fields[f"{name}_old"] = radio("The old part was", OLD_PARTS, required=False)
            places = self._places(part)
            self.fields[f"{name}_position"] = Choice("Where", places, required=False, blank="not a listed position")
            if len(places) == 1 and not self.is_bound:
                self.initial.setdefault(f"{name}_position", places[0][0])
        self.fields["expired_fitted"] = expired_tick()

    def _lots(self, part) -> list:
        return [lot for lot in self.unit.lots if lot.part.origin == part.origin]

    def _pieces(self):
        """(name of its fields, the kind of part) of every piece of every kit offered."""
        for k, kit in enumerate(self.unit.kits):
            every = (row.part for row in kit.list for _ in range(row.quantity))
            yield from ((f"k{k}p{n}", part) for n, part in enumerate(every))

    def _places(self, part) -> list[tuple[str, str]]:
        here = self.unit.about.unit.positions
        same = [p for p in here if p.component == part.component]
        return [(p.row.origin, p.name) for p in (same or here)]

    def kits(self) -> list[dict]:
        """Each kit with the fields of its pieces, for the page."""
        rows = [
            (name, {"part": part} | {each: self[f"{name}_{each}"] for each in OF_A_PIECE})
            for name, part in self._pieces()
        ]
        chosen = self["kit"].value()
        return [
            {"kit": kit, "open": chosen == kit.name or len(self.unit.kits) == 1,
             "pieces": [row for name, row in rows if name.startswith(f"k{k}p")]}
            for k, kit in enumerate(self.unit.kits)
        ]  # fmt: skip

    def needs(self):
        found = []
        for name, part in self._pieces():
            of_kit, fitted = self._cases(name)
            words = f"What became of {part.name}? Every piece of the kit has an answer."
            found += [
                Demand(f"{name}_fate", words, (of_kit,)),
                Demand(f"{name}_lot", _LOT, fitted, (f"{name}_printed", f"{name}_no_lot")),
                Demand(f"{name}_old", "What became of the old part?", fitted),
            ]
        return found

    def _cases(self, name: str) -> tuple[dict, tuple[dict, ...]]:
        """When the kit of that piece is the one opened; when the piece was fitted besides."""
        of_kit = {"kit": (self.unit.kits[int(name[1 : name.index("p")])].name,)}
        return of_kit, (of_kit | {f"{name}_fate": (FITTED,)},)

    def last_days(self):
        pieces = ((name, last_days_of(self._lots(part))) for name, part in self._pieces())
        return [
            LastDay(f"{name}_lot", EXPIRED, days, self._cases(name)[1], ("expired_fitted",))
            for name, days in pieces
            if days
        ]

    def clean(self):
        values = super().clean()
        values["pieces"] = [self._piece(name, part, values) for name, part in self._of_chosen(values.get("kit"))]
        return values

    def _of_chosen(self, chosen):
        for k, kit in enumerate(self.unit.kits):
            if kit.name == chosen:
                yield from ((n, p) for n, p in self._pieces() if n.startswith(f"k{k}p"))

    @staticmethod
    def _piece(name: str, part, values: dict) -> dict:
        said = {each: values.get(f"{name}_{each}") for each in OF_A_PIECE}
        return said | {"name": part.name, "number": part.number}


def _lot_words(lot) -> str:
    printed = f"lot {lot.lot}" if lot.lot else f"receipt lot {lot.receipt_lot}"
    expiry = f", expires {lot.expiry.isoformat()}" if lot.expiry else ""
    doubt = f", {lot.doubt}" if getattr(lot, "doubt", "") else ""
    return f"{printed}{expiry}{doubt}"


def kits_for(kits: list[Kit], about: FormSubject) -> list[Kit]:
    """Those that hold a part of a component which the unit has, else all; the first few by name."""
    components = {p.component for p in about.unit.positions}
    fitting = [kit for kit in kits if any(row.part.component in components for row in kit.list)]
    return (fitting or kits)[:MOST_KITS]


def kits_in_books(ground) -> list[Kit]:
    """The kits of whose books the account enters: its company's, or the clinic's own."""
    return kits_of(ground.books)


def with_asked(taken: list[ReadingFact], asked: list, on: date, now: datetime) -> list[ReadingFact]:
    """The readings of a visit: those taken before, under the limits that hold now, and those never taken."""
    limits = {(row.quantity, row.point): row for row in asked}
    found = [_limited(reading, limits.pop((reading.quantity, reading.point), None)) for reading in taken]
    blank = Row("", "", 0, 0, on, None, now)
    never = (
        ReadingFact(blank, r.quantity, r.unit_of_measure, r.point, None, None, None, None, "", "", None)
        for r in limits.values()
    )
    return [*found, *(_limited(reading, row) for reading, row in zip(never, limits.values(), strict=True))]


def _limited(reading: ReadingFact, row) -> ReadingFact:
    if row is None or row.unit_of_measure != reading.unit_of_measure:
        return reading
    low, high = (None if x is None else x.normalize() for x in (row.lower, row.upper))
    return replace(reading, lower=low, upper=high, limit_source=row.limit_source)
