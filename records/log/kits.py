"""Kits: what lies in one, and one that came into stock.

A kit is no thing of the stock of its own: it is received as its components, each with its own lot, and each fitted
piece lowers its own lot. What was not fitted never left the place where it lay, so it is there again by itself.
"""

from __future__ import annotations

from collections.abc import Iterator

from records import clock
from records.models import Kit, KitComponent, PartLot, StockPlace, Voiding

from . import may_be_logged, stock
from .errors import InputPlace, Problem
from .kit_rules import kits_of
from .stock import refuse_unless_theirs
from .submission import submission


def log_kit(*, by, request_key, owner, name, components, number="", instead_of=None) -> Kit:
    """A kit, there from today on. `components`: pairs of a part in the owner's books and the pieces in one kit.

    `instead_of` is the kit whose list this one changes. Raises Refused, NotYours, SubmissionConflict.
    """
    refuse_unless_theirs(by, owner)
    components, name = list(components), name.strip()
    inputs = {"name": name, "number": number, "components": components, "instead_of": instead_of}
    with submission(owner, by, request_key, "kit of parts", inputs) as s:
        if s.repeated:
            return s.first(Kit)
        may_be_logged.stop_on([*_kit_problems(owner, name, instead_of), *_list_problems(owner, components)])
        zone = may_be_logged.zone_of(owner)
        common = {"owner_id": owner.pk, "happened_on": clock.today(zone), "zone": zone}
        kit = s.add(Kit(name=name, number=number, instead_of=instead_of, **common))
        for n, (part, quantity) in enumerate(components):
            row = KitComponent(kit=kit, part=part, quantity=quantity, **common)
            s.add(row, at=InputPlace() / "components" / n)
        return kit


def _kit_problems(owner, name: str, instead_of: Kit | None) -> Iterator[Problem]:
    if not name:
        yield Problem("name", "What is the kit called? Enter its name.")
    current = kits_of(owner)
    if instead_of is not None and instead_of.origin not in {kit.origin for kit in current}:
        yield Problem("", "That list was changed meanwhile, or is not in your books. Open the kits again.")
    others = [kit for kit in current if instead_of is None or kit.origin != instead_of.origin]
    if any(kit.name.casefold() == name.casefold() for kit in others):
        yield Problem(
            "name", f"There is a kit called {name} already. Change that one, or give this one another name."
        )


def _list_problems(owner, components) -> Iterator[Problem]:
    at = InputPlace() / "components"
    if not components:
        yield Problem("", "A kit has at least one part in it. Choose one.")
    seen = set()
    for n, (part, quantity) in enumerate(components):
        if part.owner_id != owner.pk or Voiding.objects.filter(target=part.origin).exists():
            yield Problem(at / n / "part", "That part is not in your books. Add it first.")
        if part.origin in seen:
            yield Problem(at / n / "part", f"{part.name} stands there twice. Add the pieces up in one line.")
        if not quantity:
            yield Problem(at / n / "quantity", "How many pieces of it lie in one kit? At least one.")
        seen.add(part.origin)


def receive_kit(*, by, request_key, owner, kit, kits, receipt_lot, on, place, lots) -> list[PartLot]:
    """So many kits came and were put at `place`: a receipt of each component, with its own lot.

    Args:
        kits: how many came.
        receipt_lot: the own number of the receipt, the same for all of its components.
        lots: by the origin of each component `lot` as printed ("" none) and `expiry` (None: it carries none).
    """
    refuse_unless_theirs(by, owner)
    zone = may_be_logged.zone_of(owner)
    inputs = {"kit": kit, "kits": kits, "receipt_lot": receipt_lot, "on": on, "place": place}
    told = [[str(origin), said.get("lot", ""), said.get("expiry")] for origin, said in sorted(lots.items(), key=str)]
    with submission(owner, by, request_key, "kit received", {**inputs, "lots": told}) as s:
        if s.repeated:
            return list(PartLot.objects.filter(entry=s.entry).order_by("line"))
        current = next((each for each in kits_of(owner) if kit is not None and each.origin == kit.origin), None)
        may_be_logged.stop_on(list(_receipt_problems(owner, current, kits, receipt_lot, on, place, zone)))
        made = []
        for component in current.list:
            said = lots.get(component.origin, {})
            lot = PartLot(owner_id=owner.pk, part=component.part, receipt_lot=receipt_lot, happened_on=on, zone=zone)
            lot.lot, lot.expiry = said.get("lot", ""), said.get("expiry")
            made.append(s.add(lot, at=InputPlace.named("lots")))
            stock.put_received(s, owner, lot, kits * component.quantity, place)
        return made


def _receipt_problems(owner, kit, kits, receipt_lot, on, place: StockPlace | None, zone) -> Iterator[Problem]:
    yield from may_be_logged.not_in_future("on", on, None, zone)
    if kit is None:
        yield Problem("", "That kit is not in your books as it stands now. Open the kits again.")
    if not kits:
        yield Problem("kits", "How many kits came? At least one.")
    if not (receipt_lot or "").strip():
        yield Problem("receipt_lot", "A receipt has your own number. Enter it.")
    if place is None:
        yield Problem("place", "Where were they put? Choose one of your places.")
    yield from stock.own_place("place", owner, place)
