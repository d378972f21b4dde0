"""A lot of own stock past its last day: told at the page, on the device too; recorded where it is in all the same.

| lot chosen or typed | ticked | the page | on record |
| --- | --- | --- | --- |
| good on its last day, which is today | | goes on | |
| expired yesterday | no | says so and the way out | nothing |
| expired yesterday | yes | goes on | the part with its last day, flagged |
| typed by hand, expired yesterday | no, yes | as of own stock | as of own stock |
| good on the day of the visit, sent two days later | | goes on | the part with its last day |
"""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from records import clock, log
from records.models import FittedPart
from tests import visit_world
from tests import world as build

from .test_pages import END, Phone
from .test_what_a_visit_records import visit_of, words

pytestmark = pytest.mark.django_db
PAGE = "task-replace-gasket"


@pytest.fixture
def phone(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        yield Phone(visit_world.make()).begin().to_the_tasks()


def lot_that_expires(phone, on):
    world, part = phone.built.world, phone.built.lots["door-gasket"].part
    return log.log_part_lot(
        by=world.people["stores"], request_key=build.key(), owner=world.company, part=part, on=build.TODAY,
        receipt_lot="R-OLD", lot="OLD-9", expiry=on,
    )  # fmt: skip


def test_it_is_told_at_the_page_however_it_is_named_and_recorded_once_it_is_said_to_be_in(phone):
    lot = lot_that_expires(phone, build.TODAY - timedelta(days=1))
    for named in ({"lot": str(lot.origin)}, {"lot_printed": "old-9"}):
        answer = phone.send(PAGE, go="done", old_part="scrapped", **named)
        assert answer.status_code == 422 and "It expired on 2026-03-15. Fit another one" in words(answer)
        assert "data-if-expired hidden" not in words(answer)
    (rule,) = [each for each in json.loads(visit_of(phone).form(PAGE).rules)["last_days"] if each["field"] == "lot"]
    assert rule["days"][str(lot.origin)] == "2026-03-15" and rule["unless"] == ["expired_fitted"]
    said = {"old_part": "scrapped", "lot": str(lot.origin), "expired_fitted": "on"}
    assert phone.send(PAGE, go="done", **said).status_code == 302
    phone.send("prove", V1="pass", V1_value="134.6 °C")
    phone.send("end", **END)
    answer = phone.record()
    assert answer.status_code == 302, words(answer)
    part = FittedPart.objects.get(job__visit__happened_on=build.TODAY)
    assert (part.lot, part.expiry) == ("OLD-9", build.TODAY - timedelta(days=1))


def test_on_its_last_day_it_may_be_fitted(phone):
    lot = lot_that_expires(phone, build.TODAY)
    assert "data-if-expired hidden" in words(phone.open(PAGE))
    assert phone.send(PAGE, go="done", old_part="scrapped", lot=str(lot.origin)).status_code == 302


def test_a_last_day_that_is_typed_counts_as_that_of_own_stock(phone):
    typed = {
        "go": "done",
        "old_part": "scrapped",
        "part_name": "gasket",
        "lot_printed": "X-1",
        "lot_state": "printed",
    }
    late = phone.send(PAGE, **typed, expiry="2026-03-15")
    assert late.status_code == 422 and "It expired on 2026-03-15. Fit another one" in words(late)
    assert phone.send(PAGE, **typed, expiry="2026-03-16").status_code == 302
    assert phone.send(PAGE, **typed, expiry="2026-03-15", expired_fitted="on").status_code == 302


def test_what_was_good_on_the_day_of_the_visit_is_not_refused_when_it_is_sent_later(phone, request):
    lot = lot_that_expires(phone, build.TODAY)
    assert phone.send(PAGE, go="done", old_part="scrapped", lot=str(lot.origin)).status_code == 302
    phone.send("prove", V1="pass", V1_value="134.6 °C")
    phone.send("end", **END)
    request.addfinalizer(lambda: clock.stand_at(None))
    clock.stand_at(build.NOW + timedelta(days=2))
    answer = phone.record(on=str(build.TODAY))
    assert answer.status_code == 302, words(answer)
    assert FittedPart.objects.get(job__visit__happened_on=build.TODAY).lot == "OLD-9"
