"""Recorded cycles on record: once by file and unit, their load found or made; what contradicts is asked about."""

from __future__ import annotations

from datetime import timedelta

import pytest

from audit.exchange.codec import export_of, read_history
from audit.gather import cycle_apart, recordings
from audit.gather.kept_facts import kept_facts
from audit.gather.read import clinic_facts
from audit.issue.cycle_files import BEFORE, RECORDED, FileNotTaken, take_in
from audit.models import CycleVerdict
from records import clock, log
from records import models as m
from records.files import blobs
from records.ledger import on_disk, tamper_check
from tests import world as build
from tests.audit.judge.cycle import logs

pytestmark = pytest.mark.django_db
DAY = build.TODAY - timedelta(days=3)
AT = f"{DAY.isoformat()}T08:12:00-05:00"


@pytest.fixture
def world(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path / "blobs"
    with clock.at(build.NOW):
        yield build.make()


def file(
    world, rows=None, *, number="71", profile="holding-134", started=AT, program="wrapped", serial=None
) -> bytes:
    told = {
        "serial": world.unit.serial if serial is None else serial, "cycle": number, "program": program,
        "started": started, "profile": profile,
    }  # fmt: skip
    head = ["# cycle 1", *(f"# {key}: {value}" for key, value in told.items() if value)]
    return logs.file(logs.rows(hold=200, dt=5) if rows is None else rows, head=head)


def short() -> list:
    return logs.rows(hold=100, dt=5)


def who(world, role="operator") -> dict:
    return {"by": world.people[role], "request_key": build.key(), "clinic": world.clinic}


def load(world, number="71", **more):
    more = {"mechanical": "pass", "chemical": "pass"} | more
    return log.log_load(**who(world), unit=world.unit, on=DAY, cycle_number=number, program="wrapped", **more)


def brought(world, content, of=None, **more):
    return take_in(**who(world), content=content, filename="71.csv", how="upload", load=of, **more)


def facts(world):
    return next(u for u in clinic_facts(world.clinic).units if u.ref == str(world.unit.origin))


def test_a_file_is_kept_by_its_hash_with_what_it_says_and_judged_apart(world):
    content, of = file(world), load(world)
    taken = brought(world, content, of)
    row = taken.row
    assert (taken.word, taken.verdict, row.load, row.how) == (RECORDED, "met", of, "upload")
    assert (row.serial, row.cycle_number, row.started, row.profile) == (world.unit.serial, "71", AT, "holding-134")
    assert (row.happened_on, row.happened_at.isoformat()) == (DAY, f"{DAY.isoformat()}T13:12:00+00:00")
    assert blobs.read(world.clinic, row.sha256) == content
    (fact,) = facts(world).recordings
    assert (fact.verdict, fact.load, fact.held_seconds) == ("met", str(of.origin), 200)
    assert not m.FailureCase.objects.exists()
    assert tamper_check.verify(world.clinic).whole and list(on_disk.faults(world.clinic)) == []


def test_one_that_did_not_meet_its_profile_opens_the_case_of_its_load(world):
    of = load(world)
    brought(world, file(world, short()), of)
    case = m.FailureCase.objects.get()
    assert (case.kind, case.opened_by) == ("mechanical", of.origin)
    assert case.entry == m.CycleRecording.objects.get().entry


def test_what_its_program_needs_counts_too(world):
    needs = {"exposure_minutes": 4, "temperature_low": 134, "source": "Invented instructions", "name": "wrapped"}
    log.log_program(**who(world, "coordinator"), unit=world.unit, effective_on=DAY, **needs)
    taken = brought(world, file(world), load(world))  # 200 s are fewer than four minutes
    assert taken.verdict == "met" and m.FailureCase.objects.get().kind == "mechanical"
    assert set(CycleVerdict.objects.values_list("least", flat=True)) == {"134"}


def test_the_profile_is_that_of_the_program_where_the_file_names_none(world):
    of = load(world)
    assert brought(world, file(world, profile=""), of).verdict == "cannot be judged"
    needs = {"exposure_minutes": 3, "temperature_low": 134, "source": "Invented instructions", "name": "wrapped"}
    log.log_program(**who(world, "coordinator"), unit=world.unit, effective_on=DAY, **needs)
    (fact,) = facts(world).recordings
    assert (fact.verdict, fact.profile) == ("met", "holding-134")


def test_the_same_file_twice_is_one_row_and_two_files_of_a_cycle_are_two(world):
    of, content = load(world), file(world)
    first = brought(world, content, of)
    entries = m.Entry.objects.count()
    again = brought(world, content, of)
    assert (again.word, again.row) == (BEFORE, first.row) and m.Entry.objects.count() == entries
    assert brought(world, file(world, logs.rows(hold=205, dt=5)), of).word == RECORDED


def test_the_same_request_is_the_same_entry(world):
    of, content, common = load(world), file(world), who(world)
    args = {"content": content, "filename": "71.csv", "said": {}, "load": of, "unit": world.unit}
    first = log.log_recording(**common, **args)
    assert log.log_recording(**common, **args).entry == first.entry


def test_entered_in_error_it_may_be_brought_in_again_and_counts_no_more(world):
    of = load(world)
    row = brought(world, file(world, short()), of).row
    log.void(by=world.people["operator"], request_key=build.key(), row=row, reason="of another load")
    assert facts(world).recordings == ()
    assert brought(world, file(world, short()), of).word == RECORDED


def test_what_the_file_says_is_never_corrected(world):
    row = brought(world, file(world), load(world)).row
    who_ = {"by": world.people["operator"], "row": row, "reason": "typo"}
    for changes in ({"serial": "X"}, {"happened_on": DAY - timedelta(days=1)}, {"happened_at": None}, {"load": None}):
        with pytest.raises(log.Refused, match="cannot be corrected"):
            log.correct(request_key=build.key(), changes=changes, **who_)
    named = log.correct(request_key=build.key(), changes={"filename": "cycle 71.csv"}, **who_)
    (fact,) = facts(world).recordings
    assert (fact.filename, fact.row.ref, fact.verdict) == ("cycle 71.csv", str(named.ref), "met")
    assert tamper_check.verify(world.clinic).whole


def test_without_a_load_it_is_found_by_unit_number_and_day(world):
    of = load(world, "0071")
    assert brought(world, file(world)).row.load == of
    assert m.Load.objects.count() == 1


def test_where_nobody_logged_the_load_it_is_made_and_says_no_more_than_the_file(world):
    row = brought(world, file(world)).row
    made = m.Load.objects.get()
    assert row.load == made and made.entry == row.entry
    assert (made.cycle_number, made.program, made.mechanical, made.happened_on) == ("71", "wrapped", "", DAY)
    assert not m.LoadRelease.objects.exists()


def test_the_cycle_of_an_air_removal_test_makes_no_load(world):
    log.log_air_removal(**who(world), unit=world.unit, on=DAY, result="pass", cycle_number="071")
    with pytest.raises(FileNotTaken, match="is an air-removal test on record, and no load"):
        brought(world, file(world))
    assert not m.Load.objects.exists()


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"serial": "OTHER-1"}, "No unit here has the serial"),
        ({"serial": ""}, "does not say the serial"),
        ({"number": ""}, "does not say its cycle"),
        ({"started": ""}, "does not say its started"),
        ({"started": "2031-01-01T08:00:00Z"}, "in the future"),
    ],
)
def test_a_file_that_nobody_can_place_is_refused(world, said, words):
    with pytest.raises(FileNotTaken, match=words) as refused:
        brought(world, file(world, **said))
    assert refused.value.confirm == () and not m.CycleRecording.objects.exists()


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"serial": "OTHER-1"}, "serial OTHER-1"),
        ({"number": "72"}, "it says cycle 72, the load is of cycle 71"),
        ({"program": "gravity"}, "program “gravity”"),
        ({"started": f"{build.TODAY.isoformat()}T08:12:00-05:00"}, "the load is of"),
    ],
)
def test_a_contradiction_is_asked_about_then_recorded_and_proves_nothing(world, said, words):
    of = load(world, mechanical="")
    with pytest.raises(FileNotTaken, match=words) as refused:
        brought(world, file(world, **said), of)
    assert refused.value.confirm == ("recording-differs",) and not m.CycleRecording.objects.exists()
    brought(world, file(world, **said), of, confirmed=refused.value.confirm)
    from audit.judge.recorded import mechanical_of

    unit = facts(world)
    (held,) = unit.loads
    assert mechanical_of(unit, held, unit.recordings) == ""


