"""The pages of the rules on file: the same words as the command, for anybody signed in, with grades said in words."""

from __future__ import annotations

import html
from datetime import date

import pytest
from django.urls import reverse

from audit.pages.written_on_screen import plain_day, said
from audit.regimes import all_regimes, load_regime
from audit.regimes.by_subject import by_subject
from audit.regimes.gaps import GAPS
from audit.regimes.held import in_brackets, why_that_day
from audit.regimes.in_words import CAUTION, grade_line, lines, memory_count, notes
from records.models import Account
from tests.audit.pages.tools import get, text_of
from tests.in_turn import in_turn

pytestmark = pytest.mark.django_db


@pytest.fixture
def reader(client):
    """Somebody with an account who belongs nowhere."""
    client.force_login(Account.objects.create_user("reader", first_name="Ada", last_name="Invented"))
    return client


def words_of(answer) -> str:
    return html.unescape(text_of(answer))


@pytest.mark.parametrize("address", ["/rules/", "/rules/us-or-dental/"])
def test_only_who_is_signed_in_reads_them(client, address):
    answer = client.get(address)
    assert answer.status_code == 302 and answer.url.startswith(reverse("sign-in"))


@pytest.mark.parametrize("address", ["/rules/", "/rules/us-or-dental/"])
def test_nothing_can_be_posted(reader, address):
    assert reader.post(address).status_code == 405


def test_the_list_leads_to_every_set_of_rules(reader):
    answer = get(reader, "rules")
    seen = words_of(answer)
    assert answer.status_code == 200 and CAUTION in seen
    for one in all_regimes().values():
        assert f'href="/rules/{one.id}/"' in answer.content.decode()
        assert one.title in seen and one.edition in seen
        assert f"{memory_count(one)} rule{'s' * (memory_count(one) != 1)}" in seen
        assert plain_day(one.valid_from) + in_brackets(one.valid_from_grade) in seen


@pytest.mark.parametrize("id", in_turn(sorted(all_regimes()), 4))
def test_a_page_says_every_rule_with_source_day_and_grade(reader, id):
    answer = get(reader, "rules-of", id)
    seen, regime = words_of(answer), load_regime(id)
    assert answer.status_code == 200 and CAUTION in seen and regime.edition in seen
    for note in notes(regime):
        assert note in seen
    for row in by_subject(regime):
        assert row.subject in seen and all(text in seen for text in (*row.asked, *row.left_open, *row.added))
    for line in lines(regime):
        head = said(line.head)
        assert f"{head} : {line.text}" in seen if line.text else head in seen
        assert line.decisive in seen
        checked = date.fromisoformat(line.source.checked_on)
        assert f"{line.source.citation[1:]}. Checked {checked.day} {checked:%b %Y};" in seen
    assert seen.count("FROM MEMORY: not checked against the source") == memory_count(regime)
    held = memory_count(regime)
    assert (f"{held} rule{'s' * (held > 1)} from memory" if held else "No rule here is from memory") in seen
    assert grade_line(regime) in seen
    first = plain_day(regime.valid_from) + in_brackets(regime.valid_from_grade)
    assert f"valid from {first}." in seen.replace(" .", ".")
    assert why_that_day(regime) in seen
    assert all(f"Why no text was read: {words}" in seen for _, words in regime.unread)


def test_the_list_says_what_these_rules_cannot_say(reader):
    seen = words_of(get(reader, "rules"))
    assert all(gap.asked in seen and gap.how in seen for gap in GAPS)


def test_the_edition_of_a_day(reader):
    before = words_of(get(reader, "rules-of", "gb-sct-2024", on="2024-03-31"))
    after = words_of(get(reader, "rules-of", "gb-sct-2024", on="2024-04-01"))
    # SHTM 01-05 (2024) 5.33: the automatic control test is weekly, no longer daily
    assert "Automatic control test : On each day of use" in before
    assert "Automatic control test : Once in each calendar week" in after
    assert "This is the edition in force on 31 Mar 2024" in before
    assert "Nothing on file." in before and "Nothing on file." not in after
    assert "Valid from 1 Apr 2024 (from memory) : NHSScotland" in before
    assert "Valid from 1 Jan 2013 (from memory) to 31 Mar 2024 (from memory) : before SHTM" in before


def test_a_day_before_every_edition_shows_the_oldest_and_says_so(reader):
    seen = words_of(get(reader, "rules-of", "gb-sct-2024", on="1999-01-01"))
    assert "No edition on file was valid on 1 Jan 1999" in seen and "before SHTM 01-05 of April 2024" in seen


def test_a_day_that_cannot_be_read_says_so_and_shows_the_newest(reader):
    answer = get(reader, "rules-of", "gb-sct-2024", on="lately")
    seen = words_of(answer)
    assert answer.status_code == 400 and "“lately” is not a day" in seen and "Shown is the newest edition" in seen
    assert "Automatic control test : Once in each calendar week" in seen


def test_rules_not_on_file_are_not_found(reader):
    assert get(reader, "rules-of", "us-nowhere").status_code == 404


def test_what_is_inherited_is_linked(reader):
    assert 'href="/rules/us-dental-cdc-2003/"' in get(reader, "rules-of", "us-or-dental").content.decode()
    assert "comes from" not in words_of(get(reader, "rules-of", "base"))


def test_no_query_is_needed_but_for_who_is_signed_in(reader, django_assert_max_num_queries):
    with django_assert_max_num_queries(2):
        get(reader, "rules-of", "us-or-dental")
