"""Days and units as the clinic writes them: shown, asked for, and never a change of what is recorded."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal

import pytest
from django.http import HttpResponse
from django.urls import reverse

from records import clock
from records.forms import IndicatorLotForm, LeakForm
from records.forms.base import EntryContext
from records.forms.fields import Day, Measured
from records.models import Entry, IndicatorLot, LeakTest
from records.writing import preferences
from records.writing.preferences import DAY_STYLES, Written, cookie_of, current, day_text, measured, read, read_day
from tests import world as build

AMERICAN = Written("psi", "F", "mdy")


@pytest.mark.parametrize(
    ("style", "said"),
    [("dMy", "9 Mar 2026"), ("Mdy", "Mar 9, 2026"), ("ymd", "2026-03-09"), ("mdy", "03/09/2026"),
     ("dmy", "09/03/2026")],
)  # fmt: skip
def test_a_day_is_written_as_chosen_and_read_back(style, said):
    written = Written(days=style)
    assert day_text(date(2026, 3, 9), written) == said
    assert read_day(said, written) == date(2026, 3, 9)
    assert DAY_STYLES[style].startswith(said)


def test_slashes_are_read_only_where_the_order_was_chosen():
    for style in ("dMy", "Mdy", "ymd"):
        with pytest.raises(ValueError, match="03/04/2026"):
            read_day("03/04/2026", Written(days=style))
    assert read_day("03/04/2026", Written(days="mdy")) == date(2026, 3, 4)
    assert read_day("03/04/2026", Written(days="dmy")) == date(2026, 4, 3)


@pytest.mark.parametrize("text", ["", "2026-02-30", "13/13/2026", "31 Foo 2026", "9 March", "2026"])
def test_what_is_no_day_is_refused(text):
    with pytest.raises(ValueError):
        read_day(text, Written(days="mdy"))


def test_the_field_of_a_day_says_how_to_write_it():
    assert Day("Day").clean("2026-03-09") == date(2026, 3, 9)
    with pytest.raises(Exception, match="Write year-month-day"):
        Day("Day").clean("03/04/2026")


def test_the_cookie_is_read_back_and_nonsense_is_the_usual_way():
    for days in DAY_STYLES:
        chosen = Written("bar", "F", days)
        assert read(cookie_of(chosen)) == chosen
    for nonsense in ("", "x", "psi.K.never", "....", "<script>", "psi.F.mdy.more"):
        held = read(nonsense)
        assert held.units and day_text(date(2026, 3, 9), held)
    assert read("nothing.F.dmy") == Written("kPa", "F", "dmy")


def test_what_was_recorded_stands_beside_what_is_shown():
    value = Decimal("134.6")
    assert measured(value, "°C") == "134.6 °C"
    assert measured(value, "°C", "chamber temperature", AMERICAN) == "274.3 °F (recorded: 134.6 °C)"
    assert measured(Decimal("206.8"), "kPa", "plateau", AMERICAN) == "29.99 psi (recorded: 206.8 kPa)"
    assert measured(Decimal("0.8"), "°C", "temperature spread", AMERICAN) == "0.8 °C"
    assert measured(Decimal("12"), "Ω", "earth", AMERICAN) == "12 Ω"


def _clean(sent: dict):
    field = Measured("Temperature", "°C", digits=4)
    return field.clean(field.widget.value_from_datadict(sent, {}, "t"))


def test_the_unit_beside_the_field_is_sent_along_and_decides():
    assert _clean({"t": "132", "t_in": "°F"}) == Decimal("55.6")
    assert _clean({"t": "55.5", "t_in": "°C"}) == Decimal("55.5")
    assert _clean({"t": "55.5"}) == Decimal("55.5"), "without a unit it is one in the base unit"
    assert _clean({"t": "", "t_in": "°F"}) is None
    with pytest.raises(Exception, match="which is not told in °C"):
        _clean({"t": "55", "t_in": "kPa"})
    with pytest.raises(Exception, match="not a number"):
        _clean({"t": "warm", "t_in": "°F"})


def test_the_field_shows_its_unit_and_keeps_what_was_typed(settings):
    token = preferences._current.set(AMERICAN)
    try:
        field = Measured("Temperature", "°C", digits=4)
        shown = field.widget.render("t", field.prepare_value(Decimal("55.6")), {"id": "id_t"})
        assert 'value="132.1"' in shown and 'name="t_in" value="°F"' in shown and ">°F</span>" in shown
        typed = field.widget.value_from_datadict({"t": "<x>", "t_in": "°C"}, {}, "t")
        again = field.widget.render("t", field.prepare_value(typed), {"id": "id_t"})
        assert "&lt;x&gt;" in again and 'name="t_in" value="°C"' in again
        assert 'aria-describedby="id_t_in"' in again
    finally:
        preferences._current.reset(token)


def test_the_choice_ends_with_the_request(rf):
    seen = []
    answer = preferences.middleware(lambda request: seen.append(current()) or HttpResponse())
    request = rf.get("/")
    request.COOKIES[preferences.COOKIE] = cookie_of(AMERICAN)
    answer(request)
    assert seen == [AMERICAN] and current() == preferences.USUAL


# ------------------------------------------------------------------------------------------------ pages


@pytest.fixture
def at(client, db):
    with clock.at(build.NOW):
        world = build.make()
        client.force_login(world.people["coordinator"])
        yield client, world


def _choose(client, **chosen):
    return client.post(reverse("preferences"), {"days": "mdy", "temperature": "F", "pressure": "psi"} | chosen)


@pytest.mark.django_db
def test_the_page_keeps_the_choice_on_the_device_and_records_nothing(at):
    client, world = at
    entries = Entry.objects.count()
    answer = _choose(client, next=reverse("clinic", args=["first"]))
    assert answer.status_code == 302 and answer.url == reverse("clinic", args=["first"])
    cookie = answer.cookies[preferences.COOKIE]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and cookie["max-age"]
    page = client.get(reverse("clinic", args=["first"])).content.decode()
    assert "03/16/2026" in page and 'datetime="2026-03-16"' in page
    assert "16 Mar 2026" not in re.sub(r"<[^>]+>", "", page)
    assert Entry.objects.count() == entries


@pytest.mark.django_db
def test_a_clinic_writes_as_it_does_for_everybody_whose_device_has_no_choice(at):
    client, world = at
    address, page = reverse("clinic-written", args=["first"]), reverse("clinic", args=["first"])
    answer = client.post(address, {"days": "Mdy", "temperature": "F", "pressure": "bar"})
    assert answer.status_code == 302 and answer.url == reverse("set-up", args=["first"])
    world.clinic.refresh_from_db()
    assert read(world.clinic.written) == Written("bar", "F", "Mdy")
    client.force_login(world.people["technician"])
    assert "Mar 16, 2026" in client.get(page).content.decode(), "pages of judgement"
    assert 'value="°F"' in client.get(reverse("add-indicator-lot", args=["first"])).content.decode(), "pages of entry"
    assert current() == preferences.USUAL, "ends with the request"
    client.force_login(world.people["other-coordinator"])
    assert "Mar 16, 2026" not in client.get(reverse("clinic", args=["other"])).content.decode(), "that clinic alone"
    client.force_login(world.people["technician"])
    _choose(client)
    assert "03/16/2026" in client.get(page).content.decode(), "the device's own choice comes first"
    assert "Write as each clinic does" in client.get(reverse("preferences")).content.decode()
    client.post(reverse("preferences"), {"do": "forget"})
    assert "Mar 16, 2026" in client.get(page).content.decode()


@pytest.mark.django_db
def test_the_page_refuses_what_it_does_not_know_and_leads_nowhere_else(at):
    client, _ = at
    answer = _choose(client, temperature="K")
    assert answer.status_code == 422 and "That is none of these" in answer.content.decode()
    assert preferences.COOKIE not in answer.cookies
    assert _choose(client, next="https://elsewhere.example/").url == reverse("preferences")
    client.logout()
    assert client.get(reverse("preferences")).status_code == 302


@pytest.mark.django_db
def test_a_box_of_indicators_typed_in_fahrenheit_is_recorded_in_celsius(at):
    client, world = at
    _choose(client)
    address = reverse("add-indicator-lot", args=["first"])
    page = client.get(address).content.decode()
    assert 'name="incubation_low_in" value="°F"' in page
    key = re.search(r'name="request_key" value="([^"]+)"', page)[1]
    sent = {
        "request_key": key, "kind": "biological", "name": "Invented ampoule", "lot": "F-1", "on": "2026-03-02",
        "incubation_hours": "24", "incubation_low": "131", "incubation_low_in": "°F", "incubation_high": "140",
        "incubation_high_in": "°F",
    }  # fmt: skip
    assert client.post(address, sent).status_code == 302
    lot = IndicatorLot.objects.get(lot="F-1")
    assert (lot.incubation_low, lot.incubation_high) == (Decimal("55.0"), Decimal("60.0"))


@pytest.mark.django_db
def test_a_leak_in_psi_is_recorded_in_kilopascals_with_the_limit_untouched(at):
    client, world = at
    _choose(client)
    address = reverse("log-leak", args=["first"])
    page = client.get(address).content.decode()
    key = re.search(r'name="request_key" value="([^"]+)"', page)[1]
    limit = re.search(r'name="limit" value="([^"]+)"', page)[1]
    sent = {
        "request_key": key, "unit": str(world.unit.ref), "on": "2026-03-13", "rise": "0.15", "unit_of_measure": "psi",
        "minutes": "10", "limit": limit, "limit_source": "Invented manual",
    }  # fmt: skip
    looked = client.post(address, sent)
    assert looked.status_code == 422 and "The rate is 0.1035 kPa a minute" in looked.content.decode()
    assert not LeakTest.objects.exists()
    answer = client.post(address, sent | {"seen_rate": "0.1035"})
    assert answer.status_code == 302, answer.content.decode()
    test = LeakTest.objects.get()
    # 0.15 lbf/in² × 6.894757 kPa = 1.0342 kPa (factor as above), rounded up: no leak passes by being converted.
    assert (test.rise, test.unit_of_measure, test.limit) == (Decimal("1.035"), "kPa", Decimal(limit))


@pytest.mark.django_db
def test_both_forms_ask_in_the_unit_that_they_say(at):
    _, world = at
    ground = EntryContext(world.clinic, world.people["coordinator"], None, "America/Chicago")
    assert isinstance(IndicatorLotForm(ground=ground).fields["incubation_low"], Measured)
    assert not isinstance(LeakForm(ground=ground).fields["limit"], Measured), "a limit stays as its rule states it"
