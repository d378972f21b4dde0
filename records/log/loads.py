"""Loads, and the decision on each: with the load, or later.

A failing result of a load opens a failure case in the same entry. What a released load was released on, and whether
that was enough, is judged from the record; here nothing that happened is refused for it, but what speaks against a
release asks for its reason.
"""

from __future__ import annotations

from records.models import BioReading, BioTest, ChemicalResult, Load, LoadRelease, Voiding

from . import may_be_logged, row_rules
from .errors import Problem, Refused
from .indicators import open_cases_of_cycle
from .submission import answered, submission
from .visits import name_in

DECISIONS = ("released", "rejected")
RESULTS = {"mechanical": "gauges and printout", "chemical": "chemical indicators"}


def log_load(
    *, by, request_key, clinic, unit, on, cycle_number, program, at=None, contents="", implant=False, decision="",
    reason="", run_by="", mechanical="", chemical="", minutes=None, paper="", written_at=None,
) -> Load:  # fmt: skip
    """A cycle with goods in it, and the decision on it where one was taken. Use time in minutes.

    Without a decision the load waits for one, see `release_load`, whose rules about reasons hold here too. A failing
    result opens a case.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    problems += row_rules.load({"minutes": minutes}.get)
    fields = {"cycle_number": cycle_number, "program": program, "contents": contents, "implant": implant}
    fields |= {"mechanical": mechanical, "chemical": chemical, "minutes": minutes}
    if decision and unit is not None and not answered(by, request_key):
        problems += _reason_of(Load(unit=unit, happened_on=on, **fields), decision, reason)
    may_be_logged.stop_on(problems)
    inputs = {
        "unit": unit,
        "on": on,
        "at": at,
        "decision": decision,
        "reason": reason,
        "run_by": run_by,
        **fields,
    }
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "load", inputs, **entry) as s:
        if s.repeated:
            return s.first(Load)
        who = name_in(rights.company or clinic, run_by, by)
        common = {"clinic": clinic, "unit": unit, "happened_on": on, "happened_at": at, "zone": zone}
        load = s.add(Load(run_by=who, **fields, **common))
        if decision:
            s.add(LoadRelease(load=load, decision=decision, reason=reason, decided_by=who, **common))
        open_cases_of_cycle(s, load)
        return load


def release_load(
    *, by, request_key, clinic, load, decision, on, at=None, reason="", decided_by="", against=(), paper="",
    written_at=None,
) -> LoadRelease:  # fmt: skip
    """The decision on a load that was logged without one: "released" or "rejected", by whom and when.

    A load has one decision: a second one is refused, the first is corrected instead. A rejection says why, and so
    does the release of a load in which something failed or whose spore test has no good result: that is recorded as
    it happened, and judged. `against`: what else judgement says against its release, in words; it is not recorded.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.not_in_future("on", on, at, zone)]
    if decision not in DECISIONS:
        problems.append(Problem("decision", "Released or rejected? Choose one."))
    if load is None or load.clinic_id != clinic.pk:
        problems.append(Problem("load", "That load is not one of this clinic's. Choose one from its list."))
    else:
        load = Load.objects.newest().select_related("unit").get(origin=load.origin)
        problems += _about_load(load, on, at)
        problems += _reason_of(load, decision, reason, against)
    if not answered(by, request_key):  # what was recorded since is no reason to refuse the same request now
        may_be_logged.stop_on(problems)
    inputs = {"load": load.origin_row(), "decision": decision, "reason": reason, "decided_by": decided_by}
    inputs |= {"on": on, "at": at}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "decision on a load", inputs, **entry) as s:
        if s.repeated:
            return s.first(LoadRelease)
        # Under the ledger's lock, so that of two people at once the second is told of the first.
        _refuse_if_decided(load)
        row = LoadRelease(clinic=clinic, unit=load.unit, load=load, decision=decision, reason=reason)
        row.decided_by = name_in(rights.company or clinic, decided_by, by)
        row.happened_on, row.happened_at, row.zone = on, at, zone
        return s.add(row)


def _about_load(load: Load, on, at):
    yield from may_be_logged.after("on", on, load.happened_on, "the day of the load")
    if at is not None and load.happened_at is not None and at < load.happened_at:
        yield Problem("at", "That lies before the time of the load itself. Check the time, or leave it out.")


def _reason_of(load: Load, decision: str, reason: str, against=()):
    """A rejection says why, and so does a release that something speaks against."""
    if (reason or "").strip():
        return
    if decision == "rejected":
        yield Problem("reason", "Rejected why? The next person needs it, in a few words.")
    elif decision == "released" and (said := [*_against_release(load), *against]):
        yield Problem(
            "reason",
            f"{said[0][:1].upper()}{said[0][1:]}. Keep the goods back, or reject them. If they were released all the "
            "same, say why: it is recorded and flagged.",
        )


def _against_release(load: Load):
    """What the record holds against a release, whatever the rules of the place: each in words."""
    tests = tests_of_cycle(load)
    if failed := failed_in_cycle(load, tests):
        yield f"something failed in this cycle: {' and '.join(failed)}"
    if any(r.test == "growth" for t in tests for r in t.standing):
        yield "the spore test of this cycle is positive"
    elif load.implant and any(not _passed(t) for t in tests):
        yield "it held an implant and a spore test of this cycle has no passing result"


def tests_of_cycle(load: Load) -> list[BioTest]:
    """The spore tests of the same day and cycle as the load, each with its readings in force as `standing`."""
    if not load.cycle_number:
        return []
    tests = list(BioTest.objects.in_force().filter(**_same_cycle(load)))
    readings = BioReading.objects.in_force().filter(bio_test__origin__in=[t.origin for t in tests])
    of: dict = {}
    for reading in readings.select_related("bio_test") if tests else ():
        of.setdefault(reading.bio_test.origin, []).append(reading)
    for test in tests:
        test.standing = of.get(test.origin, [])
    return tests


def _passed(test: BioTest) -> bool:
    return any(r.test == "no growth" and r.control == "growth" for r in test.standing)


def _same_cycle(load: Load) -> dict:
    return {"unit": load.unit_id, "happened_on": load.happened_on, "cycle_number": load.cycle_number}


def failed_in_cycle(load: Load, tests) -> list[str]:
    """What is on record as failed in the cycle of the load, in words: with it, in its spore `tests`, by itself."""
    failed = [words for name, words in RESULTS.items() if any(getattr(r, name) == "fail" for r in [load, *tests])]
    strips = ChemicalResult.objects.in_force().filter(result="fail", **_same_cycle(load))
    if load.cycle_number and strips.exists():
        failed.append("a chemical indicator")
    return failed


def _refuse_if_decided(load: Load) -> None:
    if Voiding.objects.filter(target=load.origin).exists():
        raise Refused([Problem("load", "That load was entered in error, so nothing is decided about it.")])
    earlier = (
        LoadRelease.objects.in_force().filter(load__origin=load.origin).select_related("entry__logged_by").first()
    )
    if earlier is not None:
        raise Refused(
            [Problem("decision", f"This load was {earlier.decision} already, on {earlier.happened_on} by "
                                 f"{earlier.decided_by} (entry {earlier.entry.number}). "
                                 "Correct that decision if it was wrong.")]
        )  # fmt: skip
