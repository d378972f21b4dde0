"""Parts of a recalled lot. Rules of matching and windows are common practice, no source, but where one is named."""

from dataclasses import replace
from datetime import date, datetime

import pytest

from audit.judge.judgement import Evidence
from audit.judge.lookback.matching import keys, name_key, same
from audit.judge.lookback.recalled_parts import meant, recalled_parts
from tests.audit.judge.lookback.said import DAY, days_in, left_out, loads, of_kind, seal
from tests.fact_builders import clinic, event, fit, job, part_recall, unit

RECALL = "part recall"
RUN = loads("2025-03-01", "2025-03-02", "2025-04-01", "2025-05-01", "2025-06-01")


def fitted(*parts):
    return tuple(job(str(p.row.happened_on), parts=(p,)) for p in parts)


def found(*parts, notice=None, **more):
    facts = unit(jobs=fitted(*parts), loads=RUN, **more)
    return of_kind(RECALL, facts, place=clinic(facts, part_recalls=(notice or part_recall("2025-05-01"),)))


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("L-007", "l 7", True),
        ("L0007", "L-7", True),
        ("12-03", "1203", True),
        ("12-03", "12-3", True),
        ("AB/12.5", "ab 12 5", True),
        ("A‑1", "A-1", True),  # a hyphen that does not break the line
        ("100", "10", False),
        ("10", "1", False),
        ("0", "00", True),
        ("L1", "L2", False),
        ("A1", "A", False),
        ("", "", False),
        (" - ", "", False),
    ],
)
def test_texts_typed_by_hand(one, other, alike):
    assert same(one, other) is alike and same(other, one) is alike


def test_a_zero_that_does_not_lead_is_never_dropped():
    assert keys("1010") == {"1010"} and keys("P1.") == {"p1"} and name_key("  Ann  LEE ") == "ann lee"


@pytest.mark.parametrize(
    ("notice", "part", "says"),
    [
        ({}, {}, ""),
        ({}, {"lot": "p 01", "number": "n1"}, ""),
        ({}, {"lot": "P2"}, None),
        ({}, {"number": "N-2"}, None),
        ({}, {"lot": "X", "receipt_lot": "P-1"}, ""),
        ({}, {"lot": "", "state": "unreadable"}, "lot unreadable"),
        ({}, {"lot": "", "state": "not printed"}, "lot not printed"),
        ({}, {"lot": "", "state": "printed"}, "lot printed"),  # printed, and nobody wrote it down
        ({}, {"lot": "", "state": "unreadable", "number": "N-2"}, None),
        ({"first": "2025-03-01", "last": "2025-03-01"}, {"lot": "", "state": "unreadable"}, "lot unreadable"),
        ({"first": "2025-03-02"}, {"lot": "", "state": "unreadable"}, None),
        ({"last": "2025-02-28"}, {"lot": "", "state": "unreadable"}, None),
        ({"first": "2025-03-02"}, {}, ""),  # the lot itself is stronger than any day
        ({"lot": ""}, {"lot": "P2"}, ""),
        ({"lot": "", "first": "2025-03-02"}, {"lot": "P2"}, None),
        ({"number": ""}, {}, ""),
        ({"number": ""}, {"name": " Seal "}, ""),
        ({"number": ""}, {"name": "filter"}, None),
        ({}, {"number": ""}, ""),  # no number on the part: its name and lot
    ],
)
def test_which_part_a_notice_means(notice, part, says):
    assert meant(part_recall("2025-05-01", **notice), seal("2025-03-01", **part)) == says


def test_loads_since_it_was_fitted_up_to_the_notice():
    (back,) = found(seal("2025-03-02"))
    assert (str(back.after), str(back.to)) == ("2025-03-02", "2025-05-01")
    assert days_in(back) == ["2025-03-02", "2025-04-01", "2025-05-01"]  # of the day of fitting: order not known
    assert left_out(back) == {"before it was fitted": 1, "after it was known": 1}
    assert back.settled_on is None and back.parts == () and "A. Technician" in back.after_text
    assert [e.text.split(" ")[0] for e in back.evidence] == ["notice", "seal"]
    assert "the notice asks: replace" in back.asked


