"""The tables that `migrate` makes step by step are those that the models of today ask for, to each word of their SQL.

`migrate` remakes fewer of the historical models than Django does (`records/management/commands/migrate.py`). With
STANDING_TESTS=all the tables are also compared with those of Django's own way, which takes four times as long.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connections, models
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.state import ModelState

from records.management.commands import migrate
from tests.in_turn import ALL

from .test_old_ledgers import database

TABLES = "SELECT type, name, tbl_name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY type, name"


def in_parts(sql: str) -> list[str]:
    """The columns and constraints of a CREATE TABLE in alphabetical order; any other statement as it is."""
    if not sql.startswith("CREATE TABLE"):
        return [sql]
    inside, parts, depth = sql[sql.index("(") + 1 : sql.rindex(")")], [""], 0
    for sign in inside:
        depth += (sign == "(") - (sign == ")")
        if sign == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += sign
    return sorted(" ".join(each.split()) for each in parts)


def tables_of(rows) -> dict[str, list[str]]:
    """Of each table and index that a model has, what it is made of."""
    of_models = {m._meta.db_table for m in apps.get_models(include_auto_created=True)}
    return {name: in_parts(sql) for kind, name, table, sql in rows if kind != "trigger" and table in of_models}


def made(file: Path, step) -> list[tuple]:
    """Everything in a new database after that step."""
    with database(file):
        step(connections["default"])
        with connections["default"].cursor() as cursor:
            return cursor.execute(TABLES).fetchall()


def at_once(fresh) -> None:
    with fresh.schema_editor() as editor:
        for model in apps.get_models():
            editor.create_model(model)


def test_the_tables_are_those_that_the_models_ask_for(tmp_path, django_db_blocker):
    with django_db_blocker.unblock():
        wanted = tables_of(made(tmp_path / "at-once.sqlite3", at_once))
        found = tables_of(made(tmp_path / "steps.sqlite3", lambda fresh: call_command("migrate", verbosity=0)))
    assert len(wanted) > 200 and found == wanted


@pytest.mark.skipif(not ALL, reason="takes long: on demand")
def test_the_tables_are_those_that_django_makes_in_its_own_way(tmp_path, django_db_blocker, monkeypatch):
    with django_db_blocker.unblock():
        ours = made(tmp_path / "ours.sqlite3", lambda fresh: call_command("migrate", verbosity=0))
        monkeypatch.setattr(migrate, "Executor", MigrationExecutor)
        assert ours == made(tmp_path / "django.sqlite3", lambda fresh: call_command("migrate", verbosity=0))


def key() -> models.Field:
    return models.BigAutoField(primary_key=True)


def to(other: str) -> models.Field:
    return models.ForeignKey(f"somewhere.{other}", models.PROTECT)


def known() -> migrate.Frugal:
    """Two models, of which the second points at the first, both made."""
    state = migrate.Frugal()
    state.add_model(ModelState("somewhere", "Place", [("id", key())]))
    state.add_model(ModelState("somewhere", "Unit", [("id", key()), ("place", to("Place"))]))
    assert state.apps.get_model("somewhere", "unit")
    return state


def remade(before, after) -> set[str]:
    names = {m._meta.model_name for m in after.apps.get_models()}
    return {n for n in names if n not in before or before[n] is not after.apps.get_model("somewhere", n)}


def classes(state) -> dict[str, type]:
    return {m._meta.model_name: m for m in state.apps.get_models()}


def points_at_unit(state) -> list[str]:
    return [r.related_model.__name__ for r in state.apps.get_model("somewhere", "unit")._meta.related_objects]


def test_a_new_model_and_a_plain_column_remake_nothing_else():
    state = known().clone()
    assert type(state) is migrate.Frugal
    before = classes(state)
    state.add_model(ModelState("somewhere", "Visit", [("id", key()), ("unit", to("Unit"))]))
    assert remade(before, state) == {"visit"} and state.is_delayed
    before = classes(state)
    state.add_field("somewhere", "unit", "label", models.TextField(), True)
    assert remade(before, state) == {"unit"}
    assert state.apps.get_model("somewhere", "unit")._meta.get_field("label")


def test_a_relation_remakes_all_of_them():
    state = known()
    state.add_model(ModelState("somewhere", "Visit", [("id", key())]))
    before = classes(state)
    state.add_field("somewhere", "visit", "unit", to("Unit"), True)
    assert remade(before, state) == {"place", "unit", "visit"}
    assert points_at_unit(state) == ["Visit"]


def test_what_takes_columns_over_is_remade_with_its_base():
    state = known()
    state.add_model(ModelState("somewhere", "Clinic", [], bases=("somewhere.place",)))
    state.add_field("somewhere", "place", "address", models.TextField(), True)
    assert state.apps.get_model("somewhere", "clinic")._meta.get_field("address")


def test_code_that_runs_over_the_models_finds_all_of_them_whole():
    """As Django does before it runs such code: what was delayed is made anew."""
    state = known()
    state.add_model(ModelState("somewhere", "Visit", [("id", key()), ("unit", to("Unit"))]))
    state.clear_delayed_apps_cache()
    assert points_at_unit(state) == ["Visit"]
