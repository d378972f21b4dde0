"""The demo holds what it promises: every item of the story is really in the loaded database."""

import itertools
import sqlite3
from contextlib import closing
from datetime import date
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest
from django.conf import settings
from django.db import transaction
from django.test import override_settings
from PIL import Image
from pypdf import PdfReader

from records import demo
from records import models as m
from records.files import blobs
from records.files.paper_check import examine
from records.ledger import tamper_check
from records.log.indicators import ready_at
from records.log.programs import short_of
from records.log.signatures import given
from tests.demo_run import first_run

pytestmark = pytest.mark.django_db
STORY = Path(settings.BASE_DIR) / "fixtures" / "demo"


@pytest.fixture(scope="module")
def story():
    return demo.read_story(STORY)


@pytest.fixture(scope="module", autouse=True)
def loaded(story, django_db_setup, django_db_blocker, tmp_path_factory):
    """The demo, loaded once for this module and rolled back after it."""
    papers = override_settings(BLOBS_DIR=tmp_path_factory.mktemp("papers"))
    with django_db_blocker.unblock(), papers, transaction.atomic():
        demo.load(story, STORY)
        yield
        transaction.set_rollback(True)


def unit(label):
    return m.Unit.objects.get(label=label)


def outcomes(label, day, code):
    return m.TaskOutcome.objects.filter(unit__label=label, happened_on=day, plan_line__code=code)


# ------------------------------------------------------------------------------------------------ who and what


def test_one_company_three_clinics_under_different_rules():
    assert m.ServiceCompany.objects.count() == 1
    terms = dict(m.ClinicTerms.objects.values_list("programme", "regime"))
    assert terms == {"dental": "us-dental-cdc-2003", "veterinary": "base", "body art": "us-ca-body-art"}


def test_veterinary_clinic_has_its_own_duty_with_its_procedure_as_source():
    duty = m.LocalDuty.objects.get()
    assert (duty.clinic.slug, duty.duty, duty.every, duty.count) == (
        "crumpetfield", "biological-test", "rolling-days", 14,
    )  # fmt: skip
    assert "procedure" in duty.source
    assert m.Document.objects.filter(clinic=duty.clinic, kind="procedure").exists()


def test_eight_units_of_all_three_types():
    assert m.Unit.objects.count() == 8
    assert set(m.Unit.objects.values_list("equipment_type", flat=True)) == {
        "gravity", "dynamic air removal", "cassette",
    }  # fmt: skip


def test_eighteen_months_of_history():
    days = m.BioTest.objects.order_by("happened_on").values_list("happened_on", flat=True)
    assert days.first() <= date(2024, 12, 15) and days.last() >= date(2026, 6, 9)
    assert m.BioTest.objects.filter(unit=unit("Unit 2")).count() >= 70


def test_everything_says_that_it_is_invented():
    for path in STORY.glob("*"):
        assert "nvented" in path.read_text(encoding="utf-8"), f"{path.name} does not say that it is invented"
    assert all("invented" in line.source for line in m.PlanLine.objects.all())
    assert all("invented" in terms.address for terms in m.ClinicTerms.objects.all())


def test_log_ins_of_every_kind(story):
    roles = set(m.Membership.objects.values_list("role", flat=True))
    assert {"technician", "dispatcher", "coordinator", "viewer"} <= roles
    assert all(account.check_password(story.password) for account in m.Account.objects.all()[:1])


def test_every_load_of_the_largest_place_says_what_it_held_and_reached_within_its_program():
    loads = list(m.Load.objects.filter(clinic__slug="wobblestone").select_related("unit"))
    assert len(loads) > 20 and all(x.loaded_by and x.exposure_pressure and x.held_pouches for x in loads)
    assert {p.unit.label for p in m.Program.objects.select_related("unit")} == {f"Unit {n}" for n in range(1, 5)}
    assert not [x for x in loads if short_of(x)]


def test_an_inspection_has_a_point_met_and_one_open_with_its_day():
    (inspection,) = m.Inspection.objects.all()
    points = list(inspection.points.order_by("line"))
    assert "invented" in inspection.office and len(points) == 2
    assert [point.dones.count() for point in points] == [1, 0] and points[1].due_on == date(2026, 7, 10)


