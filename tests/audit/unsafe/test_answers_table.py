"""No answer to an inspector says "yes" where the record is not entitled to it; both sides of each edge."""

from dataclasses import replace

import pytest

from audit.facts import ChemicalFact
from tests.audit.unsafe.asked import YES, asks, holds, named
from tests.audit.unsafe.table import TESTED
from tests.fact_builders import (
    air,
    bio,
    calibration,
    closure,
    counter,
    credential,
    document,
    event,
    gap,
    instrument,
    job,
    line,
    load,
    look,
    lot,
    measured,
    outcome,
    row,
    sign,
    user_check,
    weekly,
)

VI_F = "CDC 2003 (MMWR 52 RR-17) VI.F"
HSC = "California Health and Safety Code 119315"
OREGON, CA_DENTAL, HTM, RACGP = "us-or-dental", "us-ca-dental", "gb-eng-dental-htm0105", "au-racgp-2023"
CA_ART, FLORIDA, ONTARIO, SCOTLAND = "us-ca-body-art", "us-fl-dental", "ca-on-dental", "gb-sct-2024"
GOOD = {"mechanical": "pass", "chemical": "pass"}
DAYS = [t.row.happened_on for t in TESTED]  # every Wednesday


def loads(n: int, start: int = 1, **more):
    """One load a week, numbered one after the other."""
    return tuple(load(day, str(start + k), **(GOOD | more)) for k, day in enumerate(DAYS[:n]))


def strip(day, cycle, result="pass", type=5):
    return ChemicalFact(row(day), type, result, cycle, "", "C1")


def read(*pairs):
    return tuple(counter(day, shown) for day, shown in pairs)


YEAR = read(("2025-01-01", 0), ("2025-06-27", 26))
TOLD = {"loads": loads(26), "counters": read(("2025-01-01", 1), ("2025-06-27", 26))}
PLAIN = {"bio_tests": ()}

