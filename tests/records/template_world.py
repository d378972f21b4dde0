"""An invented template of the small world's cassette unit, with its parts and a kit, in the books of Keepers."""

from __future__ import annotations

from decimal import Decimal

from records import log
from tests import world as build

PLATE = {
    "name": "Cassette Two", "maker": "Invented Works", "model": "Cassette Two", "equipment_type": "cassette",
    "chamber_litres": Decimal("2.0"), "source": "Invented manual, section 7", "source_edition": "edition 3",
}  # fmt: skip
POSITIONS = (
    {"code": "seal", "name": "Cassette seal", "component": "seal", "always": True},
    {"code": "air-filter", "name": "Air filter", "component": "air filter", "always": True},
    {"code": "battery", "name": "Clock battery", "component": "battery", "always": False},
)
PLAN = (
    {"code": "replace-seal", "position": "seal", "title": "Replace cassette seal", "action": "replace", "months": 24,
     "cycles": 1000},
    {"code": "replace-air-filter", "position": "air-filter", "title": "Replace air filter", "action": "replace",
     "months": 24},
    {"code": "electrical", "title": "Electrical safety test", "action": "test", "months": 12, "grace_days": 14},
)  # fmt: skip
READINGS = (
    {"quantity": "chamber temperature", "unit_of_measure": "°C", "lower": Decimal(134), "upper": Decimal(137),
     "limit_source": "Invented manual, section 9"},
)  # fmt: skip


def parts_of(world) -> dict:
    """Two kinds of part in the books of Keepers, by name."""
    who = {"by": world.people["dispatcher"], "owner": world.company}
    told = (("Cassette seal", "seal", "INV-77"), ("Air filter", "air filter", "INV-78"))
    return {
        name: log.log_part(**who, request_key=build.key(), name=name, component=component, number=number)
        for name, component, number in told
    }


def kit_of(world, parts, **more):
    """One seal and two filters in a bag."""
    listed = [(parts["Cassette seal"], 1), (parts["Air filter"], 2)]
    values = {"by": world.people["dispatcher"], "owner": world.company, "request_key": build.key()}
    return log.log_kit(**values | {"name": "Two-year kit", "number": "K-2", "components": listed} | more)


def template_of(world, known=None, kits=(), **more):
    """The first edition, by the dispatcher of Keepers; `more` are other values of `log.log_template`."""
    rows = {"positions": POSITIONS, "plan": PLAN, "readings": READINGS}
    if known:
        rows["parts"] = [{"part": known["Cassette seal"], "quantity": 1, "position": "seal"}]
    values = {"by": world.people["dispatcher"], "owner": world.company, "request_key": build.key(), "kits": kits}
    return log.log_template(**values | PLATE | rows | more)


FITS = {"seal": "yes", "air-filter": "yes", "battery": "none"}


def registered(world, template, by="technician", **more):
    """A unit from the template at the first clinic since `BEGIN`."""
    values = {"by": world.people[by], "request_key": build.key(), "clinic": world.clinic, "template": template}
    values |= {"room": "Cellar", "on": build.BEGIN, "label": "New", "serial": "INV-N1", "fits": FITS}
    return log.register_from_template(**values | more)