# ------------------------------------------------------------------------------------------------ one fits another


def cycles_of(label):
    """(moment, number) of all that names a cycle of the unit, as the story tells when it ran, oldest first."""
    kinds = (m.BioTest, m.AirRemovalTest, m.ChemicalResult, m.Load)
    rows = [
        (x.happened_at, int(x.cycle_number))
        for kind in kinds
        for x in kind.objects.filter(unit__label=label).exclude(cycle_number="")
    ]
    tests = m.VerificationTest.objects.filter(unit__label=label).exclude(cycle_number="").order_by("line")
    left = dict(m.VisitEnd.objects.values_list("visit_id", "happened_at"))
    rows += [(left[x.job.visit_id], int(x.cycle_number)) for x in tests if x.job.visit_id in left]
    return sorted(rows)


@pytest.mark.parametrize("label", ["Unit 1", "Unit 2", "Unit 3", "Unit 4", "Barn", "Surgery", "Front", "Back"])
def test_cycle_numbers_rise_with_time_and_only_what_ran_at_one_moment_shares_one(label):
    told = cycles_of(label)
    assert len(told) > 10
    for (one, number), (other, higher) in itertools.pairwise(told):
        assert number <= higher, (one, other)
        assert (number == higher) <= (one == other), (one, other)


def test_a_counter_shows_no_less_than_what_ran_before_and_no_more_than_what_runs_after():
    for reading in m.CounterReading.objects.filter(counter="cycles", happened_at__isnull=False):
        told = cycles_of(reading.unit.label)
        assert all(n <= reading.shown for at, n in told if at < reading.happened_at)
        assert all(n > reading.shown for at, n in told if at.date() > reading.happened_at.date())


def test_nothing_is_run_or_read_on_a_day_on_which_the_place_is_closed():
    kinds = (m.BioTest, m.AirRemovalTest, m.ChemicalResult, m.LeakTest, m.Load, m.UserCheck)
    closures = m.Closure.objects.all()
    assert len(closures) == 2
    for closure in closures:
        days = {"clinic": closure.clinic, "happened_on__range": (closure.from_on, closure.to_on)}
        assert [kind.__name__ for kind in kinds if kind.objects.filter(**days).exists()] == []
        assert not m.BioReading.objects.filter(**days, report="").exists(), "a laboratory reads on"


def test_a_load_of_the_day_of_a_spore_test_is_the_one_that_the_test_was_in():
    failed = m.BioTest.objects.get(unit__label="Unit 2", happened_on=date(2025, 11, 11))
    load = m.Load.objects.get(unit__label="Unit 2", happened_on=date(2025, 11, 11))
    assert (load.cycle_number, load.happened_at) == (failed.cycle_number, failed.happened_at)


def test_every_instrument_used_is_on_record_and_in_calibration_by_the_day_copied():
    used = m.Reading.objects.exclude(instrument="")
    assert used.exists()
    for reading in used:
        held = m.Calibration.objects.filter(instrument__name=reading.instrument, happened_on__lt=reading.happened_on)
        assert held.latest("happened_on").valid_to == reading.calibration_due


def test_packs_that_were_run_again_are_in_the_log_of_loads():
    again = m.Load.objects.filter(unit__label="Unit 1", contents__contains="wrapped anew").order_by("happened_at")
    assert [x.happened_on for x in again] == [date(2025, 11, 12)] + [date(2026, 6, 11)] * 3
    assert sum(x.held_pouches for x in again[1:]) == 41
    recall = m.FollowUpDone.objects.get(followup__action="recall packs")
    assert recall.outcome.startswith("41 pouches") and "three loads of 11 June" in recall.outcome


def test_an_installation_that_was_pending_was_concluded_when_the_tests_were_known_and_signed():
    pending, released = m.JobConclusion.objects.filter(
        unit__label="Unit 4", happened_on__lt=date(2025, 2, 1)
    ).order_by("happened_on")
    assert (pending.conclusion, released.conclusion) == ("pending", "released")
    assert released.happened_on <= pending.deadline
    assert m.Signature.objects.filter(job=released.job, amend_reason__startswith="signed").exists()


