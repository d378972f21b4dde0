"""A visit that a device began without a signal: its pages, and what becomes of it once it reaches the server."""

from __future__ import annotations

import json
import uuid

import pytest

from audit.models import VisitDraft
from records.models import JobConclusion, Photo, TaskOutcome, Visit
from tests import visit_world
from tests import world as build
from tests.audit.pages.visit.test_pages import END, SAFE, SAME, Phone, built, words  # noqa: F401 (built is a fixture)
from tests.audit.pages.visit.test_photos import jpeg, outbox

pytestmark = pytest.mark.django_db


class Away(Phone):
    """A device that the server has not heard of since the unit’s pages were taken along."""

    def __init__(self, built, role="technician"):  # noqa: F811
        super().__init__(built, role)
        self.root, self.key = f"{self.start}of/{built.unit.ref}/", str(uuid.uuid4())

    def open(self, step):
        return self.client.get(f"{self.root}{step}/")

    def send(self, step, **data):
        more = {"headers": {"Accept": "application/json"}}
        return self.client.post(f"{self.root}{step}/", data | {"visit_key": self.key, "revision": 0}, **more)

    def pages(self, **more) -> list[dict]:
        """What was typed of a whole visit."""
        tasks = {f"task-{code}": self._task(position, action) for code, position, _, action, _ in visit_world.PLAN}
        said = {"identify": SAME, "safe": SAFE, "found": {}} | tasks | {"prove": {"V1": "pass"}, "end": END} | more
        return [{"n": "1", "step": step, "revision": 0, "data": data} for step, data in said.items()]

    def _task(self, position, action) -> dict:
        if action != "replace":
            return {"outcome": "done"}
        return {"outcome": "done", "lot": str(self.built.lots[position].origin), "old_part": "scrapped"}

    def record(self, pages, **data):
        head = {"on": build.TODAY.isoformat(), "revision": 0, "request_key": self.key, "waiting": json.dumps(pages)}
        return self.client.post(f"{self.root}record/", head | data, headers=outbox(self))


@pytest.fixture
def away(built):  # noqa: F811
    return Away(built)


def test_its_pages_are_there_before_it_is_begun_and_begin_nothing(away, django_assert_max_num_queries):
    along = away.client.get("/clinic/first/take-along/").json()["addresses"]
    mine = [address for address in along if address.startswith(away.root)]
    steps = {address.removeprefix(away.root).strip("/") for address in mine}
    due = {f"task-{code}" for code, *_ in visit_world.PLAN}
    assert steps == {"identify", "safe", "found", "tasks", "prove", "end", "extra-1", "extra-2", "record"} | due
    for address in mine:
        with django_assert_max_num_queries(12):
            page = away.client.get(address)
        assert page.status_code == 200 and 'data-unbegun="1"' in words(page), address
        assert f'action="{address}"' in words(page), address
    assert VisitDraft.objects.count() == 0
    assert away.open("nonsense").status_code == 404


def test_sent_as_a_whole_it_is_recorded_once_whatever_is_sent_again(away):
    first, again = away.record(away.pages()), away.record(away.pages())
    assert [a["X-Outbox-Answer"] for a in (first, again)] == ["recorded", "recorded"]
    assert first.json()["to"] == again.json()["to"]
    visit = Visit.objects.get(happened_on=build.TODAY)
    assert JobConclusion.objects.get(job__visit=visit).conclusion == "released"
    assert TaskOutcome.objects.filter(job__visit=visit).count() == 8
    assert VisitDraft.objects.get().visit == visit.ref


def test_the_first_page_that_reaches_the_server_begins_it_and_the_rest_goes_on_there(away):
    kept = away.send("identify", quiet="1", **SAME)
    draft = VisitDraft.objects.get()
    assert kept.json() == {"revision": 1} and str(draft.request_key) == away.key
    assert kept["X-Visit"] == f"{away.start}{draft.ref}/"
    moved = away.send("safe", **SAFE)
    assert moved.json()["next"] == f"{away.start}{draft.ref}/1/found/"
    short = away.send("end", conclusion="not released")
    assert short.status_code == 422 and short["X-Visit"] == f"{away.start}{draft.ref}/1/end/?check=1"
    assert VisitDraft.objects.count() == 1
    assert f"{away.start}{draft.ref}/" in words(away.open("record")), "what is on the server already is told"


def test_what_cannot_be_recorded_as_sent_is_kept_on_the_server_with_what_is_missing(away):
    answer = away.record(away.pages(prove={}))
    page = words(answer)
    draft = VisitDraft.objects.get()
    assert answer["X-Outbox-Answer"] == "refused" and "cannot be claimed yet" in page
    assert f"{away.start}{draft.ref}/1/end/?check=1" in page
    assert f'data-visit-sent="of-{away.built.unit.ref}"' in page
    assert len(draft.content["steps"]) == len(away.pages()) + 1 and not draft.visit
    unread = away.record([{"n": 1}])
    assert "could not be read" in words(unread) and "data-visit-sent" not in words(unread), "the device keeps it"


def test_a_unit_that_was_not_identified_is_not_recorded(away):
    for said in ({}, SAME | {"plate": "differs"}):
        away.key = str(uuid.uuid4())
        answer = away.record(away.pages(identify=said))
        assert answer.status_code == 422 and "not confirmed as the one on record" in words(answer)
    assert not Visit.objects.filter(happened_on=build.TODAY).exists()


def test_a_photo_that_comes_first_begins_the_visit_and_is_recorded_with_it(away):
    sent = {"photo": jpeg(), "photo_caption": "Counter", "visit_key": away.key}
    answer = away.client.post(f"{away.root}identify/photo/", sent, headers=outbox(away))
    assert answer["X-Outbox-Answer"] == "recorded" and Photo.objects.count() == 0
    assert away.record(away.pages(identify=SAME | {"cycles": "5012"}))["X-Outbox-Answer"] == "recorded"
    assert Photo.objects.get().caption == "Counter"


@pytest.mark.parametrize("role", ["coordinator", "dispatcher", "other-coordinator", "nobody"])
def test_the_key_of_somebody_elses_visit_opens_nothing(away, role):
    away.send("identify", quiet="1", **SAME)
    other = Away(away.built, role)
    other.key = away.key
    assert other.send("safe", **SAFE).status_code == 404
    assert set(VisitDraft.objects.get().content["steps"]) == {"1/identify"}


@pytest.mark.parametrize("key", ["", "nonsense"])
def test_without_its_key_nothing_is_begun(away, key):
    away.key = key
    assert away.send("identify", **SAME).status_code == 404
    assert away.record(away.pages()).status_code == 404
    assert VisitDraft.objects.count() == 0


@pytest.mark.parametrize("role", ["viewer", "operator", "stores"])
def test_who_may_not_record_visits_begins_none(built, role):  # noqa: F811
    other = Away(built, role)
    assert [other.open("identify").status_code, other.send("identify", **SAME).status_code] == [403, 403]
