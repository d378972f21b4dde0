"""For every answering function histories with the answer they must get: yes; no or in part; no record found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from audit.facts import ChemicalFact, DocumentFact
from tests.fact_builders import (
    air,
    bio,
    calibration,
    case,
    check,
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
    position,
    row,
    step,
    unit,
    user_check,
    weekly,
)

from .asking import BEGIN, CDC, own_unit

YES, NO, IN_PART, NONE, NOT_ASKED = "yes", "no", "in part", "no record found", "not asked here"
HTM, RACGP, SCOTLAND, ONTARIO, CA_ART = (
    "gb-eng-dental-htm0105",
    "au-racgp-2023",
    "gb-sct-2024",
    "ca-on-dental",
    "us-ca-body-art",
)
MONTANA, OREGON, FLORIDA = "us-mt-body-art", "us-or-dental", "us-fl-dental"
WEEKS = weekly(BEGIN, "2025-06-23")


@dataclass(frozen=True)
class Example:
    """A question, the answer it must get, and a piece of its words or of its gap."""

    id: str
    answer: str
    said: str
    units: tuple = ()
    regime: str = CDC
    gap: str = ""
    clinic: tuple = ()  # (name, facts) of the clinic

    def __str__(self):
        return f"{self.id}: {self.answer}: {self.said[:30]}"


def eg(id, answer, said="", one=None, *, units=(), regime=CDC, gap="", **clinic):
    units = units or ((own_unit() if one is None else one),)
    return Example(id, answer, said, units, regime, gap, tuple(clinic.items()))


def of(**more):
    return own_unit(**more)


def loads(n=3, *, day="2025-06-02", start=1, **more):
    return tuple(load(day, str(start + i), **more) for i in range(n))


def exposed(rows):
    """The loads with time and temperature of their exposure."""
    heat = {"exposure_minutes": Decimal(4), "exposure_temperature": Decimal("134.5")}
    return tuple(replace(each, **heat) for each in rows)


def titled(title: str, *paper) -> DocumentFact:
    return replace(document(*paper), title=title)


def by_name(one):
    """A load logged by a named person, who decided about it too."""
    return replace(one, row=replace(one.row, logged_by="A. User"))


LOADS = tuple(load(w.row.happened_on, str(n)) for n, w in enumerate(WEEKS))
CONTROLS = tuple(user_check(w.row.happened_on) for w in WEEKS)
SAFETY_CHECKS = tuple(user_check(w.row.happened_on, "safety check") for w in (*WEEKS, bio("2025-06-30")))
GOOD = {"mechanical": "pass", "chemical": "pass"}
FAILED = bio("2025-03-03", result="growth", known="2025-03-04", ref="bad")
REPEAT = bio("2025-03-05", result="pass", purpose="repeat")
# CDC 2003 (MMWR 52 RR-17) VI.F, positive spore test: withdraw, review, retest, return.
DONE = case(
    "bad",
    "2025-03-04",
    step("2025-03-04", "withdraw", done="2025-03-04"),
    step("2025-03-04", "review", done="2025-03-04"),
    step("2025-03-05", "retest", done="2025-03-06"),
    step("2025-03-06", "return", done="2025-03-06"),
)
FOLLOWED = of(bio_tests=(*WEEKS, FAILED, REPEAT), cases=(DONE,))
OPEN_CASE = of(bio_tests=(*WEEKS[:60], FAILED), cases=(case("bad", "2025-03-04"),))
TWICE = bio("2025-03-05", result="growth", known="2025-03-06", purpose="repeat")
RECALLED = case(
    "bad",
    "2025-03-04",
    step("2025-03-06", "recall packs", done="2025-03-07"),
    step("2025-03-06", "find cause", done="2025-03-08"),
)
PROVEN = tuple(bio(f"2025-03-1{n}", result="pass", chamber="empty", purpose="requalification") for n in range(3))
AGAIN = (
    bio("2025-05-05", result="growth", known="2025-05-06", ref="again"),
    bio("2025-05-07", result="growth", known="2025-05-08", purpose="repeat"),
)
NOTICE = case("bad", "2025-03-04", step("2025-03-04", "notify", done="2025-03-05"))
SERVICED = job("2025-03-01", outcomes=(outcome("2025-03-01"),), readings=(measured("2025-03-01"),))
OLD_SERVICE = job("2024-02-01", outcomes=(outcome("2024-02-01"),))
PLANNED = {"plan": (line(months=24),), "positions": (position(),)}
# A servicing to the plan: its one line due each year, done in a planned job with a measurement inside its limits.
FULL = {"plan": (line(months=12),), "positions": (position(),), "jobs": (OLD_SERVICE, SERVICED)}
HELD = instrument(calibration("2025-01-01"))


def counted(n: int) -> dict:
    """Readings of the cycle counter that show `n` cycles since the begin of use."""
    return {"counters": (counter(BEGIN, 0), counter("2025-06-30", n))}


CASES = (
    # ---------------------------------------------------------------------------------------------- tests
    eg("spore-test-each-period", YES, "78 met", of(bio_tests=WEEKS)),
    eg("spore-test-each-period", IN_PART, "missed", of(bio_tests=WEEKS[:40] + WEEKS[42:]), gap="2024-10-07"),
    eg("spore-test-each-period", NO, "with nothing that counts",
       of(bio_tests=(bio("2025-06-24", result="invalid"),))),
    eg("spore-test-each-period", NONE, "missed", gap="laboratory may hold a result"),
    eg("spore-test-each-period", NOT_ASKED, "ask no such test", regime=HTM),
    eg("spore-test-with-patients", YES, "met", of(bio_tests=WEEKS), regime=OREGON),
    eg("spore-test-hours-or-days", YES, "met",
       of(bio_tests=WEEKS, counters=(counter(BEGIN, 0, counter="hours"), counter("2025-06-30", 78, counter="hours"))),
       regime=FLORIDA),
    eg("spore-test-hours-or-days", IN_PART, "Hours of use are not known", of(bio_tests=WEEKS), regime=FLORIDA,
       gap="hours of use"),
    eg("air-removal-each-day", NOT_ASKED, "ask no such test", of(air_removal=(air("2025-06-02"),))),
    eg("spore-test-after-work", YES, "1 met",
       of(bio_tests=(bio(BEGIN, result="pass", purpose="installation"),), loads=loads(1)), regime=CA_ART),
    eg("spore-test-after-work", IN_PART, "met late",
       of(bio_tests=(bio("2024-03-01", result="pass"),), loads=loads(1, day="2024-02-01")), regime=CA_ART),
    eg("spore-test-after-work", NONE, "missed", of(loads=loads(1)), regime=CA_ART),
    eg("implant-loads-tested", YES, "1 met",
       of(bio_tests=(bio("2025-06-02", result="pass", known="2025-06-02", cycle="1", implant=True),),
          loads=loads(1, implant=True), **counted(1))),
    eg("implant-loads-tested", IN_PART, "1 of about 9 cycles logged",
       of(bio_tests=(bio("2025-06-02", result="pass", known="2025-06-02", cycle="1", implant=True),),
          loads=loads(1, implant=True), **counted(9))),
    eg("implant-loads-tested", IN_PART, "released before the result",
       of(bio_tests=(bio("2025-06-02", result="pass", known="2025-06-05", cycle="1", implant=True),),
          loads=loads(1, implant=True))),
    eg("implant-loads-tested", NONE, "1 missed", of(loads=loads(1, implant=True))),
    eg("implant-loads-tested", NOT_ASKED, "Nothing was due", of(loads=loads(1))),
    eg("user-checks-signed", YES, "met",
       of(loads=loads(1, day="2025-06-30"), checks=(user_check("2025-06-30"), *SAFETY_CHECKS), **counted(1)),
       regime=HTM),
    eg("user-checks-signed", IN_PART, "with nothing that counts",
       of(loads=loads(1), checks=(user_check("2025-06-02", signed=""), user_check("2025-06-24", "safety check"))),
       regime=HTM, gap="2025-06-02"),
    eg("user-checks-signed", NONE, "missed", regime=HTM),
    eg("last-spore-test", YES, "2025-06-23, passed, 7 days ago", of(bio_tests=WEEKS)),
    eg("last-spore-test", NONE, "No spore test with a result", of(bio_tests=(bio("2025-06-29"),))),
    eg("spore-test-control", YES, "78 of 78", of(bio_tests=WEEKS)),
    eg("spore-test-control", IN_PART, "1 of 2",
       of(bio_tests=(bio("2025-06-02", result="pass"), bio("2025-06-09", result="pass", control=lot("L2")))),
       gap="2025-06-09"),
    eg("spore-test-control", NO, "0 of 1", 
       of(bio_tests=(bio("2025-06-02", look("2025-06-03", control="no growth")),))),
    eg("spore-test-control", NONE, "No spore test"),
    eg("spore-test-lot-in-date", YES, "1 of 1", of(bio_tests=(bio("2025-06-02", result="pass"),))),
    eg("spore-test-lot-in-date", IN_PART, "1 of 2",
       of(bio_tests=(bio("2025-06-02", result="pass"),
                     bio("2025-06-09", result="pass", lot_=lot(expiry="2025-06-08"))))),
    eg("spore-test-lot-in-date", NO, "0 of 1",
       of(bio_tests=(bio("2025-06-02", result="pass", lot_=lot(expiry="")),))),
    eg("spore-test-lot-in-date", NONE, "No spore test"),
    eg("test-log-entries", IN_PART, "1 of 1", of(bio_tests=(bio("2025-06-02", result="pass"),))),
    eg("test-log-entries", NO, "0 of 1", of(bio_tests=(replace(bio("2025-06-02", result="pass"), run_by=""),))),
    eg("test-log-entries", NONE, "No spore test"),
    eg("water-known", YES, "1.2 µS/cm, pass",
       of(checks=(user_check("2025-06-02", "water", value="1.2", unit="µS/cm"),))),
    eg("water-known", IN_PART, "no value", of(checks=(user_check("2025-06-02", "water"),)), gap="its value"),
    eg("water-known", NO, "fail", of(checks=(user_check("2025-06-02", "water", "fail", value="40"),))),
    eg("water-known", NONE, "No water check", of(checks=(user_check("2024-06-02", "water"),))),
    # ---------------------------------------------------------------------------------------------- failures
    eg("failure-followed", YES, "1 failure on record", FOLLOWED),
    eg("failure-followed", YES, "No such failure", of(bio_tests=WEEKS)),
    eg("failure-followed", NO, "0 of", OPEN_CASE, gap="not done"),
    eg("failure-followed", NONE, "Neither a spore test with a result nor a failure"),
    eg("failure-followed", NONE, "Neither a spore test", of(checks=(user_check("2025-06-02"),))),
    eg("out-until-proven", YES, "known 2025-03-04, proven 2025-03-06, no load is on record", FOLLOWED),
    eg("out-until-proven", YES, "No such failure", of(bio_tests=WEEKS)),
    eg("out-until-proven", NO, "run while out of service",
       replace(FOLLOWED, loads=(load("2025-03-05", "77"),)), gap="hold these packs"),
    eg("out-until-proven", NONE, "Neither a test with a result nor a failure"),
    eg("packs-recalled", YES, "Recall: 2025-03-03, none needed: the repeat passed", FOLLOWED),
    eg("packs-recalled", YES, "1 of them recorded as done",
       of(bio_tests=(*WEEKS[:60], FAILED, TWICE), cases=(RECALLED,))),
    eg("packs-recalled", IN_PART, "2 failures asked a recall, 1 of them",
       of(bio_tests=(*WEEKS[:60], FAILED, TWICE, *PROVEN, *AGAIN), cases=(RECALLED, case("again", "2025-05-06"))),
       gap="the recall after the failure of 2025-05-05"),
    eg("packs-recalled", NO, "0 of them recorded as done",
       of(bio_tests=(*WEEKS[:60], FAILED, TWICE), cases=(case("bad", "2025-03-04"),)), gap="the recall after"),
    eg("packs-recalled", NONE, "Neither a test with a result nor a failure"),
    # ARM 37.112.131 (Montana): the authority within one business day.
    eg("authority-told", YES, "1 of 1 notice",
       of(bio_tests=(*WEEKS, FAILED, REPEAT), cases=(NOTICE,)), regime=MONTANA),
    eg("authority-told", NO, "0 of 1 notice", OPEN_CASE, regime=MONTANA, gap="not done"),
    eg("authority-told", NONE, "Neither a test with a result nor a failure", regime=MONTANA),
    eg("authority-told", NOT_ASKED, "name nobody", OPEN_CASE),
    # ---------------------------------------------------------------------------------------------- loads
    eg("mechanical-each-load", YES, "3 of 3 loads", of(loads=loads(**GOOD), **counted(3))),
    eg("mechanical-each-load", IN_PART, "how many cycles ran is not known", of(loads=loads(**GOOD))),
    eg("mechanical-each-load", IN_PART, "3 of about 903 cycles logged, by the cycle counter",
       of(loads=loads(**GOOD), counters=(counter("2024-06-29", 0), counter("2025-06-30", 903)))),
    eg("mechanical-each-load", IN_PART, "1 of 2 loads",
       of(loads=(*loads(1, **GOOD), load("2025-06-03", "2", mechanical="not recorded"))), gap="1 load not so"),
    eg("mechanical-each-load", NONE, "No load", of(loads=loads(day="2024-06-02", **GOOD))),
    eg("chemical-each-pack", IN_PART, "per load, not per pack", of(loads=loads(1, **GOOD), **counted(1))),
    eg("chemical-each-pack", IN_PART, "1 of 1 load",
       of(loads=loads(1), chemical=(ChemicalFact(row("2025-06-02"), 5, "pass", "1", "", "C1"),))),
    eg("chemical-each-pack", NO, "0 of 1 load",
       of(loads=loads(1), chemical=(ChemicalFact(row("2025-06-02"), 5, "not read", "1", "", "C1"),))),
    eg("chemical-each-pack", NONE, "No load"),
    eg("load-log", IN_PART, "exposure are not recorded", of(loads=loads(2, **GOOD), **counted(2))),
    eg("load-log", IN_PART, "recorded with 1 of them",
       of(loads=(*exposed(loads(1, **GOOD)), load("2025-06-02", "2", **GOOD)), **counted(2))),
    eg("load-log", YES, "2 of 2 loads", of(loads=exposed(loads(2, **GOOD)), **counted(2))),
    eg("each-item-documented", YES, "2 of 2 loads", of(loads=loads(2, **GOOD), **counted(2))),
    eg("load-parameters-signed", IN_PART, "1 of 2 loads", regime=ONTARIO,
       one=of(loads=(load("2025-06-02", "1", **GOOD), by_name(load("2025-06-03", "2", **GOOD))), **counted(2))),
    eg("integrator-each-load", YES, "1 of 1 load",
       of(loads=loads(1), chemical=(ChemicalFact(row("2025-06-02"), 5, "pass", "1", "", "C1"),), **counted(1))),
    eg("integrator-each-load", NO, "0 of 1 load",
       of(loads=loads(1), chemical=(ChemicalFact(row("2025-06-02"), 4, "pass", "1", "", "C1"),), **counted(1))),
    eg("integrator-each-load", NONE, "No load"),
    eg("failed-loads-not-used", YES, "1 with a failed result or wet or torn packs, of which 1 rejected",
       of(loads=(*loads(1, **GOOD), load("2025-06-03", "2", mechanical="fail", chemical="pass", released="rejected")),
          **counted(2))),
    eg("failed-loads-not-used", NO, "of which 0 rejected",
       of(loads=loads(1, mechanical="pass", chemical="fail"), **counted(1)), gap="hold and decide"),
    eg("failed-loads-not-used", IN_PART, "1 without a mechanical and a chemical result",
       of(loads=loads(1), **counted(1)), gap="the results of 1 load"),
    eg("failed-loads-not-used", NONE, "No load"),
    eg("load-log", IN_PART, "1 of 2 loads",
       of(loads=(*loads(1, **GOOD), load("2025-06-03", "2", released="", **GOOD)))),
    eg("load-log", NONE, "No load"),
    eg("loads-released-on-proof", YES, "2 of 2 loads",
       of(loads=(*loads(1, **GOOD), load("2025-06-03", "2", chemical="fail", released="rejected")), **counted(2)),
       regime=ONTARIO),
    eg("loads-released-on-proof", NO, "0 of 1 load",
       of(loads=loads(1, mechanical="pass", chemical="fail")), regime=ONTARIO),
    eg("loads-released-on-proof", NO, "0 of 1 load", of(loads=loads(1, released="", **GOOD)), regime=ONTARIO),
    eg("loads-released-on-proof", NONE, "No load", regime=ONTARIO),
    eg("no-data-no-release", YES, "1 of 1", of(loads=loads(1, mechanical="pass"), **counted(1)), regime=RACGP),
    eg("no-data-no-release", NO, "0 of 1", of(loads=loads(1)), regime=RACGP),
    eg("no-data-no-release", NONE, "No load", regime=RACGP),
    eg("cycle-numbers", YES, "none is missing",
       of(loads=(load("2025-06-02", "7"), load("2025-06-03", "9")), bio_tests=(bio("2025-06-02", cycle="8"),),
          **counted(3))),
    eg("cycle-numbers", IN_PART, "2 missing",
       of(loads=(load("2025-06-02", "7"), load("2025-06-03", "10"))), gap="cycles 8 to 9"),
    eg("cycle-numbers", IN_PART, "998 of 2025-06-02, then 1 of 2025-06-03",  # what ran before it began again
       of(loads=(load("2025-06-02", "998"), load("2025-06-03", "1"), load("2025-06-03", "2")))),
    eg("cycle-numbers", NONE, "Fewer than two", of(loads=(load("2025-06-02", "A"), load("2025-06-03", "")))),
    # ---------------------------------------------------------------------------------------------- service
    eg("maintained", YES, "1 of 1 line", of(**PLANNED)),
    eg("maintained", NO, "0 of 1 line",
       of(plan=(line(months=6),), positions=(position(),)), gap="overdue since 2024-07-02"),
    eg("maintained", NONE, "No line"),
    eg("service-log", YES, "1 concluded by a named person, 0 of them signed with a pass phrase",
       of(jobs=(SERVICED,))),
    eg("service-log", NO, "0 concluded by a named person", of(jobs=(job("2025-03-01", end=""),)), gap="2025-03-01"),
    eg("service-log", NONE, "No service job"),
    eg("preventive-log", YES, "1 with work done and concluded by a named person", of(jobs=(SERVICED,))),
    eg("preventive-log", NO, "0 with work done", of(jobs=(job("2025-03-01", end=""),)), gap="2025-03-01"),
    eg("preventive-log", NONE, "No planned servicing is on record. 1 service job for other reasons.",
       of(jobs=(replace(SERVICED, reason="breakdown"),))),
    eg("preventive-log", NONE, "No planned servicing is on record."),
    eg("serviced-yearly", YES, "1 a servicing to the plan, 1 of them with measurements", of(**FULL), regime=RACGP,
       instruments=(HELD,)),
    eg("serviced-yearly", IN_PART, "1 a servicing to the plan, 0 of them with measurements",
       of(**FULL | {"jobs": (replace(SERVICED, readings=()),)}), regime=RACGP, gap="measurements inside"),
    eg("serviced-yearly", IN_PART, "0 a servicing to the plan", of(jobs=(SERVICED,)), regime=RACGP,
       gap="no maintenance plan"),
    eg("serviced-yearly", NO, "more than 12 months ago", of(jobs=(OLD_SERVICE,)), regime=RACGP),
    eg("serviced-yearly", NONE, "No servicing", of(jobs=(job("2025-03-01"),)), regime=RACGP),
    eg("contamination-declared", YES, "1 of 1 job", of(jobs=(replace(SERVICED, contamination="declared clean"),)),
       regime=HTM),
    eg("contamination-declared", NO, "0 of 1 job", of(jobs=(replace(SERVICED, contamination="not declared"),)),
       regime=HTM, gap="2025-03-01"),
    eg("contamination-declared", NONE, "No service job", regime=HTM),
    eg("technician-qualified", YES, "1 of 1 job", of(jobs=(SERVICED,)),
       credentials=(credential("2024-01-01", person="a. technician", holder="service company", kind="competence"),)),
    eg("technician-qualified", NO, "0 of 1 job", of(jobs=(SERVICED,)), gap="A. Technician for 2025-03-01",
       credentials=(credential("2024-01-01", "2025-02-28", person="A. Technician", holder="service company"),)),
    eg("technician-qualified", NONE, "No credential", of(jobs=(SERVICED,))),
    eg("instruments-in-calibration", YES, "1 of 1 measurement", of(jobs=(SERVICED,)),
       instruments=(instrument(calibration("2025-01-01")),)),
    eg("instruments-in-calibration", NO, "0 of 1 measurement", of(jobs=(SERVICED,)), gap="thermometer T1",
       instruments=(instrument(calibration("2024-01-01", until="2025-01-01")),)),
    eg("instruments-in-calibration", NONE, "No measurement", of(jobs=(OLD_SERVICE,))),
    # ---------------------------------------------------------------------------------------------- papers
    eg("instructions-on-site", YES, "instructions", of(documents=(document("instructions", BEGIN, unit="unit-1"),))),
    eg("instructions-on-site", YES, "instructions", documents=(document("instructions", BEGIN),)),
    eg("instructions-on-site", NONE, "No such paper", documents=(document("instructions", BEGIN, unit="unit-2"),)),
    eg("pressure-examined", YES, "valid from 2024-09-01 to 2025-10-31", regime=HTM,
       documents=(document("pressure examination", "2024-09-01", "2025-10-31", unit="unit-1"),)),
    eg("pressure-examined", IN_PART, "older than 14 months", regime=HTM,
       documents=(document("pressure examination", "2024-04-01", unit="unit-1"),)),
    eg("pressure-examined", NO, "The newest on record", regime=HTM,
       documents=(document("pressure examination", "2024-04-01", "2025-05-31", unit="unit-1"),)),
    eg("pressure-examined", NONE, "No such paper", regime=HTM),
    eg("pressure-insurance", YES, "Pressure vessels", regime=SCOTLAND,
       documents=(titled("Pressure vessels", "insurance", "2025-01-01", "2025-12-31"),)),
    eg("pressure-insurance", IN_PART, "no end stated", regime=SCOTLAND, gap="the day on which it ends",
       documents=(titled("Pressure vessels", "insurance", "2025-01-01"),)),
    eg("pressure-insurance", NO, "The newest on record", regime=SCOTLAND,
       documents=(titled("Pressure vessels", "insurance", "2024-01-01", "2024-12-31"),)),
    eg("pressure-insurance", NONE, "No such paper", regime=SCOTLAND,
       documents=(titled("Pressure vessels", "other", "2025-01-01", "2025-12-31"),)),
    eg("pressure-insurance", NONE, "No such paper", regime=SCOTLAND,
       documents=(document("insurance", "2025-01-01"),)),
    eg("coordinator", IN_PART, "No paper shows that this person is assigned",
       credentials=(replace(credential("2025-01-01"), title="Infection prevention"),)),
    eg("licensed-device", NONE, "No such paper", regime=ONTARIO, credentials=(credential(BEGIN, kind="licence"),)),
    eg("licensed-device", YES, "device licence", regime=ONTARIO,
       documents=(document("device licence", BEGIN, unit="unit-1"),)),
    eg("procedures-reviewed", YES, "2 of 2 such papers",
       documents=(titled("Wrapping", "procedure", BEGIN), titled("wrapping ", "procedure", "2025-01-01"),
                  titled("Monitoring", "procedure", "2025-01-01"))),
    eg("procedures-reviewed", IN_PART, "1 of 2 such papers", gap="Monitoring",
       documents=(titled("Wrapping", "procedure", "2025-01-01"), titled("Monitoring", "procedure", BEGIN))),
    eg("procedures-reviewed", NONE, "No such paper"),
    eg("procedures-reviewed", NO, "older than 12 months", documents=(document("procedure", BEGIN),)),
    eg("people-trained", YES, "1 of 1 person", of(checks=(user_check("2025-06-02"),)),
       credentials=(credential("2025-01-01"),)),
    eg("people-trained", IN_PART, "1 of 3 people", of(bio_tests=(bio("2025-06-02", result="pass"),)), gap="A. Runner",
       credentials=(credential("2025-01-01"),)),
    eg("people-trained", IN_PART, "Nobody is named", credentials=(credential("2025-01-01"),)),
    eg("people-trained", IN_PART, "1 of 2 people", gap="B. User",
       credentials=(credential("2025-01-01"), credential("2024-02-01", person="B. User"))),
    eg("people-trained", NONE, "No training", credentials=(credential("2025-01-01", holder="service company"),)),
    # ---------------------------------------------------------------------------------------------- the record itself
    eg("tests-kept-calendar-years", YES, "the begin of use", of(bio_tests=WEEKS), regime=OREGON),
    eg("tests-kept-calendar-years", IN_PART, "asked from 2024-01-01", of(bio_tests=WEEKS[30:]), regime=OREGON,
       gap="nothing from 2024-01-01 to 2024-07-28"),
    eg("tests-kept-calendar-years", NONE, "No such record", regime=OREGON),
    eg("tests-kept", NOT_ASKED, "name no length", of(bio_tests=WEEKS)),
    eg("two-years-of-tests", IN_PART, "asked from", of(bio_tests=WEEKS, gaps=(gap("2024-02-01", "2024-02-29"),)),
       gap="paper log, lost in a move"),
    eg("kept-for-life", YES, "asked from 2024-01-01",
       of(jobs=(OLD_SERVICE, SERVICED), loads=LOADS, checks=CONTROLS), regime=SCOTLAND),
    eg("kept-for-life", IN_PART, "nothing on record", of(jobs=(OLD_SERVICE,), checks=CONTROLS), regime=SCOTLAND),
    eg("logbook-headings", IN_PART, "cycles: 1", of(loads=loads(1)), regime=HTM, gap="nothing under periodic tests"),
    eg("logbook-headings", NONE, "Nothing is on record", regime=HTM),
    eg("logbook-headings", YES, "training: 1",
       of(loads=loads(1), jobs=(SERVICED,), checks=(user_check("2025-06-02"),)), regime=HTM,
       credentials=(credential("2025-01-01"),),
       documents=(document("pressure examination", "2025-01-01", unit="unit-1"),)),
    eg("stages-apart", YES, "commissioning: 1",
       of(jobs=(job(BEGIN, reason="installation", tests=(check(BEGIN),)), SERVICED),
          checks=(user_check("2025-06-02"),)),
       regime=SCOTLAND, documents=(document("validation report", "2025-01-01", unit="unit-1"),)),
    eg("stages-apart", IN_PART, "installation: 1", regime=SCOTLAND, gap="nothing under commissioning"),
    eg("stages-apart", NONE, "Nothing is on record", unit(BEGIN), regime=SCOTLAND),
    eg("which-units", YES, "1 may be used: unit 1, serial S-1", of(bio_tests=WEEKS)),
    eg("which-units", NO, "0 may be used", of(events=(event(BEGIN), event("2025-06-01", "withdrawn")))),
    Example("which-units", NONE, "No unit"),
    eg("two-units", YES, "2 of 2", units=(of(bio_tests=WEEKS), of(bio_tests=WEEKS, ref="unit-2"))),
    eg("two-units", IN_PART, "1 of 1", of(bio_tests=WEEKS), gap="1 more unit"),
    Example("two-units", NONE, "No unit"),
    eg("closed-after-positive", YES, "1 unit may be used", units=(OPEN_CASE, of(bio_tests=WEEKS, ref="unit-2"))),
    eg("closed-after-positive", NO, "0 units may be used", units=(OPEN_CASE, of(ref="unit-2"))),
    eg("closed-after-positive", NONE, "No spore test"),
)  # fmt: skip
