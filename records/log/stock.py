"""Where parts lie and what became of a lot, in the books of who received it; and that a clinic was told of a recall.

How many lie where is nowhere written: it is computed from these. What the numbers say against each other is recorded
as it is and shown, never mended here.
"""

from __future__ import annotations

from collections.abc import Iterator

from records import access, clock
from records.models import FittedPart, PartLot, PartRecall, PersonText, RecallTold, StockMove, StockPlace, Voiding

from . import may_be_logged
from .errors import NotYours, Problem
from .naming import name_in
from .submission import submission

LEAVES = ("moved", "returned", "thrown away")
KINDS = (*LEAVES, "counted", "fitted")


def refuse_unless_theirs(by, owner) -> None:
    """Raises NotYours for who may not enter parts in the books of the owner."""
    if not access.memberships(by).filter(organisation=owner.pk, role__in=access.PARTS_ROLES).exists():
        raise NotYours(f"Parts in the books of {owner.name} are entered by its stores, or by who records visits.")


def log_stock_place(*, by, request_key, owner, name, kind, keeper="") -> StockPlace:
    """A store or a van, there from today on. `keeper` is a name: the account's own, or somebody of the owner's.

    Raises Refused for a van of nobody and for a name that is taken, NotYours.
    """
    refuse_unless_theirs(by, owner)
    name, keeper = name.strip(), keeper.strip()
    fields = {"name": name, "kind": kind, "keeper": keeper}
    with submission(owner, by, request_key, "place for parts", fields) as s:
        if s.repeated:
            return s.first(StockPlace)
        may_be_logged.stop_on(list(_place_problems(owner, name)))
        zone = may_be_logged.zone_of(owner)
        row = StockPlace(owner_id=owner.pk, name=name, kind=kind, happened_on=clock.today(zone), zone=zone)
        row.keeper = keeper_in(owner, keeper, by) if keeper else None
        return s.add(row)


def _place_problems(owner, name: str) -> Iterator[Problem]:
    taken = StockPlace.objects.in_force().filter(owner=owner.pk, name__iexact=name)
    if name and taken.exists():
        yield Problem("name", f"There is a place called {name} already. Choose it, or give this one another name.")


def keeper_in(owner, name: str, by) -> PersonText:
    """The name of who keeps a van: of somebody with an account in the owner's where one is called so."""
    for member in access.members(owner).select_related("person__account"):
        account = getattr(member.person, "account", None)
        if account is not None and account.full_name == name:
            return account.signed()
    return name_in(owner, name, by)


def put_received(s, owner, lot: PartLot, quantity: int, place: StockPlace) -> StockMove:
    """How many of a receipt came, and where they were put; in the submission of the receipt."""
    row = StockMove(owner_id=owner.pk, lot=lot, kind="received", quantity=quantity, place=place)
    row.happened_on, row.zone = lot.happened_on, lot.zone
    return s.add(row)


def received_problems(owner, quantity: int | None, place: StockPlace | None) -> Iterator[Problem]:
    """How many and where go together; the place is one of the owner's."""
    if (quantity is None) != (place is None):
        at = "quantity" if quantity is None else "place"
        yield Problem(at, "How many came and where they were put belong together. Enter both, or neither.")
    if quantity == 0:
        yield Problem("quantity", "A receipt of none is no receipt. Enter how many came, or leave it blank.")
    yield from own_place("place", owner, place)


def own_place(field: str, owner, place: StockPlace | None) -> Iterator[Problem]:
    """A place that is not the owner's, or was entered in error."""
    if place is not None and place.owner_id != owner.pk:
        yield Problem(field, f"That is no place of {owner.name}. Choose one of its own, or add it first.")
    elif place is not None and Voiding.objects.filter(target=place.origin).exists():
        yield Problem(field, f"{place.name} was entered in error, so nothing lies there. Choose another place.")


def log_stock_move(
    *, by, request_key, owner, lot, kind, quantity, place, on, to_place=None, fitted=None, reason=""
) -> StockMove:
    """What became of some parts of a lot on the day `on`.

    Args:
        kind: moved (to `to_place`), returned (to the supplier), thrown away, counted (`quantity` is what lies there,
            none among it), or fitted (`fitted` is the fitted part that was taken from `place`).
        reason: needed for what is thrown away or returned.

    Raises Refused, NotYours, SubmissionConflict. That more goes out than came in is no reason to refuse.
    """
    refuse_unless_theirs(by, owner)
    zone = may_be_logged.zone_of(owner)
    fields = {"lot": lot, "kind": kind, "quantity": quantity, "place": place, "to_place": to_place}
    fields |= {"fitted": fitted.origin if fitted else None, "reason": reason.strip()}
    with submission(owner, by, request_key, f"parts {kind}", {"on": on, **fields}) as s:
        if s.repeated:
            return s.first(StockMove)
        problems = [*may_be_logged.not_in_future("on", on, None, zone), *_move_problems(owner, fitted, fields)]
        if on is not None and lot is not None and on < lot.happened_on:
            problems.append(
                Problem("on", f"The lot came on {lot.happened_on}. Check the day, or correct the receipt.")
            )
        may_be_logged.stop_on(problems)
        return s.add(StockMove(owner_id=owner.pk, happened_on=on, zone=zone, **fields))