def test_who_accepted_a_pending_result_signed_that_the_unit_was_taken_back():
    accepted = m.JobConclusion.objects.get(unit__label="Surgery", happened_on=date(2026, 6, 12))
    (mark,) = m.Signature.objects.newest().filter(job=accepted.job, meaning="returned to use")
    assert accepted.conclusion == "pending" and str(mark.signed_by) == accepted.acceptor
    assert given(mark) == "signed" and str(mark.entry.logged_by) == accepted.acceptor


# ------------------------------------------------------------------------------------------------ the two-year PM


PM = date(2025, 10, 14)


def test_pm_was_one_visit_to_several_units():
    visit = m.Visit.objects.get(happened_on=PM)
    assert {job.unit.label for job in visit.jobs.all()} == {"Unit 1", "Unit 2"}


@pytest.mark.parametrize("position", ["cassette-seal", "air-filter", "intake-filter"])
def test_pm_replaced_with_lot(position):
    part = m.FittedPart.objects.get(unit__label="Unit 1", happened_on=PM, position__code=position)
    assert part.action == "replaced on plan" and part.lot and part.receipt_lot


def test_pm_intake_filter_is_not_fitted_on_the_older_version():
    fit = m.Fit.objects.get(unit__label="Unit 2", position__code="intake-filter")
    assert fit.state == "none"
    assert outcomes("Unit 2", PM, "replace-intake-filter").get().outcome == "not applicable"


def test_pm_check_valve_was_deferred_because_a_breakdown_had_renewed_it():
    renewed = m.FittedPart.objects.get(
        unit__label="Unit 1", position__code="check-valve", action="replaced on condition"
    )
    assert renewed.job.reason == "breakdown"
    deferred = outcomes("Unit 1", PM, "replace-check-valve").get()
    assert deferred.outcome == "deferred" and deferred.decided_by and deferred.agreed_by
    # Its own two years from the day it was renewed.
    assert deferred.deferred_until == renewed.happened_on.replace(year=renewed.happened_on.year + 2)


def test_pm_solenoid_plunger_was_inspected_cleaned_and_moves_freely():
    assert outcomes("Unit 1", PM, "inspect-solenoid").get().outcome == "done"
    cleaned = m.TaskOutcome.objects.get(unit__label="Unit 1", happened_on=PM, action="clean")
    assert cleaned.position.code == "solenoid" and "moves freely" in cleaned.found


def test_pm_perished_o_ring_was_replaced_on_condition():
    finding = m.ConditionFinding.objects.get(happened_on=PM, position__code="probe-oring")
    assert finding.grade == 3 and "perished" in finding.seen and finding.decision == "replace"
    part = m.FittedPart.objects.get(happened_on=PM, position__code="probe-oring")
    assert part.action == "replaced on condition" and part.lot_state == "not printed" and part.receipt_lot


def test_pm_unplugged_first_and_verified_before_return():
    for job in m.Job.objects.filter(happened_on=PM):
        assert ["unplugged before the cover came off", "done"] in job.make_safe
        test = m.VerificationTest.objects.get(job=job, code="V1")
        assert test.result == "pass" and "powered up" in test.value and "function cycle" in test.value
        meanings = set(m.Signature.objects.filter(job=job).values_list("meaning", flat=True))
        assert meanings == {"released", "returned to use"}


# ------------------------------------------------------------------------------------------------ monitoring


def test_a_week_was_missed():
    week = (date(2026, 2, 8), date(2026, 2, 14))
    tests = m.BioTest.objects.filter(unit__label="Unit 1")
    assert not tests.filter(happened_on__range=week).exists()
    assert tests.filter(happened_on__gt=week[1]).exists()


def test_an_invalid_test_whose_control_did_not_grow():
    reading = m.BioReading.objects.get(control="no growth")
    assert reading.test == "no growth" and reading.unit.label == "Unit 1"


def test_a_positive_test_was_followed_up_to_return():
    case = m.FailureCase.objects.get(kind="biological", unit__label="Unit 2")
    done = m.FollowUpDone.objects.filter(followup__case=case).values_list("followup__action", flat=True)
    assert {"withdraw", "review", "retest", "return"} <= set(done)
    repeat = m.BioTest.objects.get(unit__label="Unit 2", purpose="repeat")
    assert repeat.readings.get().test == "no growth" and repeat.mechanical == repeat.chemical == "pass"
    events = m.UnitEvent.objects.filter(unit__label="Unit 2").order_by("happened_at")
    assert [e.kind for e in events] == ["withdrawn", "returned"]