EACH = [
    asks("mechanical-each-load", "26 loads of 26 cycles by the counter", VI_F, answer=YES, **PLAIN, loads=loads(26),
         counters=read(("2024-12-31", 0), ("2025-06-27", 26))),
    asks("mechanical-each-load", "the counter shows one cycle more than is logged", VI_F, **PLAIN, loads=loads(26),
         counters=read(("2024-12-31", 0), ("2025-06-27", 27)), says=("26 of about 27 cycles logged",)),
    asks("mechanical-each-load", "8 loads logged and the counter rose by 1,163", VI_F, **PLAIN, loads=loads(8),
         counters=read(("2024-12-31", 0), ("2025-06-27", 1163)), says=("8 of about 1,163 cycles logged",)),
    asks("mechanical-each-load", "loads numbered 1 to 26 and no counter", VI_F, answer=YES, **PLAIN, loads=loads(26)),
    asks("mechanical-each-load", "loads without numbers and no counter", VI_F, **PLAIN,
         loads=tuple(load(d, **GOOD) for d in DAYS), says=("how many cycles ran is not known",)),
    asks("mechanical-each-load", "a number left out of 26", VI_F, **PLAIN,
         loads=(*loads(13), *(load(d, str(15 + k), **GOOD) for k, d in enumerate(DAYS[13:]))),
         says=("26 of about 27 cycles logged, by the cycle numbers",)),
    asks("mechanical-each-load", "the number left out is that of a spore test", VI_F, answer=YES,
         bio_tests=(bio(DAYS[13], result="pass", cycle="14"),),
         loads=(*loads(13), *(load(d, str(15 + k), **GOOD) for k, d in enumerate(DAYS[13:])))),
    asks("mechanical-each-load", "the numbers begin again", VI_F, **PLAIN,
         loads=(*loads(13, 500), *(load(d, str(1 + k), **GOOD) for k, d in enumerate(DAYS[13:])))),
    asks("mechanical-each-load", "one number for all loads", VI_F, **PLAIN,
         loads=tuple(load(d, "1", **GOOD) for d in DAYS)),
    asks("mechanical-each-load", "one load, and nothing tells how many cycles ran", VI_F, **PLAIN,
         loads=(load("2025-06-02", "1", **GOOD),)),
    asks("mechanical-each-load", "the counter fell without an offset", VI_F, **PLAIN,
         loads=tuple(load(d, **GOOD) for d in DAYS),
         counters=read(("2024-12-31", 500), ("2025-03-01", 510), ("2025-03-02", 0), ("2025-06-27", 17))),
    asks("mechanical-each-load", "the counter is read only for the last month", VI_F, **PLAIN,
         loads=tuple(load(d, **GOOD) for d in DAYS), counters=read(("2025-05-28", 100), ("2025-06-27", 104))),
    asks("mechanical-each-load", "no load logged and the counter rose by 900", VI_F, answer="no record found",
         **PLAIN, counters=read(("2024-12-31", 0), ("2025-06-27", 900)), says=("0 of about 900 cycles logged",)),
    asks("mechanical-each-load", "the record of the unit begins in May and its use is not known", VI_F, events=(),
         bio_tests=(), loads=loads(26), as_of="2025-06-27"),
    asks("chemical-each-pack", "each load has a chemical result, and the packs are not known", VI_F, **TOLD,
         bio_tests=(), says=("per load, not per pack",)),
    asks("chemical-each-pack", "an indicator of the same day and another cycle", VI_F, answer="no",
         loads=(load("2025-06-02", "1"),), chemical=(strip("2025-06-02", "2"),)),
    asks("chemical-each-pack", "an indicator of the same day, neither with a number", VI_F, answer="no",
         loads=(load("2025-06-02"),), chemical=(strip("2025-06-02", ""),)),
    asks("load-log", "complete entries, without time and temperature of the exposure", HSC, **PLAIN, loads=loads(26),
         regime=CA_ART, says=("temperature of the exposure are not recorded",)),
    asks("load-parameters-signed", "complete entries that name nobody", **PLAIN, loads=loads(26), regime=ONTARIO),
    asks("load-parameters-signed", "complete entries, each by a person", answer=YES, **PLAIN,
         loads=tuple(map(named, loads(26))), regime=ONTARIO),
    asks("loads-released-on-proof", "25 loads without a decision and one released", **PLAIN,
         loads=(*loads(25, released=""), load(DAYS[25], "26", **GOOD)), regime=ONTARIO),
    asks("loads-released-on-proof", "a strip of the cycle failed and the load says passed", **PLAIN, loads=loads(26),
         chemical=(strip(DAYS[3], "4", "fail"),), regime=ONTARIO),
    asks("loads-released-on-proof", "wet packs released", **PLAIN, regime=ONTARIO,
         loads=tuple(replace(x, packs="wet") for x in loads(26))),
    asks("failed-loads-not-used", "a failed load released", f"{VI_F} item 5", answer="no", **PLAIN,
         loads=(*loads(25), load(DAYS[25], "26", mechanical="fail", chemical="pass"))),
    asks("failed-loads-not-used", "a failed load with no decision", f"{VI_F} item 5", answer="no", **PLAIN,
         loads=(*loads(25), load(DAYS[25], "26", mechanical="pass", chemical="fail", released=""))),
    asks("failed-loads-not-used", "a failed load rejected", f"{VI_F} item 5", answer=YES, **PLAIN,
         loads=(*loads(25), load(DAYS[25], "26", mechanical="fail", chemical="pass", released="rejected"))),
    asks("failed-loads-not-used", "no result recorded of one load", f"{VI_F} item 5", **PLAIN,
         loads=(*loads(25), load(DAYS[25], "26", mechanical="pass", chemical="not recorded"))),
    asks("no-data-no-release", "a load without data and without a decision", regime=RACGP, **PLAIN,
         loads=(*loads(25), load(DAYS[25], "26", released=""))),
    asks("integrator-each-load", "a type 4 indicator in the last load", HSC, regime=CA_ART, **PLAIN, loads=loads(2),
         chemical=(strip(DAYS[0], "1"), strip(DAYS[1], "2", type=4))),
    asks("cycle-numbers", "a leap by 1,001 in a day", **PLAIN,
         loads=(*loads(25), load(DAYS[25], "1026", **GOOD))),
    asks("implant-loads-tested", "an implant load tested, and 900 cycles not logged", VI_F,
         bio_tests=(*TESTED, bio("2025-06-02", result="pass", known="2025-06-02", cycle="7", implant=True)),
         loads=(load("2025-06-02", "7", implant=True),), counters=read(("2025-01-01", 0), ("2025-06-27", 900))),
    asks("user-checks-signed", "one signed day of use, and 900 cycles not logged", "HTM 01-05 (2013), page 66",
         regime=HTM, bio_tests=(), loads=(load("2025-06-27", "1"),), checks=(user_check("2025-06-27"),),
         counters=read(("2025-01-01", 0), ("2025-06-27", 900))),
    asks("spore-test-hours-or-days", "tested weekly, and the hours of use are not known", "F.A.C. 64B5-25.003",
         regime=FLORIDA, says=("Hours of use are not known",)),
    asks("spore-test-hours-or-days", "tested weekly, and the hours counter read at both ends", "F.A.C. 64B5-25.003",
         regime=FLORIDA, answer=YES,
         counters=(counter("2025-01-01", 0, counter="hours"), counter("2025-06-27", 26, counter="hours"))),
    asks("spore-test-hours-or-days", "tested weekly, and the hours counter read once", "F.A.C. 64B5-25.003",
         regime=FLORIDA, counters=(counter("2025-06-27", 26, counter="hours"),)),
    asks("spore-test-each-period", "tested weekly since the record begins; no installation is on record", VI_F,
         events=(), says=("It is on record from",)),
    asks("spore-test-each-period", "tested weekly since the installation", VI_F, answer=YES),
]  # fmt: skip

