"""The project as a whole: checks that a server would fail on, and that README and the check script say the same."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from tests import started

TOP = Path(__file__).resolve().parents[2]
PRODUCTION = {
    "STANDING_DEBUG": "0",
    "STANDING_SECRET_KEY": "a-key-made-for-this-test-" + "0123456789abcdef" * 3,
    "STANDING_HOSTS": "standing.example",
    "STANDING_ADDRESS": "https://standing.example",
}


def manage(*args, env=None):
    """Run manage.py in a process of its own, a copy of one that was started, and return it."""
    return started.run(["manage.py", *args], env=os.environ | (env or {}))


def manage_from_the_start(*args, env=None):
    """Run manage.py as people do and return it: what it imports is imported now."""
    return subprocess.run(
        [sys.executable, "manage.py", *args],
        cwd=TOP,
        env=os.environ | (env or {}),
        capture_output=True,
        text=True,
        check=False,
    )


def test_check_deploy_finds_nothing_with_settings_from_the_environment(tmp_path):
    env = PRODUCTION | {"STANDING_DATA": str(tmp_path)}
    done = manage_from_the_start("check", "--deploy", "--fail-level", "WARNING", env=env)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "no issues" in done.stdout + done.stderr


def test_the_pages_of_the_admin_are_in_order():
    """They are found with the addresses, so a check that runs before those were asked for would see none."""
    admin = import_module("django.contrib.admin")
    import_module("audit.site.urls")
    assert len(admin.site._registry) > 30
    assert admin.site.check(None) == []


def test_check_deploy_can_fail(tmp_path):
    env = PRODUCTION | {"STANDING_DATA": str(tmp_path), "STANDING_SECRET_KEY": "short"}
    assert manage("check", "--deploy", "--fail-level", "WARNING", env=env).returncode != 0


def test_a_fault_on_a_server_is_said_on_standard_error(tmp_path):
    fault = "import logging; logging.getLogger('django.request').error('a page failed')"
    done = manage("shell", "--verbosity", "0", "-c", fault, env=PRODUCTION | {"STANDING_DATA": str(tmp_path)})
    assert done.returncode == 0 and "ERROR django.request: a page failed" in done.stderr


def test_the_settings_that_the_operators_page_lists_are_those_that_are_read():
    """Every variable that the program reads from the environment has its row, and no row is about another one."""
    code = [path.read_text(encoding="utf-8") for app in ("audit", "records") for path in (TOP / app).rglob("*.py")]
    name = r'"((?:STANDING|EMAIL|PG)[A-Z_]*)"'
    read = {found for text in code for found in re.findall(rf"environ(?:\.get\(|\[){name}", text)}
    read |= {found for text in code for found in re.findall(rf"^PASS_PHRASE = {name}", text, flags=re.M)}
    page = (TOP / "audit" / "site" / "operating.md").read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| `") and line.count("|") == 4]
    listed = {found for row in rows for found in re.findall(r"`((?:STANDING|EMAIL|PG)[A-Z_]*)`", row)}
    assert len(read) > 15 and listed == read


def test_no_migration_is_missing(tmp_path):
    done = manage("makemigrations", "--check", "--dry-run", env={"STANDING_DATA": str(tmp_path)})
    assert done.returncode == 0, done.stdout + done.stderr


def test_static_files_collect_for_production(tmp_path):
    done = manage("collectstatic", "--noinput", env=PRODUCTION | {"STANDING_DATA": str(tmp_path)})
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("args", [["check", "."], ["format", "--check", "."]], ids=["rules", "format"])
def test_ruff_finds_nothing(args):
    done = subprocess.run([sys.executable, "-m", "ruff", *args], cwd=TOP, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_check_script_calls_the_test_command_of_the_readme():
    blocks = re.findall(r"```sh\n(.*?)\n```", (TOP / "README.md").read_text(encoding="utf-8"), flags=re.S)
    assert len(blocks) == 2, "the README has exactly two commands"
    script = (TOP / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert blocks[1] in script


def test_the_top_level_holds_what_it_should():
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    allowed = {
        "README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "pyproject.toml", "records", "audit", "templates",
        "tests", "fixtures",
    }  # fmt: skip
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {t for t in top if not t.startswith(".")} - allowed == set()
