"""Erasing a name: an entry says who, when and why; the name is gone; the ledgers that name the person stay whole."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from audit.gather.kept_facts import heads_of
from records import clock, log
from records import models as m
from records.ledger import tamper_check
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        made = build.make()
        build.seal_replaced(made, build.TODAY.replace(day=3))
        yield made


@pytest.fixture
def name(world):
    """Of somebody without a log-in, who signed at the clinic."""
    return m.Signature.objects.get(meaning="returned to use").signed_by


def erase(world, name, by="coordinator", **changes):
    fields = {"organisation": world.clinic, "reason": "asked for it", "asked_by": "herself"} | changes
    return log.erase_name(by=world.people[by], request_key=build.key(), name=name, **fields)


def test_the_entry_says_who_when_and_why_and_the_name_is_gone(world, name):
    said, before = name.value, heads_of([world.clinic])
    row = erase(world, name)
    assert (row.name, row.person, row.happened_on) == (name, name.person, build.TODAY)
    assert (row.reason, row.asked_by, row.entry.account) == ("asked for it", "herself", world.people["coordinator"])
    kept = m.PersonText.objects.get(pk=name.pk)
    assert (kept.value, kept.salt, kept.erased_on) == ("", "", build.TODAY) and said not in str(kept)
    assert said not in str([vars(row), vars(row.entry)])
    assert all(tamper_check.verify(each).whole for each in m.Organisation.objects.all())
    assert heads_of([world.clinic]) != before, "what was kept of the facts is stale"


@pytest.mark.parametrize("by, organisation", [("operator", "clinic"), ("dispatcher", "clinic"),
                                              ("other-coordinator", "other_clinic")])  # fmt: skip
def test_only_who_manages_a_ledger_that_names_the_person_erases(world, name, by, organisation):
    with pytest.raises(log.NotYours):
        erase(world, name, by, organisation=getattr(world, organisation))
    assert m.PersonText.objects.get(pk=name.pk).value and not m.NameErasure.objects.exists()


def test_a_reason_is_asked_for_and_twice_is_refused(world, name):
    with pytest.raises(log.Refused, match="Say why"):
        erase(world, name, reason=" ")
    erase(world, name)
    with pytest.raises(log.Refused, match="erased already"):
        erase(world, name)


def test_a_name_that_a_log_in_signs_with_is_not_erased(world):
    signed = m.Visit.objects.get().technician
    with pytest.raises(log.Refused, match="still signs"):
        erase(world, signed)
    m.Account.objects.filter(person=signed.person).update(is_active=False)
    assert erase(world, signed).name == signed


def test_a_name_erased_without_an_entry_is_found_and_can_be_entered(world, name):
    m.PersonText.objects.filter(pk=name.pk).update(value="", salt="", erased_on=build.TODAY.replace(day=10))
    (fault,) = tamper_check.verify(world.clinic).faults
    assert fault.column == "signed_by_id.erased_on" and "no entry says" in fault.what
    name.refresh_from_db()
    assert erase(world, name).happened_on == build.TODAY.replace(day=10)
    assert tamper_check.verify(world.clinic).whole


ALTERED = {
    "the day": {"erased_on": build.TODAY.replace(day=1)},
    "whose it was": {"person_id": None},
    "a name put in its place": {"value": "Somebody Else"},
    "not erased at all": {"erased_on": None},
    "not erased, with another name": {"erased_on": None, "value": "Somebody Else", "salt": "0" * 32},
}


@pytest.mark.parametrize("what", ALTERED)
def test_what_is_altered_of_an_erased_name_is_found(world, name, what):
    erase(world, name)
    other = m.Person.objects.exclude(pk=name.person_id).first()
    change = {key: other.pk if key == "person_id" else value for key, value in ALTERED[what].items()}
    m.PersonText.objects.filter(pk=name.pk).update(**change)
    assert not tamper_check.verify(world.clinic).whole


def test_a_name_from_before_the_digest_said_whose_verifies_and_cannot_be_stretched(world, name):
    """A name of then has a digest over salt and value; a later one cannot be taken for such a one."""
    whole = f"{name.value}\0{name.person.ref}"
    m.PersonText.objects.filter(pk=name.pk).update(value=whole)
    (fault,) = tamper_check.verify(world.clinic).faults
    assert "not the one that was signed" in fault.what
    old = m.PersonText.objects.create(
        person=name.person, value="As It Was", salt="s", digest=m.PersonText.digest_of("s", "As It Was")
    )
    from records.ledger import names

    assert names.read({old.pk}, set()).wrong == {}


def run(*args) -> int:
    with pytest.raises(SystemExit) as end:
        call_command("erase_name", *args)
    return end.value.code


def test_the_command_lists_and_erases(world, name, capsys):
    assert run("first") == 0
    assert f"{name.pk}  {name.value}" in capsys.readouterr().out
    asked = ("--by", "coordinator", "--reason", "asked for it")
    assert run("first", str(name.pk), *asked) == 0
    assert "entry" in capsys.readouterr().out and m.NameErasure.objects.get().name_id == name.pk
    assert run("first", str(name.pk), *asked) == 2
    assert run("first", "Nobody Known", *asked) == 2
    assert run("nowhere") == 2 and run("first", str(name.pk)) == 2