CA = "16 CCR 1005 (California)"
OAR = "OAR 818-012-0040 (Oregon)"
OLD = event("2021-01-01")
AU_KEPT = {"regime": RACGP, "events": (OLD,)}
KEPT = [
    asks("tests-kept-twelve-months", "two spore tests in 29 months", CA, regime=CA_DENTAL, events=(OLD,),
         bio_tests=(bio("2023-01-20", result="pass"), bio("2025-06-20", result="pass"))),
    asks("tests-kept-twelve-months", "a water check of January 2024 and one spore test of June 2025", CA,
         regime=CA_DENTAL, events=(OLD,), bio_tests=(bio("2025-06-20", result="pass"),),
         checks=(user_check("2024-01-10", "water", value="1", unit="µS/cm"),)),
    asks("tests-kept-calendar-years", "a water check of January 2023 and one spore test of June 2025", OAR,
         regime=OREGON, events=(OLD,), bio_tests=(bio("2025-06-20", result="pass"),),
         checks=(user_check("2023-01-10", "water", value="1", unit="µS/cm"),)),
    asks("tests-kept-twelve-months", "weekly for three years", CA, regime=CA_DENTAL, events=(OLD,), answer=YES,
         bio_tests=weekly("2022-06-01", "2025-06-25")),
    asks("tests-kept-twelve-months", "weekly, but for three weeks of October", CA, regime=CA_DENTAL, events=(OLD,),
         bio_tests=weekly("2022-06-01", "2025-06-25", ("2024-10-09", "2024-10-16", "2024-10-23"))),
    asks("tests-kept-twelve-months", "weekly, but for three weeks in which it was closed", CA, regime=CA_DENTAL,
         events=(OLD,), answer=YES, place={"closures": (closure("2024-10-03", "2024-10-29"),)},
         bio_tests=weekly("2022-06-01", "2025-06-25", ("2024-10-09", "2024-10-16", "2024-10-23"))),
    asks("tests-kept-twelve-months", "weekly, but records begin in 2025 and use began in 2021", CA, regime=CA_DENTAL,
         events=(OLD,), bio_tests=TESTED, says=("records begin on 2025-01-01; use began before",)),
    asks("tests-kept-twelve-months", "weekly until April, nothing since", CA, regime=CA_DENTAL, events=(OLD,),
         bio_tests=weekly("2022-06-01", "2025-04-30")),
    asks("tests-kept-twelve-months", "weekly, and a known gap of one month", CA, regime=CA_DENTAL, events=(OLD,),
         bio_tests=weekly("2022-06-01", "2025-06-25"), gaps=(gap("2024-11-01", "2024-11-30"),)),
    asks("load-log-kept", "one load of three years ago and one of today", HSC, regime=CA_ART, events=(OLD,),
         loads=(load("2022-06-20", "1"), load("2025-06-27", "2"))),
    asks("load-log-kept", "weekly loads, and the counter shows 900 more", HSC, regime=CA_ART, loads=loads(26),
         counters=read(("2024-12-31", 0), ("2025-06-27", 926)), says=("26 of about 926 cycles logged",)),
    asks("load-log-kept", "weekly loads since the begin of use", HSC, regime=CA_ART, loads=loads(26), answer=YES),
    asks("maintenance-kept-two-years", "one job of two years ago and one of today", "OAC 3701-9-08", events=(OLD,),
         jobs=(job("2023-06-20"), job("2025-06-27"))),
    asks("maintenance-kept-two-years", "a job each year", "OAC 3701-9-08", events=(OLD,), answer=YES,
         jobs=(job("2023-06-20"), job("2024-06-20"), job("2025-06-20"))),
    asks("all-logs-kept", "service and daily checks, and no leak test on a unit that is asked one", regime=HTM,
         type="dynamic air removal", jobs=(job("2025-02-01"),),
         checks=tuple(user_check(d, k) for d in DAYS for k in ("automatic control", "safety check")),
         air_removal=tuple(air(d) for d in DAYS), says=("air-leak tests: nothing on record",)),
]  # fmt: skip

