"""Due items by published example: each frequency with the subjects that rules ask it of.

A row: what was done, the day, the state, the day due. Monday 3 March 2025 begins a week; units are installed on
Monday 24 February 2025 unless it says otherwise. The source stands beside each table; what follows from it by
arithmetic is marked derived.
"""

from dataclasses import replace
from datetime import date

import pytest

from audit.judge.clocks.frequency import duty_clock
from audit.judge.clocks.spans import spans
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from tests.audit.judge.clock_stories import a_duty
from tests.fact_builders import (
    air,
    bio,
    check,
    clinic,
    document,
    event,
    job,
    leak,
    load,
    on,
    outcome,
    part,
    row,
    terms,
    unit,
    user_check,
)

INSTALLED = "2025-02-24"


def made(text):
    """Facts from words: "bio 2025-03-04, air 2025-03-05 fail, load 2025-03-05 wrapped"."""
    kinds: dict[str, list] = {}
    for words in filter(None, (one.strip() for one in text.split(","))):
        kind, day, *more = words.split(" ", 2)
        arg = more[0] if more else ""
        made_of = {
            "bio": lambda d, w: ("bio_tests", bio(d, result=w or "pass", known=d)),
            "typed": lambda d, w: ("bio_tests", bio(d, result="pass", known=d, cycle_type=w)),
            "air": lambda d, w: ("air_removal", air(d, w or "pass")),
            "leak": lambda d, w: ("leaks", leak(d, w or "pass")),
            "control": lambda d, w: ("checks", user_check(d, "automatic control", w or "pass")),
            "unsigned": lambda d, w: ("checks", user_check(d, w or "automatic control", signed="")),
            "safety": lambda d, w: ("checks", user_check(d, "safety check", w or "pass")),
            "thermometer": lambda d, w: ("checks", user_check(d, "thermometer comparison", w or "pass")),
            "water": lambda d, w: ("checks", user_check(d, "water", w or "pass")),
            "load": lambda d, w: ("loads", load(d, program=w or "wrapped")),
            "implant": lambda d, w: ("loads", load(d, w, implant=True)),
            "cycle": lambda d, w: ("bio_tests", bio(d, result="pass", known=d, cycle=w)),
            "serviced": lambda d, w: ("jobs", job(d, outcomes=(outcome(d),), tests=(check(d),))),
            "looked": lambda d, w: ("jobs", job(d, outcomes=(outcome(d, what="not due"),))),
            "replaced": lambda d, w: ("jobs", job(d, parts=(part(d, action=w or "replaced on plan"),))),
            "validated": lambda d, w: ("documents", document("validation report", d)),
            "examined": lambda d, w: ("documents", document("pressure examination", d, w or None)),
        }
        name, fact = made_of[kind](day, arg)
        kinds.setdefault(name, []).append(fact)
    return {name: tuple(facts) for name, facts in kinds.items()}


def clock_of(rules, duty_id, done, as_of, *, type="dynamic air removal", installed=INSTALLED, duty=None):
    events = (event(installed),) if installed else ()
    held = unit("2020-01-01" if not installed else installed, type=type, events=events, **made(done))
    regime = load_regime(rules)
    facts = at(settle(held, clinic(held, terms=(terms(rules),)), regime, on(as_of)), on(as_of)).duty
    duty = duty or next((d for d in facts.duties() if d.id == duty_id), None)
    return duty and duty_clock(facts, duty)


def rows(text):
    return [[cell.strip() for cell in row.split("|")] for row in text.strip().splitlines()]


