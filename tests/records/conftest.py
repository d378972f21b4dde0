"""The small world at its moment, and a browser of one of its people."""

from __future__ import annotations

import pytest
from django.urls import reverse

from records import clock
from records.ledger import canon
from tests import world as build


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make(units=2)


@pytest.fixture
def at(client, world):
    """Open and send a page of the first clinic as one of its people."""

    class At:
        def sign_in(self, role):
            client.force_login(world.people[role])
            return self

        def address(self, name, *args):
            return reverse(name, args=[world.clinic.slug, *args])

        def open(self, name, *args, query=""):
            return client.get(self.address(name, *args) + query)

        def send(self, name, *args, data, query=""):
            return client.post(self.address(name, *args) + query, data)

    return At().sign_in("coordinator")


@pytest.fixture
def forms(tmp_path, monkeypatch):
    """A folder with the forms, to which a next one may be written."""
    for each in canon.HERE.glob("form_*.json"):
        (tmp_path / each.name).write_bytes(each.read_bytes())
    monkeypatch.setattr(canon, "HERE", tmp_path)
    caches = (canon.form_of, canon.newest_form)
    for each in caches:
        each.cache_clear()
    yield tmp_path
    monkeypatch.undo()
    for each in caches:
        each.cache_clear()
