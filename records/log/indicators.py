"""Indicator lots and tests. A failing value opens a failure case in the same entry."""

from __future__ import annotations

from datetime import datetime, timedelta

from records import clock
from records.models import (
    AirRemovalTest,
    BioReading,
    BioTest,
    ChemicalResult,
    FailureCase,
    IndicatorLot,
    LeakTest,
    UserCheck,
)

from . import may_be_logged, row_rules
from .errors import Problem
from .leak_rate import LEAK_LIMIT, LEAK_LIMIT_SOURCE, leak_rate, leak_result
from .naming import name_in
from .submission import submission


def log_indicator_lot(
    *, by, request_key, clinic, kind, name, lot, on, expiry=None, incubation_hours=0, incubation_low=None,
    incubation_high=None, chemical_type=None,
) -> IndicatorLot:  # fmt: skip
    """A box of indicators as its label reads: hours are the least incubation, temperatures in °C, both inclusive."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = list(may_be_logged.not_in_future("on", on, None, zone))
    if kind == "biological" and not incubation_hours:
        problems.append(Problem("incubation_hours", "How many hours of incubation does the label ask for?"))
    if not (lot or "").strip():
        problems.append(Problem("lot", "Enter the lot as printed on the box: test and control are matched by it."))
    may_be_logged.stop_on(problems)
    fields = {"kind": kind, "name": name, "lot": lot, "expiry": expiry, "incubation_hours": incubation_hours}
    fields |= {"incubation_low": incubation_low, "incubation_high": incubation_high}
    fields |= {"chemical_type": chemical_type}
    with submission(clinic, by, request_key, "indicator lot", {"on": on, **fields}, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(IndicatorLot)
        return s.add(IndicatorLot(owner=clinic.organisation_ptr, happened_on=on, zone=zone, **fields))


def start_bio_test(
    *, by, request_key, clinic, unit, on, lot, control_lot, cycle_type, at=None, cycle_number="",
    chamber="not stated", purpose="routine", site="clinic", place="", implant=False, mechanical="not recorded",
    chemical="not recorded", run_by="", confirmed=(), paper="", written_at=None,
) -> BioTest:  # fmt: skip
    """A spore test was run. `control_lot` None means that no control was run; the test then doesn't count.

    `place` says in words where in the chamber it lay. `purpose` is the statement why it was run.

    `mechanical` and `chemical` "" mean that nobody has looked yet: of a routine test "not recorded" is written, of
    any other one it is asked, for that may count only with them. A failing result of either opens a case at once;
    growth opens one when it is read.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [
        *may_be_logged.unit_of_clinic("unit", unit, clinic),
        *may_be_logged.not_in_future("on", on, at, zone),
        *may_be_logged.before_register("on", unit, on, paper),
        *may_be_logged.indicator_lot("lot", lot, clinic, "biological", on or clock.today(zone)),
    ]
    if control_lot is not None and control_lot != lot:
        problems += may_be_logged.indicator_lot(
            "control_lot", control_lot, clinic, "biological", on or clock.today(zone)
        )
    problems += row_rules.bio_test({"purpose": purpose, "mechanical": mechanical, "chemical": chemical}.get)
    mechanical, chemical = mechanical or "not recorded", chemical or "not recorded"
    may_be_logged.stop_on(problems, confirmed)
    fields = {"unit": unit, "lot": lot, "control_lot": control_lot, "cycle_type": cycle_type}
    fields |= {"cycle_number": cycle_number, "chamber": chamber, "purpose": purpose, "site": site}
    fields |= {"place": place, "implant": implant, "mechanical": mechanical, "chemical": chemical}
    inputs = {"on": on, "at": at, "run_by": run_by, **fields}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "spore test started", inputs, **entry) as s:
        if s.repeated:
            return s.first(BioTest)
        row = BioTest(clinic=clinic, run_by=name_in(rights.company or clinic, run_by, by), **fields)
        row.happened_on, row.happened_at, row.zone = on, at, zone
        s.add(row)
        open_cases_of_cycle(s, row)
        return row