PUBLISHED = """
us-oh-dental         | biological-test | bio 2025-03-03          | 2025-03-16 | due      | 2025-03-16
us-oh-dental         | biological-test | bio 2025-03-03          | 2025-03-17 | overdue  | 2025-03-16
us-dental-cdc-2003   | biological-test | bio 2025-03-04 invalid  | 2025-03-10 | overdue  | 2025-03-02
us-ca-body-art       | biological-test | bio 2025-03-01          | 2025-04-30 | due      | 2025-04-30
us-ca-body-art       | biological-test | bio 2025-03-01          | 2025-05-01 | overdue  | 2025-04-30
ca-toronto-personal-services | biological-test | bio 2025-03-03  | 2025-03-17 | due      | 2025-03-17
ca-toronto-personal-services | biological-test | bio 2025-03-03  | 2025-03-18 | overdue  | 2025-03-17
us-in                | biological-test | bio 2025-03-03          | 2025-03-10 | due      | 2025-03-10
us-in                | biological-test | bio 2025-03-03          | 2025-03-11 | overdue  | 2025-03-10
us-fl-dental         | biological-test | bio 2025-03-03, load 2025-03-10 | 2025-04-02 | due      | 2025-04-02
us-fl-dental         | biological-test | bio 2025-03-03, load 2025-03-10 | 2025-04-03 | overdue  | 2025-04-02
ca-on-dental | biological-test | load 2025-03-03 wrapped, load 2025-03-03 unwrapped, typed 2025-03-03 wrapped | 2025-03-03 | due | 2025-03-03
ca-on-dental | biological-test | load 2025-03-03 wrapped, load 2025-03-03 unwrapped, typed 2025-03-03 wrapped | 2025-03-04 | overdue | 2025-03-03
ca-on-dental | biological-test | load 2025-03-03 wrapped, typed 2025-03-03 wrapped | 2025-03-04 | ok | None
us-healthcare-cdc-2008 | air-removal-test | load 2025-03-03            | 2025-03-03 | due      | 2025-03-03
us-healthcare-cdc-2008 | air-removal-test | load 2025-03-03            | 2025-03-04 | overdue  | 2025-03-03
us-healthcare-cdc-2008 | air-removal-test | load 2025-03-03, air 2025-03-03 | 2025-03-04 | ok  | None
us-healthcare-cdc-2008 | air-removal-test | load 2025-03-03, air 2025-03-04 | 2025-03-04 | ok  | None
us-healthcare-cdc-2008 | implant-load-test | implant 2025-03-03 7      | 2025-03-04 | overdue  | 2025-03-03
us-healthcare-cdc-2008 | implant-load-test | implant 2025-03-03 7, cycle 2025-03-03 7 | 2025-03-04 | ok | None
us-healthcare-cdc-2008 | implant-load-test | implant 2025-03-03 7, cycle 2025-03-03 8 | 2025-03-04 | overdue | 2025-03-03
us-healthcare-cdc-2008 | implant-load-test | load 2025-03-03           | 2025-03-04 | not applicable | None
au-racgp-2023        | air-leak-test    | load 2025-03-03                | 2025-03-04 | overdue  | 2025-03-03
au-racgp-2023        | air-leak-test    | load 2025-03-03, leak 2025-03-03 fail | 2025-03-04 | not applicable | None
au-racgp-2023        | validation       | validated 2025-02-25           | 2026-02-25 | due      | 2026-02-25
au-racgp-2023        | validation       | validated 2025-02-25           | 2026-02-26 | overdue  | 2026-02-25
au-racgp-2023        | validation       | validated 2025-02-25           | 2026-01-26 | due soon | 2026-02-25
au-racgp-2023        | validation       | validated 2025-02-25           | 2026-01-25 | ok       | 2026-02-25
au-racgp-2023        | servicing        | serviced 2025-03-03            | 2026-03-04 | overdue  | 2026-03-03
au-racgp-2023        | servicing        | replaced 2025-03-03            | 2026-03-04 | overdue  | 2026-03-03
au-racgp-2023        | servicing        | replaced 2025-03-03 found in place | 2026-02-25 | overdue | 2026-02-24
au-racgp-2023        | servicing        | looked 2025-03-03              | 2026-02-24 | due      | 2026-02-24
gb-eng-dental-htm0105 | automatic-control-test | load 2025-03-03, control 2025-03-03  | 2025-03-04 | ok      | None
gb-eng-dental-htm0105 | automatic-control-test | load 2025-03-03, unsigned 2025-03-03 | 2025-03-04 | overdue | 2025-03-03
gb-eng-dental-htm0105 | automatic-control-test | load 2025-03-03, control 2025-03-03 not done | 2025-03-04 | overdue | 2025-03-03
gb-eng-dental-htm0105 | safety-check     | safety 2025-03-03              | 2025-03-16 | due      | 2025-03-16
gb-eng-dental-htm0105 | safety-check     | safety 2025-03-03, unsigned 2025-03-11 safety check | 2025-03-17 | overdue | 2025-03-16
gb-eng-dental-htm0105 | air-leak-test    | leak 2025-03-09                | 2025-03-16 | due      | 2025-03-16
gb-eng-dental-htm0105 | pressure-examination | examined 2025-03-03        | 2026-05-03 | due      | 2026-05-03
gb-eng-dental-htm0105 | pressure-examination | examined 2025-03-03        | 2026-05-04 | overdue  | 2026-05-03
gb-eng-dental-htm0105 | pressure-examination | examined 2025-03-03 2026-03-03 | 2026-03-04 | overdue | 2026-03-03
gb-eng-dental-htm0105 | pressure-examination | examined 2025-03-03 2027-03-03 | 2026-05-04 | overdue | 2026-05-03
gb-eng-dental-htm0105 | pressure-examination | examined 2025-03-03        | 2026-03-04 | due soon | 2026-05-03
gb-sct-2024          | automatic-control-test | control 2025-03-03       | 2025-03-16 | due      | 2025-03-16
ie                   | pressure-examination | examined 2024-01-09        | 2025-03-10 | overdue  | 2025-03-09
"""  # noqa: E501 (a table is read in rows)
SOURCES = {
    "us-oh-dental": "OAC 4715-20-02(A): weekly; the calendar week is our reading, derived",
    "us-dental-cdc-2003": "MMWR 52(RR-17) VI.F: at least weekly, with a matching control",
    "us-ca-body-art": "California Health and Safety Code 119315: at least monthly; calendar month, derived",
    "ca-toronto-personal-services": "Toronto Public Health, BodySafe: at least every two weeks; 14 days, derived",
    "us-in": "410 IAC 1-4-8(d)(2): within 7 days; derived",
    "us-fl-dental": "Florida Administrative Code 64B5-25.003: 40 hours of use or 30 days, whichever is first",
    "ca-on-dental": "RCDSO, IPAC standard 2018, as reported: each day of use, each cycle type used that day",
    "us-healthcare-cdc-2008": "CDC 2008, recommendation 16: loads with an implant; air-removal test each day of use",
    "au-racgp-2023": "RACGP 2023: leak test each day of use; validation and service each year",
    "gb-eng-dental-htm0105": "HTM 01-05 (2013) 11.12 (signed), table of periodic tests; PSSR 2000: at most 14 months",
    "gb-sct-2024": "SHTM 01-05 (2024) 5.33: automatic control test weekly",
    "ie": "Health and Safety Authority, Ireland: at most 14 months, self-generating",
}


