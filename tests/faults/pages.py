"""A browser of the coordinator, by plain HTTP: one form, sent under keys of its own."""

from __future__ import annotations

import http.client
from importlib import import_module
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.test import Client
from django.urls import reverse

from tests import world as build
from tests.records.page_form import form_of

TOKEN = "a" * 32
FORM = {"Content-Type": "application/x-www-form-urlencoded", "X-CSRFToken": TOKEN, "Host": "localhost"}


def cookies_of(person) -> str:
    """Those of somebody who has signed in, with the token of a form."""
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY], session[BACKEND_SESSION_KEY] = str(person.pk), settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.save()
    return f"{settings.SESSION_COOKIE_NAME}={session.session_key}; {settings.CSRF_COOKIE_NAME}={TOKEN}"


class Browser:
    """`send(key)` answers the status, 0 when the server was gone before it had answered."""

    def __init__(self, world, port: int) -> None:
        person = world.people["coordinator"]
        client = Client()
        client.force_login(person)
        self.port, self.address = port, reverse("log-chemical", args=["first"])
        self.typed = form_of(client.get(self.address)) | {"on": build.TODAY.isoformat()}
        self.typed |= {"unit": str(world.unit.ref), "type": "5", "result": "pass"}
        self.headers = FORM | {"Cookie": cookies_of(person)}

    def send(self, key) -> int:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            body = urlencode(self.typed | {"request_key": str(key)}, doseq=True)
            connection.request("POST", self.address, body, self.headers)
            return connection.getresponse().status
        except (OSError, http.client.HTTPException):
            return 0
        finally:
            connection.close()
