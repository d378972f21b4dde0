"""The addresses of all pages of a small world in which every kind of page has something to show.

Most come from the tables of the walk over every address and role, so that a new page is among them by itself; those
that need more of the world, such as a visit half typed, are named here. An address that gives no page says why.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import timedelta
from types import SimpleNamespace
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import NoReverseMatch, Resolver404, resolve, reverse

from audit.issue.jobs import queue
from audit.issue.jobs import tables as tables_in
from audit.issue.whole import jobs as records_out
from audit.models import BroughtTable, CalendarFeed, PlannedStop, PlannedWork
from records import clock, inviting, log
from records.doors import reset
from records.files import table_file
from records.models import Passkey, Visit
from tests import kept, visit_world
from tests import world as made
from tests.audit.pages.issued import issue_of, link_to
from tests.audit.pages.visit.test_pages import SAFE, SAME, Phone
from tests.records import test_url_walk as tables

# Of one unit with a plan of eight tasks: every kind of step of a visit.
STEPS = ("identify", "safe", "found", "tasks", "task-replace-gasket", "task-inspect-latch", "extra-1", "prove", "end")
FEED = "secret-of-an-invented-calendar"
# Which answer is no page: why, and what of the furnished world its address names.
NO_PAGE = {
    "draft-file": ("leads on while the draft is not made", lambda w: [w.clinic.slug, w.more.making.ref]),
    "issued-binder": ("a file", lambda w: [w.clinic.slug, *w.mine["issue"]]),
    "inspect-binder": ("a file", lambda w: [w.more.token]),
    "sheets-file": ("a file", lambda w: [w.clinic.slug, "day"]),
    "loads-file": ("a file", lambda w: [w.clinic.slug]),
    "loads-book": ("a file", lambda w: [w.clinic.slug]),
    "company-units-file": ("a file", lambda w: [w.company.slug, "csv"]),
    "everything-file": ("leads on while the file is not written", lambda w: [w.clinic.slug, w.more.out.ref]),
    "clinic-list-file": ("a file", lambda w: [w.clinic.slug, "due", "csv"]),
    "company-list-file": ("a file", lambda w: [w.company.slug, "due", "csv"]),
    "labels-file": ("a file", lambda w: [w.clinic.slug]),
    "stops-sheets": ("a file", lambda w: [w.company.slug]),
    "order-stop": ("takes a form", lambda w: [w.company.slug, w.more.stop.pk]),
    "round-sheets": ("a file", lambda w: [w.company.slug, w.today_week]),
    "visit-report": ("a file", lambda w: [w.clinic.slug, *w.mine["visit"]]),
    "photo": ("a picture", lambda w: [w.clinic.slug, w.more.photo.ref]),
    "draft-photo": ("a picture", lambda w: [w.clinic.slug, w.more.draft.ref, w.more.draft_photo]),
    "recall-letter": ("a file", lambda w: [w.company.slug, *w.mine["recall of clinic"]]),
    "document": ("a file", lambda w: [w.clinic.slug, *w.mine["paper"]]),
    "cycle-file": ("a file", lambda w: [w.clinic.slug, *w.mine["recording"]]),
    "calendar-file": ("a file", lambda w: [w.more.feed]),
    "service-worker": ("a script", lambda w: []),
    "waiting-state": ("data for a script", lambda w: []),
    "take-along": ("data for a script", lambda w: [w.clinic.slug]),
    "take-along-company": ("data for a script", lambda w: [w.company.slug]),
    "visit-draft": ("leads on to the step where the visit was left", lambda w: [w.clinic.slug, w.more.draft.ref]),
    "labelled-unit": ("leads on to the unit", lambda w: [w.unit.origin]),
    "sign-out": ("takes a form", lambda w: []),
    "end-sitting": ("takes a form", lambda w: []),
    "sign-in-code": ("leads on to signing in", lambda w: []),
    "sign-in-second-factor": ("leads on to signing in", lambda w: []),
    "make-passkey": ("leads on to where its name is typed", lambda w: []),
    "passkey-to-add": ("takes a form, of a script", lambda w: []),
    "passkey-to-sign": ("takes a form, of a script", lambda w: []),
    "passkey-to-sign-in": ("takes a form, of a script", lambda w: []),
    "check-row": ("takes a form", lambda w: [w.clinic.slug, "loads"]),
    "table-aside": ("a file", lambda w: [w.clinic.slug, w.more.looked.ref]),
    "visit-mail": ("takes a form", lambda w: [w.clinic.slug, w.more.visit.ref]),
    "visit-throw-away": ("takes a form", lambda w: [w.clinic.slug, w.more.draft.ref]),
    "visit-photo": ("takes a form", lambda w: [w.clinic.slug, w.more.draft.ref, 1, "identify"]),
    "unbegun-photo": ("takes a form", lambda w: [w.clinic.slug, w.more.kettle.ref, "identify"]),
}
# Forms that are also looked at as they come back when they are sent empty: one of each make.
SENT_EMPTY = ("log-bio", "log-visit", "day-start", "day-leak", "register-unit", "visit-step")


@pytest.fixture
def full(settings, tmp_path):
    """The world of the walk, furnished. The day stands still for the pages of a live server too."""
    settings.BLOBS_DIR, settings.BINDER_WORKER = tmp_path / "blobs", "none"
    clock.stand_at(made.NOW)
    with clock.at(made.NOW):
        yield furnished()
    clock.stand_at(None)


@kept.kept(folder="BLOBS_DIR")
def furnished():
    """What the pages need beyond the rows of the walk, under `world.more`."""
    world = tables.walked()
    made.weekly_tests(world, 5)
    kettle = visit_world.added_to(world)
    _owner_of_two(world)
    waiting = made.spore_test(world, made.TODAY - timedelta(days=1), test="", unit=kettle.unit)
    phone = Phone(kettle).begin(kettle.unit)
    photo = SimpleUploadedFile("counter.jpg", _picture(), "image/jpeg")
    phone.send("identify", photo=photo, cycles="5012", **SAME)
    phone.send("safe", **SAFE)
    phone.send("found")
    for step in ("tasks", "task-replace-gasket"):
        phone.send(step, go="done", lot=str(kettle.lots["door-gasket"].origin), old_part="scrapped")
    _, token = link_to(world, issue_of(world))
    company_link = inviting.invite(
        by=world.people["dispatcher"], ref=made.key(), organisation=world.company, role="technician", name="New"
    )
    visit = Visit.objects.get(happened_on=visit_world.LAST)
    making = queue.ask(world.clinic, world.people["viewer"], queue.Wish(*[made.TODAY] * 3), "form", draft=True)
    stop = _stop(world)
    world.more = SimpleNamespace(
        stop=stop, table=_table(world), looked=_looked_through(world),
        making=making, out=records_out.ask(world.clinic, world.people["coordinator"], made.key()),
        kettle=kettle.unit, waiting=waiting, visit=visit, draft=phone.draft, token=token,
        draft_photo=phone.draft.content["photos"][0]["sha256"], photo=_photo(world, visit),
        invitation=company_link[1], feed=_feed(world), passkey=world.passkey,
    )  # fmt: skip
    return world


def _stop(world) -> PlannedStop:
    """A stop of tomorrow that is agreed with the clinic, with a fault that was reported."""
    common = {"by": world.people["technician"], "request_key": made.key(), "clinic": world.clinic, "on": made.TODAY}
    tomorrow = made.TODAY + timedelta(days=1)
    agreed = log.agree_visit(**common, company=world.company, visit_on=tomorrow, agreed_with="Rae Reception")
    stop = PlannedStop.objects.create(
        company=world.company, clinic=world.clinic, given_to=world.people["technician"], on=tomorrow, hour="09:30",
        place=1, agreed=agreed.origin, changed_by=world.people["dispatcher"], changed_at=made.NOW,
    )  # fmt: skip
    fault = log.report_fault(
        **common | {"request_key": made.key()}, unit=world.unit, what="the door squeaks", meanwhile="kept",
        reported_by="Rae Reception", kept_because="it closes and seals",
    )  # fmt: skip
    PlannedWork.objects.create(stop=stop, unit=fault.unit.origin, item=f"fault:{fault.origin}")
    return stop


TABLE = "Sterilizer,Date,Cycle,Program,Gauges\nUnit 1,03/02/2026,71,wrapped,good\nUnit 9,2026-03-03,72,wrapped,pass\n"


def _table(world) -> BroughtTable:
    """A table whose columns are being chosen: a word that is none of ours, and a unit that is not known."""
    (sheet,) = sheets = table_file.read(TABLE.encode(), "loads.csv")
    packed = table_file.packed(sheets)
    table = tables_in.take_in(world.clinic, world.people["coordinator"], "loads", "loads.csv", packed, 3)
    table.mapping = tables_in.proposal(table, sheet).to_json()
    table.save()
    return table


def _looked_through(world) -> BroughtTable:
    """The same once its rows were looked through: each has a fault."""
    table = _table(world)
    table.source = {"who": "Old Hand"}
    tables_in.want(table, "judge")
    return table


def _owner_of_two(world) -> None:
    """Somebody with two places has a page over them."""
    owner = world.people["owner"] = made.account("owner", "Owe", "Owner")
    for place, chief in ((world.clinic, "coordinator"), (world.other_clinic, "other-coordinator")):
        log.log_membership(
            by=world.people[chief], request_key=made.key(), organisation=place, account=owner, role="viewer",
            effective_on=made.BEGIN,
        )  # fmt: skip
    world.passkey = Passkey.objects.create(
        account=owner, name="blue key", credential="invented", public_key="none", made_at=made.NOW
    )


def _picture() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (320, 200), "green").save(out, "JPEG")
    return out.getvalue()


def _photo(world, visit):
    job = visit.jobs.get()
    return log.log_photo(
        by=world.people["technician"], request_key=made.key(), clinic=world.clinic, unit=job.unit,
        on=visit.happened_on, caption="The strainer as found", about=job.origin, content=_picture(),
        width=320, height=200,
    )  # fmt: skip


def _feed(world) -> str:
    from audit.planning.calendar_file import digest_of

    CalendarFeed.objects.create(account=world.people["technician"], digest=digest_of(FEED), made_at=made.NOW)
    return FEED


def addresses(world) -> list[str]:
    """Every address that is about something of the first clinic, the first company, or no one thing.

    Of a world that is not furnished, those that it has rows for.
    """
    found = []
    for name, (_, about, *_) in tables.OF_CLINIC.items():
        found.append((name, [world.clinic.slug, *_args(world, about)]))
    for name, about in tables.JUDGEMENT.items():
        found.append((name, [world.clinic.slug, *_args(world, about)]))
    for name, (about, *_) in tables.OF_COMPANY.items():
        found.append((name, [world.company.slug, *_args(world, about)]))
    for name, (_, about, *_) in tables.OF_ITS_PEOPLE.items():
        found.append((name, [world.company.slug, *_args(world, about)]))
    pages = [reverse(name, args=args) for name, args in found if name not in NO_PAGE]
    pages += [reverse("rules-of", args=["us-dental-cdc-2003"]), *_alone(), "/no/such/page/"]
    pages += [reverse("round-parts", args=[world.company.slug, world.today_week])]
    if hasattr(world, "more"):
        pages += _furnished(world)
    return list(dict.fromkeys([*pages, reverse("clinic", args=[world.other_clinic.slug])]))


def _args(world, about):
    return world.mine[about] if about else ()


def _alone() -> list[str]:
    """Every named address that is about no one thing."""
    found = []
    for name in sorted(tables.named_addresses() - set(NO_PAGE)):
        try:
            found.append(reverse(name))
        except NoReverseMatch:
            continue
    return found


def _furnished(world) -> list[str]:
    more, slug = world.more, world.clinic.slug
    draft = [slug, more.draft.ref]
    found = [reverse("visit-step", args=[*draft, 1, step]) for step in STEPS]
    found += [
        reverse("work", args=[world.company.slug]),
        reverse("company-day", args=[world.company.slug]),
        *(reverse("company-list", args=[world.company.slug, kind]) for kind in ("overdue", "parts")),
        *(reverse("clinic-list", args=[slug, kind]) for kind in ("due", "done")),
        reverse("stops", args=[world.company.slug]) + f"?on={more.stop.on}",
        reverse("stop", args=[world.company.slug, more.stop.pk]),
        reverse("agree-stop", args=[slug, more.stop.pk]),
        reverse("call-off-visit", args=[slug, more.stop.agreed]),
        reverse("table-columns", args=[slug, more.table.ref]),
        reverse("table-in", args=[slug, more.looked.ref]),
        reverse("everything", args=[slug]),
        reverse("everything-job", args=[slug, more.out.ref]),
        *(reverse("type-rows", args=[slug, kind]) for kind in ("spore-tests", "leak-tests")),
        reverse("visit-record", args=draft),
        reverse("unbegun-step", args=[slug, more.kettle.ref, "end"]),
        reverse("unbegun-record", args=[slug, more.kettle.ref]),
        reverse("visit", args=[slug, more.visit.ref]),
        reverse("unit", args=[slug, more.kettle.ref]),
        reverse("plan", args=[slug, more.kettle.ref]),
        reverse("log-visit", args=[slug]) + f"?units={more.kettle.ref}",
        reverse("read-bio", args=[slug, more.waiting.ref]),
        reverse("day-read", args=[slug, more.waiting.ref]),
        reverse("may-be-used", args=[slug]) + f"?unit={more.kettle.ref}",
        reverse("search") + "?q=B-100",
        reverse("inspect", args=[more.token]),
        reverse("invitation", args=[more.invitation]),
        reverse("inspect", args=["x" * 43]),
        reverse("passkey", args=[more.passkey.pk]),
        urlsplit(reset.address_for(world.people["nobody"])).path,
    ]
    return found


def name_of(address: str) -> str:
    """The name of an address; "" where there is none."""
    try:
        return resolve(address.partition("?")[0]).url_name
    except Resolver404:
        return ""


def client_of(world, role: str) -> Client:
    """A browser of the tests with that role signed in; of nobody for ""."""
    client = Client(SERVER_NAME="localhost")
    if role:
        client.force_login(world.people[role])
    return client


@dataclass(frozen=True)
class Answer:
    """What a page answered, without what made it, and how many queries it took."""

    status_code: int
    headers: dict[str, str]
    content: bytes
    queries: int


_seen: dict[tuple[str, str, str], Answer] = {}


def seen(world, role: str, address: str) -> Answer:
    """What the furnished world shows that role there, asked for once in a run.

    The world is the same rows each time, for every process that took them from where another left them. One that is
    logged anew has other random refs and another token, by which its answers are told from those of the first.
    Only for looking: whoever changes or waits for something asks the page itself.
    """
    asked = (world.more.token, role, address)
    if asked not in _seen:
        _seen[asked] = kept.once_in_a_run(f"seen {asked}", lambda: _asked(world, role, address))
    return _seen[asked]


def _asked(world, role: str, address: str) -> Answer:
    """By a browser that holds nothing but that somebody signed in, once for all that is asked of this world."""
    sessions = world.__dict__.setdefault("sessions", {})
    if role and role not in sessions:
        sessions[role] = client_of(world, role).cookies[settings.SESSION_COOKIE_NAME].value
    client = Client(SERVER_NAME="localhost")
    if role:
        client.cookies[settings.SESSION_COOKIE_NAME] = sessions[role]
    with CaptureQueriesContext(connection) as taken:
        answer = client.get(address)
    if settings.SESSION_COOKIE_NAME in answer.cookies:
        sessions.pop(role, None)  # changed by what was asked: nothing else is asked with it
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return Answer(answer.status_code, dict(answer.headers), body, len(taken))


def is_page(answer) -> bool:
    """Whether the answer is a page to look at: not a file, not sent on."""
    return answer.status_code not in (301, 302) and answer.headers.get("Content-Type", "").startswith("text/html")