FAILED = bio("2025-05-07", result="growth", known="2025-05-09", ref="bad")
MECHANICAL = bio("2025-05-07", result="pass", mechanical="fail", ref="bad")
REPEAT = bio("2025-05-12", result="pass", known="2025-05-13", purpose="repeat")
FAILURES = [
    asks("out-until-proven", "a positive test, a load before its repeat is known", VI_F, answer="no",
         bio_tests=(*TESTED, FAILED, REPEAT), loads=(load("2025-05-10", "9"),)),
    asks("out-until-proven", "a positive test and no load in between", VI_F, answer=YES,
         bio_tests=(*(t for t in TESTED if str(t.row.happened_on) != "2025-05-07"), FAILED, REPEAT),
         loads=(load("2025-05-08", "9"), load("2025-05-14", "10"))),
    asks("out-until-proven", "a positive test and a load of the day it was known, without a time", VI_F,
         bio_tests=(*TESTED, FAILED, REPEAT), loads=(load("2025-05-09", "9"),),
         says=("the order of 1 load", "not recorded"), not_says=("no load is on record",)),
    asks("out-until-proven", "a positive test and a load of the day it was proven, without a time", VI_F,
         bio_tests=(*TESTED, FAILED, REPEAT), loads=(load("2025-05-13", "9"),), not_says=("no load is on record",)),
    asks("out-until-proven", "a positive test, and the counter rose before its repeat", VI_F,
         bio_tests=(*TESTED, FAILED, REPEAT), counters=read(("2025-05-10", 100), ("2025-05-11", 140)),
         says=("40 cycles in between not logged",)),
    asks("out-until-proven", "a failed mechanical result and loads since", f"{VI_F} item 5", answer="no",
         bio_tests=(MECHANICAL,), loads=(load("2025-05-12", "8"), load("2025-05-13", "9")),
         says=("do not ask that it be kept out", "2 loads on record in between"),
         not_says=("no load is on record", "out from")),
    asks("out-until-proven", "a failed mechanical result, nothing since", f"{VI_F} item 5", bio_tests=(MECHANICAL,),
         says=("not proven yet",)),
    asks("out-until-proven", "a failed chemical result of a load that opened no case", f"{VI_F} item 5",
         loads=(load("2025-06-02", "8", mechanical="pass", chemical="fail"),), says=("Failed chemical",),
         not_says=("No such failure",)),
    asks("out-until-proven", "weekly tests, none failed", VI_F, answer=YES, says=("26 results",)),
    asks("out-until-proven", "a failed check of the water that opened no case", VI_F,
         checks=(user_check("2025-06-20", "water"), user_check("2025-06-21", "water", "not done"),
                 user_check("2025-06-22", "water", "fail")),
         says=("28 results on record", "1 failed result without a case (2025-06-22)")),
    asks("failure-followed", "only checks, no spore test", VI_F, answer="no record found", bio_tests=(),
         checks=(user_check("2025-06-02"),)),
    asks("failure-followed", "spore tests that nobody has read", VI_F, answer="no record found",
         bio_tests=(bio("2025-06-25"),)),
    asks("failure-followed", "spore tests of the last month, in use since January", VI_F,
         bio_tests=TESTED[-4:], says=("ecords of such tests begin on",)),
    asks("packs-recalled", "a failed mechanical result, the case open", VI_F, bio_tests=(MECHANICAL,),
         not_says=("no recall was asked: no recall is asked",)),
    asks("packs-recalled", "a positive test with a positive repeat and no recall", VI_F, answer="no",
         bio_tests=(*TESTED[:18], FAILED, bio("2025-05-12", result="growth", known="2025-05-13", purpose="repeat"))),
    asks("packs-recalled", "a positive test, its repeat passed", VI_F, answer=YES,
         bio_tests=(*TESTED, FAILED, REPEAT), not_says=("no recall was asked: no recall is asked",)),
]  # fmt: skip


