"""Which rules hold for a place, and what others would change: pages that only show, for anybody signed in."""

from __future__ import annotations

import html
from datetime import timedelta

import pytest
from django.urls import reverse

from audit.regimes import all_regimes, load_regime
from audit.regimes.compare import differences
from records.models import Entry
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db
ASKED = {"place": "United States|Ohio", "kind": "dental", "units": "gravity", "examination": "not known"}


@pytest.fixture
def reader(client, world):
    return signed_in(client, world, "nobody")


def words_of(answer) -> str:
    return html.unescape(text_of(answer))


@pytest.mark.parametrize("address", ["/rules/choose/", "/rules/compare/"])
def test_only_who_is_signed_in_reads_them_and_nothing_is_posted(client, world, address):
    answer = client.get(address)
    assert answer.status_code == 302 and answer.url.startswith(reverse("sign-in"))
    assert signed_in(client, world, "nobody").post(address).status_code == 405


def test_the_form_asks_place_kind_units_and_examination_and_needs_no_script(reader):
    answer = get(reader, "choose-rules")
    page = answer.content.decode()
    assert answer.status_code == 200 and '<form class="form" method="get"' in page
    assert '<optgroup label="United States">' in page and 'value="Canada|Toronto, Ontario"' in page
    for name in ("place", "kind", "units", "examination"):
        assert f'name="{name}"' in page
    assert 'for="id_place"' in page and 'for="id_units_0"' in page


def test_the_rules_of_a_place_are_shown_with_reasons_and_what_they_leave_open(reader):
    answer = get(reader, "choose-rules", **ASKED)
    seen = words_of(answer)
    assert answer.status_code == 200 and 'href="/rules/us-oh-dental/"' in answer.content.decode()
    for words in ("It is a text of Ohio.", "Once in each calendar week", "What they leave open, and whom to ask",
                  "the maker’s instructions", "In the records: us-oh-dental",
                  "Until it is known, take it that it must"):  # fmt: skip
        assert words in seen, words
    assert "What to ask, and whom" not in seen


def test_of_a_place_without_rules_on_file_it_is_said_and_what_to_ask(reader):
    seen = words_of(get(reader, "choose-rules", **ASKED | {"place": "elsewhere"}))
    assert "No rules of the place are on file" in seen and "On file are no rules of another country" in seen
    assert "What all rules share" in seen and "What to ask, and whom" in seen
    assert "How long are which records kept, and where?" in seen


def test_two_that_may_hold_together_are_linked_to_their_comparison(reader):
    page = get(reader, "choose-rules", **ASKED | {"place": "United States|Indiana"}).content.decode()
    assert "/rules/compare/?before=us-in&amp;after=us-dental-cdc-2003" in page


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"place": ""}, "Where is the clinic?"),
        ({"kind": ""}, "Choose one."),
        ({"place": "Atlantis"}, "not one of the available choices"),
    ],
)
def test_what_is_missing_is_said_and_what_was_typed_stays(reader, wrong, said):
    answer = get(reader, "choose-rules", **ASKED | wrong)
    seen = words_of(answer)
    assert answer.status_code == 422 and said in seen and "The rules cannot be proposed yet" in seen
    assert 'value="gravity" id="id_units_0" checked' in answer.content.decode()


def test_two_sets_are_compared_rule_by_rule_with_both_sources(reader):
    answer = get(reader, "compare-rules", before="us-ca-body-art", after="us-nj-body-art")
    seen = words_of(answer)
    for one in differences(load_regime("us-ca-body-art"), load_regime("us-nj-body-art")):
        for line in filter(None, (one.before, one.after)):
            assert line.text[1:] in seen and line.source.citation[1:] in seen
        assert f" {one.asks} " in seen
    assert "not asked by these rules" in seen


def test_rules_that_ask_the_same_say_so_and_unknown_ones_are_not_found(reader):
    assert "They ask the same." in words_of(get(reader, "compare-rules", before="us-nj-dental", after="us-ga-dental"))
    assert get(reader, "compare-rules", before="us-nj-dental", after="nowhere").status_code == 404
    assert get(reader, "compare-rules").status_code == 200


def test_a_clinic_sees_what_would_change_today_and_nothing_is_written(client, world):
    made.weekly_tests(world, 3)
    made.spore_test(world, made.TODAY - timedelta(days=4))
    before = Entry.objects.count()
    answer = get(signed_in(client, world, "viewer"), "clinic-other-rules", "first", after="us-in")
    seen = words_of(answer)
    assert answer.status_code == 200 and "At First Clinic on 16 Mar 2026" in seen
    assert "Spore test (biological indicator): now" in seen and "US dental, CDC 2003" in seen
    assert "Change the clinic’s terms" not in seen  # of a viewer
    assert Entry.objects.count() == before
    same = words_of(get(client, "clinic-other-rules", "first", after="us-dental-cdc-2003"))
    assert "No answer and no day would be another." in same and "They ask the same." in same


@pytest.mark.parametrize(("name", "args", "role"), [
    ("rules", [], "viewer"), ("log-terms", ["first"], "coordinator"), ("set-up", ["first"], "coordinator"),
    ("open-clinic", ["keepers"], "dispatcher"),
])  # fmt: skip
def test_it_is_reached_from_where_rules_are_chosen(client, world, name, args, role):
    args = [world.company.slug] if name == "open-clinic" else args
    page = get(signed_in(client, world, role), name, *args).content.decode()
    assert 'href="/rules/choose/"' in page
    assert ('href="/clinic/first/other-rules/"' in page) is (name in ("log-terms", "set-up"))


def test_every_set_of_rules_may_be_named_in_both_lists(reader):
    page = get(reader, "compare-rules").content.decode()
    assert all(page.count(f'<option value="{id}"') == 2 for id in all_regimes())