def read_bio_test(
    *, by, request_key, clinic, bio_test, test, control, on, at=None, known_on=None, known_at=None,
    incubated_hours=None, incubator_temperature=None, read_by="", report="", confirmed=(), paper="",
    written_at=None,
) -> BioReading:  # fmt: skip
    """A spore test and its control were looked at. Growth in the test opens a failure case at once.

    `known_on` None means the day it was read. What a laboratory reported names the report and the day it came, unless
    it is history on paper. A control of which nothing is stated is a laboratory's way to report; else it is asked.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*_own_test(bio_test, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    if bio_test is not None and not paper:
        problems += _as_reported(bio_test, control, known_on, report)
    known_on = known_on or on
    if bio_test is not None and on is not None:
        days = {"bio_test": bio_test, "happened_on": on, "known_on": known_on, "known_at": known_at, "zone": zone}
        problems += row_rules.bio_reading(days.get, day="on")
        problems += may_be_logged.read_after_incubation(bio_test, at, incubated_hours, test)
    if not test or not control:
        problems.append(Problem("test", "Enter both: what the test shows and what the control shows."))
    may_be_logged.stop_on(problems, confirmed)
    fields = {
        "bio_test": bio_test,
        "test": test,
        "control": control,
        "known_on": known_on,
        "known_at": known_at,
    }
    fields |= {
        "incubated_hours": incubated_hours,
        "incubator_temperature": incubator_temperature,
        "report": report,
    }
    inputs = {"on": on, "at": at, "read_by": read_by, **fields}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "spore test read", inputs, **entry) as s:
        if s.repeated:
            return s.first(BioReading)
        row = BioReading(
            clinic=clinic,
            unit=bio_test.unit,
            read_by=name_in(rights.company or clinic, read_by, by),
            happened_on=on,
            happened_at=at,
            zone=zone,
            **fields,
        )
        s.add(row)
        if test == "growth":
            open_case(s, "biological", bio_test, known_on)
        return row


def _as_reported(bio_test, control: str, known_on, report: str):
    """A laboratory's result has its report and the day it came; who reads in the clinic sees the control."""
    if bio_test.site == "laboratory":
        if not (report or "").strip():
            yield Problem("report", "Which laboratory and which report says so? Enter both, as the report reads.")
        if known_on is None:
            yield Problem("known_on", "When did the report come? From that day on the clinic knew it.")
    elif control == "not stated":
        yield Problem(
            "control",
            "Nothing is stated of the control, so the test doesn’t count. Look at the control and say what it shows. "
            "If nobody looked at it, confirm it; it is recorded and flagged.",
            confirm="control-unseen",
        )


def _own_test(bio_test, clinic):
    if bio_test is None or bio_test.clinic_id != clinic.pk:
        yield Problem("bio_test", "That test is not one of this clinic's. Choose a test from its list.")


def open_case(s, kind: str, failing, on) -> FailureCase | None:
    """A failure case of that kind for the failing fact, unless it has one."""
    known = failing.pk or not failing.is_origin  # a row that is only now written has no case yet
    if known and FailureCase.objects.in_force().filter(opened_by=failing.origin, kind=kind).exists():
        return None
    case = FailureCase(clinic=failing.clinic, unit=failing.unit, kind=kind, opened_by=failing.origin)
    case.happened_on, case.zone = on, failing.zone
    return s.add(case)


def open_cases_of_cycle(s, failing) -> None:
    """The cases of a cycle whose gauges and printout, or chemical indicators, failed, or whose packs came out wet."""
    for kind in ("mechanical", "chemical"):
        if getattr(failing, kind) == "fail":
            open_case(s, kind, failing, failing.happened_on)
    if getattr(failing, "packs", "") == "wet":
        open_case(s, "wet packs", failing, failing.happened_on)


