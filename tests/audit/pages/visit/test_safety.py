"""What a visit says before anything is opened or fitted: what is not safe, which parts are under a notice."""

from __future__ import annotations

import pytest

from audit.pages.visit.guide.steps import SAFE_STEPS
from records import clock, log
from records.models import FittedPart, Job, VerificationTest
from records.wording import MAKE_SAFE
from tests import world as build

from .test_pages import SAFE, SAME, Phone, built, phone, words  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db


def test_the_steps_are_those_of_the_one_list_in_their_order(phone):  # noqa: F811
    phone.send("identify", **SAME)
    page = words(phone.open("safe"))
    places = [page.index(f"{n}. {text}") for n, text in enumerate(MAKE_SAFE, start=1)]
    assert places == sorted(places) and len(places) == 10
    assert "Where the maker’s instructions of this unit say another order, follow theirs." in page


@pytest.mark.parametrize(
    ("field", "said", "recorded", "stops"),
    [
        (
            "s_zero_pressure",
            {"s_zero_pressure_no": "gauge broken, vented by hand"},
            "gauge broken, vented by hand",
            True,
        ),
        ("s_unplugged", {"s_unplugged_no": "no plug, no lock at hand"}, "no plug, no lock at hand", True),
        ("s_generator", {"s_generator_none": "on"}, "not on this unit: stated by who did the work", False),
        ("s_cooled", {"s_cooled": "on", "s_cooled_at": "13:25"}, "done at 13:25", False),
    ],
)
def test_a_step_is_recorded_as_answered_and_what_is_not_done_says_stop_from_then_on(
    phone, field, said, recorded, stops  # noqa: F811
):  # fmt: skip
    phone.send("identify", **SAME)
    answers = {name: value for name, value in SAFE.items() if name != field} | said
    assert phone.send("safe", **answers).status_code == 302
    for step in ("safe", "found", "tasks", "prove", "end"):
        page = words(phone.open(step))
        assert ('role="alert" data-not-kept><p><strong>Stop.' in page) == stops, step
    left = {"conclusion": "not released", "reason": "left as it was"}
    phone.send("end", **left)
    assert phone.record().status_code == 302
    text = next(step.text for step in SAFE_STEPS if step.field == field)
    assert dict(Job.objects.order_by("-id").first().make_safe)[text] == recorded


def test_a_blank_page_before_work_says_stop_on_every_later_one(phone):  # noqa: F811
    phone.send("identify", **SAME)
    assert "Stop." in words(phone.open("found")) and "“Before work” is still blank" in words(phone.open("found"))


def test_a_draft_of_another_list_is_never_read_as_an_answer(phone):  # noqa: F811
    phone.send("identify", **SAME)
    old = {"reason": "planned", "contamination": "declared clean"} | {f"s{n}": "on" for n in range(6)}
    answer = phone.send("safe", **old)
    assert answer.status_code == 422 and words(answer).count("Tick it once it is done") >= 10


def test_a_step_with_two_answers_is_asked_again(phone):  # noqa: F811
    phone.send("identify", **SAME)
    answer = phone.send("safe", **SAFE | {"s_vacuum_none": "on"})
    assert answer.status_code == 422 and "two answers that shut each other out" in words(answer)


def test_what_a_test_measured_is_recorded_and_no_pass_lies_outside_its_band(phone):  # noqa: F811
    phone.to_the_tasks()
    typed = {"V1_temperature_low": "133.5", "V1_band_low": "134", "V1_band_high": "137", "V1_minutes": "3.5"}
    refused = phone.send("prove", V1="pass", **typed)
    assert refused.status_code == 422 and "lies below the band" in words(refused)
    assert phone.send("prove", V1="pass", **typed | {"V1_temperature_low": "134.2"}).status_code == 302
    phone.send("end", conclusion="not released", reason="parts are missing")
    assert phone.record().status_code == 302
    test = VerificationTest.objects.order_by("-id").first()
    measured = [test.temperature_low, test.band_low, test.band_high, test.minutes, test.temperature_high]
    assert [str(value) for value in measured] == ["134.2", "134.0", "137.0", "3.50", "None"]


def notice(built, **more):  # noqa: F811
    said = {"part": "Gasket 17", "issued_by": "Invented Works", "reason": "cracks", "action": "replace"} | more
    with clock.at(build.NOW):
        log.log_part_recall(
            by=built.world.people["technician"], request_key=build.key(), owner=built.world.company, on=build.TODAY,
            **said,
        )  # fmt: skip


def test_the_tasks_name_the_open_notices_of_the_unit(built):  # noqa: F811
    phone = Phone(built).begin()  # noqa: F811
    phone.to_the_tasks()
    assert "Open notices" not in words(phone.open("tasks"))
    notice(built)
    page = words(phone.open("tasks"))
    assert "Open notices" in page and "cracks" in page and "record its lot and the new one" in page


def test_a_lot_under_a_notice_is_marked_and_fitting_it_is_asked_about(built):  # noqa: F811
    notice(built, lot="L-G-17")
    phone = Phone(built).begin()  # noqa: F811
    phone.to_the_tasks()
    page = words(phone.open("task-replace-gasket"))
    assert "in doubt by the notice of 2026-03-16 from Invented Works: cracks (replace)" in page
    lot = built.lots["door-gasket"]
    sent = {"go": "done", "lot": str(lot.origin), "old_part": "scrapped"}
    assert phone.send("task-replace-gasket", **sent).status_code == 302
    phone.send("end", conclusion="not released", reason="parts are missing")
    asked = phone.record()
    assert asked.status_code == 422 and "Fit another one" in words(asked)
    assert 'value="recalled-part"' in words(asked)
    before = FittedPart.objects.count()
    assert phone.record(confirmed="recalled-part").status_code == 302
    assert FittedPart.objects.count() == before + 1