def _move_problems(owner, part: FittedPart | None, fields: dict) -> Iterator[Problem]:
    lot, kind, place, to = (fields[name] for name in ("lot", "kind", "place", "to_place"))
    if lot is None or lot.owner_id != owner.pk:
        yield Problem("lot", f"That lot is not in the books of {owner.name}. Enter its receipt first.")
    elif Voiding.objects.filter(target=lot.origin).exists():
        yield Problem("lot", "The receipt of that lot was entered in error. Enter it anew first.")
    if place is None:
        yield Problem("place", "Where was it? Choose one of your places.")
    yield from own_place("place", owner, place)
    yield from own_place("to_place", owner, to)
    if kind not in KINDS:
        yield Problem("kind", "What became of the parts? Choose one of the list.")
    if fields["quantity"] is None or (fields["quantity"] == 0 and kind != "counted"):
        yield Problem("quantity", "How many? Enter at least 1; only a count may find none.")
    if kind == "moved" and (to is None or (place is not None and to.origin == place.origin)):
        yield Problem("to_place", "To where were they moved? Choose another place than the one they came from.")
    if kind != "moved" and to is not None:
        yield Problem("to_place", f"Parts that were {kind} went to no place of yours. Leave it out.")
    if kind in ("returned", "thrown away") and not fields["reason"]:
        yield Problem("reason", "Say why, in a few words: who looks for the lot later reads it.")
    yield from _fitted_problems(lot, kind, part, fields["quantity"])


def _fitted_problems(lot, kind: str, part: FittedPart | None, quantity) -> Iterator[Problem]:
    if (kind == "fitted") != (part is not None):
        yield Problem("fitted", "Which fitted part was it? Open the lot and choose the place beside the part.")
    elif part is not None and (lot is None or part.part_lot_id != lot.origin_row().pk):
        yield Problem(
            "fitted", "That part was fitted from another lot. Correct the visit first if it is wrong there."
        )
    elif part is not None and part.quantity != quantity:
        yield Problem("quantity", f"The visit says that {part.quantity} were fitted. Enter that number.")
    elif part is not None and StockMove.objects.in_force().filter(fitted=part.origin).exists():
        yield Problem("fitted", "Where it was taken from is on record. Correct that if it is wrong.")


def log_recall_told(*, by, request_key, owner, recall, clinic, told_to, how, on, told_by="", said="") -> RecallTold:
    """The clinic was told of the notice on the day `on`: `told_to` there, by `told_by` ("" the account itself).

    Raises Refused, NotYours for a clinic that the owner does not serve and for who may not record for the owner.
    """
    if not access.may_log_for(by, owner):
        raise NotYours(f"You may not record in the books of {owner.name}. Ask somebody of it who may record.")
    if recall.owner_id != owner.pk or not access.agreements().filter(company=owner.pk, clinic=clinic.pk).exists():
        raise NotYours(f"{owner.name} has no such notice, or does not serve that clinic today.")
    zone = may_be_logged.zone_of(owner)
    typed = {"told_to": told_to.strip(), "told_by": told_by.strip()}
    fields = {"recall": recall, "clinic": clinic, "how": how, "said": said.strip()}
    with submission(owner, by, request_key, "clinic told of a part recall", {"on": on, **typed, **fields}) as s:
        if s.repeated:
            return s.first(RecallTold)
        may_be_logged.stop_on(list(_told_problems(recall, typed, on, zone)))
        teller = keeper_in(owner, typed["told_by"], by) if typed["told_by"] else by.signed()
        people = {"told_to": name_in(clinic, typed["told_to"]), "told_by": teller}
        return s.add(RecallTold(owner_id=owner.pk, happened_on=on, zone=zone, **fields, **people))


def _told_problems(recall: PartRecall, typed: dict, on, zone) -> Iterator[Problem]:
    yield from may_be_logged.not_in_future("on", on, None, zone)
    if not typed["told_to"]:
        yield Problem("told_to", "Who at the clinic was told? Enter the name of the person.")
    if on is not None:
        yield from may_be_logged.after("on", on, recall.happened_on, "the day the notice came")
