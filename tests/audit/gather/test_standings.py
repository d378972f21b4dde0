"""The stored standing is a cache: never shown when stale, always computed again from the facts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.core.management import call_command
from django.forms.models import model_to_dict

from audit.gather import standings
from audit.gather.kept_facts import kept_facts
from audit.judge import evaluate
from audit.judge import rules as every_rule
from audit.models import Standing
from audit.regimes import all_regimes, load_regime
from records import clock, log
from records import models as m
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        made = build.make(units=2)
        build.weekly_tests(made, 2)
        standings.refresh([made.clinic], build.TODAY)
        yield made


def plain(row: Standing) -> dict[str, str]:
    """Every column but the id, as text: an unsaved row may hold a word where the stored one holds its letters."""
    return {name: str(value) for name, value in model_to_dict(row, exclude=["id"]).items()}


def stored(world) -> list[dict[str, str]]:
    return [plain(row) for row in Standing.objects.filter(clinic=world.clinic).order_by("label")]


def fresh(world, day=build.TODAY) -> list[dict[str, str]]:
    return [plain(row) for row in standings.judged(world.clinic, day)]


def is_stale(world, day=build.TODAY) -> bool:
    return standings.stale([world.clinic], day) == [world.clinic]


def test_one_row_a_unit_equal_to_a_fresh_answer(world):
    assert [r["label"] for r in stored(world)] == ["Unit 1", "Unit 2"]
    assert stored(world) == fresh(world)
    assert not is_stale(world)
    assert standings.refresh([world.clinic], build.TODAY) == []


def test_stale_when_the_ledger_has_grown(world):
    assert stored(world)[0]["word"] != "Out of service"
    build.spore_test(world, build.TODAY - timedelta(days=1), test="growth")
    assert is_stale(world)
    (first, _) = standings.standings_for([world.clinic], build.TODAY)
    assert first.word == "Out of service" and not is_stale(world)
    assert stored(world) == fresh(world)


def test_stale_on_another_day(world):
    later = build.TODAY + timedelta(days=1)
    assert is_stale(world, later)
    standings.refresh([world.clinic], later)
    assert {r["as_of"] for r in stored(world)} == {str(later)}
    assert stored(world) == fresh(world, later) and is_stale(world)


def test_stale_when_the_rules_have_changed(world, monkeypatch):
    monkeypatch.setattr(standings, "rules_digest", lambda: "0" * 64)
    assert is_stale(world)
    standings.refresh([world.clinic], build.TODAY)
    assert {r["rules"] for r in stored(world)} == {"0" * 64} and not is_stale(world)


def test_the_digest_covers_every_file_that_judges(tmp_path, monkeypatch):
    judging = ("judge/evaluate.py", "judge/rules/one.py", "regimes/base.toml")
    for name in judging:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("first", encoding="utf-8")
    monkeypatch.setattr(standings, "AUDIT", tmp_path)
    plain = standings.rules_digest.__wrapped__
    seen = {plain()}
    for name in judging:
        (tmp_path / name).write_text("second", encoding="utf-8")
        seen.add(plain())
    assert len(seen) == 4


def test_a_unit_registered_since_is_judged_as_well(world):
    build.unit_at(world.clinic, world.people["coordinator"], "Unit 3")
    assert is_stale(world)
    assert len(standings.standings_for([world.clinic], build.TODAY)) == 3


def test_more_clinics_than_the_bound_are_left_for_recompute(world):
    build.spore_test(world, build.TODAY - timedelta(days=1))
    both = [world.clinic, world.other_clinic]
    assert standings.refresh(both, build.TODAY, at_most=1) == [world.other_clinic]
    assert standings.refresh(both, build.TODAY) == []


def test_another_clinics_entries_leave_this_one_fresh(world):
    by = world.people["other-coordinator"]
    log.log_chemical(
        by=by, request_key=build.key(), clinic=world.other_clinic, unit=world.other_unit, on=build.TODAY, type=5,
        result="pass",
    )  # fmt: skip
    assert not is_stale(world)


# ------------------------------------------------------------------------------------------------ the company's books


def with_a_seal(world) -> None:
    build.seal_replaced(world, date(2026, 2, 2))
    standings.refresh([world.clinic], build.TODAY)
    assert stored(world)[0]["word"] != "Out of service" and not is_stale(world)


def recalled(world) -> None:
    """The company is told that the seal fitted here must not be used."""
    log.log_part_recall(
        by=world.people["dispatcher"], request_key=build.key(), owner=world.company, on=build.TODAY,
        part="Cassette seal", number="INV-77", lot="S-9", issued_by="Invented Works", reason="too soft",
        action="stop use",
    )  # fmt: skip


def credential(world) -> None:
    log.log_credential(
        by=world.people["dispatcher"], request_key=build.key(), owner=world.company, person="Pat Technician",
        kind="training", title="Invented course", valid_from=build.BEGIN,
    )  # fmt: skip


def instrument(world):
    return log.log_instrument(
        by=world.people["dispatcher"], request_key=build.key(), owner=world.company, name="T-1", kind="thermometer",
        serial="1", on=build.BEGIN,
    )  # fmt: skip


def calibration(world) -> None:
    log.log_calibration(
        by=world.people["dispatcher"], request_key=build.key(), owner=world.company, instrument=instrument(world),
        on=build.TODAY, certificate="C-1", result="out of tolerance", valid_to=build.TODAY, as_found="1.2 °C high",
    )  # fmt: skip


@pytest.mark.parametrize("book", [recalled, credential, instrument, calibration])
def test_stale_when_a_book_of_the_company_has_grown(world, book):
    with_a_seal(world)
    book(world)
    assert is_stale(world)
    standings.refresh([world.clinic], build.TODAY)
    assert stored(world) == fresh(world) and not is_stale(world)


def test_a_recall_in_the_company_s_books_is_shown_wherever_the_answer_is(world, client, capsys):
    with_a_seal(world)
    recalled(world)
    out = {"word": "Out of service"}
    (first, _) = standings.standings_for([world.clinic], build.TODAY)
    assert plain(first) | out == plain(first)
    client.force_login(world.people["dispatcher"])
    for address in ("/company/keepers/", "/company/keepers/?word=Out+of+service", "/clinic/first/"):
        assert "Out of service" in client.get(address).content.decode(), address
    with pytest.raises(SystemExit):
        call_command("status", "first")
    assert "Unit 1: Out of service" in capsys.readouterr().out


def test_what_waits_for_its_turn_is_not_shown_as_it_was(world, monkeypatch):
    with_a_seal(world)
    recalled(world)
    monkeypatch.setattr(standings, "AT_MOST_ON_READING", 0)
    assert list(standings.standings_for([world.clinic], build.TODAY)) == []


# ------------------------------------------------------------------------------------------------ when judging fails


def broken(*args, **kwargs):
    raise ZeroDivisionError("an invented fault")


def test_a_standing_that_cannot_be_worked_out_is_not_shown_as_usable(
    world, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(evaluate, "stand", broken)
    with django_capture_on_commit_callbacks(execute=True):
        test = build.spore_test(world, build.TODAY - timedelta(days=1), test="")
    assert m.BioTest.objects.filter(pk=test.pk).exists(), "the fact is recorded whatever judging does"
    for row in standings.standings_for([world.clinic], build.TODAY):
        assert row.word == "Waiting for proof"
        assert "could not be judged" in row.reason and "an invented fault" in row.reason


def test_a_rule_that_raises_is_an_open_item_and_the_others_still_run(world, monkeypatch):
    plain = {u.label: u for u in evaluate.evaluate(kept_facts(world.clinic), build.TODAY).units}
    rules = [("broken", broken), *every_rule.RULES]
    monkeypatch.setattr(evaluate, "RULES", rules)
    test = build.spore_test(world, build.TODAY - timedelta(days=1), test="")
    assert m.BioTest.objects.filter(pk=test.pk).exists()
    for unit in evaluate.evaluate(kept_facts(world.clinic), build.TODAY).units:
        (failed,) = [f for f in unit.findings if f.rule == "rule-failed"]
        assert "'broken'" in failed.message and "an invented fault" in failed.message
        if unit.label == "Unit 2":  # nothing was logged for it
            assert [f for f in unit.findings if f is not failed] == list(plain[unit.label].findings)


def test_a_listener_that_fails_loses_no_entry(world, monkeypatch, django_capture_on_commit_callbacks, caplog):
    """Judging again after an entry is a kindness; when it fails whole, the entry stands and the answer is stale."""
    clinic, unit = world.clinic, world.unit
    monkeypatch.setattr(clock, "is_fixed", lambda: False)
    monkeypatch.setattr(standings, "judged_together", broken)
    with django_capture_on_commit_callbacks(execute=True):
        row = log.log_chemical(
            by=world.people["operator"], request_key=build.key(), clinic=clinic, unit=unit, on=build.TODAY, type=5,
            result="pass",
        )  # fmt: skip
    assert m.ChemicalResult.objects.get() == row
    assert "an invented fault" in caplog.text
    assert is_stale(world)


def test_an_entry_is_judged_at_once_when_nobody_stands_at_another_time(
    world, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(clock, "is_fixed", lambda: False)
    with django_capture_on_commit_callbacks(execute=True):
        build.spore_test(world, build.TODAY - timedelta(days=1), test="growth")
    assert not is_stale(world)
    assert stored(world)[0]["word"] == "Out of service"


# ------------------------------------------------------------------------------------------------ recompute


def check() -> int:
    with pytest.raises(SystemExit) as end:
        call_command("recompute", "--check")
    return end.value.code


def test_recompute_makes_every_standing_right(world, capsys):
    assert check() == 1, "the other clinic was never judged"
    assert "nothing stored" in capsys.readouterr().out
    call_command("recompute")
    assert "3 standings of 2 clinics" in capsys.readouterr().out
    assert check() == 0
    assert "3 units checked, 0 differ." in capsys.readouterr().out


@pytest.mark.parametrize(
    "change",
    [
        {"word": "Decommissioned"},
        {"reason": "all is well"},
        {"holds_until": None, "since": None},
        {"heads": "0" * 64},
    ],
    ids=lambda c: "-".join(c),
)
def test_check_names_a_stored_row_that_differs(world, capsys, change):
    call_command("recompute")
    build.spore_test(world, build.TODAY - timedelta(days=1), test="growth")
    call_command("recompute")
    tampered = Standing.objects.get(label="Unit 1", clinic=world.clinic)
    Standing.objects.filter(pk=tampered.pk).update(**change)
    before = stored(world)
    capsys.readouterr()
    assert check() == 1
    said = capsys.readouterr().out
    assert "first Unit 1: stored" in said and "1 differ." in said
    assert stored(world) == before, "--check changes nothing"


def with_other_rules(monkeypatch, **changes):
    """The rules that the clinic follows, as if their file had been changed."""
    one = load_regime("us-dental-cdc-2003")
    test = replace(next(d for d in one.duties if d.id == "biological-test"), **changes)
    changed = replace(one, duties=tuple(test if d.id == test.id else d for d in one.duties))
    known = {**all_regimes(), one.id: changed}
    monkeypatch.setattr("audit.judge.evaluate.all_regimes", lambda: known)
    monkeypatch.setattr(standings, "rules_digest", lambda: "f" * 64)


def test_check_names_the_clinics_that_a_change_of_a_rules_file_answers_otherwise(world, capsys, monkeypatch):
    call_command("recompute")
    with_other_rules(monkeypatch, every="rolling-days", count=1, forbids=True)
    capsys.readouterr()
    assert check() == 1
    said = capsys.readouterr().out.splitlines()
    assert [line.partition(":")[0] for line in said[:2]] == ["first Unit 1", "first Unit 2"]
    assert all("stored “In service" in line and "fresh “Out of service" in line for line in said[:2])
    assert "Clinics with another answer: first, other." in said and said[-1] == "3 units checked, 3 differ."


def test_check_counts_what_a_change_of_a_rules_file_leaves_as_it_was(world, capsys, monkeypatch):
    call_command("recompute")
    with_other_rules(monkeypatch, note="read otherwise")
    capsys.readouterr()
    assert check() == 0
    assert "3 were stored under the rules of before, and read the same." in capsys.readouterr().out
    Standing.objects.filter(label="Unit 1", clinic=world.clinic).update(reason="all is well")
    assert check() == 1
    assert "first Unit 1: stored “In service: all is well" in capsys.readouterr().out


# ------------------------------------------------------------------------------------------------ its own mark

LATER = {"as_of": build.TODAY + timedelta(days=1), "since": date(2020, 1, 1), "word": "Decommissioned"}


def other_value(column: str, value):
    """A value that the column takes and that is not the one it has."""
    if column in LATER:
        return LATER[column]
    if isinstance(value, int):
        return value + 1
    return date(2031, 1, 1) if isinstance(value, date) or value is None else f"{value}x"[-4:]


@pytest.mark.parametrize("column", [f.name for f in Standing._meta.concrete_fields if f.name not in
                                    ("id", "unit", "clinic", "unit_ref")])  # fmt: skip
def test_a_row_that_is_not_the_one_that_was_stored_is_never_shown(world, column):
    row = Standing.objects.get(clinic=world.clinic, label="Unit 1")
    Standing.objects.filter(pk=row.pk).update(**{column: other_value(column, getattr(row, column))})
    assert is_stale(world)
    assert [plain(r) for r in standings.standings_for([world.clinic], build.TODAY)] == fresh(world)


def test_a_row_given_to_another_unit_or_clinic_or_taken_away_is_noticed(world):
    first, second = Standing.objects.filter(clinic=world.clinic).order_by("label")
    second.delete()
    assert is_stale(world)
    standings.refresh([world.clinic], build.TODAY)
    assert not is_stale(world)
    Standing.objects.filter(pk=first.pk).update(unit=world.other_unit)
    assert is_stale(world)


def test_the_mark_needs_the_secret_key(world, settings):
    assert not is_stale(world)
    settings.SECRET_KEY = "another one"
    assert is_stale(world)
