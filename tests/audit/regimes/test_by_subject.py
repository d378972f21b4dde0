"""What a set of rules asks, leaves open and takes from the shared rules, by subject."""

from __future__ import annotations

import pytest

from audit.regimes import all_regimes, load_regime
from audit.regimes.by_subject import SUBJECTS_TOLD, by_subject
from audit.regimes.model import KINDS, SUBJECTS
from tests.in_turn import in_turn


def rows(id):
    return {row.subject: row for row in by_subject(load_regime(id))}


def test_every_subject_of_a_duty_and_every_kind_of_failure_has_its_row():
    duties = [subject for _, subjects, _ in SUBJECTS_TOLD for subject in subjects]
    failures = [kind for _, _, kinds in SUBJECTS_TOLD for kind in kinds]
    assert sorted(duties) == sorted(SUBJECTS) and sorted(failures) == sorted(KINDS)


def test_what_is_asked_is_told_with_what_its_source_leaves_open():
    piercing = rows("us-fl-body-piercing")["Spore tests"]  # F.A.C. 64E-19.005(4)
    assert piercing.asked == (
        "Spore test (biological indicator): after 40 hours of use or 90 days, whichever comes first",
    )
    assert [text[:58] for text in piercing.left_open] == [
        "Spore test (biological indicator): quarterly is read as at"
    ]
    assert "the way back after a failure: biological" in piercing.added


def test_a_test_after_an_event_alone_leaves_open_how_often():
    england = rows("gb-eng-dental-htm0105")
    assert england["Spore tests"].asked == () and england["Spore tests"].left_open == ("how often",)
    assert england["Air removal"].asked == (
        "Steam penetration test: on each day of use (units with dynamic air removal only)",
    )


def test_a_way_back_of_its_own_is_not_called_shared():
    own, shared = rows("us-nj-body-art")["Spore tests"], rows("us-mt-body-art")["Spore tests"]
    assert "the way back after a failure: biological" in own.asked  # N.J.A.C. 8:27-5.4
    assert "when a test counts" in own.added and "when a test counts" in shared.added


def test_of_each_load_and_of_records_it_is_said_where_nothing_is_asked():
    ireland, dental = rows("ie"), rows("us-or-dental")
    assert ireland["Mechanical and chemical results of each load"].left_open == ("what each load asks",)
    assert dental["Mechanical and chemical results of each load"].left_open == ()
    assert ireland["Records"].left_open == ("how long",) and dental["Records"].left_open == ()
    assert ireland["Records"].cells == ("nothing on file", "how long", "nothing")


@pytest.mark.parametrize("id", in_turn(sorted(all_regimes()), 4))
def test_each_shared_thing_is_told_once_as_asked_or_as_added(id):
    for row in by_subject(load_regime(id)):
        assert not set(row.asked) & set(row.added)
        assert row.asked or row.left_open or row.added
    if id == "base":
        assert not any(row.added for row in by_subject(load_regime(id)))
