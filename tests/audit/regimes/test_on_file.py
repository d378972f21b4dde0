"""Rules files: what is on file, where it is from, and the numbers published for each."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from datetime import date

import pytest

from audit.regimes import Regime, all_regimes, load_regime
from audit.regimes.in_words import CAUTION, GRADE_WORDS, editions, notes
from audit.regimes.model import KINDS, TRIGGERS
from audit.regimes.source import Source
from tests.audit.regimes.looked_up import duty
from tests.in_turn import in_turn

IDS = {
    "au-racgp-2023", "base", "br-dental", "ca-ab-dental", "ca-bc-dental", "ca-on-dental", "ca-on-personal-services",
    "ca-sk-dental", "ca-toronto-personal-services", "de", "dk-dental", "dk-medical", "fr", "gb-eng-dental-htm0105",
    "gb-sct-2024", "ie", "jp", "neha-body-art-model", "pl-dental", "se-jonkoping-dental", "us-al-dental",
    "us-ca-body-art", "us-ca-clinics", "us-ca-dental", "us-ca-san-benito-body-art", "us-dc-body-art",
    "us-dental-cdc-2003", "us-fl-acupuncture", "us-fl-body-piercing", "us-fl-dental", "us-ga-dental",
    "us-healthcare-cdc-2008", "us-healthcare-st79-2017", "us-ia-tattoo", "us-in", "us-ks-body-art", "us-la-dental",
    "us-ma-body-art-model", "us-ma-dental", "us-md-electrology", "us-me-micropigmentation", "us-mn-body-art",
    "us-mn-dental", "us-ms-dental", "us-mt-body-art", "us-nc-dental", "us-nh-body-art", "us-nj-body-art",
    "us-nj-dental", "us-oh-body-art", "us-oh-dental", "us-oh-medical", "us-or-body-art", "us-or-dental",
    "us-sc-dental", "us-sd-body-piercing", "us-tn-dental", "us-tx-dental", "us-wa-dental", "us-wi-body-art",
}  # fmt: skip
EDITIONS = [each for one in all_regimes().values() for each in editions(one)]


SHARE = in_turn(EDITIONS, 3)  # of tests that ask the same of each edition


def edition_id(one: Regime) -> str:
    return f"{one.id} {one.valid_from}"


def sourced(value, at=""):
    """(where, source) of every value within that has a source; and whatever has none where one belongs."""
    if isinstance(value, tuple):
        for n, one in enumerate(value):
            yield from sourced(one, f"{at}[{n}]")
    elif is_dataclass(value) and not isinstance(value, Source):
        names = [f.name for f in fields(value)]
        if "source" in names:
            yield at, value.source
        for name in names:
            if name not in ("source", "sources", "earlier"):
                yield from sourced(getattr(value, name), f"{at}.{name}")


def test_what_is_on_file():
    assert set(all_regimes()) == IDS


# ------------------------------------------------------------------------------------------------ sources


@pytest.mark.parametrize("one", SHARE, ids=edition_id)
def test_every_rule_has_a_source_a_day_and_a_grade(one):
    held = list(sourced(one))
    assert len(held) >= 30
    for where, source in held:
        assert source.citation.strip(), where
        assert source.grade in GRADE_WORDS, where
        assert date(2026, 1, 1) <= date.fromisoformat(source.checked_on) <= date(2026, 11, 29), where
    assert {source for _, source in held} == set(one.sources)


@pytest.mark.parametrize("one", SHARE, ids=edition_id)
def test_what_is_common_practice_is_never_called_quoted(one):
    for where, source in sourced(one):
        if source.citation.startswith("common practice, no source"):
            assert source.grade == "common practice", where


# Texts that were not opened: nothing that rests on them alone may be called quoted.
UNOPENED = [
    ("us-tx-dental", ("biological-test",)),  # what the American Dental Association recommends
    ("us-fl-dental", ("biological-test",)),  # 64B5-25.003 as amended on 11 December 2019
    ("us-healthcare-st79-2017", ("biological-test", "biological-test-after-event")),  # known at second hand
    ("neha-body-art-model", ("biological-test",)),
]


@pytest.mark.parametrize(("id", "duties"), UNOPENED)
def test_what_was_not_opened_is_from_memory(id, duties):
    assert [duty(id, d).source.grade for d in duties] == ["from memory"] * len(duties)


def test_ohios_retention_is_from_memory_and_its_way_back_is_the_one_of_cdc_2003():
    # OAC 4715-20-02(A)(5): immediate remedial action; the rest CDC 2003 VI.F, in the same words and steps
    ohio, cdc = load_regime("us-oh-dental"), load_regime("us-dental-cdc-2003").path("biological")
    assert ohio.retention[0].source.grade == "from memory"
    assert replace(ohio.path("biological"), source=cdc.source) == cdc


@pytest.mark.parametrize("one", SHARE, ids=edition_id)
def test_every_edition_says_what_outranks_it(one):
    assert CAUTION in one.notes and len(notes(one)) == len(one.notes) - 1 >= 1


# ------------------------------------------------------------------------------------------------ published numbers

EVERY = [
    # rules, duty, frequency, count, hours
    ("us-dental-cdc-2003", "biological-test", "calendar-week", 1, 0),  # CDC 2003 VI.F item 6: at least weekly
    ("us-dental-cdc-2003", "implant-load-test", "each-implant-load", 1, 0),  # CDC 2003 VI.F item 7
    ("us-healthcare-cdc-2008", "biological-test", "calendar-week", 1, 0),  # CDC 2008 recommendation 16
    ("us-healthcare-cdc-2008", "implant-load-test", "each-implant-load", 1, 0),  # CDC 2008 recommendation 16
    ("us-healthcare-cdc-2008", "air-removal-test", "day-of-use", 1, 0),  # CDC 2008: each day of use, prevacuum
    ("us-healthcare-st79-2017", "biological-test", "calendar-week", 1, 0),  # ST79 clause 13 as quoted: a floor
    ("us-healthcare-st79-2017", "air-removal-test", "day-of-use", 1, 0),  # ST79:2006 Table 8
    ("us-or-dental", "biological-test", "calendar-week-with-patients", 1, 0),  # OAR 818-012-0040(2)
    ("us-ca-dental", "biological-test", "calendar-week-with-patients", 1, 0),  # 16 CCR 1005(b)(17)
    ("us-ca-body-art", "biological-test", "calendar-month", 1, 0),  # Health and Safety Code 119315
    ("us-fl-dental", "biological-test", "hours-or-days", 30, 40),  # 64B5-25.003: 40 hours of use or 30 days
    ("us-nj-body-art", "biological-test", "calendar-month", 1, 0),  # N.J.A.C. 8:27-5.4
    ("us-oh-dental", "biological-test", "calendar-week", 1, 0),  # OAC 4715-20-02(A)(4)-(5)
    ("us-mt-body-art", "biological-test", "calendar-month", 1, 0),  # ARM 37.112.131
    ("us-in", "biological-test", "rolling-days", 7, 0),  # 410 IAC 1-4-8(d)(2), read in part
    ("neha-body-art-model", "biological-test", "calendar-month", 1, 0),  # from memory
    ("ca-on-dental", "biological-test", "day-of-use-and-cycle-type", 1, 0),  # CDA Essentials 2020 issue 4
    ("ca-toronto-personal-services", "biological-test", "rolling-days", 14, 0),  # Toronto Public Health, BodySafe
    ("gb-eng-dental-htm0105", "automatic-control-test", "day-of-use", 1, 0),  # HTM 01-05 table, restated
    ("gb-eng-dental-htm0105", "air-removal-test", "day-of-use", 1, 0),  # HTM 01-05 table, restated
    ("gb-eng-dental-htm0105", "air-leak-test", "calendar-week", 1, 0),  # HTM 01-05 table, restated
    ("gb-eng-dental-htm0105", "safety-check", "calendar-week", 1, 0),  # HTM 01-05 15.14, restated
    ("gb-eng-dental-htm0105", "validation", "rolling-months", 12, 0),  # Care Quality Commission, mythbuster 12
    ("gb-eng-dental-htm0105", "pressure-examination", "stated-date", 14, 0),  # PSSR 2000: at most 14 months
    ("gb-sct-2024", "automatic-control-test", "calendar-week", 1, 0),  # SHTM 01-05 (2024) 5.33
    ("gb-sct-2024", "pressure-examination", "stated-date", 14, 0),  # PSSR 2000
    ("ie", "pressure-examination", "stated-date", 14, 0),  # Health and Safety Authority: self-generating 14 months
    ("au-racgp-2023", "validation", "rolling-months", 12, 0),  # RACGP 2023: at installation and yearly
    ("au-racgp-2023", "air-leak-test", "day-of-use", 1, 0),  # RACGP 2023: every day of use without an air detector
    ("au-racgp-2023", "air-removal-test", "day-of-use", 1, 0),  # RACGP 2023: daily, class B with narrow lumens
    ("au-racgp-2023", "servicing", "rolling-months", 12, 0),  # RACGP 2023: full service with calibration yearly
]


@pytest.mark.parametrize(("id", "which", "every", "count", "hours"), EVERY)
def test_published_frequencies(id, which, every, count, hours):
    found = duty(id, which)
    assert (found.every, found.count, found.hours) == (every, count, hours)


AFTER = [
    # rules, duty, events, passes, days unused, forbids
    ("us-ca-body-art", "biological-test-after-event", {"installed", "major repair"}, 1, 0, True),  # HSC 119315
    # N.J.A.C. 8:27-5.4: after any repair or breakdown
    ("us-nj-body-art", "biological-test-after-event", {"major repair", "repair"}, 1, 0, True),
    # NEHA Body Art Model Code 8.11: after repair or relocation
    ("neha-body-art-model", "biological-test-after-event", {"major repair", "repair", "relocated"}, 1, 0, True),
    # ST79:2006 Table 8
    (
        "us-healthcare-st79-2017",
        "biological-test-after-event",
        {"installed", "relocated", "major repair"},
        3,
        0,
        True,
    ),
    # Toronto Public Health: new or backup unit, repairs, more than two weeks unused, a new place: 3 passes before use
    (
        "ca-toronto-personal-services",
        "biological-test-after-event",
        {"installed", "loaner in", "relocated", "major repair", "repair", "idle"},
        3,
        14,
        True,
    ),
    ("au-racgp-2023", "validation-after-event", {"installed", "major repair"}, 1, 0, True),  # RACGP 2023
]


@pytest.mark.parametrize(("id", "which", "events", "passes", "idle", "forbids"), AFTER)
def test_published_events(id, which, events, passes, idle, forbids):
    found = duty(id, which)
    assert found.every == "after-event"
    assert (set(found.events), found.passes, found.idle_days, found.forbids) == (events, passes, idle, forbids)


PATHS = [
    # rules, repeats, passes after a failed repeat, chamber of these, recall
    ("us-dental-cdc-2003", 1, 3, "empty", "repeat failed"),  # CDC 2003 VI.F, narrative pp. 24-25
    ("us-healthcare-cdc-2008", 3, 3, "any", "repeat failed"),  # CDC 2008 Table 12
    ("us-nj-body-art", 1, 0, "any", "at once"),  # N.J.A.C. 8:27-5.4: rechallenge; no use until no growth
    ("us-oh-dental", 1, 3, "empty", "repeat failed"),  # OAC 4715-20-02 as reported: a second test; then as CDC 2003
    ("neha-body-art-model", 1, 1, "any", "at once"),  # NEHA 8.11
    ("ca-toronto-personal-services", 3, 3, "any", "at once"),  # Toronto Public Health: three passes in a row
    ("us-mt-body-art", 1, 3, "any", "at once"),  # not stated in ARM 37.112.131: the shared rules
]


@pytest.mark.parametrize(("id", "repeats", "back", "chamber", "recall"), PATHS)
def test_published_ways_back_after_a_positive_spore_test(id, repeats, back, chamber, recall):
    path = load_regime(id).path("biological")
    assert path.withdraws
    assert (path.repeats, path.return_passes, path.return_chamber, path.recall) == (repeats, back, chamber, recall)


def test_st79_asks_no_recall_where_the_cause_is_known_and_confined():
    path = load_regime("us-healthcare-st79-2017").path("biological")  # ST79 clause 13, from memory
    assert path.unless_confined and path.recall == "at once" and path.return_air_removal == 3
    assert not load_regime("us-healthcare-cdc-2008").path("biological").unless_confined


NOTICES = [
    # rules, who, within, measure, holidays
    ("us-nj-body-art", "the operator, by the laboratory", 24, "hours", ""),  # N.J.A.C. 8:27-5.4
    (
        "us-nj-body-art",
        "the local health authority",
        24,
        "hours",
        "",
    ),  # told: N.J.A.C. 8:27-5.4; the time is the cautious reading
    ("us-mt-body-art", "the health authority", 1, "business days", "US-MT"),  # ARM 37.112.131
    (
        "ca-toronto-personal-services",
        "Toronto Public Health",
        1,
        "days",
        "",
    ),  # told: Toronto; the time is the cautious reading
]


def test_published_notices_and_no_others():
    held = [
        (one.id, n.who, n.within, n.measure, n.holidays)
        for one in all_regimes().values()
        for path in one.failure
        for n in path.notices
    ]
    assert sorted(held) == sorted(NOTICES)


def test_new_jersey_sterilizes_the_whole_load_again_where_the_integrator_fails():
    path = load_regime("us-nj-body-art").path("chemical")  # N.J.A.C. 8:27-5.4
    assert (path.recall, path.recall_scope) == ("at once", "the load")
    # CDC 2003 VI.F: the pack is not used; nothing is said of the whole load
    assert load_regime("us-dental-cdc-2003").path("chemical").recall == "none stated"


KEPT = [
    # rules, months, calendar years, counted from
    ("us-or-dental", 0, 2, "record"),  # OAR 818-012-0040: current calendar year and the two before it
    ("us-ca-dental", 12, 0, "record"),  # 16 CCR 1005(b)(17)
    ("us-ca-body-art", 36, 0, "record"),  # Health and Safety Code 119315
    ("us-nj-body-art", 36, 0, "record"),  # N.J.A.C. 8:27-5.4
    ("us-oh-dental", 24, 0, "record"),  # OAC 4715-20, from memory
    ("neha-body-art-model", 36, 0, "record"),  # NEHA 6.4
    ("ca-toronto-personal-services", 36, 0, "record"),  # O. Reg. 136/18
    ("gb-eng-dental-htm0105", 24, 0, "record"),  # HTM 01-05 4.3
    ("gb-sct-2024", 300, 0, "end of life"),  # SHTM 01-05 (2024) 5.7-5.10: equipment life and 25 years
    ("au-racgp-2023", 84, 0, "last entry"),  # RACGP 2023: at least 7 years from the last entry
]


@pytest.mark.parametrize(("id", "months", "years", "starts"), KEPT)
def test_published_retention(id, months, years, starts):
    (rule,) = load_regime(id).retention
    assert (rule.months, rule.calendar_years, rule.starts) == (months, years, starts)


def test_no_routine_spore_test_where_release_rests_on_validated_cycles():
    # HTM 01-05: chemical and physical release; RACGP 2023: validation
    for id in ("gb-eng-dental-htm0105", "au-racgp-2023", "gb-sct-2024"):
        assert [d for d in load_regime(id).duties if d.subject == "biological"] == []


def test_englands_automatic_control_test_is_signed_before_use():
    found = duty("gb-eng-dental-htm0105", "automatic-control-test")  # HTM 01-05 (2013) 11.12
    assert found.signed and found.forbids


@pytest.mark.parametrize("id", ["gb-eng-dental-htm0105", "gb-sct-2024", "ie"])
def test_no_use_after_the_pressure_examination_has_run_out(id):
    found = duty(id, "pressure-examination")  # PSSR 2000; Health and Safety Authority (Ireland)
    assert found.forbids and found.subject == "pressure examination"


@pytest.mark.parametrize("one", SHARE, ids=edition_id)
def test_air_removal_only_where_air_is_removed_by_vacuum(one):
    # CDC 2008: the air-removal test is for prevacuum units; HTM 01-05: no leak test on type N; RACGP 2023: a leak
    # test where a vacuum is used in any part of the operation
    for each in one.duties:
        if each.subject == "air removal":
            assert each.equipment == ("dynamic air removal",)
        if each.subject == "air leak":
            vacuum = {"dynamic air removal", "cassette"} if one.id == "au-racgp-2023" else {"dynamic air removal"}
            assert set(each.equipment) == vacuum


@pytest.mark.parametrize("one", SHARE, ids=edition_id)
def test_every_kind_of_failure_and_every_trigger_is_answered(one):
    assert {p.kind for p in one.failure} == set(KINDS)
    assert {r.trigger for r in one.look_back} == set(TRIGGERS)
    for kind in ("automatic control", "safety check"):
        path = one.path(kind)
        assert path.withdraws and path.repeats == 1 and "retest" in [s.action for s in path.steps]


ASKED = [
    # rules, duty, who reads it, how full the chamber is, whether a place in it is named
    ("us-nj-body-art", "biological-test", "laboratory", "full", True),  # N.J.A.C. 8:27-5.4(a), (b)
    ("us-nj-body-art", "biological-test-after-event", "laboratory", "full", True),  # the same
    ("us-mt-body-art", "biological-test", "laboratory", "any", False),  # ARM 37.112.131(3)(d): certified laboratory
    ("us-or-body-art", "biological-test", "laboratory", "any", False),  # OAR 331-905-0105(6)
    ("us-wi-body-art", "biological-test", "laboratory", "any", False),  # SPS 221.14(2)(c)
    ("us-sd-body-piercing", "biological-test", "laboratory", "any", False),  # ARSD 44:12:02:17
    ("us-ma-body-art-model", "biological-test", "laboratory", "any", False),  # Model Regulations (C)(4)
    ("ca-sk-dental", "biological-test", "laboratory", "any", False),  # IPC-04-04: an outside testing service
    ("us-ca-body-art", "biological-test", "any", "any", False),  # HSC 119315: not said
]


@pytest.mark.parametrize(("id", "which", "site", "chamber", "place"), ASKED)
def test_what_a_place_asks_of_the_test_itself(id, which, site, chamber, place):
    found = duty(id, which)
    assert (found.site, found.chamber, found.place != "") == (site, chamber, place)


def test_nobody_else_asks_a_laboratory_or_a_place():
    held = {(one.id, d.id) for one in all_regimes().values() for d in one.duties if d.site != "any" or d.place}
    assert held - {("us-nj-body-art", "biological-test-after-planned-part")} == {
        a[:2] for a in ASKED if a[2] != "any"
    }


EACH_LOAD = {
    "us-dental-cdc-2003": "read",  # CDC 2003 VI.F item 2
    "us-healthcare-cdc-2008": "quoted",  # CDC 2008 recommendation 16
    "us-ca-body-art": "read",  # HSC 119315(b)(3)
    "ca-on-dental": "read",  # CDA Essentials 2020 issue 4, pp. 27-28
    "gb-eng-dental-htm0105": "read",  # Care Quality Commission, mythbuster 12
    "au-racgp-2023": "read",  # RACGP 2023, Checking steriliser function
    "us-dc-body-art": "read",  # 25 DCMR G310
    "ca-ab-dental": "quoted",  # CDSA standard, by 1 January 2023
    "br-dental": "read",  # RDC 1.002, Art. 91
}


def test_where_a_result_of_each_load_is_asked_before_its_release():
    heirs = {one.id for one in all_regimes().values() if one.inherits not in ("", "base")}
    held = {one.id: one.release.source.grade for one in all_regimes().values() if one.release}
    assert {id: grade for id, grade in held.items() if id not in heirs} == EACH_LOAD and heirs <= set(held)


def test_indiana_forbids_use_once_the_last_test_is_more_than_seven_days_old():
    found = duty("us-in", "biological-test")  # 410 IAC 1-4-8(d)(2)(C): within seven days prior to the procedure
    assert found.forbids and (found.every, found.count) == ("rolling-days", 7)


BEGINS = [
    # rules, the first day of the newest edition
    ("us-mt-body-art", date(2007, 3, 23)),  # history of ARM 37.112.132
    ("us-nj-body-art", date(2002, 2, 19)),  # N.J.A.C. 8:27-3.1(d)
    ("us-ca-body-art", date(2012, 7, 1)),  # 2011 ch. 638, operative that day
    ("au-racgp-2023", date(2023, 8, 18)),  # the page, last revised that day
    ("gb-eng-dental-htm0105", date(2013, 3, 31)),  # HTM 01-05, its date
    ("ie", date(2013, 1, 1)),  # S.I. 445/2012
    ("us-fl-dental", date(2019, 12, 11)),  # 64B5-25.002(4), amended that day
    ("us-healthcare-st79-2017", date(2017, 10, 1)),  # published in autumn 2017, from memory
]


@pytest.mark.parametrize(("id", "first"), BEGINS)
def test_from_which_day_they_are_in_force(id, first):
    assert load_regime(id).valid_from == first


def test_toronto_asks_a_test_in_every_load_with_an_implantable_device():
    assert (
        duty("ca-toronto-personal-services", "implant-load-test").every == "each-implant-load"
    )  # BodySafe, newer page
