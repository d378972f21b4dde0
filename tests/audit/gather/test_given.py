"""How the name of who returned a unit by hand, or accepted a pending result, came in: read off the record."""

from __future__ import annotations

from datetime import timedelta

import pytest

from audit.gather import rows
from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from records import clock, log
from records import models as m
from records.log import signatures, withdrawals
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make()


@pytest.fixture
def returned(world):
    """The operator takes the unit out and returns it by hand."""
    who = {"by": world.people["operator"], "clinic": world.clinic, "unit": world.unit}
    out = log.log_unit_event(**who, request_key=build.key(), kind="withdrawn", on=build.TODAY, reason="door sticks")
    log.log_unit_event(
        **who, request_key=build.key(), kind="returned", on=build.TODAY, reason="mended", ends=out
    )  # fmt: skip
    return newest_return()


def newest_return():
    return m.UnitEvent.objects.in_force().get(kind="returned")


def given_of_the_return(world):
    (back,) = [e for e in clinic_facts(world.clinic).units[0].events if e.kind == "returned"]
    return back.given


def corrected(world, who, row, **changes):
    log.correct(
        by=world.people[who], request_key=build.key(), row=row, changes=changes, reason="misread", confirmed=ANYWAY
    )  # fmt: skip


ANYWAY = ("ends-none", "return-early")


def test_a_return_by_hand_is_its_own_persons_until_another_changes_what_it_says(world, returned):
    assert given_of_the_return(world) == "entered"
    corrected(world, "coordinator", returned, reason="mended by hand")
    assert given_of_the_return(world) == "entered", "its own person entered that it was returned, and when"
    corrected(world, "coordinator", newest_return(), ends=None)
    assert given_of_the_return(world) == "told"
    corrected(world, "operator", newest_return(), reason="mended and looked at")
    assert given_of_the_return(world) == "entered"


def test_what_was_no_return_is_none_because_another_says_so(world):
    who = {"by": world.people["operator"], "clinic": world.clinic, "unit": world.unit, "on": build.TODAY}
    out = log.log_unit_event(**who, request_key=build.key(), kind="withdrawn", reason="door sticks")
    moved = log.log_unit_event(**who, request_key=build.key(), kind="relocated", reason="to room 2")
    corrected(world, "coordinator", moved, kind="returned", ends=out)
    assert given_of_the_return(world) == "told"
    standing = evaluate(clinic_facts(world.clinic), build.TODAY).units[0].standing
    assert (str(standing.word), standing.rule) == ("Out of service", "R4")
    assert withdrawals.open_withdrawals(world.unit, build.TODAY) == [out], "a return can still name it"
    assert withdrawals.standing_withdrawal(world.unit, build.TODAY) == out
    log.sign(by=world.people["operator"], request_key=build.key(), row=newest_return())
    assert given_of_the_return(world) == "signed"
    assert evaluate(clinic_facts(world.clinic), build.TODAY).units[0].standing.rule != "R4"
    assert withdrawals.open_withdrawals(world.unit, build.TODAY) == []


def test_a_signed_return_that_another_corrects_is_signed_no_more(world, returned):
    log.sign(by=world.people["operator"], request_key=build.key(), row=returned, passkey=True)
    assert given_of_the_return(world) == "passkey"
    corrected(world, "coordinator", newest_return(), reason="mended by hand")
    assert given_of_the_return(world) == "entered"


def test_an_erased_name_is_still_that_of_its_own_person(world, returned):
    person = world.people["operator"].person
    m.Account.objects.filter(person=person).update(is_active=False)
    log.erase_name(
        by=world.people["coordinator"], request_key=build.key(), organisation=world.clinic, name=returned.by,
        reason="left",
    )  # fmt: skip
    assert person.texts.get().erased_on is not None
    assert given_of_the_return(world) == "entered"


@pytest.mark.parametrize(("form", "paper", "code"), [(5, "", "not asked"), (6, "", "told"), (6, "page 7", "paper")])
def test_a_return_by_hand_from_paper_or_from_before_anybody_could_sign(world, returned, form, paper, code):
    row = m.UnitEvent.objects.select_related("entry__logged_by", "by").get(pk=returned.pk)
    row.by, row.entry.form, row.entry.paper = world.people["coordinator"].signed(), form, paper
    assert rows.given(row) == code
    assert signatures.only_told(row) is (code == "told")


@pytest.mark.parametrize(
    ("name", "paper", "form", "code"),
    [
        ("", "", 8, ""),
        ("pat  technician", "", 8, "entered"),
        ("C. Manager", "", 8, "told"),
        ("C. Manager", "page 7", 8, "paper"),
        ("C. Manager", "", 5, "not asked"),
    ],
)
def test_whose_word_it_is_that_a_pending_result_is_accepted_is_a_fact(world, name, paper, form, code):
    build.seal_replaced(world, build.TODAY - timedelta(days=3))
    row = m.JobConclusion.objects.select_related("entry__logged_by").get()
    row.acceptor, row.entry.form, row.entry.paper = name, form, paper
    assert rows.typed_given(row, row.acceptor) == code
    (job,) = clinic_facts(world.clinic).units[0].jobs
    assert job.conclusion.accepted_given == "", "nothing was pending"
