"""Devices for a random walk (`walked_device.js`) and the server that answers them, both in this process.

The devices run the site's own scripts in a real browser, in one page that is kept; what they send is answered by
Django's test client within the transaction of the test, so that a walk is undone by rolling back.
"""

from __future__ import annotations

import base64
import io
import json
from contextlib import contextmanager
from dataclasses import dataclass
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


@dataclass
class Taken:
    """What devices took along of a world before a story is told in it: the owner's pages by address, and those of a
    visit as it is begun, by its units, with its name and its key. Can be kept with the rows of the world.
    """

    world: made.World
    units: list
    signed: dict[str, dict[str, str]]  # who to the cookies of a session
    along: dict[str, str]
    begun: dict[tuple[str, ...], tuple[str, str, dict[str, str]]]


def taken_along(world, units: list, groups: list[list], codes: list[str], more: tuple[str, ...] = ()) -> Taken:
    """`groups` are the units of each visit that may be begun; `codes` the lines of the plan that have a page, `more`
    other pages.
    """
    steps = [*PAGES, *(f"task-{code}" for code in codes), *more]
    address = reverse("visit-begin", args=[world.clinic.slug])
    signed = {who: _signed_in(world, who, address) for who in (OWNER, OTHER)}
    refs = [str(unit.ref) for unit in units]
    unbegun = [reverse("unbegun-step", args=[world.clinic.slug, ref, step]) for ref in refs for step in steps]
    unbegun += [reverse("unbegun-record", args=[world.clinic.slug, ref]) for ref in refs]
    with judged_once():
        along = _pages(_with(signed[OWNER]), [address, *unbegun])
        begun = {}
        for group in groups:
            of = tuple(str(unit.ref) for unit in group)
            begun[of] = _pages_of_begun(_with(signed[OWNER]), address, of, steps)
    return Taken(world, units, signed, along, begun)


def _signed_in(world, who: str, address: str) -> dict[str, str]:
    client = Client(enforce_csrf_checks=True)
    client.force_login(world.people[who])
    client.get(address)
    return {name: each.value for name, each in client.cookies.items()}


def _with(signed: dict[str, str]) -> Client:
    client = Client(enforce_csrf_checks=True)
    for name, value in signed.items():
        client.cookies[name] = value
    return client


def _pages(client: Client, addresses: list[str]) -> dict[str, str]:
    return {each: client.get(each, headers={"X-Keep": "1"}).content.decode() for each in addresses}


def _pages_of_begun(client: Client, address: str, units: tuple[str, ...], steps: list[str]):
    token = client.cookies[settings.CSRF_COOKIE_NAME].value
    sent = {"units": list(units), "csrfmiddlewaretoken": token, "device": "made before"}
    first = client.post(address, sent, headers={"Accept": "application/json"}).json()["next"]
    draft = VisitDraft.objects.get()
    numbers = range(1, len(units) + 1)
    addresses = [first.replace("/1/identify/", f"/{n}/{step}/") for n in numbers for step in steps]
    pages = _pages(client, [*addresses, first.replace("1/identify/", "record/")])
    draft.delete()
    return str(draft.ref), str(draft.request_key), pages


class Server:
    """Answers the devices, each of which has a session of its own."""

    def __init__(self, taken: Taken) -> None:
        self.taken, self.world, self.units = taken, taken.world, taken.units
        self.address = reverse("visit-begin", args=[self.world.clinic.slug])
        self.clients: dict[str, Client] = {}

    def start(self) -> None:
        """Every device is signed in as the owner, as it took its pages along."""
        self.clients = {name: _with(self.taken.signed[OWNER]) for name in NAMES}
        for name in NAMES[1:]:
            own = Client()
            own.force_login(self.world.people[OWNER])
            self.clients[name].cookies[settings.SESSION_COOKIE_NAME] = own.cookies[settings.SESSION_COOKIE_NAME].value

    def sign_in(self, device: str, who: str) -> None:
        """With a session and a token of its own, as signing in gives them."""
        client = Client(enforce_csrf_checks=True)
        client.force_login(self.world.people[who])
        self.clients[device] = client

    def pages_of(self, draft: VisitDraft) -> dict[str, str]:
        """What a device takes along of a visit that it has just begun."""
        ref, key, pages = self.taken.begun[tuple(draft.units)]
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
        self.call("reset", made.NOW.timestamp() * 1000, list(NAMES), str(owner.ref), self.server.taken.along)

    def wait(self, seconds: int) -> None:
        """Time passes, on the devices and on the server."""
        self.now += timedelta(seconds=seconds)
        clock.stand_at(self.now)
        self.call("wait", seconds * 1000)


@contextmanager
def opened_for(browser, taken):
    """The devices of a story, for what `taken` builds once in a run; the day stands still, its units beside them."""
    along = taken()
    clock.stand_at(made.NOW)
    with judged_once():
        opened = Devices(browser, Server(along))
        opened.units = along.units
        yield opened
        opened.close()
    clock.stand_at(None)