@pytest.mark.parametrize(("rules", "duty", "done", "as_of", "state", "due"), rows(PUBLISHED))
def test_published_frequencies(rules, duty, done, as_of, state, due):
    assert rules in SOURCES
    clock = clock_of(rules, duty, done, as_of)
    assert (clock.state, str(clock.due_on)) == (state, due)
    if clock.due_on:
        assert (clock.overdue_on - clock.due_on).days == 1


def test_every_set_of_rules_in_the_table_has_a_source():
    assert {row[0] for row in rows(PUBLISHED)} == set(SOURCES)


OTHERS = [
    # frequency, subject, done, as_of, state, due, source
    # Florida Administrative Code 64E-19.005(4): every 40 hours of operation and not less than quarterly
    ("calendar-quarter", "biological", "bio 2025-03-31", "2025-06-30", "due", "2025-06-30"),
    ("calendar-quarter", "biological", "bio 2025-03-31", "2025-07-01", "overdue", "2025-06-30"),
    ("calendar-quarter", "biological", "bio 2025-04-01", "2025-07-01", "due", "2025-09-30"),
    # 22 CCR 75064: the recording thermometer compared with the indicating one each day
    ("day-of-use", "thermometer comparison", "load 2025-03-03", "2025-03-04", "overdue", "2025-03-03"),
    ("day-of-use", "thermometer comparison", "load 2025-03-03, thermometer 2025-03-03", "2025-03-04", "ok", "None"),
    # common practice, no source
    ("calendar-year", "servicing", "serviced 2025-03-03", "2026-12-31", "due", "2026-12-31"),
    ("calendar-year", "servicing", "serviced 2025-03-03", "2027-01-01", "overdue", "2026-12-31"),
    ("calendar-year", "servicing", "looked 2025-03-03", "2026-01-01", "overdue", "2025-12-31"),
    ("calendar-month", "water", "water 2025-03-03", "2025-05-01", "overdue", "2025-04-30"),
    ("calendar-month", "water", "water 2025-03-03, water 2025-04-30 not done", "2025-05-01", "overdue", "2025-04-30"),
    ("rolling-months", "safety check", "safety 2025-03-31", "2025-04-30", "due", "2025-04-30"),
    ("rolling-months", "safety check", "safety 2025-03-31", "2025-05-01", "overdue", "2025-04-30"),
    ("calendar-week", "air removal", "air 2025-03-03", "2025-03-17", "overdue", "2025-03-16"),
]


