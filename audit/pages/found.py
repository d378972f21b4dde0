"""Finding units, lots, clinics, papers and cycles by what is printed on them, within what an account may see.

The words are looked for as they were typed, anywhere in the field; letters of A to Z in either size. The same number
of queries whatever is found.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import islice

from django.db.models import CharField, OuterRef, Q, Subquery, Value
from django.urls import reverse

from records import access
from records import models as m

from .found_marks import marks_of_fitted, marks_of_lots

LEAST, LONGEST = 2, 100  # letters
EACH = 20  # found in one group


@dataclass(frozen=True, slots=True)
class FoundLine:
    """One line: what it is, where, its page ("" where it has none), and the day that it is of."""

    title: str
    about: str
    address: str
    day: object = None


@dataclass(frozen=True, slots=True)
class Group:
    """What was found of one kind, at most EACH; `more` whether there are others."""

    title: str
    lines: tuple[FoundLine, ...]
    more: bool


class _Sight:
    """What the account may see: its clinics by id, and the organisations whose books it may look into."""

    def __init__(self, account: m.Account):
        self.clinics = {c.pk: c for c in access.clinics_of(account)}
        self.owners = {*self.clinics, *access.companies_of(account).values_list("pk", flat=True)}

    @cached_property
    def notices(self) -> list:
        """The recall notices in force in the books the account may look into, and of who serves its clinics."""
        serving = access.agreements().filter(clinic__in=self.clinics).values("company_id")
        owned = Q(owner__in=self.owners) | Q(owner__in=serving)
        return list(m.PartRecall.objects.in_force().filter(owned).order_by("happened_on", "id"))

    def name(self, clinic_id: int) -> str:
        return self.clinics[clinic_id].name

    def record(self, clinic_id: int, kind: str, ref) -> str:
        return reverse("record", args=[self.clinics[clinic_id].slug, kind, ref])


def search(account: m.Account, words: str) -> list[Group]:
    """The groups in which something was found, in the order of a page; none for fewer than LEAST letters."""
    words = words.strip()[:LONGEST]
    if len(words) < LEAST:
        return []
    sight = _Sight(account)
    made = (
        ("Units", _units), ("Clinics", _clinics), ("Boxes of indicators", _indicator_lots), ("Spore tests", _of_lot),
        ("Parts fitted", _parts_fitted), ("Parts in stock", _parts_in_stock),
        ("Parts on units with it", _parts_of_units), ("Cycles of units with it", _cycles_of_units),
        ("Papers on file", _documents), ("Cycle numbers", _cycles),
    )  # fmt: skip
    groups = (_group(title, find(sight, words)) for title, find in made)
    return [group for group in groups if group.lines]


def _group(title: str, found) -> Group:
    lines = tuple(islice(found, EACH + 1))
    return Group(title, lines[:EACH], len(lines) > EACH)


def _any(words: str, *names: str) -> Q:
    wanted = Q()
    for name in names:
        wanted |= Q(**{f"{name}__icontains": words})
    return wanted


def _units(sight: _Sight, words: str):
    """By label, serial, model or UDI, at the clinic where each stands now."""
    at = m.Placement.objects.in_force().filter(unit__origin=OuterRef("origin")).order_by("-effective_on", "-id")
    rows = m.Unit.objects.in_force().annotate(at=Subquery(at.values("clinic_id")[:1]))
    rows = rows.filter(_any(words, "label", "serial", "model", "udi"), at__in=list(sight.clinics))
    for row in rows.order_by("label", "id")[: EACH + 1]:
        address = reverse("unit", args=[sight.clinics[row.at].slug, row.origin])
        yield FoundLine(
            f"{row.label}, serial {row.serial}", f"{row.maker} {row.model}, {sight.name(row.at)}", address
        )


def _clinics(sight: _Sight, words: str):
    for clinic in sight.clinics.values():
        if words.lower() in clinic.name.lower():
            yield FoundLine(clinic.name, "", reverse("clinic", args=[clinic.slug]))


def _indicator_lots(sight: _Sight, words: str):
    rows = m.IndicatorLot.objects.in_force().filter(_any(words, "lot", "name"), owner_id__in=sight.owners)
    for row in rows.order_by("-happened_on", "-id").select_related("owner")[: EACH + 1]:
        address = sight.record(row.owner_id, "indicatorlot", row.origin) if row.owner_id in sight.clinics else ""
        yield FoundLine(
            f"{row.name}, lot {row.lot}", f"{row.kind} indicator, {row.owner.name}", address, row.happened_on
        )


def _of_lot(sight: _Sight, words: str):
    """Spore tests run with a lot, of the test or of its control."""
    rows = m.BioTest.objects.in_force().filter(_any(words, "lot__lot", "control_lot__lot"), clinic__in=sight.clinics)
    for row in rows.order_by("-happened_on", "-id").select_related("lot", "unit")[: EACH + 1]:
        about = f"{row.unit.label}, {sight.name(row.clinic_id)}"
        title = f"Spore test with lot {row.lot.lot}"
        yield FoundLine(title, about, sight.record(row.clinic_id, "biotest", row.origin), row.happened_on)


def _parts_fitted(sight: _Sight, words: str):
    """By lot, receipt, number or name in any version: one that was corrected is found by what it said before, too."""
    named = m.FittedPart.objects.filter(_any(words, "lot", "receipt_lot", "number", "name"), clinic__in=sight.clinics)
    rows = m.FittedPart.objects.in_force().filter(origin__in=named.values("origin"))
    yield from _fitted_lines(sight, rows)


def _fitted_lines(sight: _Sight, rows):
    """Fitted parts, the newest first, each with whether it is recalled, taken out, corrected."""
    rows = list(rows.order_by("-happened_on", "-id").select_related("unit")[: EACH + 1])
    for row, marks in zip(rows, marks_of_fitted(rows, sight.notices), strict=True):
        about = f"{row.unit.label}, {sight.name(row.clinic_id)}"
        title = f"{row.name}, lot {row.lot or row.receipt_lot or row.lot_state}"
        address = sight.record(row.clinic_id, "fittedpart", row.origin)
        yield FoundLine(title, "; ".join((about, *marks)), address, row.happened_on)


def _with_serial(words: str):
    return m.Unit.objects.filter(_any(words, "serial")).values("origin")


def _parts_of_units(sight: _Sight, words: str):
    """What was fitted on units with that serial: by itself, as a part of two years is older than a month's cycles."""
    units = _with_serial(words)
    yield from _fitted_lines(
        sight, m.FittedPart.objects.in_force().filter(unit__origin__in=units, clinic__in=sight.clinics)
    )


