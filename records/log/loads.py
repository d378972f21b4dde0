"""Loads, and the decision on each: with the load, or later.

A failing result of a load opens a failure case in the same entry. What a released load was released on, and whether
that was enough, is judged from the record; here nothing that happened is refused for it.
"""

from __future__ import annotations

from records.models import BioTest, ChemicalResult, Load, LoadRelease, Voiding

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

    Without a decision the load waits for one, see `release_load`. A failing result opens a case.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    may_be_logged.stop_on([*problems, *row_rules.load({"minutes": minutes}.get)])
    fields = {"cycle_number": cycle_number, "program": program, "contents": contents, "implant": implant}
    fields |= {"mechanical": mechanical, "chemical": chemical, "minutes": minutes}
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
    *, by, request_key, clinic, load, decision, on, at=None, reason="", decided_by="", paper="", written_at=None
) -> LoadRelease:
    """The decision on a load that was logged without one: "released" or "rejected", by whom and when.

    A load has one decision: a second one is refused, the first is corrected instead. A rejection says why, and so
    does the release of a load in which something failed: that is recorded as it happened, and judged.
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
        problems += _about_load(load, decision, on, at, reason)
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


def _about_load(load: Load, decision: str, on, at, reason: str):
    yield from may_be_logged.after("on", on, load.happened_on, "the day of the load")
    if at is not None and load.happened_at is not None and at < load.happened_at:
        yield Problem("at", "That lies before the time of the load itself. Check the time, or leave it out.")
    if (reason or "").strip():
        return
    if decision == "rejected":
        yield Problem("reason", "Rejected why? The next person needs it, in a few words.")
    elif decision == "released" and (failed := failed_in_cycle(load)):
        yield Problem(
            "reason",
            f"Recorded as failed in this cycle: {' and '.join(failed)}. Reject the load; if it was released all the "
            "same, say why: it is recorded and flagged.",
        )


def failed_in_cycle(load: Load) -> list[str]:
    """What is on record as failed in the cycle of the load, in words: with the load, in its spore test, by itself."""
    same = {"unit": load.unit_id, "happened_on": load.happened_on, "cycle_number": load.cycle_number}
    rows = [load, *(BioTest.objects.in_force().filter(**same) if load.cycle_number else ())]
    failed = [words for name, words in RESULTS.items() if any(getattr(r, name) == "fail" for r in rows)]
    if load.cycle_number and ChemicalResult.objects.in_force().filter(result="fail", **same).exists():
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
