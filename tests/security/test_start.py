"""A server starts only with what is its own, and promises browsers only what it was asked to."""

from __future__ import annotations

import json
import os
from subprocess import CompletedProcess

import pytest

from audit.site import server
from tests import started
from tests.site.test_project import PRODUCTION, manage, manage_from_the_start

SAY = """
import json
from audit.site import settings as s
names = ("DEBUG", "BEHIND_PROXY", "SECURE_PROXY_SSL_HEADER", "SECURE_HSTS_INCLUDE_SUBDOMAINS", "SECURE_HSTS_PRELOAD",
         "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE", "SECURE_SSL_REDIRECT")
print(json.dumps({name: getattr(s, name, None) for name in names}))
"""


def start(tmp_path, **changes) -> CompletedProcess:
    """Load the settings of a server in a process of its own; a change to None leaves the variable out."""
    plain = {name: value for name, value in os.environ.items() if not name.startswith("STANDING_")}
    env = plain | PRODUCTION | {"STANDING_DATA": str(tmp_path)} | changes
    env = {name: value for name, value in env.items() if value is not None}
    return started.run(["-c", SAY], env=env)


# what is wrong, what is said of it
INCOMPLETE = [
    ({"STANDING_SECRET_KEY": None}, "STANDING_SECRET_KEY is missing"),
    ({"STANDING_SECRET_KEY": ""}, "STANDING_SECRET_KEY is missing"),
    ({"STANDING_SECRET_KEY": "short"}, "STANDING_SECRET_KEY is too short or too plain"),
    ({"STANDING_SECRET_KEY": "ab" * 40}, "STANDING_SECRET_KEY is too short or too plain"),
    ({"STANDING_SECRET_KEY": server.LAPTOP_KEY}, "STANDING_SECRET_KEY is too short or too plain"),
    ({"STANDING_HOSTS": None}, "STANDING_HOSTS is missing"),
    ({"STANDING_HOSTS": " , "}, "STANDING_HOSTS is missing"),
    ({"STANDING_HOSTS": "standing.example,*"}, "STANDING_HOSTS lets any name in"),
    ({"STANDING_ADDRESS": None}, "STANDING_ADDRESS is missing"),
    ({"STANDING_ADDRESS": "standing.example"}, "STANDING_ADDRESS is “standing.example”"),
    ({"STANDING_ADDRESS": "http://standing.example"}, "let it begin with https://"),
    ({"STANDING_ADDRESS": "https://standing.example/record/"}, "set the beginning of every address"),
    ({"STANDING_DEBUG": "false"}, "STANDING_DEBUG is “false”. Set it to 0 on a server"),
    ({"STANDING_HSTS_PRELOAD": "1"}, "set STANDING_HSTS_SUBDOMAINS=1 as well"),
]


@pytest.mark.parametrize(("changes", "said"), INCOMPLETE, ids=[f"{n}" for n, _ in enumerate(INCOMPLETE)])
def test_a_server_without_what_is_its_own_does_not_start_and_says_what_to_set(tmp_path, changes, said):
    done = start(tmp_path, **changes)
    assert done.returncode != 0 and said in done.stderr
    assert "ImproperlyConfigured" in done.stderr and done.stdout == ""


def test_all_that_is_missing_is_said_at_once(tmp_path):
    done = start(tmp_path, STANDING_SECRET_KEY=None, STANDING_HOSTS=None, STANDING_ADDRESS=None)
    for name in ("STANDING_SECRET_KEY", "STANDING_HOSTS", "STANDING_ADDRESS"):
        assert f"{name} is missing" in done.stderr


def test_check_deploy_agrees(tmp_path):
    """What starts has nothing to be said against; on a laptop, where all is open, it says so."""
    env = {"STANDING_DATA": str(tmp_path)}
    ready = manage("check", "--deploy", "--fail-level", "WARNING", env=PRODUCTION | env)
    assert ready.returncode == 0, ready.stderr
    without_key = manage_from_the_start("check", "--deploy", env=PRODUCTION | env | {"STANDING_SECRET_KEY": ""})
    assert without_key.returncode != 0 and "STANDING_SECRET_KEY is missing" in without_key.stderr
    laptop = manage("check", "--deploy", "--fail-level", "WARNING", env=env | {"STANDING_DEBUG": "1"})
    assert laptop.returncode != 0 and "security.W018" in laptop.stderr


# what is set, what the settings are
PROMISES = [
    ({}, {"DEBUG": False, "BEHIND_PROXY": False, "SECURE_PROXY_SSL_HEADER": None,
          "SECURE_HSTS_INCLUDE_SUBDOMAINS": False, "SECURE_HSTS_PRELOAD": False, "SESSION_COOKIE_SECURE": True,
          "CSRF_COOKIE_SECURE": True, "SECURE_SSL_REDIRECT": True}),
    ({"STANDING_PROXY": "1"}, {"BEHIND_PROXY": True, "SECURE_PROXY_SSL_HEADER": ["HTTP_X_FORWARDED_PROTO", "https"]}),
    ({"STANDING_HSTS_SUBDOMAINS": "1"}, {"SECURE_HSTS_INCLUDE_SUBDOMAINS": True, "SECURE_HSTS_PRELOAD": False}),
    ({"STANDING_HSTS_SUBDOMAINS": "1", "STANDING_HSTS_PRELOAD": "1"}, {"SECURE_HSTS_PRELOAD": True}),
    ({"STANDING_SSL_REDIRECT": "0", "STANDING_ADDRESS": "http://standing.example"}, {"SECURE_SSL_REDIRECT": False}),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "holds"), PROMISES, ids=[f"{n}" for n, _ in enumerate(PROMISES)])
def test_what_is_set_is_what_holds_and_nothing_is_promised_without_asking(tmp_path, changes, holds):
    done = start(tmp_path, **changes)
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert {name: said[name] for name in holds} == holds


def test_a_server_loads_no_log_ins_that_everybody_knows(tmp_path):
    done = manage("demo", "--no-serve", env=PRODUCTION | {"STANDING_DATA": str(tmp_path)})
    assert done.returncode == 2 and "not for a server" in done.stderr
    assert not (tmp_path / "standing.sqlite3").exists()
