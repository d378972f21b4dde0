"""Which kits there are, and that every piece of one that a visit opened is accounted for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from records.models import Kit, KitComponent, Part

from .errors import InputPlace, Problem
from .visit_job import JobPart


def kits_of(owner) -> list[Kit]:
    """The kits in the owner's books that nothing takes the place of, by name; each with its `list` of components."""
    gone = Kit.objects.in_force().filter(owner=owner.pk, instead_of__isnull=False).values("instead_of__origin")
    kits = list(Kit.objects.in_force().filter(owner=owner.pk).exclude(origin__in=gone).order_by("name", "id"))
    by_kit = defaultdict(list)
    rows = KitComponent.objects.in_force().filter(kit__origin__in=[kit.origin for kit in kits])
    for row in rows.select_related("part", "kit").order_by("id"):
        by_kit[row.kit.origin].append(row)
    for kit in kits:
        kit.list = by_kit[kit.origin]
    return kits


def not_accounted_for(at: InputPlace, parts: Iterable[JobPart], owner) -> Iterator[Problem]:
    """Of a kit in the books that a visit opened, the pieces of a component that nothing is said of, or said twice.

    One kit or several of the same name: of each component as many times its pieces as of the others.
    """
    said: dict[str, list[tuple[int, JobPart]]] = defaultdict(list)
    for n, part in enumerate(parts):
        if part.get("kit_fate") and part.get("kit"):
            said[part["kit"].strip().casefold()].append((n, part))
    if not said:
        return
    for kit in kits_of(owner):
        rows = said.get(kit.name.casefold())
        if rows:
            yield from _of_kit(at, kit, rows)


def _of_kit(at: InputPlace, kit: Kit, rows: list[tuple[int, JobPart]]) -> Iterator[Problem]:
    first = at / rows[0][0] / "kit_pieces"
    told: dict = defaultdict(int)
    for n, part in rows:
        component = next((c for c in kit.list if _is(c.part, part)), None)
        if component is None:
            words = f"{part_name(part)} is no component of {kit.name}. Record it apart, or change the kit’s list."
            yield Problem(at / n / "kit", words)
            continue
        told[component.origin] += part.get("kit_pieces") or 0
    bags = max((-(-told[c.origin] // c.quantity) for c in kit.list), default=0) or 1
    for component in kit.list:
        there, wanted = told[component.origin], component.quantity * bags
        if there != wanted:
            yield Problem(
                first,
                f"{kit.name} holds {wanted} × {component.part.name}, and {there} are accounted for. Say of each "
                "piece whether it was fitted, left out, the old one was kept, or it was not in the bag.",
            )


def part_name(part: JobPart) -> str:
    """How a part of a job is called: as typed, else by its lot."""
    lot = part.get("part_lot")
    return part.get("name") or (lot.part.name if lot is not None else "This part")


def _is(component: Part, part: JobPart) -> bool:
    lot = part.get("part_lot")
    if lot is not None:
        return lot.part.origin == component.origin
    number = part.get("number")
    if number and component.number:
        return number.strip().casefold() == component.number.casefold()
    return (part.get("name") or "").strip().casefold() == component.name.casefold()
