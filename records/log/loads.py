"""Loads, and the decision on each: with the load, or later.

A failing result of a load opens a failure case in the same entry. What a released load was released on, and whether
that was enough, is judged from the record. What should not happen is asked about here, once for every page and
caller: a load in a unit that may not be used, a cycle number that cannot follow, a release on nothing or on something
failed. Confirmed as having happened, it is recorded, and judgement reads it from the record.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from records.models import BioReading, BioTest, ChemicalResult, Load, LoadRelease, Voiding

from . import cycle_number as numbers
from . import gathering, may_be_logged, programs, row_rules
from .errors import Problem, Refused
from .indicators import open_cases_of_cycle
from .naming import name_in
from .submission import answered, submission
from .withdrawals import standing_withdrawal

DECISIONS = ("released", "rejected")
RESULTS = {"mechanical": "gauges and printout", "chemical": "chemical indicators"}


def log_load(
    *, by, request_key, clinic, unit, on, cycle_number, program, at=None, contents="", implant=False, decision="",
    reason="", run_by="", mechanical="", chemical="", packs="", minutes=None, held_packs=None, held_pouches=None,
    held_cassettes=None, pack_condition="", exposure_minutes=None, exposure_temperature=None, exposure_pressure=None,
    loaded_by="", standing_against=(), confirmed=(), paper="", written_at=None,
) -> Load:  # fmt: skip
    """A cycle with goods in it, and the decision on it where one was taken. Use time in minutes.

    What the exposure reached: minutes, °C, and kPa on the gauge. `loaded_by` "": not recorded. Without a decision the
    load waits for one, see `release_load`, whose rules hold here too. A failing result opens a case, and so do packs
    that came out wet. `standing_against`: why the unit may not be used on that day, in words, as judgement says; it
    is not recorded. `confirmed`: codes of what really happened so.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    fields = {"cycle_number": cycle_number, "program": program, "contents": contents, "implant": implant}
    fields |= {"mechanical": mechanical, "chemical": chemical, "packs": packs, "minutes": minutes}
    told = {"held_packs": held_packs, "held_pouches": held_pouches, "held_cassettes": held_cassettes}
    told |= {"pack_condition": pack_condition, "exposure_minutes": exposure_minutes}
    told |= {"exposure_temperature": exposure_temperature, "exposure_pressure": exposure_pressure}
    fields |= {name: value for name, value in told.items() if value not in (None, "")}
    problems += row_rules.load(fields.get)
    # What was recorded since is no reason to refuse it now.
    if all(p.confirm for p in problems) and not answered(by, request_key):
        row = Load(unit=unit, happened_on=on, **fields)
        problems += programs.about_exposure(row)
        problems += _about_unit(unit, on, standing_against)
        problems += numbers.problems(unit, cycle_number, on, at, paper=paper)
        if decision:
            problems += about_decision(row, decision, reason)
    may_be_logged.stop_on(problems, confirmed)
    inputs = {
        "unit": unit,
        "on": on,
        "at": at,
        "decision": decision,
        "reason": reason,
        "run_by": run_by,
        **fields,
    } | ({"loaded_by": loaded_by} if loaded_by else {})
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "load", inputs, **entry) as s:
        if s.repeated:
            return s.first(Load)
        who = name_in(rights.company or clinic, run_by, by)
        loader = name_in(rights.company or clinic, loaded_by, by) if loaded_by else None
        common = {"clinic": clinic, "unit": unit, "happened_on": on, "happened_at": at, "zone": zone}
        load = s.add(Load(run_by=who, loaded_by=loader, **fields, **common))
        if decision:
            s.add(LoadRelease(load=load, decision=decision, reason=reason, decided_by=who, **common))
        numbers.note(unit, load)
        open_cases_of_cycle(s, load)
        programs.open_case_of_exposure(s, load)
        return load


def _about_unit(unit, on, standing_against: Iterable[str]) -> Iterator[Problem]:
    """A load in a unit that may not be used: as judgement says, else as the record alone shows."""
    said = list(standing_against)
    withdrawal = None if said else standing_withdrawal(unit, on)
    if withdrawal is not None:
        said = [f"taken out of service on {withdrawal.happened_on}: {withdrawal.reason}"]
    if said:
        yield Problem(
            "unit",
            f"{unit.label} was not to be used on {on}. {said[0][:1].upper()}{said[0][1:]}. Start no load in it, and "
            "keep back what was in it. If this load was run, confirm it; it is recorded and flagged.",
            confirm="unit-out",
        )