def theirs(person: str, **more) -> dict:
    """A credential of somebody of a service company."""
    return {"credentials": (credential("2024-01-01", person=person, holder="service company", **more),)}


def certified(*results: str) -> dict:
    """The thermometer compared in January, and again in June."""
    days = ("2025-01-01", "2025-06-01")
    made = (calibration(day, result) for day, result in zip(days, results, strict=False))
    return {"instruments": (instrument(*made),)}


CARE = "RACGP, Infection prevention and control guidelines, steriliser maintenance"
WORK = {"outcomes": (outcome("2025-03-01"),), "readings": (measured("2025-03-01"),)}
PLAN = (line(months=12), line("replace-filter", "filter", months=12), line("calibrate", "", "calibrate", months=12))
ALL = (
    *WORK["outcomes"],
    outcome("2025-03-01", "replace-filter", "filter"),
    outcome("2025-03-01", "calibrate", "", "calibrate"),
)
IN_USE = event("2024-01-01")
WORKED, FULL = job("2025-03-01", **WORK), job("2025-03-01", **WORK | {"outcomes": ALL})
LATER = tuple(replace(o, outcome="deferred") for o in ALL[1:])
HELD = {"instruments": (instrument(calibration("2025-01-01")),)}
SERVICE = [
    asks("serviced-yearly", "one seal swapped and one reading, no plan", CARE, regime=RACGP,
         jobs=(WORKED,)),
    asks("serviced-yearly", "one line of three that were due", CARE, regime=RACGP, plan=PLAN, events=(IN_USE,),
         jobs=(WORKED,), place=HELD, says=("nothing done or decided", "calibrate")),
    asks("serviced-yearly", "three lines that were due", CARE, regime=RACGP, plan=PLAN, events=(IN_USE,), answer=YES,
         jobs=(FULL,), place=HELD),
    asks("serviced-yearly", "three lines, two deferred by nobody", CARE, regime=RACGP, plan=PLAN, events=(IN_USE,),
         jobs=(replace(FULL, outcomes=(ALL[0], *LATER)),), place=HELD),
    asks("serviced-yearly", "three lines after a breakdown", CARE, regime=RACGP, plan=PLAN, events=(IN_USE,),
         jobs=(replace(FULL, reason="breakdown"),), place=HELD),
    asks("serviced-yearly", "three lines, the instrument found out of tolerance", CARE, regime=RACGP, plan=PLAN,
         events=(IN_USE,), jobs=(FULL,),
         place=certified("out of tolerance")),
    asks("serviced-yearly", "three lines, left outside the limits", CARE, regime=RACGP, plan=PLAN, events=(IN_USE,),
         jobs=(replace(FULL, readings=(measured("2025-03-01", left="131.0"),)),), place=HELD),
    asks("serviced-yearly", "three lines, nothing measured after", CARE, regime=RACGP, plan=PLAN, events=(IN_USE,),
         jobs=(replace(FULL, readings=(replace(measured("2025-03-01"), as_left=None),)),), place=HELD),
    asks("service-log", "a job that nobody was there to sign", jobs=(
        job("2025-03-01", signed=False, signatures=(replace(sign("2025-03-01", "nobody present"), name=""),)),)),
    asks("service-log", "a job signed", answer=YES, jobs=(job("2025-03-01"),)),
    asks("technician-qualified", "a credential of somebody at the clinic with the same name",
         jobs=(job("2025-03-01"),), place={"credentials": (credential("2024-01-01", person="A. Technician"),)}),
    asks("technician-qualified", "a credential of another kind", jobs=(job("2025-03-01"),),
         place=theirs("A. Technician", kind="other")),
    asks("technician-qualified", "the name spelt otherwise", jobs=(job("2025-03-01"),),
         place=theirs("Technician, A.")),
    asks("technician-qualified", "the credential of the technician", answer=YES, jobs=(job("2025-03-01"),),
         place=theirs("a.  technician")),
    asks("technician-qualified", "nobody named as having worked", jobs=(replace(job("2025-03-01"), worked_by=""),),
         place=theirs("")),
    asks("instruments-in-calibration", "out of tolerance when it was last looked at", jobs=(WORKED,),
         place=certified("out of tolerance")),
    asks("instruments-in-calibration", "no result when it was last looked at", jobs=(WORKED,),
         place=certified("no result")),
    asks("instruments-in-calibration", "out of tolerance when it was next looked at", jobs=(WORKED,),
         place=certified("in tolerance", "out of tolerance")),
    asks("instruments-in-calibration", "in tolerance before and after", answer=YES, jobs=(WORKED,),
         place=certified("in tolerance", "in tolerance")),
    asks("instruments-in-calibration", "a name that no record explains", jobs=(
        job("2025-03-01", readings=(measured("2025-03-01", calibrated=None),)),)),
    asks("instruments-in-calibration", "no instrument named", jobs=(
        job("2025-03-01", readings=(replace(measured("2025-03-01"), instrument=""),)),)),
    asks("maintained", "a line of 500 cycles, no counter read", plan=(line(months=None, cycles=500),)),
]  # fmt: skip

