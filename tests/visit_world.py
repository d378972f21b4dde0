"""A unit with a plan of eight tasks, a visit two years ago, and the lots that a technician brings. All invented."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from records import clock, log
from records.models import PlanLine, Position
from tests.kept import kept

from . import world as build

BEGIN = date(2024, 1, 8)
LAST = date(2024, 3, 11)  # the visit before, two years and some days before the world's day

POSITIONS = (
    ("door-gasket", "Door gasket", "gasket"),
    ("air-filter", "Air filter", "air filter"),
    ("fill-valve", "Fill valve", "solenoid valve"),
    ("safety-valve", "Safety valve", "safety valve"),
    ("strainer", "Strainer", "strainer"),
)
# code, position, title, action, rule: what an invented booklet asks every two years.
PLAN = (
    ("replace-gasket", "door-gasket", "Replace door gasket", "replace", ""),
    ("replace-filter", "air-filter", "Replace air filter", "replace", ""),
    ("replace-plunger", "fill-valve", "Replace plunger of the fill valve", "replace", ""),
    ("inspect-latch", "", "Inspect latch", "inspect", "if it drags, adjust; if it is bent, replace"),
    ("clean-strainer", "strainer", "Clean strainer", "clean", ""),
    ("test-safety-valve", "safety-valve", "Test safety valve", "test", ""),
    ("lubricate-hinge", "", "Lubricate hinge", "lubricate", ""),
    ("inspect-cord", "", "Inspect power cord", "inspect", ""),
)
PARTS = (("door-gasket", "Gasket 17", "G-17"), ("air-filter", "Filter F", "F-2"), ("fill-valve", "Plunger P", "P-9"))


@dataclass
class VisitWorld:
    world: build.World
    unit: object
    lots: dict[str, object]  # by position


@kept
def make(units: int = 1) -> VisitWorld:
    """Stand at `build.NOW` when using it. The unit with the plan is called Kettle."""
    with clock.at(build.NOW):
        return added_to(build.make(units=units))


def another(made: VisitWorld, label: str, serial: str):
    """One more unit of the same plan, with the same visit two years ago."""
    with clock.at(build.NOW):
        unit = _unit(made.world, made.world.people["coordinator"], label, serial)
        _visit_before(made.world, made.world.people["technician"], unit)
    return unit


def added_to(world: build.World) -> VisitWorld:
    """The unit with its plan, its lots and its visit, in a world that is there already."""
    unit = _unit(world, world.people["coordinator"])
    lots = _lots(world)
    _visit_before(world, world.people["technician"], unit)
    return VisitWorld(world, unit, lots)


def _unit(world, by, label: str = "Kettle", serial: str = "INV-K1"):
    plate = {
        "label": label, "serial": serial, "maker": "Invented Works", "model": "Kettle One",
        "equipment_type": "gravity", "chamber_litres": Decimal("17.0"),
    }  # fmt: skip
    positions = [{"code": c, "name": n, "component": k, "fit": "yes"} for c, n, k in POSITIONS]
    plan = [
        {"code": c, "title": t, "action": a, "rule": r, "months": 24, "source": "Invented booklet, table 4"}
        | ({"position": p} if p else {})
        for c, p, t, a, r in PLAN
    ]
    return log.register_unit(
        by=by, request_key=build.key(), clinic=world.clinic, room="Room 2", on=BEGIN, unit=plate,
        positions=positions, plan=plan,
    )  # fmt: skip


def _lots(world) -> dict:
    by, found = world.people["stores"], {}
    components = {code: component for code, _, component in POSITIONS}
    for position, name, number in PARTS:
        part = log.log_part(
            by=by, request_key=build.key(), owner=world.company, name=name, number=number,
            component=components[position],
        )  # fmt: skip
        found[position] = log.log_part_lot(
            by=by, request_key=build.key(), owner=world.company, part=part, receipt_lot=f"R-{number}",
            on=date(2026, 1, 5), lot=f"L-{number}",
        )  # fmt: skip
    return found


def reading(quantity: str, unit: str, found: str, lower: str, upper: str) -> dict:
    return {
        "quantity": quantity, "unit_of_measure": unit, "as_found": Decimal(found), "as_left": Decimal(found),
        "lower": Decimal(lower), "upper": Decimal(upper), "limit_source": "Invented booklet, table 5",
        "instrument": "Logger L1", "calibration_due": date(2026, 12, 1),
    }  # fmt: skip


def _visit_before(world, by, unit) -> None:
    lines = {line.code: line for line in PlanLine.objects.filter(unit=unit)}
    places = {p.code: p for p in Position.objects.filter(unit=unit)}
    job = {
        "unit": unit, "reason": "planned", "contamination": "declared clean",
        "outcomes": [
            {"plan_line": lines[c], "position": lines[c].position, "action": a, "outcome": "done"}
            for c, _, _, a, _ in PLAN
        ],
        "parts": [
            {
                "name": name, "number": number, "lot": f"OLD-{number}", "lot_state": "printed",
                "action": "replaced on plan", "old_part": "scrapped", "position": places[position],
            }
            for position, name, number in PARTS
        ],
        "readings": [
            reading("chamber temperature", "°C", "134.5", "134", "137"),
            reading("chamber pressure", "kPa", "210", "205", "230"),
        ],
        "tests": [{"code": "V1", "result": "pass"}, {"code": "V2", "result": "pass"}],
        "signatures": [
            {"meaning": "released", "name": "Pat Technician"},
            {"meaning": "returned to use", "name": "Ana Coordinator"},
        ],
        "counters": [{"counter": "cycles", "shown": Decimal(4100)}],
        "conclusion": {"conclusion": "released"},
    }  # fmt: skip
    # History on paper, so that it may lie before the company's agreement with the clinic.
    log.log_visit(
        by=by, request_key=build.key(), clinic=world.clinic, on=LAST, jobs=[job], paper="visit book, page 1"
    )