def test_another_part_at_its_position_takes_it_out():
    (back,) = found(seal("2025-03-02"), seal("2025-04-15", "P2"))
    assert (str(back.to), str(back.settled_on)) == ("2025-04-15", "2025-04-15")
    assert left_out(back)["after the part came out"] == 2
    (still,) = found(seal("2025-03-02"), seal("2025-04-15", "P2", position="door"))
    assert still.settled_on is None


@pytest.mark.parametrize(
    ("later", "out_on"),
    [
        ({"lot": "P2", "quantity": 0}, None),  # a kit in which it was left out
        ({"lot": "P1", "action": "found in place"}, None),
        ({"lot": "", "state": "unreadable", "action": "found in place"}, None),
        ({"lot": "P2", "action": "found in place"}, "2025-04-15"),  # somebody changed it since
        ({"lot": "P2", "action": "replaced on condition"}, "2025-04-15"),
    ],
)
def test_what_takes_a_part_out(later, out_on):
    (one, *_) = recalled_parts(
        unit(jobs=fitted(seal("2025-03-02"), seal("2025-04-15", **later))), (part_recall("2025-05-01"),), DAY
    )
    assert (one.out_on and str(one.out_on)) == out_on


PLACE = {"action": "found in place"}


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        # two fitted on one day: neither is shown to have come out
        (("P1", "", {}), ("P2", "", {}), [("2025-03-02", None)]),
        (("P1", "08:00", {}), ("P2", "", {}), [("2025-03-02", None)]),
        (("P1", "08:00", {}), ("P2", "09:00", {}), [("2025-03-02", "2025-03-02")]),
        (("P1", "09:00", {}), ("P2", "08:00", {}), [("2025-03-02", None)]),
        # found in place and then another one fitted: the visit that changes it
        (("P1", "", PLACE), ("P2", "", {}), [("2025-03-01", "2025-03-02")]),
        # fitted, and another one found: it may have been found before
        (("P1", "", {}), ("P2", "", PLACE), [("2025-03-02", None)]),
        # found and fitted with one lot: the one found may have been there since the part before it
        (("P1", "", {}), ("P1", "", PLACE), [("2025-03-01", "2025-03-02"), ("2025-03-02", None)]),
        (("P1", "08:00", {}), ("P1", "09:00", PLACE), [("2025-03-02", None)]),
    ],
)
def test_two_parts_of_one_day_at_one_place(first, second, said):
    """In which order they were logged shows nothing. Common practice, no source."""
    parts = []
    for lot, at, more in (first, second):
        one = seal("2025-03-02", lot, **more)
        moment = datetime.fromisoformat(f"2025-03-02T{at}+00:00") if at else None
        parts.append(replace(one, row=replace(one.row, happened_at=moment)))
    for logged in (parts, parts[::-1]):
        facts = unit(jobs=fitted(seal("2025-03-01", "P9"), *logged))
        listed = of_kind(RECALL, facts, place=clinic(facts, part_recalls=(part_recall("2025-05-01"),)))
        windows = [(str(b.after), b.settled_on and str(b.settled_on)) for b in listed]
        assert sorted(windows) == said


def test_a_position_that_is_empty_now_holds_no_part():
    facts = unit(jobs=fitted(seal("2025-03-02")), fits=(fit(state="none", day="2025-04-20"),))
    for as_of, out_on in (("2025-04-19", None), ("2025-04-20", date(2025, 4, 20))):
        (one,) = recalled_parts(facts, (part_recall("2025-05-01"),), date.fromisoformat(as_of))
        assert one.out_on == out_on


def test_fitted_again_after_the_notice_everything_since_is_in_doubt():
    (back,) = found(seal("2025-05-02"), notice=part_recall("2025-04-01"))
    assert days_in(back) == ["2025-06-01"] and back.to == DAY
    gone = found(seal("2025-05-02"), seal("2025-05-20", "P2"), notice=part_recall("2025-04-01"))
    assert days_in(gone[0]) == []