def release_load(
    *, by, request_key, clinic, load, decision, on, at=None, reason="", decided_by="", against=(), confirmed=(),
    paper="", written_at=None,
) -> LoadRelease:  # fmt: skip
    """The decision on a load that was logged without one: "released" or "rejected", by whom and when.

    A load has one decision: a second one is refused, the first is corrected instead. A rejection says why. A release
    on nothing, or that something speaks against, is asked about, and the latter says why too: that is recorded as it
    happened, and judged. `against`: what else judgement says against its release, in words; it is not recorded.
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
        problems += about_decision(load, decision, reason, against)
    if not answered(by, request_key):  # what was recorded since is no reason to refuse the same request now
        may_be_logged.stop_on(problems, confirmed)
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


def about_decision(load: Load, decision: str, reason: str, against=()) -> Iterator[Problem]:
    """A rejection says why; a release that something speaks against is asked about and says why too.

    CDC 2003 (MMWR 52 RR-17) VI.F: packs are not used when mechanical or chemical results point to failure, and the
    spore test of a load with an implant is read before use whenever possible.
    """
    yield from row_rules.load_release({"decision": decision, "reason": reason}.get)
    if decision != "released":
        return
    said = list(_against_release(load)) or [("released-against", words) for words in against]
    for code, words in said:
        yield Problem(
            "decision",
            f"{words[:1].upper()}{words[1:]}. Keep the goods back, or reject them. If they were released all the "
            "same, confirm it; it is recorded and flagged.",
            confirm=code,
        )
    if not (reason or "").strip() and any(code != "no-results" for code, _ in said):
        yield Problem(
            "reason",
            f"{said[0][1][:1].upper()}{said[0][1][1:]}. If the goods were released all the same, say why.",
        )


def _against_release(load: Load) -> Iterator[tuple[str, str]]:
    """What the record holds against a release, whatever the rules of the place: a code and words for each."""
    tests = tests_of_cycle(load)
    if failed := failed_in_cycle(load, tests):
        yield "failed-release", f"something failed in this cycle: {' and '.join(failed)}"
    if any(r.test == "growth" for t in tests for r in t.standing):
        yield "failed-release", "the spore test of this cycle is positive"
    elif load.implant and not tests:
        yield "implant-unread", "it held an implant and no spore test of this cycle is on record"
    elif load.implant and any(not _passed(t) for t in tests):
        yield "implant-unread", "it held an implant and a spore test of this cycle has no passing result"
    if below := programs.short_of(load):
        yield "failed-release", f"the exposure of this cycle fell short: {' and '.join(below)}"
    if load.pack_condition == "damaged":
        yield "damaged-packs", "wrapping was damaged when taken out, and what was in it is not sterile any more"
    if missing := _not_recorded(load, tests):
        yield "no-results", f"nothing is recorded of this cycle’s {' and '.join(missing)}"


def _not_recorded(load: Load, tests) -> list[str]:
    """Which results of the cycle nobody recorded: with the load, with its spore test, as an indicator by itself."""
    rows = [load, *tests]
    missing = [n for n in RESULTS if not any(getattr(row, n) in ("pass", "fail") for row in rows)]
    if "chemical" in missing and load.cycle_number and _cycle_has(ChemicalResult, load):
        strips = ChemicalResult.objects.in_force().filter(result__in=("pass", "fail"), **_same_cycle(load))
        if strips.exists():
            missing.remove("chemical")
    return [RESULTS[name] for name in missing]


def tests_of_cycle(load: Load) -> list[BioTest]:
    """The spore tests of the same day and cycle as the load, each with its readings in force as `standing`."""
    if not load.cycle_number or not _cycle_has(BioTest, load):
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


def _cycle_has(model, load: Load) -> bool:
    """Whether such rows may be on record of the cycle of the load, so that they are worth asking for.

    Where rows of a table are gathered what is on record is asked once: most loads of a year have none.
    """
    if gathering.current() is None:
        return True

    def read() -> set:
        rows = model.objects.in_force().filter(unit=load.unit_id).exclude(cycle_number="")
        return set(rows.values_list("happened_on", "cycle_number"))

    known = gathering.once(("cycles with", model, load.unit_id), read)
    return (load.happened_on, load.cycle_number) in known


def failed_in_cycle(load: Load, tests) -> list[str]:
    """What is on record as failed in the cycle of the load, in words: with it, in its spore `tests`, by itself."""
    failed = [words for name, words in RESULTS.items() if any(getattr(r, name) == "fail" for r in [load, *tests])]
    if load.packs == "wet":
        failed.append("wet packs")
    if load.cycle_number and _cycle_has(ChemicalResult, load):
        strips = ChemicalResult.objects.in_force().filter(result="fail", **_same_cycle(load))
        if strips.exists():
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
