"""One binder from the record to its bytes: the same facts give the same file, and the file carries what it states."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pikepdf
import pytest

from audit.binder.sealing import Sealing
from audit.binder.sections import to_json
from audit.issue import make as make_module
from audit.issue.make import STEPS, contents, make
from audit.issue.wish import Wish
from records import clock, log
from records.models import Clinic, Entry
from tests import paper_files
from tests import world as build

pytestmark = pytest.mark.django_db

FROM, TO = date(2025, 9, 1), date(2026, 3, 16)


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.tested_for_seven_weeks()


@pytest.fixture
def paper(world):
    """A paper of two pages, filed for the whole place."""
    content = paper_files.drawn(pages=2)
    log.log_document(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, kind="procedure",
        title="How we answer a failure", valid_from=date(2026, 1, 5), content=content, filename="answer.pdf",
    )  # fmt: skip
    return content


def order(world, **more) -> tuple[Clinic, Wish]:
    return world.clinic, Wish(FROM, TO, **more)


def attached(body: bytes) -> dict[str, bytes]:
    with pikepdf.open(BytesIO(body)) as pdf:
        return {name: pdf.attachments[name].get_file().read_bytes() for name in pdf.attachments}


def test_the_same_record_gives_the_same_bytes_and_another_size_of_paper_others(world, paper):
    first = make(*order(world))
    assert make(*order(world)).body == first.body
    assert make(*order(world, page="a4")).body != first.body


def test_what_is_said_of_the_seal_is_part_of_the_bytes_and_the_same_gives_the_same(world):
    sealing = Sealing("Keepers", "Ana", datetime(2026, 3, 16, 12, tzinfo=UTC), "ab" * 32, True, "https://x.example")
    first = make(*order(world), sealing=sealing)
    assert make(*order(world), sealing=sealing).body == first.body != make(*order(world)).body
    later = replace(sealing, at=sealing.at + timedelta(hours=1))
    assert make(*order(world), sealing=later).body == first.body, "of the moment the day alone is printed"
    assert "Sealed by Keepers" in json.dumps(to_json(first.binder), ensure_ascii=False)


def test_the_manifest_says_with_which_extent_it_was_made(world):
    assert make(*order(world)).manifest["extent"] == "inspector"
    assert make(*order(world, extent="everything")).manifest["extent"] == "everything"


def test_the_contents_inside_are_those_of_the_binder(world, paper):
    made = make(*order(world))
    inside = attached(made.body)
    assert json.loads(inside["contents.json"]) == to_json(made.binder)
    assert json.loads(inside["manifest.json"]) == made.manifest
    assert contents(*order(world))[0] == made.binder


def test_the_manifest_names_ledger_head_days_pages_and_each_file_by_its_hash(world, paper):
    made = make(*order(world))
    newest = Entry.objects.filter(ledger__organisation=world.clinic).order_by("-number").first()
    ledger = next(each for each in made.manifest["ledgers"] if each["organisation"] == str(world.clinic.ref))
    assert (ledger["number"], ledger["hash"]) == (newest.number, newest.hash)
    assert (made.manifest["as_of"], made.manifest["pages"]) == ("2026-03-16", made.pages)
    inside = attached(made.body)
    stated = {each["name"]: each["sha256"] for each in made.manifest["attachments"]}
    assert stated == {n: hashlib.sha256(b).hexdigest() for n, b in inside.items() if n != "manifest.json"}
    assert paper in inside.values()


def test_a_paper_is_shown_on_pages_of_its_own_in_the_outline(world, paper):
    made = make(*order(world))
    with pikepdf.open(BytesIO(made.body)) as pdf, pdf.open_outline() as outline:
        titles = [item.title for top in outline.root for item in (top, *top.children)]
        assert any("How we answer a failure" in title for title in titles)
        drawn = [name for page in pdf.pages for name in page.Resources.get("/XObject", {})]
        assert len(pdf.pages) == made.pages
    assert sorted(drawn) == ["/Paper1p1", "/Paper1p2"]


def test_each_step_is_told_in_order_before_it_is_taken(world):
    told = []
    make(*order(world), told=lambda done, total, what: told.append((done, total, what)))
    assert told == [(n, len(STEPS), what) for n, what in enumerate(STEPS)]


def test_what_was_not_known_by_then_is_not_in_it(world, paper):
    before = Entry.objects.order_by("-logged_at").first().logged_at
    with clock.at(build.NOW.replace(hour=15)):
        log.log_document(
            by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, kind="training",
            title="A later paper", valid_from=date(2026, 3, 1), content=paper_files.drawn(), filename="later.pdf",
        )  # fmt: skip
        later, earlier = make(*order(world)), make(*order(world, known_at=before))
    assert any("later.pdf" in name for name in attached(later.body))
    assert not any("later.pdf" in name for name in attached(earlier.body))


def test_a_period_that_ends_before_it_starts_is_refused(world):
    with pytest.raises(ValueError, match="ends before it starts"):
        make(world.clinic, Wish(TO, FROM))


def test_an_entry_that_comes_in_while_it_is_read_is_read_too(world, monkeypatch):
    """Otherwise the binder names a ledger head that it never saw."""
    reads = []

    def read(clinic, **more):
        facts = clinic_facts(clinic, **more)
        if not reads:
            log.log_gap(
                by=world.people["coordinator"], request_key=build.key(), clinic=clinic, from_on=date(2026, 1, 5),
                to_on=date(2026, 1, 9), what="the log of that week", why="lost in a move",
            )  # fmt: skip
        reads.append(len(facts.gaps))
        return facts

    clinic_facts = make_module.clinic_facts
    monkeypatch.setattr(make_module, "clinic_facts", read)
    binder, _ = contents(*order(world))
    newest = Entry.objects.filter(ledger__organisation=world.clinic).order_by("-number").first()
    assert reads == [0, 1]
    assert binder.heads[0].number == newest.number


def test_a_record_that_does_not_come_to_rest_is_told_with_the_way_out(world, monkeypatch):
    ever = iter(range(100))
    monkeypatch.setattr(make_module, "numbers", lambda clinic: next(ever))
    with pytest.raises(make_module.TooBusy, match="again in a minute"):
        contents(*order(world))
