"""Who is asked what in the tests of what is asked, and the answer in words."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

from records import log
from tests import world as made

DAY = made.TODAY - timedelta(days=4)


def who(world, role="coordinator"):
    return {"by": world.people[role], "request_key": made.key(), "clinic": world.clinic}


def own(world, role="coordinator"):
    return {"by": world.people[role], "request_key": made.key()}


def told(call) -> list[tuple[str, str]]:
    """(field, code to confirm) of each problem; [] when it was recorded."""
    try:
        call()
    except log.Refused as refusal:
        return [(p.field, p.confirm) for p in refusal.problems]
    return []


def leak(world, **more):
    fields = {"unit": world.unit, "on": DAY, "rise": D("0.5"), "unit_of_measure": "kPa", "minutes": D(10)} | more
    return log.log_leak(**who(world), **fields)