@pytest.mark.parametrize(("every", "subject", "done", "as_of", "state", "due"), OTHERS)
def test_frequencies_that_no_set_of_rules_on_file_asks_of_the_subject(every, subject, done, as_of, state, due):
    clock = clock_of("base", "", done, as_of, duty=a_duty(every, subject))
    assert (clock.state, str(clock.due_on)) == (state, due)


def test_without_a_vacuum_no_test_of_air_removal_or_leakage_is_asked():
    """HTM 01-05, table of periodic tests: steam penetration and air leakage not for type N."""
    for rules, duty in (("us-healthcare-cdc-2008", "air-removal-test"), ("gb-eng-dental-htm0105", "air-leak-test")):
        assert clock_of(rules, duty, "", "2025-03-03") is not None
        assert clock_of(rules, duty, "", "2025-03-03", type="gravity") is None


@pytest.mark.parametrize("duty", ["validation", "servicing"])
def test_never_done_and_never_installed_is_no_evidence(duty):
    """Common practice, no source."""
    clock = clock_of("au-racgp-2023", duty, "", "2025-03-03", installed="")
    assert (clock.state, clock.due_on, clock.overdue_on) == ("no evidence", None, None)


def test_a_clock_says_what_it_asks_and_whether_it_forbids_use():
    clock = clock_of("gb-eng-dental-htm0105", "pressure-examination", "examined 2025-03-03", "2025-03-04")
    assert (clock.subject, clock.forbids, clock.action) == ("pressure examination", True, "renew")
    assert clock.counts_from.text == "pressure examination of 2025-03-03"
    clock = clock_of("us-oh-dental", "biological-test", "bio 2025-03-03", "2025-03-04")
    assert (clock.subject, clock.forbids, clock.action) == ("biological", False, "test")


def test_a_paper_counts_from_its_first_valid_day():
    papers = (
        document("validation report", "2025-03-01"),
        replace(document("validation report", "2025-03-05"), row=row("2025-03-02")),
    )
    held = unit("2025-02-24", events=(event("2025-02-24"),), documents=papers)
    regime = load_regime("au-racgp-2023")
    for day, due in (("2025-03-04", "2026-03-01"), ("2025-03-05", "2026-03-05")):
        facts = at(settle(held, clinic(held, regime="au-racgp-2023"), regime, on(day)), on(day)).duty
        assert str(duty_clock(facts, facts.duties()[0]).due_on) == due


def test_the_cycle_of_an_air_removal_test_is_of_no_cycle_type():
    """It is run in a chamber empty but for the test pack; logged as a load it asks no spore test. Common practice."""
    duty = a_duty("day-of-use-and-cycle-type")
    own = replace(air("2025-03-03"), cycle_number="1")
    loads = (load("2025-03-03", "1", program="air removal"), load("2025-03-03", "2", program="wrapped"))
    for tests, state in (((own,), "ok"), ((), "overdue")):
        spore = (bio("2025-03-03", result="pass", known="2025-03-03", cycle_type="wrapped"),)
        held = unit(INSTALLED, events=(event(INSTALLED),), loads=loads, air_removal=tests, bio_tests=spore)
        regime = replace(load_regime("base"), duties=(duty,))
        day = on("2025-03-04")
        facts = at(settle(held, clinic(held, regime="base"), regime, day), day).duty
        assert duty_clock(facts, duty).state == state
        assert [s.result for s in spans(facts, duty, day.replace(day=1), day)] == ["missed"] * (not tests) + ["met"]


def test_a_paper_s_day_stands_while_the_unit_is_out_of_use():
    """Pressure Systems Safety Regulations 2000: before use once the day has passed; derived."""
    papers = (document("pressure examination", "2024-01-09"),)
    events = (event("2023-01-09"), event("2025-02-01", "withdrawn"), event("2025-04-09", "returned"))
    held = unit("2023-01-09", events=events, documents=papers)
    regime = load_regime("ie")
    facts = at(settle(held, clinic(held, regime="ie"), regime, date(2025, 4, 9)), date(2025, 4, 9)).duty
    clock = duty_clock(facts, facts.duties()[0])
    assert (clock.state, clock.due_on) == ("overdue", date(2025, 3, 9))
