"""A part that a recall notice means: asked about when it is fitted, and never offered unmarked."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from audit.judge.lookback import matching
from records import log
from records.forms.base import EntryContext, marked
from records.log import recalls
from records.log.may_be_logged import rights_or_refuse
from records.models import FittedPart, PartRecall
from tests import world as made

pytestmark = pytest.mark.django_db
DAY = made.TODAY - timedelta(days=2)


def books(world, role="dispatcher"):
    return {"by": world.people[role], "request_key": made.key(), "owner": world.company}


def notice(world, **more):
    said = {"part": "Cassette seal", "issued_by": "Invented Works", "reason": "cracks", "action": "replace"}
    return log.log_part_recall(**books(world, "technician"), on=DAY - timedelta(days=9), **(said | more))


def fit(world, confirmed=(), **part):
    said = {"name": "Cassette seal", "number": "INV-77", "lot": "S-9", "lot_state": "printed", "old_part": "scrapped"}
    row = said | {"action": "replaced on plan"} | part
    job = {"unit": world.unit, "reason": "planned", "contamination": "declared clean", "parts": [row]}
    job["conclusion"] = {"conclusion": "released"}
    return log.log_visit(
        by=world.people["technician"], request_key=made.key(), clinic=world.clinic, on=DAY, jobs=[job],
        confirmed=confirmed,
    )  # fmt: skip


# what the notice says, what is fitted, whether it is asked about
TABLE = [
    ({}, {}, True),
    ({"lot": "S-9"}, {}, True),
    ({"lot": "s 09"}, {}, True),
    ({"lot": "S-8"}, {}, False),
    ({"lot": "R-1"}, {"receipt_lot": "R1"}, True),
    ({"lot": "S-8"}, {"lot": "", "lot_state": "unreadable", "receipt_lot": ""}, True),
    ({"number": "INV-77"}, {"name": "seal, new kind"}, True),
    ({"number": "INV 078"}, {}, False),
    ({"number": "INV-77"}, {"number": ""}, True),
    ({"part": "cassette  SEAL"}, {"number": ""}, True),
    ({"part": "Air filter"}, {"number": ""}, False),
    ({"made_from": DAY}, {}, True),
    ({"made_from": DAY + timedelta(days=1)}, {}, False),
    ({"made_to": DAY}, {}, True),
    ({"made_to": DAY - timedelta(days=1)}, {}, False),
    ({"action": "inspect"}, {}, True),
    ({"action": "use until"}, {}, True),
    ({}, {"action": "found in place"}, False),
    ({}, {"quantity": 1, "action": "replaced on condition"}, True),
]


@pytest.mark.parametrize(("said", "part", "asked"), TABLE)
def test_fitting_a_part_that_a_notice_means_is_asked_about(world, said, part, asked):
    notice(world, **said)
    ways = ("no-lot",)  # without a lot it is asked about for that too
    if asked:
        with pytest.raises(log.Refused) as refusal:
            fit(world, ways, **part)
        assert [p.confirm for p in refusal.value.problems] == ["recalled-part"]
        assert "cracks" in str(refusal.value) and "Fit another one" in str(refusal.value)
        assert not FittedPart.objects.exists()
    fit(world, (*ways, "recalled-part") if asked else ways, **part)
    assert FittedPart.objects.count() == 1


def test_a_notice_of_strangers_asks_nothing_and_one_entered_in_error_none_any_more(world):
    log.log_part_recall(
        by=world.people["other-dispatcher"], request_key=made.key(), owner=world.other_company, part="Cassette seal",
        issued_by="Invented Works", reason="cracks", action="replace", on=DAY,
    )  # fmt: skip
    fit(world)
    row = notice(world)
    log.void(by=world.people["technician"], request_key=made.key(), row=row, reason="another part was meant")
    fit(world)
    assert FittedPart.objects.count() == 2


def test_no_lot_in_doubt_is_offered_unmarked_and_those_come_last(world):
    part = log.log_part(**books(world), name="Cassette seal", component="seal", number="INV-77")
    for receipt, lot in (("R-1", "S-8"), ("R-2", "S-9"), ("R-3", "S-10")):
        log.log_part_lot(**books(world), part=part, receipt_lot=receipt, lot=lot, on=DAY, expiry=date(2027, 1, 1))
    notice(world, lot="S-9")
    by = world.people["technician"]
    ground = EntryContext(world.clinic, by, rights_or_refuse(by, world.clinic), "America/Chicago")
    offered = [marked(lot) for lot in ground.part_lots()]
    assert ["in doubt" in words for words in offered] == ["S-9" in words for words in offered] == [False, False, True]
    assert offered[-1].endswith("from Invented Works: cracks (replace)")


@pytest.mark.parametrize(
    ("one", "other"),
    [("L-007", "l 7"), ("12-03", "1203"), ("12-03", "12-3"), ("A.1/2", "a12"), ("S-9", "S-90"), ("", "x")],
)
def test_lots_are_compared_as_where_parts_on_a_unit_are_looked_back_at(one, other):
    part = {"name": "Seal", "number": "", "lots": (other,), "on": DAY}
    means = recalls.means(PartRecall(part="seal", lot=one or "none"), **part)
    assert means == matching.same(one or "none", other)
