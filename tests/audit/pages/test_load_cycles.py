"""The page of a load's recorded cycles: several files at once, each answered by itself; verdict and picture."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from audit.binder.contents import binder_contents
from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from audit.pages.svg import FailedMark, cycle_svg
from records import log
from records import models as m
from records.files import blobs
from tests import world as made
from tests.audit.judge.cycle import logs
from tests.audit.pages.tools import signed_in, text_of

pytestmark = pytest.mark.django_db
DAY = made.TODAY - timedelta(days=1)


def file(name, rows=None, serial="", number="811", profile="holding-134"):
    told = {"serial": serial, "cycle": number, "profile": profile}
    head = ["# cycle 1", *(f"# {key}: {value}" for key, value in told.items() if value)]
    return SimpleUploadedFile(name, logs.file(logs.rows(dt=5) if rows is None else rows, head=head), "text/plain")


@pytest.fixture
def load(world, settings, tmp_path):
    settings.BLOBS_DIR = tmp_path / "blobs"
    who = {"by": world.people["operator"], "request_key": made.key(), "clinic": world.clinic, "unit": world.unit}
    return log.log_load(**who, on=DAY, cycle_number="811", program="wrapped", mechanical="pass", chemical="pass")


def at(world, load, name="load-cycles"):
    return reverse(name, args=[world.clinic.slug, load.origin])


def send(client, world, load, *files, **more):
    return client.post(at(world, load, "add-cycles"), {"request_key": str(made.key()), "files": files} | more)


def test_each_of_several_files_is_answered_by_itself(client, world, load):
    signed_in(client, world, "operator")
    damaged = SimpleUploadedFile("damaged.csv", b"# cycle 1\nt_s,temperature_c\n0,20\n1,x\n", "text/plain")
    files = [file("good.csv"), damaged, file("short.csv", logs.rows(hold=100, dt=5)), file("again.csv")]
    answer = send(client, world, load, *files)
    assert answer.status_code == 422
    seen = text_of(answer)
    for words in (
        "good.csv : recorded", "damaged.csv : not recorded, Line 4: ", "short.csv : recorded",
        ": not met. holding-time: 100",
        "again.csv : recorded before, as entry",
    ):  # fmt: skip
        assert words in seen, words
    assert m.CycleRecording.objects.count() == 2 and m.FailureCase.objects.get().opened_by == load.origin
    assert blobs.holds(
        world.clinic, logs.file(logs.rows(dt=5), head=["# cycle 1", "# cycle: 811", "# profile: holding-134"])
    )


def test_the_page_shows_verdict_criteria_and_picture_to_who_may_look(client, world, load):
    send(signed_in(client, world, "operator"), world, load, file("short.csv", logs.rows(hold=100, dt=5)))
    answer = signed_in(client, world, "viewer").get(at(world, load))
    seen, raw = text_of(answer), answer.content.decode()
    assert "Mechanical result: fail (typed: pass)" in seen
    assert "Recorded cycle counts as failed: it did not meet holding-134" in seen
    for words in (
        "holding-time not met 100 s 180 s -80 s",
        "theory-difference met",
        "Central Sterilising Club handbook",
    ):
        assert words in seen, words
    assert 'role="img"' in raw and "pic-bad" in raw and "100 s with all sensors in 134 to 137 °C" in raw
    assert "Bring them in" not in seen
    assert "Recorded cycles" in text_of(client.get(reverse("record", args=[world.clinic.slug, "load", load.origin])))


def test_a_contradiction_is_asked_about_and_confirmed_by_sending_again(client, world, load):
    signed_in(client, world, "operator")
    answer = send(client, world, load, file("other.csv", number="812"))
    assert "it says cycle 812, the load is of cycle 811" in text_of(answer)
    assert b'value="recording-differs"' in answer.content and not m.CycleRecording.objects.exists()
    answer = send(client, world, load, file("other.csv", number="812"), confirmed="recording-differs")
    assert answer.status_code == 200 and "so it proves nothing" in text_of(answer)


def test_the_same_form_sent_twice_writes_once(client, world, load):
    signed_in(client, world, "operator")
    key = {"request_key": str(made.key())}
    for _ in range(2):
        assert send(client, world, load, file("good.csv"), **key).status_code == 200
    assert m.CycleRecording.objects.count() == 1


def test_no_file_and_too_many_are_said(client, world, load):
    signed_in(client, world, "operator")
    assert "No file was chosen" in text_of(send(client, world, load))
    assert "Choose 50 at most" in text_of(send(client, world, load, *[SimpleUploadedFile("a", b"x")] * 51))


def test_the_file_is_given_back_byte_for_byte(client, world, load):
    send(signed_in(client, world, "operator"), world, load, file("good.csv"))
    row = m.CycleRecording.objects.get()
    answer = client.get(reverse("cycle-file", args=[world.clinic.slug, row.ref]))
    assert answer.content == file("good.csv").read() and "good.csv" in answer["Content-Disposition"]
    assert answer["X-Content-Type-Options"] == "nosniff" and answer["Content-Type"].startswith("text/plain")


def test_a_file_that_is_lost_is_said_on_its_page(client, world, load, settings):
    send(signed_in(client, world, "operator"), world, load, file("good.csv"))
    (settings.BLOBS_DIR / str(world.clinic.ref) / m.CycleRecording.objects.get().sha256).unlink()
    seen = text_of(client.get(at(world, load)))
    assert "good.csv: met" in seen and "The file cannot be read: its file is missing from disk" in seen


def test_log_of_loads_and_binder_tell_the_verdict(client, world, load):
    send(signed_in(client, world, "operator"), world, load, file("short.csv", logs.rows(hold=100, dt=5)))
    seen = text_of(client.get(reverse("loads", args=[world.clinic.slug])))
    assert "recorded cycle counts as failed" in seen.lower()
    facts = clinic_facts(world.clinic)
    binder = binder_contents(facts, evaluate(facts, made.TODAY), from_on=made.BEGIN, to_on=made.TODAY)
    told = str(binder)
    assert "Recorded cycles of 1\\xa0load: 1\\xa0not met." in told and "recorded cycle counts as failed" in told


DRAWN = {
    "curves": {"reference": [[0, 20.0], [60, 135.0], [200, 135.2], [260, 60.0]], "pressure": [[0, 101], [260, 90]]},
    "hold": [60.0, 200.0], "band": [134.0, 137.0], "lasts": 260.0, "begins": 0.0,
    "plateau": {"since": 55.0, "until": 205.0, "curves": {"reference": [[0, 20.0], [60, 135.0], [200, 135.2]]}},
}  # fmt: skip


def test_the_picture_holds_its_words_and_stays_within_its_frame():
    svg = cycle_svg(DRAWN, [FailedMark("band-high", 9999.0), FailedMark("sampling", None)], "told <in words>", "c-1")
    assert "told &lt;in words&gt;" in svg and "band-high" in svg and "sampling" not in svg
    assert "nan" not in svg and svg.count("<polyline") == 3


@pytest.mark.parametrize(
    "curves",
    [{}, {"reference": [[0, 20.0]]}, {"reference": [[0, 20.0], [0, 20.0]], "pressure": [[0, 5.0], [0, 5.0]]}],
)
def test_a_log_of_hardly_anything_is_drawn_too(curves):
    assert "<svg" in cycle_svg(
        DRAWN | {"curves": curves, "hold": None, "lasts": 0.0, "plateau": {"since": 0, "until": 0, "curves": curves}},
        [],
        "",
        "c-1",
    )