def _simple(
    model, what, *, by, request_key, clinic, unit, on, at, person, fields, failing, paper, written_at, problems=(),
    confirmed=(),
):  # fmt: skip
    """A test that is known as soon as it is done; `problems` are what else speaks against it."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    standing = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    may_be_logged.stop_on([*standing, *problems], confirmed)
    (person_name, name), kind = person, failing
    inputs = {"unit": unit, "on": on, "at": at, person_name: name, **fields}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, what, inputs, **entry) as s:
        if s.repeated:
            return s.first(model)
        row = model(clinic=clinic, unit=unit, happened_on=on, happened_at=at, zone=zone, **fields)
        setattr(row, person_name, name_in(rights.company or clinic, name, by))
        s.add(row)
        if kind and fields.get("result") == "fail":
            open_case(s, kind, row, on)
        return row


def log_chemical(
    *, by, request_key, clinic, unit, on, type, result, at=None, cycle_number="", where="", lot=None, read_by="",
    confirmed=(), paper="", written_at=None,
) -> ChemicalResult:  # fmt: skip
    """A chemical indicator was read. A failing one opens a case; what it means for the load the rules say.

    Type 2 of ISO 11140-1 is the sheet of an air-removal test: a failing one opens a case of that kind.
    """
    problems = [] if lot is None else list(may_be_logged.indicator_lot("lot", lot, clinic, "chemical", on))
    fields = {"type": type, "result": result, "cycle_number": cycle_number, "where": where, "lot": lot}
    return _simple(
        ChemicalResult, "chemical indicator", by=by, request_key=request_key, clinic=clinic, unit=unit, on=on,
        at=at, person=("read_by", read_by), fields=fields, failing=kind_of_chemical(type), problems=problems,
        confirmed=confirmed, paper=paper, written_at=written_at,
    )  # fmt: skip


AIR_REMOVAL_SHEET = 2  # the type of ISO 11140-1 that an air-removal test is read on


def kind_of_chemical(type: int) -> str:
    """The kind of case that a failing chemical indicator of that type opens."""
    return "air removal" if type == AIR_REMOVAL_SHEET else "chemical"


def log_air_removal(
    *, by, request_key, clinic, unit, on, result, at=None, cycle_number="", chamber="empty", lot=None, purpose="",
    run_by="", confirmed=(), paper="", written_at=None,
) -> AirRemovalTest:  # fmt: skip
    """A steam penetration test was run, `result` pass or fail. A failure opens a case in the same entry.

    `purpose`: why it was run, of `PURPOSES`; "" where nobody says.
    """
    problems = [] if lot is None else list(may_be_logged.indicator_lot("lot", lot, clinic, "chemical", on))
    if lot is not None and lot.kind == "chemical" and lot.chemical_type not in (None, AIR_REMOVAL_SHEET):
        problems.append(
            Problem(
                "lot",
                f"Lot {lot.lot} is a box of indicators of type {lot.chemical_type}; an air-removal test is read on a "
                f"sheet of type {AIR_REMOVAL_SHEET} (ISO 11140-1). Choose its box. If it was really run with this "
                "one, confirm it; it is recorded and flagged.",
                confirm="lot-type",
            )
        )
    fields = {"result": result, "cycle_number": cycle_number, "chamber": chamber, "lot": lot, "purpose": purpose}
    return _simple(
        AirRemovalTest, "air-removal test", by=by, request_key=request_key, clinic=clinic, unit=unit, on=on,
        at=at, person=("run_by", run_by), fields=fields, failing="air removal", problems=problems,
        confirmed=confirmed, paper=paper, written_at=written_at,
    )  # fmt: skip


def log_leak(
    *, by, request_key, clinic, unit, on, rise, unit_of_measure, minutes, at=None, limit=LEAK_LIMIT,
    limit_source=LEAK_LIMIT_SOURCE, settling=None, start_pressure=None, start_temperature=None, purpose="", run_by="",
    confirmed=(), paper="", written_at=None,
) -> LeakTest:  # fmt: skip
    """An air-leak test: the rise, its unit, and over how many minutes. The limit (kPa/min) is included.

    `settling` in minutes before the reading began, `start_pressure` absolute in kPa, `start_temperature` in °C; None:
    not recorded. `purpose`: why it was run, of `PURPOSES`; "" where nobody says.
    """
    fields = {"rise": rise, "unit_of_measure": unit_of_measure, "minutes": minutes, "limit": limit}
    fields |= {"limit_source": limit_source, "settling": settling, "start_pressure": start_pressure}
    fields |= {"start_temperature": start_temperature, "purpose": purpose}
    problems = list(row_rules.leak(fields.get))
    computed = {}
    if not problems or all(p.confirm for p in problems):
        rate = leak_rate(rise, unit_of_measure, minutes)
        computed = {"rate": rate, "result": leak_result(rate, limit)}
    return _simple(
        LeakTest, "air-leak test", by=by, request_key=request_key, clinic=clinic, unit=unit, on=on, at=at,
        person=("run_by", run_by), fields=fields | computed, failing="air leak", problems=problems,
        confirmed=confirmed, paper=paper, written_at=written_at,
    )  # fmt: skip


def ready_at(bio_test) -> datetime | None:
    """The moment from which no growth may be read as final, None when the time of the run is not known."""
    if bio_test.happened_at is None:
        return None
    return bio_test.happened_at + timedelta(hours=bio_test.lot.incubation_hours)


def log_user_check(
    *, by, request_key, clinic, unit, on, kind, result, at=None, value=None, unit_of_measure="", cycle_number="",
    cycle_type="", signed_by="", note="", purpose="", confirmed=(), paper="", written_at=None,
) -> UserCheck:  # fmt: skip
    """A check by the people of the place. `signed_by` "" means that nobody signed; a failure may open a case.

    `purpose`: why it was run, of `PURPOSES`; "" where nobody says.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    fields = {"unit": unit, "kind": kind, "result": result, "value": value, "unit_of_measure": unit_of_measure}
    fields |= {"cycle_number": cycle_number, "cycle_type": cycle_type, "note": note, "purpose": purpose}
    signed_by = signed_by.strip()
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    problems += row_rules.user_check((fields | {"signed_by": signed_by}).get)
    may_be_logged.stop_on(problems, confirmed)
    inputs = {"on": on, "at": at, "signed_by": signed_by, **fields}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "user check", inputs, **entry) as s:
        if s.repeated:
            return s.first(UserCheck)
        who = name_in(rights.company or clinic, signed_by, by) if signed_by else None
        row = UserCheck(clinic=clinic, signed_by=who, happened_on=on, happened_at=at, zone=zone, **fields)
        s.add(row)
        if result == "fail" and kind in row_rules.OPENS:
            open_case(s, kind, row, on)
        return row
