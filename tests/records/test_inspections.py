"""An inspection, its points and their correction: who came, what cannot be, and what judgement reads of it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from audit.facts import inspections_by_day
from audit.gather.read import clinic_facts
from records import log
from records.log import NotYours, Refused
from records.models import Entry, Inspection, InspectionPoint, PointMet
from tests import world as made

pytestmark = pytest.mark.django_db
DAY = made.TODAY - timedelta(days=20)
DUE = DAY + timedelta(days=15)


def who(world, role="coordinator"):
    return {"by": world.people[role], "request_key": made.key(), "clinic": world.clinic}


def came(world, **more):
    points = [{"what": "hang up the certificate", "due_on": DUE, "unit": world.unit, "citation": "Invented code 9"}]
    said = {"on": DAY, "visitor": "Iva Inspector", "office": "Invented Board", "asked": "the loads", "points": points}
    return log.log_inspection(**who(world), **said | more)


def refused(call) -> list[str]:
    with pytest.raises(Refused) as refusal:
        call()
    return [p.field for p in refusal.value.problems]


def test_an_inspection_stands_with_its_points_in_one_entry(world):
    row = came(world, occasion="yearly")
    (point,) = InspectionPoint.objects.all()
    assert (row.visitor.value, row.office, row.occasion, row.binder, row.report) == (
        "Iva Inspector", "Invented Board", "yearly", None, None,
    )  # fmt: skip
    assert (point.inspection, point.due_on, point.unit, point.entry) == (row, DUE, world.unit, row.entry)
    assert row.entry.what == "inspection"


def test_a_point_named_afterwards_and_one_that_was_met_are_read_as_they_stood_on_a_day(world):
    row = came(world)
    log.log_inspection_point(**who(world), inspection=row, what="label the racks", on=DAY + timedelta(days=3))
    first = InspectionPoint.objects.order_by("pk").first()
    log.log_point_met(**who(world), point=first, outcome="it hangs", on=DAY + timedelta(days=10), done_by="Pat Doer")
    (whole,) = clinic_facts(world.clinic).inspections
    assert [(p.what, p.met.done_by if p.met else "") for p in whole.points] == [
        ("hang up the certificate", "Pat Doer"), ("label the racks", ""),
    ]  # fmt: skip
    assert whole.points[0].unit == str(world.unit.origin) and whole.visitor == "Iva Inspector"
    for after, points, met in ((0, 1, 0), (3, 2, 0), (9, 2, 0), (10, 2, 1)):
        (then,) = inspections_by_day((whole,), DAY + timedelta(days=after))
        assert (len(then.points), sum(p.met is not None for p in then.points)) == (points, met)
    assert inspections_by_day((whole,), DAY - timedelta(days=1)) == ()


def test_a_point_is_met_once_and_a_wrong_entry_is_corrected(world):
    came(world)
    point = InspectionPoint.objects.get()
    done = {"point": point, "outcome": "it hangs", "on": DUE}
    key = who(world)
    row = log.log_point_met(**key, **done)
    assert log.log_point_met(**key, **done) == row, "the same request is the same entry"
    assert refused(lambda: log.log_point_met(**who(world), **done)) == ["outcome"]
    by = {"by": world.people["coordinator"], "request_key": made.key()}
    new = log.correct(**by, row=row, changes={"outcome": "it hangs at the door"}, reason="more exactly")
    assert PointMet.objects.in_force().get() == new
    log.void(by=by["by"], request_key=made.key(), row=new, reason="it fell down again")
    assert clinic_facts(world.clinic).inspections[0].points[0].met is None


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"on": made.TODAY + timedelta(days=1), "points": ()}, "on"),
        ({"on": None, "points": ()}, "on"),
        ({"visitor": " "}, "visitor"),
        ({"office": ""}, "office"),
        ({"points": [{"what": " "}]}, "points.0.what"),
        ({"points": [{"what": "a", "due_on": DAY}, {"what": "b", "due_on": DAY - timedelta(days=1)}]},
         "points.1.due_on"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_at_its_field_and_nothing_is_written(world, changes, field):
    before = Entry.objects.count()
    assert refused(lambda: came(world, **changes)) == [field]
    assert Entry.objects.count() == before and not Inspection.objects.exists()


def test_rows_of_another_clinic_and_days_before_the_inspection_are_refused(world):
    row = came(world)
    point = InspectionPoint.objects.get()
    foreign = {"by": world.people["other-coordinator"], "request_key": made.key(), "clinic": world.other_clinic}
    assert refused(lambda: log.log_point_met(**foreign, point=point, outcome="done", on=DUE)) == ["point"]
    more = {"inspection": row, "what": "label the racks"}
    assert refused(lambda: log.log_inspection_point(**foreign, **more, on=DUE)) == ["inspection"]
    assert refused(lambda: log.log_inspection_point(**who(world), **more, on=DAY - timedelta(days=1))) == ["on"]
    assert refused(lambda: came(world, points=[{"what": "a", "unit": world.other_unit}])) == ["points.0.unit"]
    early = {"point": point, "on": DAY - timedelta(days=1)}
    assert refused(lambda: log.log_point_met(**who(world), **early, outcome="done")) == ["on"]
    assert refused(lambda: log.log_point_met(**who(world), **early | {"on": DAY}, outcome=" ")) == ["outcome"]
    with pytest.raises(NotYours):
        log.log_point_met(**who(world, "viewer"), point=point, outcome="done", on=DUE)
    by = {"by": world.people["coordinator"], "request_key": made.key()}
    early = {"due_on": DAY - timedelta(days=1)}
    assert refused(lambda: log.correct(**by, row=point, changes=early, reason="misread")) == ["due_on"]