def test_a_positive_test_is_still_open():
    case = m.FailureCase.objects.filter(kind="biological", unit__label="Unit 3").earliest("pk")
    open_steps = m.FollowUp.objects.filter(case=case).exclude(dones__isnull=False)
    assert [s.action for s in open_steps] == ["find cause"]
    assert not m.UnitEvent.objects.filter(unit__label="Unit 3", kind="returned").exists()


def test_a_laboratory_test_is_sent_and_awaited():
    awaited = m.BioTest.objects.get(site="laboratory", readings=None)
    assert (awaited.clinic.slug, awaited.happened_on) == ("inklantern", date(2026, 6, 9))


@pytest.mark.parametrize("model", [m.ChemicalResult, m.AirRemovalTest, m.LeakTest, m.CounterReading, m.Load])
def test_the_unit_with_dynamic_air_removal_has_every_kind_of_record(model):
    assert model.objects.filter(unit__label="Unit 4").count() >= 5


def test_an_air_removal_test_failed_and_passed_after_repair():
    assert m.FailureCase.objects.filter(kind="air removal", unit__label="Unit 4").count() == 1
    last = m.AirRemovalTest.objects.filter(unit__label="Unit 4").latest("happened_on")
    assert last.result == "pass"


def test_loads_are_logged_around_the_failures_and_few():
    assert m.Load.objects.filter(unit__label="Unit 3", happened_on__gte=date(2026, 6, 1)).count() >= 5
    assert 20 <= m.Load.objects.count() <= 200


def test_no_growth_was_never_read_before_the_hours_of_the_label():
    for reading in m.BioReading.objects.select_related("bio_test__lot"):
        if reading.test == "no growth" and reading.happened_at and ready_at(reading.bio_test):
            assert reading.happened_at >= ready_at(reading.bio_test)


# ------------------------------------------------------------------------------------------------ records


def test_an_overdue_pm():
    done = outcomes("Barn", date(2025, 5, 20), "test-safety-valve").get()
    line = m.PlanLine.objects.get(unit__label="Barn", code="test-safety-valve")
    assert (done.outcome, line.months) == ("done", 12)
    later = m.TaskOutcome.objects.filter(unit__label="Barn", plan_line=line, happened_on__gt=done.happened_on)
    assert not later.exists()


def test_an_unknown_option():
    fit = m.Fit.objects.get(state="unknown")
    assert (fit.unit.label, fit.position.code) == ("Surgery", "intake-filter")


def test_a_corrected_entry():
    new = m.Reading.objects.get(amends__isnull=False)
    assert (new.amends.as_found, new.as_found) == (Decimal("143.2"), Decimal("134.2"))
    assert "swapped" in new.amend_reason


def test_a_row_entered_in_error():
    """A failing indicator, and with it the case that it had opened."""
    voided = m.Voiding.objects.order_by("line")
    assert [v.kind for v in voided] == ["chemicalresult", "failurecase"]
    assert len({v.entry for v in voided}) == 1 and all("training tray" in v.reason for v in voided)


def test_a_late_entry():
    test = m.BioTest.objects.get(unit__label="Barn", happened_on=date(2025, 9, 11))
    assert (test.entry.logged_at.date() - test.happened_on).days > 14 and not test.entry.paper


def test_a_historic_paper_entry():
    entry = m.Visit.objects.get(happened_on=date(2024, 5, 14)).entry
    assert "page 12" in entry.paper and entry.written_at.year == 2024


def words_of(content):
    """What a small paper of the demo says, whatever it is made of."""
    if content.startswith(b"%PDF"):
        return " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)
    if content.startswith(b"\x89PNG"):
        with Image.open(BytesIO(content)) as picture:
            return picture.info["Comment"]
    return content.decode()


def test_documents_are_filed_with_their_bytes():
    kinds = set()
    for document in m.Document.objects.all():
        content = blobs.read(document.clinic, document.sha256)
        kinds.add(examine(content, document.filename).media_type)
        assert "Everything in this paper is invented." in words_of(content)
    assert kinds == {"application/pdf", "image/png", "text/plain"}
    assert {"pressure examination", "instructions"} <= set(m.Document.objects.values_list("kind", flat=True))