def test_a_withdrawal_before_the_notice_shortens_nothing():
    (back,) = found(seal("2025-03-02"), events=(event("2025-03-20", "withdrawn"),))
    (without,) = found(seal("2025-03-02"))
    assert (back.to, back.loads) == (without.to, without.loads) and str(back.to) == "2025-05-01"


def test_found_in_place_reaches_back_to_the_part_before_it():
    place = {"action": "found in place"}
    (back,) = found(seal("2025-04-10", **place))
    assert back.after is None and len(back.loads) == 4 and "nobody on record" in back.after_text
    (back,) = found(seal("2025-03-01", "P9"), seal("2025-04-10", **place))
    assert str(back.after) == "2025-03-01"
    assert len(found(seal("2025-03-02"), seal("2025-04-10", **place))) == 1  # the same part, seen again


def test_fitted_on_the_day_of_the_notice_it_is_taken_as_fitted_before():
    (back,) = found(seal("2025-05-01"))
    assert (str(back.to), days_in(back)) == ("2025-05-01", ["2025-05-01"])
    assert "after it was known" in left_out(back)


def test_why_the_rest_is_outside():
    late = {"notice": part_recall("2025-04-01")}
    (back,) = found(seal("2025-05-02"), **late)
    assert left_out(back) == {"before it was fitted": 4}
    (back,) = found(seal("2025-03-02"), seal("2025-05-01", "P2"))  # out on the day of the notice
    assert left_out(back)["after the part came out"] == 1


def test_the_first_thing_that_took_it_out_counts():
    facts = unit(
        jobs=fitted(seal("2025-03-02"), seal("2025-04-15", "P2")),
        fits=(fit(state="none", day="2025-04-20"), fit(state="none", day="2025-03-02")),
    )
    (one,) = recalled_parts(facts, (part_recall("2025-05-01"),), DAY)
    assert str(one.out_on) == "2025-04-15"  # what was said of the position on the day of fitting came before it


def test_the_newest_notice_or_fitting_comes_first():
    parts = (seal("2025-03-02"), seal("2025-06-02", position="door"))
    facts = unit(jobs=fitted(*parts))
    said = of_kind(RECALL, facts, place=clinic(facts, part_recalls=(part_recall("2025-05-01"),)))
    assert [str(b.after) for b in said] == ["2025-06-02", "2025-03-02"]


@pytest.mark.parametrize(("number", "out_on"), [("N-1", "2025-04-15"), ("N-2", None)])
def test_away_from_listed_positions_only_the_same_number_takes_its_place(number, out_on):
    parts = [replace(p, position="") for p in (seal("2025-03-02"), seal("2025-04-15", "P2", number=number))]
    (one,) = recalled_parts(unit(jobs=fitted(*parts)), (part_recall("2025-05-01"),), DAY)
    assert (one.out_on and str(one.out_on)) == out_on


def test_the_lot_in_words():
    (one,) = recalled_parts(unit(jobs=fitted(seal("2025-03-02", ""))), (part_recall("2025-05-01", "R1"),), DAY)
    assert one.where == "seal N-1, lot R1"
    (one,) = recalled_parts(unit(jobs=fitted(seal("2025-03-02"))), (part_recall("2025-05-01"),), DAY)
    assert one.where == "seal N-1, lot P1"


def test_each_position_and_each_notice_on_its_own():
    two = fitted(seal("2025-03-02"), seal("2025-03-02", position="door"))
    facts = unit(jobs=two)
    place = clinic(
        facts, part_recalls=(part_recall("2025-05-01"), part_recall("2025-05-02"), part_recall("2025-05-03", "P2"))
    )
    assert len(of_kind(RECALL, facts, place=place)) == 4


def test_unreadable_says_that_it_only_may_be():
    (back,) = found(seal("2025-03-02", "", state="unreadable"))
    assert "may be one of them: lot unreadable" in back.trigger
    assert isinstance(back.evidence[0], Evidence)
