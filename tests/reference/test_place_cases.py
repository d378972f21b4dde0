"""The number of each place, on both sides of its edge: the last day in time, the day after it; who reads the test.

The number and its source are published; the days are invented. “adopts” marks a text that gives no number itself.
"""

from __future__ import annotations

from datetime import date

import pytest

from audit.facts.dates import ONE_DAY
from audit.judge.evaluate import evaluate_unit
from audit.judge.retention import kept_until
from audit.regimes import Regime, all_regimes, load_regime
from tests.fact_builders import air, bio, clinic, document, event, leak, load, on, unit

BEGIN = "2025-01-06"
# rules | duty | last done | last day in time | what is published | where
NUMBERS = """
us-nj-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | N.J.A.C. 13:30-8.5(a)2
us-ga-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | Ga. R. 150-8-.01(a)
us-sc-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | S.C. Reg. 39-10(A)(1)
us-al-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | 270-X-2-.15
us-ms-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | 30 Miss. Code R. 2301-1.39
us-nc-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | 21 NCAC 16J .0103(b)
us-mn-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | Minn. R. 3100.6300
us-wa-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | WAC 246-817-655
us-la-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts CDC: weekly | LAC 46:XXXIII.1206
us-tn-dental | biological-test | 2025-03-10 | 2025-03-23 | CDC: weekly | Tenn. R. 0460-01-.11(3) states none
us-tx-dental | biological-test | 2025-03-10 | 2025-03-23 | adopts ADA: weekly from memory | 22 TAC 108.24(b)(5)
us-ma-dental | biological-test | 2025-03-10 | 2025-03-23 | weekly | 234 CMR 5.05(1), inspection form of 2014
us-oh-medical | biological-test | 2025-03-10 | 2025-03-23 | weekly | OAC 4731-17-04(E)
us-ca-clinics | biological-test | 2025-03-10 | 2025-04-30 | monthly | 22 CCR 75064
us-fl-acupuncture | biological-test | 2025-03-03 | 2025-04-02 | 40 hours or 30 days | 64B1-8.002(7)
us-md-electrology | biological-test | 2025-03-10 | 2025-04-30 | monthly | COMAR 10.53.09.03(F)
us-dc-body-art | biological-test | 2025-03-10 | 2025-04-30 | monthly | 25 DCMR G310.2(c)
us-ia-tattoo | biological-test | 2025-03-10 | 2025-04-30 | monthly | 481 IAC 492.5(5)
us-ks-body-art | biological-test | 2025-03-10 | 2025-06-10 | every three months | K.A.R. 69-15-20(c)
us-nh-body-art | biological-test | 2025-03-10 | 2025-04-30 | monthly | Plc 602.03(a)(6)
us-sd-body-piercing | biological-test | 2025-03-10 | 2025-04-30 | monthly | ARSD 44:12:02:17
us-me-micropigmentation | biological-test | 2025-03-10 | 2025-04-30 | monthly | 10-144 ch. 211 s. 5(B)(4)
us-wi-body-art | biological-test | 2025-03-10 | 2025-04-30 | monthly | SPS 221.14(2)(c)
us-or-body-art | biological-test | 2025-03-10 | 2025-04-30 | monthly | OAR 331-905-0105(6)
us-oh-body-art | biological-test | 2025-03-10 | 2025-03-23 | weekly | R.C. 3730.09(A)(5)
us-ca-san-benito-body-art | biological-test | 2025-03-03 | 2025-04-02 | 30 days | 11.12.012(B)
us-mn-body-art | biological-test | 2025-03-03 | 2025-04-02 | 30 days | checklist of the health department
us-fl-body-piercing | biological-test | 2025-03-03 | 2025-06-01 | quarterly, read as 90 days | 64E-19.005(4)
us-ma-body-art-model | biological-test | 2025-03-10 | 2025-04-30 | monthly | Model Regulations (C)(4)
ca-ab-dental | biological-test | 2025-03-07 | 2025-03-10 | each day of use | CDSA standard
ca-ab-dental | air-removal-test | 2025-03-07 | 2025-03-10 | daily, prevacuum | CDSA standard
ca-bc-dental | biological-test | 2025-03-10 | 2025-03-23 | weekly | musts of May 2012
ca-sk-dental | biological-test | 2025-03-10 | 2025-03-23 | weekly | IPC-04-04
ca-on-personal-services | biological-test | 2025-03-03 | 2025-03-17 | two weeks | guide of July 2019
br-dental | biological-test | 2025-03-10 | 2025-03-23 | weekly | RDC 1.002, Art. 89
br-dental | air-removal-test | 2025-03-07 | 2025-03-10 | first cycle of the day | RDC 1.002, Art. 88
dk-dental | biological-test | 2025-03-10 | 2025-04-30 | monthly, the stricter of two pages | a laboratory
dk-dental | air-removal-test | 2025-03-07 | 2025-03-10 | daily | a laboratory
dk-medical | biological-test | 2025-03-10 | 2025-06-10 | three months | a laboratory
de | validation | 2025-03-10 | 2027-03-10 | 24 months | KRINKO/BfArM 2012, a dental chamber
pl-dental | biological-test | 2025-03-10 | 2025-04-30 | monthly | CIOP annex
se-jonkoping-dental | air-removal-test | 2025-03-10 | 2025-03-23 | weekly | the region's instruction
se-jonkoping-dental | air-leak-test | 2025-03-10 | 2025-03-23 | weekly | the region's instruction
se-jonkoping-dental | validation | 2025-03-10 | 2026-03-10 | yearly | the region's instruction
jp | biological-test | 2025-03-07 | 2025-03-10 | daily | guideline of 2021
jp | air-removal-test | 2025-03-07 | 2025-03-10 | every day | guideline of 2021
jp | vessel-inspection | 2025-03-10 | 2026-03-10 | within each year | ordinance, Art. 94
"""
ROWS = [[cell.strip() for cell in row.split("|")] for row in NUMBERS.strip().splitlines()]
EARLIER = {  # whose numbers have their cases in monitoring_cases.toml or tests/audit/regimes/test_on_file.py
    "au-racgp-2023", "base", "ca-on-dental", "ca-toronto-personal-services", "gb-eng-dental-htm0105", "gb-sct-2024",
    "ie", "neha-body-art-model", "us-ca-body-art", "us-ca-dental", "us-dental-cdc-2003", "us-fl-dental",
    "us-healthcare-cdc-2008", "us-healthcare-st79-2017", "us-in", "us-mt-body-art", "us-nj-body-art", "us-oh-dental",
    "us-or-dental",
}  # fmt: skip


