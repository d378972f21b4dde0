"""What the tests of the day share: a form as the page gives it, filled in and sent."""

from __future__ import annotations

import re
from decimal import Decimal
from html.parser import HTMLParser

from records import log
from tests import world as made


class _Forms(HTMLParser):
    """The forms of a page: each address with the values its fields start with, and the names of all fields."""

    def __init__(self):
        super().__init__()
        self.forms: list[dict] = []
        self._select = None

    def handle_starttag(self, tag, attributes):
        at = dict(attributes)
        if tag == "form":
            self.forms.append({"at": at, "values": {}, "names": set(), "choices": {}})
        if not self.forms:
            return
        form, name = self.forms[-1], at.get("name")
        if tag in ("input", "select", "textarea") and name:
            form["names"].add(name)
        if tag == "select":
            self._select = name
        if tag == "option" and self._select:
            form["choices"].setdefault(self._select, []).append(at.get("value"))
            if "selected" in at:
                form["values"][self._select] = at.get("value")
        if tag == "input" and name:
            self._input(form, name, at)

    @staticmethod
    def _input(form, name, at):
        if at.get("type") in ("radio", "checkbox"):
            form["choices"].setdefault(name, []).append(at.get("value"))
            if "checked" in at:
                form["values"][name] = at.get("value", "on")
        elif at.get("value") is not None:
            form["values"][name] = at["value"]

    def handle_endtag(self, tag):
        if tag == "select":
            self._select = None


def forms_of(answer) -> list[dict]:
    """Every form of a page."""
    parser = _Forms()
    parser.feed(answer.content.decode())
    return parser.forms


def form_to(answer, address: str) -> dict:
    """The one form of a page that is sent to that address."""
    found = [f for f in forms_of(answer) if f["at"].get("action", "") == address]
    assert len(found) == 1, [f["at"].get("action") for f in forms_of(answer)]
    return found[0]


def send(client, form: dict, **filled):
    """Send the form as it stands with what was filled in or chosen."""
    values = {k: v for k, v in form["values"].items() if k != "csrfmiddlewaretoken"}
    return client.post(form["at"]["action"], values | filled)


def ids_of(answer) -> list[str]:
    return re.findall(r'\sid="([^"]+)"', answer.content.decode())


def load(world, number: str, on=made.TODAY, **more):
    return log.log_load(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit, on=on,
        cycle_number=number, program="wrapped 134", **more,
    )  # fmt: skip


def chemical_box(world, lot="C-7"):
    return log.log_indicator_lot(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, kind="chemical",
        name="Invented strip", lot=lot, on=made.BEGIN, chemical_type=5,
    )  # fmt: skip


def leak(world, on, rise="0.5", **more):
    return log.log_leak(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit, on=on,
        rise=Decimal(rise), unit_of_measure="kPa", minutes=Decimal(10), **more,
    )  # fmt: skip
