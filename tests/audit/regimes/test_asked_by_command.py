"""The command that proposes the rules of a place, compares two sets, and says what they cannot say."""

from __future__ import annotations

import json

import pytest

from audit.regimes.gaps import GAPS
from records import clock
from records.models import Entry
from tests import world as made


def test_the_rules_of_a_place_are_printed_with_why_and_what_is_left_open(command):
    code, out, err = command(
        "regimes", "--country", "united states", "--region", "Indiana", "--kind", "dental", "--unit", "gravity"
    )
    told = out.splitlines()
    assert (code, err) == (0, "") and told[0].startswith("us-in: Indiana, any place with a risk of blood")
    assert "  Why: it is a text of Indiana." in told
    assert "  Left open: water. Ask: the maker’s instructions." in told
    assert "What to ask, and whom:" not in told


def test_of_a_place_without_rules_on_file_it_says_what_to_ask(command):
    code, out, _ = command("regimes", "--country", "Peru", "--kind", "dental", "--examination", "exempt")
    assert code == 0 and out.startswith("base: What all rules share")
    assert "What to ask, and whom:" in out and "is a paper of the unit" in out


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--kind", "dental"], "needs both --country and --kind"),
        (["--country", "Ireland"], "needs both --country and --kind"),
        (["--against", "ie"], "name them first, or a clinic with --clinic"),
        (["--clinic", "first"], "--clinic goes with --against"),
        (["ie", "--against", "nowhere"], "There are no rules “nowhere”"),
    ],
)
def test_what_is_missing_is_said_with_the_way_out(command, args, said):
    code, out, err = command("regimes", *args)
    assert (code, out) == (2, "") and said in err


def test_two_sets_are_compared_with_both_sources(command):
    code, out, _ = command("regimes", "us-dental-cdc-2003", "--against", "us-in", "--on", "2026-06-05")
    told = out.splitlines()
    assert code == 0 and "  more: Spore test (biological indicator)" in told
    assert any(line.startswith("    now:  Once in each calendar week. CDC 2003") for line in told)
    assert any(line.startswith("    then: At most 7 days after the last one") and "410 IAC" in line for line in told)
    assert "    then: not asked by these rules" in told
    assert "They ask the same." in command("regimes", "us-nj-dental", "--against", "us-ga-dental")[1]


@pytest.mark.django_db
def test_for_a_clinic_it_says_what_would_change_today_and_writes_nothing(command):
    with clock.at(made.NOW):
        world = made.make()
        made.weekly_tests(world, 2)
        before = Entry.objects.count()
        code, out, err = command("regimes", "--against", "us-in", "--clinic", "first")
        assert (code, err, Entry.objects.count()) == (0, "", before)
        _, same, _ = command("regimes", "--against", "us-dental-cdc-2003", "--clinic", "first")
    assert "First Clinic, judged with these rules from 2026-03-16 on; nothing is written" in out
    assert "Unit 1: In service" in out and "Spore test (biological indicator): now " in out
    assert "On 2026-03-16 no answer and no day is another." in same


def test_as_json_an_edition_says_its_place_and_its_end(command):
    code, out, _ = command("regimes", "au-racgp-2023", "--json")
    told = json.loads(out)
    assert (code, told["country"], told["kinds"], told["ended"]["on"]) == (0, "Australia", ["medical"], "2026-06-29")


def test_what_the_rules_cannot_say_is_printed(command):
    code, out, _ = command("regimes", "--gaps")
    assert code == 0 and len(out.splitlines()) == len(GAPS) and all(gap.how in out for gap in GAPS)
