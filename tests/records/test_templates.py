"""Templates of units: editions in the books of a company, what is copied to a unit, a later edition taken by hand.

| what | what a unit of it says |
| --- | --- |
| registered from edition 1 | every position with whether it has its part, every line, part and reading; edition 1 |
| edition 2 comes | nothing changes; the unit stands at edition 1 and each difference is offered |
| edition 2 is taken, one difference left | the rest changes from that day on; the one is named as kept |
| a line was changed on the unit itself | its difference says so |
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from audit.gather.read import clinic_facts
from records import clock, log
from records.forms.base import plan_lines_of
from records.ledger import tamper_check
from records.log.template_content import followed, parts_of, readings_of
from records.log.template_differences import CHANGED, GONE, NEW, differences
from records.log.template_units import usable
from records.models import Entry, Fit, PlanLine, TemplateLine, UnitFromTemplate, UnitTemplate
from tests import world as build

from . import template_world as made

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


@pytest.fixture
def edition(world):
    parts = made.parts_of(world)
    return made.template_of(world, parts, [made.kit_of(world, parts)])


def second(world, edition, **more):
    """Edition 2: the seal sooner, the test dropped, a strainer with its place new, other limits."""
    plan = [
        made.PLAN[0] | {"months": 12},
        made.PLAN[1],
        {"code": "clean-strainer", "position": "strainer", "title": "Clean the drain strainer", "action": "clean",
         "months": 1},
    ]  # fmt: skip
    positions = [*made.POSITIONS, {"code": "strainer", "name": "Drain strainer", "component": "strainer"}]
    readings = [made.READINGS[0] | {"upper": Decimal(138)}]
    rows = {"plan": plan, "positions": positions, "readings": readings, "changed": "Invented bulletin 4"}
    return made.template_of(world, instead_of=edition, **rows | more)


def plan_of(unit) -> dict:
    return {line.code: (line.months, line.cycles) for line in plan_lines_of(unit, build.TODAY)}


def found(unit, template) -> dict:
    return {each.key: (each.kind, each.own) for each in differences(unit, template, build.TODAY)}


def test_a_registered_unit_has_all_that_the_edition_says(world, edition):
    unit = made.registered(world, edition)
    assert plan_of(unit) == {"replace-seal": (24, 1000), "replace-air-filter": (24, None), "electrical": (12, None)}
    line = PlanLine.objects.get(unit=unit, code="replace-seal")
    assert (line.position.code, line.source, line.edition) == ("seal", "Invented manual, section 7", "edition 3")
    states = dict(Fit.objects.filter(unit=unit).values_list("position__code", "state"))
    assert states == made.FITS
    (part,) = parts_of(unit, build.TODAY)
    assert (part.name, part.number, part.quantity, part.kit) == ("Cassette seal", "INV-77", 1, "Two-year kit")
    (reading,) = readings_of(unit, build.TODAY)
    assert (str(reading), reading.lower, reading.limit_source) == (
        "chamber temperature", Decimal(134), "Invented manual, section 9",
    )  # fmt: skip
    row = followed(unit)
    assert (str(row), row.company, row.kept) == ("Cassette Two, edition 1", "Keepers", [])
    assert (unit.maker, unit.model, unit.chamber_litres) == ("Invented Works", "Cassette Two", Decimal("2.0"))
    assert found(unit, edition) == {}
    for books in (world.clinic, world.company):
        assert tamper_check.verify(books).broken_at is None


def test_the_answer_follows_the_unit_s_own_evidence(world, edition):
    """A line is due from the installation on, a place without its part is not."""
    unit = made.registered(world, edition)
    facts = next(u for u in clinic_facts(world.clinic).units if u.ref == str(unit.ref))
    assert {line.code for line in facts.plan} == {"replace-seal", "replace-air-filter", "electrical"}
    assert facts.jobs == () and [e.kind for e in facts.events] == ["installed"]


def test_a_later_edition_changes_no_unit_until_it_is_taken(world, edition):
    unit = made.registered(world, edition)
    before = plan_of(unit)
    later = second(world, edition)
    assert plan_of(unit) == before and followed(unit).edition == 1
    assert found(unit, later) == {
        "position:strainer": (NEW, False), "line:replace-seal": (CHANGED, False),
        "line:clean-strainer": (NEW, False), "line:electrical": (GONE, False),
        "reading:chamber temperature@": (CHANGED, False), "part:inv-77@seal": (GONE, False),
    }  # fmt: skip
    take = ["line:replace-seal", "line:clean-strainer", "reading:chamber temperature@"]
    who = {"by": world.people["technician"], "clinic": world.clinic, "unit": unit, "template": later}
    key = build.key()
    row = log.take_edition(**who, request_key=key, take=take)
    # The place that the new line sits on came along, and nobody has said whether it has its part.
    assert plan_of(unit) == before | {"replace-seal": (12, 1000), "clean-strainer": (1, None)}
    assert Fit.objects.get(unit=unit, position__code="strainer").state == "unknown"
    assert readings_of(unit, build.TODAY)[0].upper == Decimal(138)
    assert (row.edition, row.kept) == (2, ["line:electrical", "part:inv-77@seal", "position:strainer"])
    assert [each.edition for each in UnitFromTemplate.objects.filter(unit=unit).order_by("pk")] == [1, 2]
    entries = Entry.objects.count()
    assert log.take_edition(**who, request_key=key, take=take) == row and Entry.objects.count() == entries
    # What was left is offered again, and can be taken still; the line that no edition has is given up.
    log.take_edition(**who, request_key=build.key(), take=["line:electrical"])
    assert "electrical" not in plan_of(unit) and followed(unit).kept == ["part:inv-77@seal"]


def test_what_was_changed_on_the_unit_itself_is_told_apart(world, edition):
    unit = made.registered(world, edition)
    line = PlanLine.objects.get(unit=unit, code="replace-seal")
    sooner = {"code": "replace-seal", "title": line.title, "action": "replace", "months": 6, "source": "own"}
    log.log_plan_line(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, unit=unit,
        position=line.position, effective_on=build.TODAY, **sooner,
    )  # fmt: skip
    assert found(unit, edition) == {"line:replace-seal": (CHANGED, True)}
    assert found(unit, second(world, edition))["line:replace-seal"] == (CHANGED, True)


def test_a_unit_that_follows_none_is_offered_the_template_of_its_plate(world, edition):
    assert followed(world.unit) is None
    told = found(world.unit, edition)
    assert told["line:replace-seal"] == (CHANGED, True) and told["line:electrical"] == (NEW, False)
    who = {"by": world.people["coordinator"], "request_key": build.key(), "clinic": world.clinic, "unit": world.unit}
    log.take_edition(**who, template=edition, take=["line:electrical"])
    assert followed(world.unit).kept == sorted(told.keys() - {"line:electrical"})


def test_the_plate_decides_which_template_is_taken(world, edition):
    other = build.unit_at(world.clinic, world.people["coordinator"], "Another", model="Cassette Nine")
    with pytest.raises(log.Refused, match="the plate of this unit says"):
        log.take_edition(
            by=world.people["technician"], request_key=build.key(), clinic=world.clinic, unit=other,
            template=edition, take=[],
        )  # fmt: skip


def test_differences_that_are_no_more_are_refused(world, edition):
    unit = made.registered(world, edition)
    with pytest.raises(log.Refused, match="changed meanwhile"):
        log.take_edition(
            by=world.people["technician"], request_key=build.key(), clinic=world.clinic, unit=unit,
            template=edition, take=["line:replace-seal"],
        )  # fmt: skip


# ------------------------------------------------------------------------------------------------- editions


def test_editions_follow_each_other_and_none_is_changed(world, edition):
    later = second(world, edition)
    assert (edition.edition, later.edition, later.instead_of) == (1, 2, edition)
    assert TemplateLine.objects.get(template=edition, code="replace-seal").months == 24
    with pytest.raises(log.Refused, match="later edition meanwhile"):
        second(world, edition)
    assert [t.edition for t in usable(access_of(world, "technician"), world.clinic)] == [2]


def access_of(world, role):
    from records import access

    return access.rights(world.people[role], world.clinic)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"name": " "}, "What is the template called"),
        ({"source": ""}, "Which document"),
        ({"plan": []}, "Nothing is planned"),
        ({"plan": [made.PLAN[0] | {"months": 0}]}, "due always"),
        ({"plan": [made.PLAN[2] | {"months": None}]}, "Nothing says when"),
        ({"plan": [made.PLAN[0] | {"position": "lid"}]}, "No position has the code"),
        ({"plan": [made.PLAN[0], made.PLAN[0]]}, "used twice"),
        ({"positions": [*made.POSITIONS, made.POSITIONS[0]]}, "used twice"),
        ({"readings": [made.READINGS[0] | {"limit_source": ""}]}, "limit needs its source"),
        ({"readings": [made.READINGS[0] | {"lower": Decimal(140)}]}, "lies below"),
        ({"readings": [made.READINGS[0] | {"unit_of_measure": ""}]}, "unit of measure"),
        ({"readings": [made.READINGS[0], made.READINGS[0]]}, "twice"),
        ({"equipment_type": "oven"}, "not a valid choice"),
    ],
)
def test_what_no_template_may_say(world, more, message):
    with pytest.raises(log.Refused, match=message):
        made.template_of(world, **more)
    assert not UnitTemplate.objects.exists()


def test_one_template_for_one_maker_and_model(world, edition):
    with pytest.raises(log.Refused, match="for that maker and model already"):
        made.template_of(world, name="Another name", model="cassette  TWO")
    with pytest.raises(log.Refused, match="called Cassette Two already"):
        made.template_of(world, model="Cassette Three")
    with pytest.raises(log.Refused, match="What is different"):
        second(world, edition, changed="")


def test_parts_and_kits_are_of_the_own_books(world):
    parts = made.parts_of(world)
    ours = log.log_part(
        by=world.people["coordinator"], request_key=build.key(), owner=world.clinic, name="Seal", component="seal"
    )
    with pytest.raises(log.Refused, match="not in your books"):
        made.template_of(world, {"Cassette seal": ours})
    kit = made.kit_of(world, parts)
    made.kit_of(world, parts, name="Two-year kit, new list", instead_of=kit)
    with pytest.raises(log.Refused, match="as it stands now"):
        made.template_of(world, parts, [kit])


@pytest.mark.parametrize("role", ["stores", "coordinator", "viewer", "other-dispatcher", "nobody"])
def test_only_technicians_and_dispatchers_of_the_company_make_one(world, role):
    with pytest.raises(log.NotYours):
        made.template_of(world, by=world.people[role])


# ---------------------------------------------------------------------------------------------- who may use it


def test_a_clinic_uses_the_templates_of_who_services_it(world, edition):
    assert made.registered(world, edition, "coordinator").entry.logged_for is None
    agreement = log.log_agreement(
        by=world.people["other-coordinator"], request_key=build.key(), clinic=world.other_clinic,
        company=world.other_company, effective_on=build.BEGIN,
    )  # fmt: skip
    with pytest.raises(log.NotYours):
        made.registered(world, edition, "other-coordinator", clinic=world.other_clinic, serial="INV-N2")
    log.end_agreement(
        by=world.people["other-coordinator"], request_key=build.key(), agreement=agreement,
        effective_on=build.TODAY, reason="ended",
    )  # fmt: skip
    assert usable(access_of(world, "technician"), world.clinic) == [edition]


def test_a_template_that_is_not_offered_any_more_registers_nothing(world, edition):
    last = second(world, edition, retired=True)
    for template in (edition, last):
        with pytest.raises(log.NotYours):
            made.registered(world, template)


def test_every_position_is_asked(world, edition):
    with pytest.raises(log.Refused, match="Does this unit have its clock battery"):
        made.registered(world, edition, fits={"seal": "yes", "air-filter": "yes"})
    with pytest.raises(log.Refused, match="on the register already"):
        made.registered(world, edition, serial="INV-Unit 1")
    with pytest.raises(log.Refused, match="in the future"):
        made.registered(world, edition, on=date(2027, 1, 1))


def test_the_same_request_twice_registers_one_unit(world, edition):
    key = build.key()
    unit = made.registered(world, edition, request_key=key)
    before = Entry.objects.count()
    assert made.registered(world, edition, request_key=key) == unit and Entry.objects.count() == before
    with pytest.raises(log.SubmissionConflict):
        made.registered(world, edition, request_key=key, room="Attic")