def _cycles_of_units(sight: _Sight, words: str):
    """What ran on units with that serial."""
    yield from _cycle_lines(sight, Q(unit__origin__in=_with_serial(words)))


def _parts_in_stock(sight: _Sight, words: str):
    named = m.PartLot.objects.filter(
        _any(words, "lot", "receipt_lot", "part__number", "part__name"), owner_id__in=sight.owners
    )
    rows = m.PartLot.objects.in_force().filter(origin__in=named.values("origin"))
    rows = list(rows.order_by("-happened_on", "-id").select_related("part", "owner__servicecompany")[: EACH + 1])
    for row, marks in zip(rows, marks_of_lots(rows, sight.notices), strict=True):
        title = f"{row.part.name}, lot {row.lot or row.receipt_lot}"
        company = hasattr(row.owner, "servicecompany")
        address = reverse("stock-lot", args=[row.owner.slug, row.origin]) if company else ""
        yield FoundLine(title, "; ".join((f"received by {row.owner.name}", *marks)), address, row.happened_on)


def _documents(sight: _Sight, words: str):
    rows = m.Document.objects.in_force().filter(_any(words, "title", "filename"), clinic__in=sight.clinics)
    for row in rows.order_by("-valid_from", "-id")[: EACH + 1]:
        address = sight.record(row.clinic_id, "document", row.origin)
        yield FoundLine(row.title, f"{row.kind}, {sight.name(row.clinic_id)}", address, row.valid_from)


_WITH_CYCLE = {
    m.BioTest: "Spore test",
    m.Load: "Load",
    m.AirRemovalTest: "Air-removal test",
    m.ChemicalResult: "Chemical indicator",
    m.UserCheck: "User check",
}


def _cycles(sight: _Sight, words: str):
    """Tests, checks and loads by the number of their cycle."""
    yield from _cycle_lines(sight, _any(words, "cycle_number"))


def _cycle_lines(sight: _Sight, wanted: Q):
    """Tests, checks and loads, the newest first, in one query over their tables."""
    columns = ("table", "origin", "happened_on", "cycle_number", "clinic_id", "unit__label")
    tables = [
        model.objects.in_force()
        .filter(wanted, clinic__in=sight.clinics)
        .annotate(table=Value(model._meta.model_name, output_field=CharField()))
        .order_by()
        .values_list(*columns)
        for model in _WITH_CYCLE
    ]
    titles = {model._meta.model_name: title for model, title in _WITH_CYCLE.items()}
    found = tables[0].union(*tables[1:], all=True).order_by("-happened_on", "origin")
    for table, origin, on, cycle, clinic_id, label in found[: EACH + 1]:
        title = f"{titles[table]}, cycle {cycle}" if cycle else titles[table]
        yield FoundLine(title, f"{label}, {sight.name(clinic_id)}", sight.record(clinic_id, table, origin), on)