OTHER = {"control": lot("L2")}
SINGLE = [
    asks("spore-test-control", "a control of another lot", VI_F, bio_tests=(
        bio("2025-06-02", result="pass", **OTHER),)),
    asks("spore-test-control", "a control of another product, same lot", VI_F, bio_tests=(
        bio("2025-06-02", result="pass", control=replace(lot(), name="Another indicator")),)),
    asks("spore-test-control", "both lots unknown", VI_F, bio_tests=(
        bio("2025-06-02", result="pass", lot_=lot("")),)),
    asks("spore-test-control", "the same lot typed otherwise", VI_F, answer=YES, bio_tests=(
        bio("2025-06-02", result="pass", control=lot("l 1")),)),
    asks("spore-test-control", "another lot, not read yet", VI_F, bio_tests=(*TESTED, bio("2025-06-26", **OTHER))),
    asks("spore-test-control", "the last reading of the control: no growth", VI_F, bio_tests=(
        bio("2025-06-02", look("2025-06-03"), look("2025-06-04", control="no growth")),)),
    asks("spore-test-lot-in-date", "the expiry not printed", HSC, regime=CA_ART, bio_tests=(
        bio("2025-06-02", result="pass", lot_=lot(expiry="")),)),
    asks("spore-test-lot-in-date", "the lot unknown, an expiry typed", HSC, regime=CA_ART, bio_tests=(
        bio("2025-06-02", result="pass", lot_=lot("")),)),
    asks("test-log-entries", "a test that names nobody, not read yet", bio_tests=(
        *TESTED, replace(bio("2025-06-26"), run_by=" "))),
    asks("water-known", "a value without its unit", regime=HTM, checks=(
        user_check("2025-06-02", "water", value="1"),)),
    asks("water-known", "failed and passed on one day, no times", regime=HTM, checks=(
        user_check("2025-06-02", "water", "fail", value="40", unit="µS/cm"),
        user_check("2025-06-02", "water", value="1", unit="µS/cm"))),
    asks("water-known", "failed, and passed two hours later", regime=HTM, answer=YES, checks=(
        user_check("2025-06-02", "water", "fail", value="40", unit="µS/cm", at="08:00"),
        user_check("2025-06-02", "water", value="1", unit="µS/cm", at="10:00"))),
]  # fmt: skip


def paper(title: str, kind: str, first: str = "2025-01-01", last: str | None = "2025-12-31"):
    return {"documents": (replace(document(kind, first, last), title=title),)}


