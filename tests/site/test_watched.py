"""Addresses for whoever watches the machine: who may read them, and what they say."""

from __future__ import annotations

import json
import logging
from ipaddress import ip_network

import pytest
from django.test import Client

from audit.site import request_log
from tests import world as build

READY, METRICS = "/health/ready", "/metrics"


@pytest.fixture
def watched(settings, tmp_path):
    settings.METRICS_FROM, settings.METRICS_TOKEN = [ip_network("127.0.0.1"), ip_network("10.1.0.0/16")], ""
    settings.DATA_DIR, settings.ALLOWED_HOSTS, settings.SECURE_SSL_REDIRECT = tmp_path, ["standing.example"], True
    return settings


def test_live_says_that_the_process_answers_and_asks_nothing_of_the_database(watched):
    answer = Client().get("/health/live", REMOTE_ADDR="203.0.113.9", headers={"host": "whatever"})
    assert (answer.status_code, answer.content) == (200, b"live\n")


@pytest.mark.parametrize("page", [READY, METRICS])
@pytest.mark.parametrize(
    ("asked", "may"),
    [
        ({"REMOTE_ADDR": "127.0.0.1"}, True),
        ({"REMOTE_ADDR": "10.1.2.3"}, True),
        ({"REMOTE_ADDR": "10.2.2.3"}, False),
        ({"REMOTE_ADDR": ""}, False),  # a socket without an address
        ({"REMOTE_ADDR": "127.0.0.1", "headers": {"X-Forwarded-For": "127.0.0.1"}}, False),
        ({"REMOTE_ADDR": "127.0.0.1", "headers": {"X-Forwarded-Proto": "https"}}, False),
        ({"REMOTE_ADDR": "127.0.0.1", "headers": {"Forwarded": "for=10.1.2.3"}}, False),
        ({"REMOTE_ADDR": "203.0.113.9", "headers": {"Authorization": "Bearer "}}, False),
        ({"REMOTE_ADDR": "203.0.113.9", "headers": {"Authorization": "Bearer wrong"}}, False),
    ],
)
@pytest.mark.django_db
def test_only_who_the_settings_name_reads_the_others(watched, page, asked, may):
    watched.SECURE_SSL_REDIRECT = False
    answer = Client().get(page, **({"headers": {"host": "standing.example"}} | asked))
    assert answer.status_code in ((200, 503) if may else (400, 404))


@pytest.mark.django_db
def test_a_token_opens_them_from_anywhere(watched):
    watched.METRICS_TOKEN = "an-invented-token"
    asked = {"REMOTE_ADDR": "203.0.113.9", "headers": {"Authorization": "Bearer an-invented-token"}}
    assert Client().get(METRICS, **asked).status_code == 200


@pytest.mark.django_db
def test_ready_names_every_check_and_metrics_have_them_as_numbers(watched):
    build.make()
    answer = Client().get(READY, REMOTE_ADDR="127.0.0.1")
    said = {c["check"]: c for c in json.loads(answer.content)["checks"]}
    assert said.keys() == {"restore", "database", "writing", "triggers", "clock", "worker", "disk", "backup"}
    assert said["backup"]["state"] == "mind" and "manage.py backup" in said["backup"]["way_out"]
    assert (answer.status_code == 200) is all(c["state"] != "stop" for c in said.values())

    Client().get("/sign-in/", headers={"host": "standing.example"}, secure=True)
    text = Client().get(METRICS, REMOTE_ADDR="127.0.0.1").content.decode()
    assert 'standing_check{check="triggers"} 0.0' in text and 'standing_check{check="backup"} 1.0' in text
    assert 'standing_requests_total{method="GET",page="sign-in",status="200"}' in text
    assert "standing_entries " in text and "standing_ready 1.0" in text


@pytest.mark.django_db
def test_a_request_has_one_number_in_the_log_and_on_the_answer_and_no_secret_address_is_logged(watched, caplog):
    watched.SECURE_SSL_REDIRECT = False
    caplog.set_level(logging.INFO, "audit.site.requests")
    asked = {"host": "standing.example"}
    given = Client().get("/inspect/a-secret-token/", headers=asked | {"X-Request-ID": "proxy-number-1"})
    assert given["X-Request-ID"] == "proxy-number-1"
    made = Client().get("/inspect/a-secret-token/", headers=asked | {"X-Request-ID": "not one\n"})
    assert made["X-Request-ID"] not in ("", "not one\n", "proxy-number-1")
    said = [r.getMessage() for r in caplog.records if r.name == "audit.site.requests"]
    assert len(said) == 2 and all(line.startswith("GET inspect 4") for line in said) and "secret" not in str(said)


def test_a_line_of_the_log_is_one_json_object(monkeypatch):
    number = request_log._number.set("abcdefgh")
    try:
        raise ValueError("an invented\nfault")
    except ValueError:
        import sys

        record = logging.LogRecord("audit.x", logging.ERROR, "", 1, "it %s", ("failed\nhere",), sys.exc_info())
    line = request_log.JsonLine().format(record)
    request_log._number.reset(number)
    said = json.loads(line)
    assert "\n" not in line and said["request"] == "abcdefgh" and said["message"] == "it failed\nhere"
    assert said["level"] == "ERROR" and "ValueError: an invented" in said["fault"]
