"""Devices for a random walk (`walked_device.js`) and the server that answers them, both in this process.

The devices run the site's own scripts in a real browser, in one page that is kept; what they send is answered by
Django's test client within the transaction of the test, so that a walk is undone by rolling back.
"""

from __future__ import annotations

import base64
import io
import json
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from audit.models import VisitDraft
from audit.pages import opened as opening
from records import clock
from tests import world as made

HERE = Path(__file__).parent
SCRIPTS = Path(__file__).resolve().parents[2] / "audit" / "static" / "audit"
# Kept pages of a begun visit are put in by the walk: fetching a dozen of them takes most of the time of a walk. The
# camera and what is taken along for a day type nothing.
LEFT_OUT = {"visit-along.js", "take-along.js", "scan.js", "scan-camera.js", "scan-worker.js", "desk.js", "follow.js"}
PAGES = ("identify", "safe", "found", "tasks", "extra-1", "prove", "end")
ORIGIN = "http://localhost"
NAMES = ("A", "B")
OWNER, OTHER = "technician", "coordinator"


def small_picture(n: int) -> str:
    """A picture of a colour of its own, as base64 of a PNG."""
    out = io.BytesIO()
    Image.new("RGB", (8, 8), (n * 53 % 256, n * 97 % 256, n * 29 % 256)).save(out, "PNG")
    return base64.b64encode(out.getvalue()).decode()


@contextmanager
def judged_once():
    """While nothing is recorded at a clinic, its units are read and judged once: they would come out the same."""
    plain_facts, plain_judge = opening.kept_facts, opening.evaluate
    from audit.gather.kept_facts import heads_of

    facts, judged = {}, {}

    def kept_facts(clinic):
        key = (clinic.pk, str(heads_of([clinic])))
        if key not in facts:
            facts[key] = plain_facts(clinic)
        return facts[key]

    def evaluate(of, as_of):
        key = (tuple(id(unit) for unit in of.units), as_of)
        if key not in judged:
            judged[key] = (of, plain_judge(of, as_of))  # with what it was judged from, so that no other has its id
        return judged[key][1]

    opening.kept_facts, opening.evaluate = kept_facts, evaluate
    try:
        yield
    finally:
        opening.kept_facts, opening.evaluate = plain_facts, plain_judge


class Server:
    """Answers the devices, each of which has a session of its own.

    `groups` are the units of each visit that may be begun; `codes` the lines of the plan that have a page, by unit.
    """

    def __init__(self, world, groups: list[list], codes: dict[str, list[str]]) -> None:
        self.world, self.groups = world, groups
        self.steps = {ref: [*PAGES, *(f"task-{code}" for code in of)] for ref, of in codes.items()}
        self.address = reverse("visit-begin", args=[world.clinic.slug])
        self.signed = {who: self._signed_in(who) for who in (OWNER, OTHER)}
        self.clients: dict[str, Client] = {}
        self.along = {who: self._pages_along(who) for who in (OWNER, OTHER)}
        self.begun_pages = self._pages_of_begun()
        self.start()

    def start(self) -> None:
        """Every device is signed in as the owner, as it took its pages along."""
        self.clients = {name: self._with(OWNER) for name in NAMES}
        for name in NAMES[1:]:
            own = Client()
            own.force_login(self.world.people[OWNER])
            self.clients[name].cookies[settings.SESSION_COOKIE_NAME] = own.cookies[settings.SESSION_COOKIE_NAME].value

    def _signed_in(self, who: str) -> dict:
        client = Client(enforce_csrf_checks=True)
        client.force_login(self.world.people[who])
        client.get(self.address)
        return {name: each.value for name, each in client.cookies.items()}

    def _with(self, who: str) -> Client:
        client = Client(enforce_csrf_checks=True)
        for name, value in self.signed[who].items():
            client.cookies[name] = value
        return client

    def sign_in(self, device: str, who: str) -> None:
        """With a session and a token of its own, as signing in gives them."""
        client = Client(enforce_csrf_checks=True)
        client.force_login(self.world.people[who])
        self.clients[device] = client

    def _pages_along(self, who: str) -> dict[str, str]:
        client, found = self._with(who), {}
        addresses = [self.address]
        for ref, steps in self.steps.items():
            names = [("unbegun-step", step) for step in steps] + [("unbegun-record",)]
            addresses += [reverse(name, args=[self.world.clinic.slug, ref, *more]) for name, *more in names]
        for address in addresses:
            found[address] = client.get(address, headers={"X-Keep": "1"}).content.decode()
        return found

    def _pages_of_begun(self) -> dict[tuple[str, ...], tuple[str, str, dict[str, str]]]:
        """The kept pages of a visit as it is begun, by its units: its name, its key, and the pages by address."""
        found = {}
        for units in ([str(unit.ref) for unit in group] for group in self.groups):
            client = self._with(OWNER)
            token = client.cookies[settings.CSRF_COOKIE_NAME].value
            sent = {"units": units, "csrfmiddlewaretoken": token, "device": "made before"}
            first = client.post(self.address, sent, headers={"Accept": "application/json"}).json()["next"]
            draft = VisitDraft.objects.get()
            addresses = [
                first.replace("/1/identify/", f"/{n}/{step}/")
                for n, ref in enumerate(units, start=1)
                for step in self.steps[ref]
            ]
            addresses.append(first.replace("1/identify/", "record/"))
            pages = {a: client.get(a, headers={"X-Keep": "1"}).content.decode() for a in addresses}
            found[tuple(units)] = (str(draft.ref), str(draft.request_key), pages)
            draft.delete()
        return found

    def pages_of(self, draft: VisitDraft) -> dict[str, str]:
        """What a device takes along of a visit that it has just begun."""
        ref, key, pages = self.begun_pages[tuple(draft.units)]
        return {
            address.replace(ref, str(draft.ref)): html.replace(ref, str(draft.ref)).replace(
                key, str(draft.request_key)
            )
            for address, html in pages.items()
        }

    def answer(self, asked: dict) -> dict:
        client, path = self.clients[asked["device"]], asked["path"]
        if asked["method"] == "GET":
            answer = client.get(path, headers=asked["headers"])
        else:
            answer = client.post(path, _fields(asked["fields"]), headers=asked["headers"])
        redirected, to = False, ""
        while answer.status_code in (301, 302, 303):
            to = answer["Location"]
            if not asked["follow"]:
                break
            path, redirected, to = to, True, ""
            answer = client.get(path)
        body = "" if to else answer.content.decode("utf-8", "replace")
        headers = {name.lower(): value for name, value in answer.items() if name.lower() != "set-cookie"}
        return {
            "status": answer.status_code, "headers": headers, "body": body, "path": path, "redirected": redirected,
            "to": to,
        }  # fmt: skip