PEEL = "Peel Public Health (Ontario), published infection control lapse reports"
PAPERS = [
    asks("licensed-device", "a licence of a person", PEEL, answer="no record found", regime=ONTARIO,
         place={"credentials": (credential("2024-01-01", kind="licence"),)}),
    asks("licensed-device", "an insurance with the word licence in its title", PEEL, answer="no record found",
         regime=ONTARIO, place=paper("licence", "insurance")),
    asks("licensed-device", "a licence of the device", PEEL, answer=YES, regime=ONTARIO,
         place={"documents": (document("device licence", "2024-01-01", unit="unit-1"),)}),
    asks("failure-procedure", "an insurance against failure", VI_F, answer="no record found",
         place=paper("failure", "insurance")),
    asks("failure-procedure", "a procedure about something else", VI_F, answer="no record found",
         place=paper("packing", "procedure")),
    asks("failure-procedure", "a procedure after a positive test", VI_F, answer=YES,
         place=paper("Positive spore test", "procedure", last=None)),
    asks("recall-procedure", "a paper of another kind about recall", PEEL, answer="no record found", regime=ONTARIO,
         place=paper("recall", "other")),
    asks("packs-labelled", "a procedure for labels: packs are not seen in it", regime=ONTARIO,
         place=paper("labels", "procedure"), says=("No paper shows",)),
    asks("results-posted", "a paper of any kind with the word posted", "ARM 37.112.131", regime="us-mt-body-art",
         answer="no record found", place=paper("posted", "other")),
    asks("maintenance-contract", "a laboratory's contract of another kind", CARE, regime=RACGP,
         answer="no record found", place=paper("contract", "laboratory report")),
    asks("maintenance-contract", "a procedure with both words in its title", CARE, regime=RACGP,
         answer="no record found", place=paper("maintenance and service contract", "procedure")),
    asks("maintenance-contract", "a contract by its kind, whatever its title", CARE, regime=RACGP, answer=YES,
         place=paper("Agreement 7", "contract")),
    asks("decontamination-lead", "a training with the words in its title", regime="gb-eng-dental-htm0105",
         answer="no record found", place=paper("Decontamination lead", "training")),
    asks("decontamination-lead", "an appointment that has ended", regime="gb-eng-dental-htm0105", answer="no",
         place=paper("Decontamination lead", "appointment", first="2023-01-01", last="2023-12-31")),
    asks("decontamination-lead", "the letter of appointment by its kind", regime="gb-eng-dental-htm0105", answer=YES,
         place=paper("Letter of 2 January", "appointment", last=None)),
    asks("written-scheme", "an examination is no scheme", regime="gb-eng-dental-htm0105",
         answer="no record found", place=paper("written scheme of examination", "pressure examination")),
    asks("written-scheme", "the scheme by its kind", regime="gb-eng-dental-htm0105", answer=YES,
         place=paper("Pressure system of the practice", "written scheme")),
    asks("manager-duties", "a procedure that is called a job description", regime="gb-eng-dental-htm0105",
         answer="no record found", place=paper("job description", "procedure")),
    asks("maintenance-contract", "a contract that states no end", CARE, regime=RACGP,
         place=paper("maintenance", "contract", last=None), says=("the day on which it ends",)),
    asks("pressure-insurance", "an insurance of something else", regime=SCOTLAND, answer="no record found",
         place=paper("cyber insurance", "insurance")),
    asks("procedures-reviewed", "one procedure new, one four years old", place={"documents": (
        replace(document("procedure", "2021-01-01"), title="a"),
        replace(document("procedure", "2025-01-01"), title="b"))}),
    asks("people-trained", "one of two who run tests is trained", bio_tests=(bio("2025-06-02", result="pass"),),
         place={"credentials": (credential("2025-01-01", person="A. Runner"),)}, says=("A. Reader",)),
    asks("people-trained", "both who run tests are trained", answer=YES,
         bio_tests=(bio("2025-06-02", result="pass"),),
         place={"credentials": tuple(credential("2025-01-01", person=p) for p in ("A. Runner", "A. Reader"))}),
    asks("people-trained", "a load logged by somebody without training", bio_tests=(), loads=(
        named(load("2025-06-02", "1"), "B. Loader"),), says=("B. Loader",),
        place={"credentials": (credential("2025-01-01"),)}),
    asks("people-trained", "a load that names nobody", bio_tests=(), loads=(load("2025-06-02", "1"),),
         place={"credentials": (credential("2025-01-01"),)}),
]  # fmt: skip

ROWS = [*EACH, *KEPT, *FAILURES, *SERVICE, *SINGLE, *PAPERS]


@pytest.mark.parametrize("row", ROWS)
def test_never_yes_by_mistake(row):
    holds(row)