def spores(day, site):
    return {"bio_tests": tuple(bio(each, result="pass", known=each, site=site) for each in (BEGIN, day))}


DONE = {
    "biological": spores,
    "air removal": lambda day, _: {"air_removal": (air(BEGIN), air(day))},
    "air leak": lambda day, _: {"leaks": (leak(BEGIN), leak(day))},
    "validation report": lambda day, _: {"documents": (document("validation report", day, unit="unit-1"),)},
    "pressure examination": lambda day, _: {"documents": (document("pressure examination", day, unit="unit-1"),)},
}


def clock(rules: Regime, which: str, done: str, as_of: date, site: str = ""):
    """The due item of a duty of a unit in use on the day before, which was last done on `done`."""
    duty = next(d for d in rules.duties if d.id == which)
    facts = unit(
        BEGIN,
        type=(duty.equipment or ("gravity",))[0],
        events=(event(BEGIN),),
        loads=tuple(load(day, program="wrapped", minutes=30) for day in (BEGIN, done, "2025-03-10")),
        **DONE[duty.subject](done, site or ("clinic" if duty.site == "any" else duty.site)),
    )
    said = evaluate_unit(facts, clinic(facts, regime=rules.id), rules, as_of)
    return next(c for c in said.clocks if c.code == which)


def test_every_place_has_a_case():
    assert {row[0] for row in ROWS} == set(all_regimes()) - EARLIER - {"fr"}  # France names no number of a test


@pytest.mark.parametrize(("rules", "which", "done", "last", "says", "source"), ROWS, ids=lambda cell: cell)
def test_the_number_of_a_place_holds_to_its_last_day_and_no_longer(rules, which, done, last, says, source):
    held, day = load_regime(rules), on(last)
    assert clock(held, which, done, day).state in ("due", "ok"), (says, source)
    after = clock(held, which, done, day + ONE_DAY)
    assert (after.state, after.due_on) == ("overdue", day), (says, source)


READ_BY_A_LABORATORY = (
    "us-or-body-art",
    "us-wi-body-art",
    "us-sd-body-piercing",
    "us-ma-body-art-model",
    "ca-sk-dental",
)


@pytest.mark.parametrize("rules", READ_BY_A_LABORATORY)
def test_where_a_laboratory_is_asked_a_test_read_in_the_clinic_does_not_count(rules):
    """OAR 331-905-0105(6), SPS 221.14(2)(c), ARSD 44:12:02:17, Model Regulations (C)(4), IPC-04-04."""
    held = load_regime(rules)
    assert clock(held, "biological-test", "2025-03-10", on("2025-03-11")).state == "ok"
    assert clock(held, "biological-test", "2025-03-10", on("2025-03-11"), site="clinic").state == "overdue"