def _fields(pairs: list) -> dict:
    found: dict[str, list] = {}
    for name, value in pairs:
        if isinstance(value, dict):
            if not value["name"]:
                continue  # none was chosen
            value = SimpleUploadedFile(value["name"], base64.b64decode(value["base64"]), value["type"])
        found.setdefault(name, []).append(value)
    return found


class Devices:
    """The page of the browser that holds them."""

    def __init__(self, browser, server: Server) -> None:
        self.server = server
        self.context = browser.new_context(timezone_id="America/Chicago")
        self.told: dict[str, dict] = {}
        self.page = self.context.new_page()
        self.is_clean = False
        blank = "<!doctype html><title>Devices</title>"
        self.context.route(f"{ORIGIN}/**", lambda route: route.fulfill(body=blank, content_type="text/html"))
        client = Client()
        paths = [reverse("offline"), reverse("waiting")]
        self.given = {
            "scripts": {p.name: p.read_text() for p in SCRIPTS.glob("*.js") if p.name not in LEFT_OUT},
            "worker": client.get(reverse("service-worker")).content.decode(),
            "shell": {path: client.get(path).content.decode() for path in paths},
        }

    def _open(self) -> None:
        self.page.goto(f"{ORIGIN}/")
        self.page.evaluate(f"{(HERE / 'walked_device.js').read_text()}; true")
        self.call("begin", self.given)

    def close(self) -> None:
        self.context.close()

    def call(self, name: str, *args):
        """A function of the walk's page; what its devices ask of the server meanwhile is answered here."""
        given = [name, list(args), []]
        while asked := (found := self.page.evaluate("given => Walk.pump(...given)", given)).get("asked"):
            answers = [{"id": one["id"], "text": json.dumps(self.server.answer(one["request"]))} for one in asked]
            given = ["", [], answers]
        assert not found.get("fault"), found["fault"]
        self.told = found["told"]
        return found["found"]

    def start(self) -> None:
        """Everything anew, with what was taken along on each device."""
        self.server.start()
        if not self.is_clean:
            self._open()
        self.is_clean = False
        self.now = made.NOW
        owner = self.server.world.people[OWNER]
        self.call("reset", made.NOW.timestamp() * 1000, list(NAMES), str(owner.ref), self.server.along[OWNER])

    def wait(self, seconds: int) -> None:
        """Time passes, on the devices and on the server."""
        self.now += timedelta(seconds=seconds)
        clock.stand_at(self.now)
        self.call("wait", seconds * 1000)
