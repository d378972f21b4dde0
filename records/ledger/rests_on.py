"""On which entries of other ledgers a clinic's record rests: whatever its rows point to, and what was said of that.

A unit that came from elsewhere was registered there; a lot, an instrument, a part stand in the books of a company.
An entry comes whole, as its hash covers all of it, and what it points to comes along.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from records.ledger import taken_out
from records.models import (
    Agreement,
    Calibration,
    Clinic,
    Credential,
    IndicatorLot,
    Instrument,
    Ledger,
    NameErasure,
    PartRecall,
    PersonText,
    Voiding,
    fact_models,
)

# Books of a company that hold for every clinic that it serves or served.
BOOKS = (Calibration, Credential, IndicatorLot, Instrument, PartRecall)
_SOME = 400
Pointed = dict[type, set[int]]


class RestsOn:
    """Gathers what entries point to; `entries()` are those of other ledgers that are needed for it.

    `numbers` are the last entries that count, by organisation: what is logged later is not taken.
    """

    def __init__(self, clinic: Clinic, numbers: Mapping[int, int]):
        self.clinic, self.numbers = clinic, numbers
        self.pointed: Pointed = defaultdict(set)
        self.facts: Pointed = defaultdict(set)  # those of the entries taken
        self.foreign: Pointed = defaultdict(set)  # those among them of other ledgers
        self.taken: set[int] = set()

    def learn(self, entry: taken_out.EntryTaken) -> None:
        """Remember what an entry points to, and what it holds."""
        self.taken.add(entry.at)
        self.pointed[type(self.clinic)].add(entry.organisation)
        for model, keys in entry.points_to.items():
            self.pointed[model] |= keys
        for model, keys in entry.own.items():
            self.facts[model] |= keys
            if entry.organisation != self.clinic.pk:
                self.foreign[model] |= keys

    def entries(self) -> list[int]:
        """The keys of the entries of other ledgers, in the order in which they were written."""
        others: set[int] = set()
        new = self._books() | self._wanted()
        while new:
            others |= new
            for keys in _parts(sorted(new)):
                for entry in taken_out.of_keys(keys):
                    self.learn(entry)
            new = self._wanted()
        return sorted(others)

    def _wanted(self) -> set[int]:
        """Entries, none of them taken yet, with rows that are pointed to, correct one that is, or take one back."""
        found: set[int] = set()
        for model in fact_models():
            gone = self.pointed[model] - self.facts[model]
            found |= self._holding(model.objects, "pk__in", gone)
            found |= self._holding(model.objects.exclude(amends=None), "amends__in", self.foreign[model])
            origins = (
                model.objects.filter(pk__in=some).values("origin") for some in _parts(sorted(self.foreign[model]))
            )
            for of_some in origins:
                found |= self._new(Voiding.objects.filter(target__in=of_some))
        found |= self._holding(NameErasure.objects, "name__in", self.pointed[PersonText])
        return found

    def _books(self) -> set[int]:
        companies = Agreement.objects.filter(clinic=self.clinic.pk).values("company")
        return set().union(*(self._new(model.objects.filter(owner__in=companies)) for model in BOOKS))

    def _holding(self, rows, lookup: str, keys: Iterable[int]) -> set[int]:
        found: set[int] = set()
        for some in _parts(sorted(keys)):
            found |= self._new(rows.filter(**{lookup: some}))
        return found

    def _new(self, rows) -> set[int]:
        pairs = rows.values_list("entry_id", "entry__number", "entry__ledger__organisation_id").distinct()
        return {
            entry for entry, number, whose in pairs
            if entry not in self.taken and whose != self.clinic.pk and number <= self.numbers.get(whose, number)
        }  # fmt: skip


def _parts(keys: list[int]) -> Iterable[list[int]]:
    return (keys[at : at + _SOME] for at in range(0, len(keys), _SOME))


def last_numbers() -> dict[int, int]:
    """The number of the newest entry of each ledger, by organisation."""
    return dict(Ledger.objects.values_list("organisation_id", "number"))