@pytest.mark.parametrize("rules", ["se-jonkoping-dental", "gb-eng-dental-htm0105", "de"])
def test_a_report_of_quarterly_tests_is_no_validation(rules):
    """HTM 01-05 (2013) 15.16; the region's instruction; KRINKO/BfArM 2012: a visit in between takes nothing off."""
    visit = (document("quarterly test report", "2026-03-01", unit="unit-1"),)
    whole = (document("validation report", "2024-02-01", unit="unit-1"),)
    held, day = load_regime(rules), on("2026-03-10")

    def state(papers):
        facts = unit(BEGIN, type="dynamic air removal", events=(event(BEGIN),), documents=papers)
        said = evaluate_unit(facts, clinic(facts, regime=rules), held, day)
        return next(c for c in said.clocks if c.code == "validation").state

    assert state(whole + visit) == state(whole) == "overdue"
    assert state((*whole, document("validation report", "2026-03-01", unit="unit-1"))) == "ok"


# rules | event | passing tests after it | whether it may be used | where
EVENTS = """
dk-dental  | loaner in | 0 | no  | a loan unit needs a satisfactory result before use
dk-dental  | loaner in | 1 | yes | a loan unit needs a satisfactory result before use
dk-medical | loaner in | 0 | no  | a loan unit needs a satisfactory result before use
dk-medical | loaner in | 1 | yes | a loan unit needs a satisfactory result before use
us-dc-body-art | installed | 0 | no  | 25 DCMR G310.2(a)
us-dc-body-art | installed | 1 | yes | 25 DCMR G310.2(a)
"""


@pytest.mark.parametrize(
    ("rules", "what", "passes", "usable", "source"),
    [[cell.strip() for cell in row.split("|")] for row in EVENTS.strip().splitlines()],
)
def test_what_is_asked_before_use(rules, what, passes, usable, source):
    more = {"result": "pass", "known": "2025-03-10", "purpose": "installation"}
    tests = tuple(bio("2025-03-10", cycle=str(n), **more) for n in range(int(passes)))
    facts = unit("2025-03-10", events=(event("2025-03-10", what),), bio_tests=tests)
    said = evaluate_unit(facts, clinic(facts, regime=rules), load_regime(rules), on("2025-03-11"))
    asked = [c for c in said.clocks if c.code in ("biological-test-loaner", "biological-test-after-event")]
    assert [c.state for c in asked] == ["ok" if usable == "yes" else "overdue"], source
    assert (str(said.standing.word) == "In service") is (usable == "yes"), source


# rules | a record of this day | is kept to this day | what is published | where
KEPT = """
us-tx-dental | 2023-03-15 | 2025-03-15 | two years | checklist of 2014
us-oh-medical | 2023-03-15 | 2025-03-15 | two years | OAC 4731-17-04(E)
us-ca-clinics | 2024-03-15 | 2025-03-15 | one year | 22 CCR 75064
us-dc-body-art | 2022-03-15 | 2025-03-15 | three years | 25 DCMR G310.5
us-ia-tattoo | 2022-03-15 | 2025-03-15 | three years | 481 IAC 492.5(5)
us-nh-body-art | 2018-03-15 | 2025-03-15 | seven years | Plc 602.03(a)(6)
us-sd-body-piercing | 2024-03-15 | 2025-03-15 | one year | ARSD 44:12:02:17
us-me-micropigmentation | 2024-03-15 | 2025-03-15 | one year | 10-144 ch. 211
us-oh-body-art | 2023-03-15 | 2025-03-15 | two years | OAC 3701-9-08
us-ma-body-art-model | 2022-03-15 | 2025-03-15 | three years | Model Regulations (C)(4)
ca-on-personal-services | 2022-03-15 | 2025-03-15 | three years | O. Reg. 136/18
se-jonkoping-dental | 2024-03-15 | 2025-03-15 | twelve months | the region's instruction
jp | 2022-03-15 | 2025-03-15 | three years | ordinance, Art. 94
"""


@pytest.mark.parametrize(
    ("rules", "made", "last", "says", "source"),
    [[cell.strip() for cell in row.split("|")] for row in KEPT.strip().splitlines()],
)
def test_how_long_a_record_is_kept(rules, made, last, says, source):
    (rule,) = load_regime(rules).retention
    assert kept_until(rule, on(made)) == on(last) + ONE_DAY, (says, source)


def test_in_france_it_counts_from_the_end_of_use():
    (rule,) = load_regime("fr").retention  # R5212-28 as a dental order restates it: five years after the end of use
    assert (rule.months, rule.starts) == (60, "end of life")


def test_in_louisiana_it_counts_from_the_last_test():
    (rule,) = load_regime("us-la-dental").retention  # LAC 46:XXXIII.1206: two years from the date of the last test
    assert (rule.months, rule.starts) == (24, "last entry")
