"""The time line of a unit: which marks and spans come out of its records."""

from __future__ import annotations

from audit.binder.pictures.time_line import time_line_words, time_lines
from audit.binder.scope import scope
from audit.judge.evaluate import evaluate
from tests.audit.binder.paper import spaced
from tests.fact_builders import (
    bio,
    clinic,
    event,
    installed,
    job,
    on,
    outcome,
    part,
    part_recall,
    placed,
    position,
    unit,
)


def asked(facts, first, last, as_of=""):
    judged = evaluate(facts, on(as_of or last))
    return scope(facts, judged, on(first), on(last))


def lanes(made) -> dict[str, tuple]:
    return {lane.name: lane for lane in made.lanes}


def story():
    """Two visits, one failure, one withdrawal with its return, one recall of a lot that is fitted."""
    service = job("2025-03-04", parts=(part("2025-03-04"),), outcomes=(outcome("2025-03-04"),))
    repair = job("2025-07-01", reason="breakdown", class_stated="C", parts=(part("2025-07-01", lot="P2"),) * 2)
    tests = (bio("2025-04-07", result="growth"), bio("2025-04-14", result="pass"))
    one = unit(
        "2025-01-02",
        events=(
            installed("2025-01-02"),
            event("2025-04-08", "withdrawn", "growth", "A. User"),
            event("2025-04-16", "returned", "repeat passed", "A. User"),
        ),
        positions=(position(),),
        jobs=(service, repair),
        bio_tests=tests,
    )
    return clinic(one, part_recalls=(part_recall("2025-09-01", lot="P2"),))


def test_each_kind_has_its_lane_with_a_mark_on_the_day():
    held = asked(story(), "2025-01-01", "2025-12-31")
    ((made,), quiet) = time_lines(held, held.units[0])
    found = lanes(made)
    assert list(found) == ["Visits", "Parts", "Failures", "Out of use", "Moves, returns", "Recalls"]
    visits = [(str(m.day), m.mark, m.label) for m in found["Visits"].marks]
    assert visits == [("2025-03-04", "R", "planned, routine"), ("2025-07-01", "M", "breakdown, major")]
    parts = [(str(m.day), m.label) for m in found["Parts"].marks]
    assert parts == [("2025-03-04", "seal, lot P1"), ("2025-07-01", "seal, lot P2 and 1 more")]
    (failure,) = found["Failures"].spans
    assert (str(failure.start), spaced(failure.label)) == ("2025-04-07", "Positive spore test, 7 Apr 2025")
    (out,) = found["Out of use"].spans
    assert (str(out.start), str(out.end), out.label) == ("2025-04-08", "2025-04-16", "withdrawn: growth")
    assert [(m.mark, m.label) for m in found["Moves, returns"].marks] == [
        ("i", "installed"),
        ("↑", "returned: repeat passed"),
    ]
    assert [(str(m.day), m.mark) for m in found["Recalls"].marks] == [("2025-09-01", "!")]
    assert quiet == ()
    every = [each for lane in made.lanes for each in (*lane.marks, *lane.spans)]
    assert all(each.row for each in every), "each names its row"


def test_the_words_name_every_event_with_its_day():
    held = asked(story(), "2025-01-01", "2025-12-31")
    ((made,), _) = time_lines(held, held.units[0])
    assert spaced(made.alt).startswith("Time line of Unit 1, 2025. Visits, 2: 4 Mar 2025 planned, routine;")
    for text in (
        "Failures, 1: Positive spore test, 7 Apr 2025, 7 Apr 2025",
        "Out of use, 1: withdrawn: growth, 8 Apr 2025 to 16 Apr 2025.",
        "16 Apr 2025 returned: repeat passed",
        "1 Sep 2025 part recall: seal, lot P2",
    ):
        assert text in spaced(made.alt)


def test_what_began_before_the_period_or_is_not_over_is_shown_in_it():
    one = unit("2024-01-01", events=(installed("2024-01-01"), event("2024-11-05", "withdrawn", "door")))
    held = asked(clinic(one), "2025-01-01", "2025-12-31")
    ((made,), _) = time_lines(held, held.units[0])
    (out,) = lanes(made)["Out of use"].spans
    assert (str(out.start), out.end) == ("2024-11-05", None)
    assert "withdrawn: door, 5 Nov 2024 and not over" in spaced(made.alt)
    assert made.note == "None on record in these days: visits, parts, failures, moves, returns, recalls."


def test_days_in_store_are_out_of_use():
    one = unit(
        "2024-01-01",
        events=(installed("2024-01-01"),),
        placements=(placed("2024-01-01"), placed("2025-02-01", "stored as spare"), placed("2025-05-01")),
    )
    held = asked(clinic(one), "2025-01-01", "2025-12-31")
    ((made,), _) = time_lines(held, held.units[0])
    (stored,) = lanes(made)["Out of use"].spans
    assert (str(stored.start), str(stored.end), stored.label) == ("2025-02-01", "2025-04-30", "stored as spare")


def test_a_long_period_has_a_picture_a_year_and_names_the_quiet_ones():
    one = unit("2015-01-01", events=(installed("2015-01-01"),), jobs=(job("2017-05-05"), job("2021-06-06")))
    held = asked(clinic(one), "2016-01-01", "2021-12-31")
    made, quiet = time_lines(held, held.units[0])
    assert [str(line.from_on.year) for line in made] == ["2017", "2021"]
    assert [bool(line.legend) for line in made] == [False, True], "what holds for all stands below the last"
    assert len(quiet) == 4
    words = spaced(time_line_words(len(made), quiet))
    assert words.startswith("Nothing of a time line is on record from 1 Jan 2016 to 31 Dec 2016; from 1 Jan 2018 to ")


def test_up_to_two_years_are_one_picture():
    one = unit("2015-01-01", events=(installed("2015-01-01"),), jobs=(job("2024-12-20"), job("2026-06-06")))
    held = asked(clinic(one), "2024-12-14", "2026-06-15")
    ((made,), quiet) = time_lines(held, held.units[0])
    assert spaced(made.caption) == "Unit 1, 14 Dec 2024 to 15 Jun 2026" and quiet == ()


def test_a_unit_without_events_is_told_in_words():
    held = asked(clinic(unit("2024-01-01")), "2025-01-01", "2025-12-31")
    made, quiet = time_lines(held, held.units[0])
    assert time_line_words(len(made), quiet).startswith("Nothing is on record for a time line")


def test_nothing_after_the_day_of_the_answer_is_shown_as_known():
    facts = story()
    held = asked(facts, "2025-01-01", "2025-12-31", as_of="2025-04-10")
    ((made,), _) = time_lines(held, held.units[0])
    assert str(made.seen_to) == "2025-04-10"
    assert [str(m.day) for m in lanes(made)["Visits"].marks] == ["2025-03-04"]
    assert lanes(made)["Recalls"].marks == (), "the notice came later"
    (out,) = lanes(made)["Out of use"].spans
    assert out.end is None, "it was not returned by then"