def test_one_file_is_of_one_unit(world):
    other = build.unit_at(world.clinic, world.people["coordinator"], "Unit 9")
    brought(world, file(world), load(world))
    of = log.log_load(**who(world), unit=other, on=DAY, cycle_number="71", program="wrapped")
    with pytest.raises(FileNotTaken, match="a cycle is of one unit"):
        brought(world, file(world), of, confirmed=("recording-differs",))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "Line 1: "), (b"x\n", "Line 1: the first line"), (b"# cycle 1\nt_s,temperature_c\n0,x\n", "Line 3: "),
        (b"# cycle 1\nt_s,temperature_c\n0,1", "ends within a row"), (b"#" * (10 * 2**20 + 1), "10 MiB"),
    ],
)  # fmt: skip
def test_what_is_no_recorded_cycle_is_refused_with_its_line(world, content, words):
    entries = m.Entry.objects.count()
    with pytest.raises(FileNotTaken, match=words):
        brought(world, content, load(world))
    assert m.Entry.objects.count() == entries + 1 and not m.CycleRecording.objects.exists()


# ------------------------------------------------------------------------------------------------ verdicts kept


def test_a_verdict_is_worked_out_once_and_again_when_it_is_lost_or_not_this_programs(world, monkeypatch):
    brought(world, file(world), load(world))
    asked = []

    def counted(*args, **more):
        asked.append(args)
        return cycle_apart.read_apart(*args, **more)

    monkeypatch.setattr(recordings, "read_apart", counted)
    assert facts(world).recordings[0].verdict == "met" and asked == []
    said = CycleVerdict.objects.get()
    said.said = said.said | {"verdict": "not met"}
    said.save()
    assert facts(world).recordings[0].verdict == "met" and len(asked) == 1
    CycleVerdict.objects.all().delete()
    assert facts(world).recordings[0].verdict == "met" and len(asked) == 2
    assert CycleVerdict.objects.count() == 1


def test_a_lost_or_altered_file_proves_nothing_and_is_named_until_it_is_put_back(world, settings):
    content = file(world)
    row = brought(world, content, load(world)).row
    CycleVerdict.objects.all().delete()
    path = settings.BLOBS_DIR / str(world.clinic.ref) / row.sha256
    path.unlink()
    for words, alter in (("missing", lambda: None), ("altered", lambda: path.write_bytes(content + b"\n"))):
        alter()
        (fault,) = on_disk.faults(world.clinic)
        assert words in fault.what and fault.row.startswith("recorded cycle")
        unit = next(u for u in kept_facts(world.clinic).units if u.ref == str(world.unit.origin))
        assert unit.recordings[0].verdict == "cannot be read"
    path.write_bytes(content)
    unit = next(u for u in kept_facts(world.clinic).units if u.ref == str(world.unit.origin))
    assert unit.recordings[0].verdict == "met"


def test_the_open_file_carries_it(world):
    brought(world, file(world), load(world))
    whole = clinic_facts(world.clinic)
    again = read_history(export_of(whole))
    of = {unit.ref: unit for unit in again.units}[str(world.unit.origin)]
    assert of.recordings == facts(world).recordings