def test_a_known_gap_of_the_paper_years_and_a_closure():
    gap = m.KnownGap.objects.get()
    assert gap.to_on.year - gap.from_on.year >= 2 and "paper" in gap.why
    closure = m.Closure.objects.get(clinic__slug="inklantern")
    assert (closure.to_on - closure.from_on).days == 6


def test_a_red_switch_and_a_spare():
    kinds = m.UnitEvent.objects.filter(unit__label="Back").order_by("happened_on").values_list("kind", flat=True)
    assert list(kinds) == ["withdrawn", "returned"]
    assert m.Placement.objects.filter(unit__label="Back").latest("effective_on").use == "stored as spare"


# ------------------------------------------------------------------------------------------------ the ledger


def test_parts_were_received_moved_into_the_van_fitted_thrown_away_and_counted():
    assert set(m.StockPlace.objects.values_list("name", "kind")) == {
        ("Store, Millrace Hall", "store"),
        ("Van 1", "van"),
    }
    kinds = set(m.StockMove.objects.values_list("kind", flat=True))
    assert kinds == {"received", "moved", "thrown away", "counted"}
    received = set(m.StockMove.objects.filter(kind="received").values_list("lot", flat=True))
    fitted = set(m.FittedPart.objects.exclude(part_lot=None).values_list("part_lot", flat=True))
    assert fitted <= received == set(m.PartLot.objects.values_list("pk", flat=True)), "each lot was put somewhere"
    assert m.RecallTold.objects.get().clinic.slug == "wobblestone"


def test_the_loaded_demo_passes_the_tamper_check(story):
    verdicts = [tamper_check.verify(o) for o in m.Organisation.objects.all()]
    assert [v.sentence for v in verdicts if not v.whole] == []
    assert len(verdicts) == 4
    assert sum(v.entries for v in verdicts) == len(demo.player.in_order(story))
    assert not m.Entry.objects.exclude(clock_off=None).exists(), "its clock never leaps"


def test_nothing_is_logged_after_the_present_of_the_story(story):
    assert m.Entry.objects.filter(logged_at__gt=story.now).count() == 0


def test_everybody_named_is_in_the_story(story):
    """A person made up while loading would have a random ref, and two loads would differ."""
    refs = {story.ref("person", a["username"]) for a in story.accounts}
    refs |= {story.ref("person", f"{p['place']}/{p['name']}") for p in story.people}
    assert set(m.Person.objects.values_list("ref", flat=True)) == refs


def test_two_loads_into_two_databases_give_the_same_heads(fresh_demo):
    heads = (
        "select o.slug, l.number, l.hash from records_ledger l "
        "join records_organisation o on o.id = l.organisation_id"
    )
    with closing(sqlite3.connect(fresh_demo / "standing.sqlite3")) as other:
        found = other.execute(heads).fetchall()
    here = m.Ledger.objects.values_list("organisation__slug", "number", "hash")
    assert sorted(found) == sorted(here)


@pytest.fixture(scope="module")
def fresh_demo(tmp_path_factory):
    """A data folder into which another process loaded the demo."""
    folder, done = first_run(tmp_path_factory)
    assert done.returncode == 0, done.stderr
    return folder


# ------------------------------------------------------------------------------------------------ refusing


def test_a_loaded_demo_is_recognised(story):
    assert demo.state_of(story) == "loaded"


def test_foreign_data_is_refused_with_the_way_out(story):
    with transaction.atomic():
        m.Clinic.objects.create(slug="someone-real", name="Someone Real")
        with pytest.raises(demo.ForeignData, match="Someone Real.*nothing was loaded.*STANDING_DATA"):
            demo.state_of(story)
        transaction.set_rollback(True)


def test_a_story_without_a_name_is_refused(tmp_path):
    with pytest.raises(demo.StoryError, match=r"story\.toml"):
        demo.read_story(tmp_path)
    for path in STORY.glob("*.toml"):
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "company.toml").write_text('place = "nowhere"\n', encoding="utf-8")
    with pytest.raises(demo.StoryError, match="nowhere"):
        demo.read_story(tmp_path)
