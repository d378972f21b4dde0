"""A small invented world for tests: two clinics, two companies, people in every role. All through `records.log`.

Makers, models, lots and names are invented.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from records import clock, log
from records.models import Account, Clinic, PlanLine, Position, ServiceCompany, Unit, UnitEvent
from tests.kept import kept

# A Monday, nine in the morning in Chicago.
NOW = datetime(2026, 3, 16, 14, tzinfo=UTC)
TODAY = date(2026, 3, 16)
BEGIN = date(2025, 1, 6)

# Who belongs where. `nobody` has an account and belongs nowhere.
CLINIC_ROLES = ("coordinator", "operator", "viewer")
COMPANY_ROLES = ("dispatcher", "technician", "stores")


def key() -> uuid.UUID:
    return uuid.uuid4()


@dataclass
class World:
    """`people` by role; `other_...` belongs to organisations that have nothing to do with the first ones."""

    clinic: Clinic
    other_clinic: Clinic
    company: ServiceCompany
    other_company: ServiceCompany
    people: dict[str, Account] = field(default_factory=dict)
    units: list[Unit] = field(default_factory=list)
    other_unit: Unit | None = None
    lot: object = None

    @property
    def unit(self) -> Unit:
        return self.units[0]


def account(name: str, first: str, last: str) -> Account:
    return Account.objects.create_user(name, first_name=first, last_name=last)


def clinic_of(by: Account, slug: str, name: str) -> Clinic:
    terms = {
        "programme": "dental",
        "address": "1 Invented Street",
        "time_zone": "America/Chicago",
        "week_start": 0,
        "regime": "us-dental-cdc-2003",
    }
    return log.open_clinic(by=by, request_key=key(), slug=slug, name=name, effective_on=BEGIN, terms=terms)


def unit_at(clinic: Clinic, by: Account, label: str, **changes) -> Unit:
    """A cassette unit with a seal and an air filter, both renewed every 24 months."""
    plate = {
        "label": label,
        "serial": f"INV-{label}",
        "maker": "Invented Works",
        "model": "Cassette Two",
        "equipment_type": "cassette",
        "chamber_litres": Decimal("2.0"),
    }
    positions = [
        {"code": "seal", "name": "Cassette seal", "component": "seal", "fit": "yes"},
        {"code": "air-filter", "name": "Air filter", "component": "air filter", "fit": "yes"},
    ]
    plan = [
        {
            "code": f"replace-{p['code']}",
            "position": p["code"],
            "title": f"Replace {p['name'].lower()}",
            "action": "replace",
            "months": 24,
            "source": "Invented manual, section 7",
        }
        for p in positions
    ]
    on = changes.pop("on", BEGIN)
    return log.register_unit(
        by=by, request_key=key(), clinic=clinic, room="Room 1", on=on, unit=plate | changes,
        positions=positions, plan=plan,
    )  # fmt: skip


@kept
def make(units: int = 1) -> World:
    """The world at NOW, with so many units at the first clinic. Stand at NOW (`clock.at`) when using it."""
    with clock.at(NOW):
        coordinator = account("coordinator", "Ana", "Coordinator")
        dispatcher = account("dispatcher", "Dan", "Dispatcher")
        other = account("other-coordinator", "Olu", "Coordinator")
        other_dispatcher = account("other-dispatcher", "Ora", "Dispatcher")
        opened = {"effective_on": BEGIN}
        world = World(
            clinic=clinic_of(coordinator, "first", "First Clinic"),
            other_clinic=clinic_of(other, "other", "Other Clinic"),
            company=log.open_company(by=dispatcher, request_key=key(), slug="keepers", name="Keepers", **opened),
            other_company=log.open_company(
                by=other_dispatcher, request_key=key(), slug="strangers", name="Strangers", **opened
            ),
        )
        world.people = {
            "coordinator": coordinator,
            "dispatcher": dispatcher,
            "other-coordinator": other,
            "other-dispatcher": other_dispatcher,
            "nobody": account("nobody", "Nia", "Nobody"),
        }
        for organisation, chief, roles in (
            (world.clinic, coordinator, CLINIC_ROLES[1:]),
            (world.company, dispatcher, COMPANY_ROLES[1:]),
        ):
            for role in roles:
                person = world.people[role] = account(role, "Pat", role.title())
                log.log_membership(
                    by=chief, request_key=key(), organisation=organisation, account=person, role=role, **opened
                )
        log.log_agreement(
            by=coordinator, request_key=key(), clinic=world.clinic, company=world.company, effective_on=BEGIN
        )
        world.units = [unit_at(world.clinic, coordinator, f"Unit {n}") for n in range(1, units + 1)]
        world.other_unit = unit_at(world.other_clinic, other, "Stranger")
        world.lot = log.log_indicator_lot(
            by=coordinator, request_key=key(), clinic=world.clinic, kind="biological",
            name="Invented spore ampoule", lot="B-100", on=BEGIN, incubation_hours=24, expiry=date(2027, 6, 30),
        )  # fmt: skip
    return world


def spore_test(world: World, on: date, test: str = "no growth", control: str = "growth", unit=None, **more):
    """A spore test run on that day and, unless `test` is "", read on the next. Returns the test."""
    by = world.people["coordinator"]
    unit = unit or world.unit
    fields = {"cycle_type": "wrapped", "mechanical": "pass", "chemical": "pass"} | more
    run = log.start_bio_test(
        by=by, request_key=key(), clinic=world.clinic, unit=unit, on=on, lot=world.lot, control_lot=world.lot,
        **fields,
    )  # fmt: skip
    if test:
        log.read_bio_test(
            by=by, request_key=key(), clinic=world.clinic, bio_test=run, test=test, control=control,
            on=on + timedelta(days=1), incubated_hours=Decimal(24),
        )  # fmt: skip
    return run


def weekly_tests(world: World, weeks: int, unit=None) -> None:
    """A passing spore test in each of so many weeks up to last week, the oldest first."""
    for n in range(weeks, 0, -1):
        spore_test(world, TODAY - timedelta(weeks=n), unit=unit)


def seal_replaced(world: World, on: date, unit=None, request_key=None, paper=""):
    """A planned visit of the company: seal replaced with its lot, readings, tests, release. Returns the visit."""
    unit = unit or world.unit
    line = PlanLine.objects.get(unit=unit, code="replace-seal")
    position = Position.objects.get(unit=unit, code="seal")
    job = {
        "unit": unit,
        "reason": "planned",
        "contamination": "declared clean",
        "make_safe": [["unplugged", "done"], ["cooled down", "done"]],
        "outcomes": [
            {"plan_line": line, "position": position, "action": "replace", "outcome": "done"},
        ],
        "parts": [
            {
                "name": "Cassette seal", "number": "INV-77", "lot": "S-9", "lot_state": "printed",
                "action": "replaced on plan", "old_part": "scrapped", "position": position,
            }
        ],
        "findings": [
            {
                "position": position, "component": "seal", "grade": 2, "seen": "flattened at the hinge",
                "decision": "replace", "repair_class": "A",
            }
        ],
        "readings": [
            {
                "quantity": "chamber temperature", "unit_of_measure": "°C", "as_found": Decimal("134.6"),
                "as_left": Decimal("134.9"), "lower": Decimal("134"), "upper": Decimal("137"),
                "limit_source": "Invented manual, section 9", "instrument": "T-1",
                "calibration_due": date(2026, 12, 1),
            }
        ],
        "tests": [
            {
                "code": "V1", "result": "pass", "temperature_low": Decimal("134.4"),
                "temperature_high": Decimal("135.2"), "band_low": Decimal(134), "band_high": Decimal(137),
                "minutes": Decimal("3.6"), "minutes_needed": Decimal(3), "pressure_low": Decimal("306.5"),
                "pressure_high": Decimal(314),
            },
            {"code": "V2", "result": "pass"},
        ],
        "signatures": [
            {"meaning": "released", "name": "Pat Technician", "role": "technician"},
            {"meaning": "returned to use", "name": "Ana Coordinator", "role": "coordinator"},
        ],
        "counters": [{"counter": "cycles", "shown": Decimal(1200)}],
        "conclusion": {"conclusion": "released"},
    }  # fmt: skip
    return log.log_visit(
        by=world.people["technician"], request_key=request_key or key(), clinic=world.clinic, on=on, jobs=[job],
        paper=paper,
    )  # fmt: skip


@kept
def tested_for_seven_weeks() -> World:
    """One unit with every weekly test since it was installed, seven weeks ago. Stand at NOW when using it."""
    with clock.at(NOW):
        made = make()
        log.correct(
            by=made.people["coordinator"],
            request_key=key(),
            row=UnitEvent.objects.get(unit=made.unit),
            changes={"happened_on": TODAY - timedelta(weeks=7)},
            reason="installed later",
        )
        weekly_tests(made, 7)
    return made
