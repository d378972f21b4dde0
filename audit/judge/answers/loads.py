"""Answers about loads: monitored, complete, released on proof, failed ones rejected, cycle numbers without gaps.

"Each load" is measured against the cycles that ran (`cycles`): loads that are not logged are not shown to be good.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence

from audit.facts import LoadFact, in_order
from audit.judge.biological import cycle_key
from audit.judge.cycle_of_load import cycle_of, implant_duty
from audit.judge.recorded import recordings_by_load

from .asked import (
    IN_PART,
    NO,
    NO_RECORD,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    AskedQuestion,
    Reply,
    View,
    cited,
    day_of,
    how_many_good,
    joined,
    none_found,
    number,
)
from .cycles import breaks_in, follows, log_of, measured

READ = ("pass", "fail")
_RESULTS = "a mechanical and a chemical result"


def loads_monitored(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether time, temperature and pressure of each load were looked at and recorded."""
    bad = [x for x in _of_a_year(place, view) if x.mechanical not in READ]
    return _loads(place, view, question, bad, "with the mechanical result recorded")


def chemical_used(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether each load has a chemical result: its own, or an indicator recorded for the same day and cycle.

    Never for each pack: the record holds results per load.
    """
    read = _indicators(place, view, lambda c: c.result in READ)
    bad = [x for x in _of_a_year(place, view) if x.chemical not in READ and _cycle(x) not in read]
    reply = _loads(place, view, question, bad, "with a chemical result recorded")
    return _at_most_in_part(reply, "Results are recorded per load, not per pack.", "the indicator of each pack")


def integrator_used(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the type 5 indicator (ISO 11140-1) of each load is recorded, for the same day and cycle number."""
    read = _indicators(place, view, lambda c: c.result in READ and c.type == 5)
    bad = [x for x in _of_a_year(place, view) if _cycle(x) not in read]
    return _loads(place, view, question, bad, "with a type 5 chemical indicator recorded")


def load_entries_complete(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether each load states cycle, contents, both results and its release or rejection.

    `about` "exposure": where time or temperature of it is not recorded, it is in part at most. `about` "signed": who
    recorded the load, and who decided about it, must be known.
    """
    signed = question.about == "signed"
    loads = _of_a_year(place, view)
    bad = [
        x
        for x in loads
        if x.mechanical not in READ
        or x.chemical not in READ
        or not x.released
        or not x.cycle_number
        or not x.contents.strip()
        or (signed and not _signed(x))
    ]
    what = "with cycle number, contents, mechanical and chemical result, and release or rejection"
    what += ", each by a named person" if signed else ""
    reply = _loads(place, view, question, bad, what)
    if question.about != "exposure":
        return reply
    without = sum(None in (x.exposure_minutes, x.exposure_temperature) for x in loads)
    if not without:
        return Reply(reply.answer, f"{reply.words} Each with time and temperature.", reply.evidence, reply.gap)
    told = f"Time and temperature of the exposure are not recorded with {without} of them."
    return _at_most_in_part(reply, told, "the printed cycles or the data file with time and temperature")


def _signed(load: LoadFact) -> bool:
    known = load.row.logged_by.strip() and load.decided is not None and load.decided.logged_by.strip()
    return bool(known) and not load.told


def released_on_proof(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether every load was decided about by its indicators: released only where all of its cycle passed."""
    duty, verdicts = implant_duty(place.regime.duties), view.verdicts
    recorded = recordings_by_load(view.facts)

    def good(load: LoadFact) -> bool:
        if load.released == "rejected":
            return load.chemical in READ
        passed = load.released == "released" and load.mechanical == load.chemical == "pass"
        if not passed or load.barrier_lost:
            return False
        return not cycle_of(view.facts, load, verdicts, duty, recorded.get(load.row.origin, ())).against

    what = "released with a passing mechanical and a passing chemical result, or rejected with an indicator read"
    return _loads(place, view, question, [x for x in _of_a_year(place, view) if not good(x)], what)


def held_without_data(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether each load without a passing mechanical result was held back: rejected, on record."""
    bad = [x for x in _of_a_year(place, view) if x.mechanical != "pass" and x.released != "rejected"]
    return _loads(place, view, question, bad, "with a passing mechanical result, or rejected")


def failed_rejected(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether no load with a failed mechanical or chemical result, or with wet or torn packs, was released."""
    loads = _of_a_year(place, view)
    if not loads:
        return measured(
            place, view, RECENT_MONTHS, none_found(question, "No load of the last 12 months is on record.")
        )
    strips = _indicators(place, view, lambda c: c.result == "fail")
    tests = {_cycle(t) for t in view.facts.bio_tests if "fail" in (t.mechanical, t.chemical) and t.cycle_number}
    doubtful = strips | tests
    failed = [x for x in loads if _went_wrong(x) or _cycle(x) in doubtful] if doubtful else _gone_wrong(place, view)
    unread = [x for x in loads if x.mechanical not in READ or x.chemical not in READ]
    if unread and failed:
        known = {x.row.origin for x in failed}
        unread = [x for x in unread if x.row.origin not in known]
    bad = [x for x in failed if x.released != "rejected"]
    words = (
        f"{number(len(loads), 'load')} of the last 12 months on record, {len(failed)} with a failed result or wet "
    )
    words += f"or torn packs, of which {len(failed) - len(bad)} rejected; {len(unread)} without {_RESULTS}."
    shown = bad or unread or failed or loads[-1:]
    gap = [f"{number(len(bad), 'load')} to hold and decide about, {_span(bad)}"] if bad else []
    gap += [f"the results of {number(len(unread), 'load')}, {_span(unread)}"] if unread else []
    answer = NO if bad and len(bad) == len(failed) else IN_PART if bad or unread else YES
    reply = Reply(answer, words, _cycles(shown), "; ".join([*gap, question.gap]) if gap else "")
    return measured(place, view, RECENT_MONTHS, reply)


def _went_wrong(load: LoadFact) -> bool:
    return load.mechanical == "fail" or load.chemical == "fail" or bool(load.barrier_lost)


def _gone_wrong(place: AskedPlace, view: View) -> list[LoadFact]:
    """Those of a year with a failed result, or wet or torn packs, in order."""
    told = view.facts.loads if view.told is None else view.told
    return [x for x in place.recent(told, RECENT_MONTHS) if _went_wrong(x)]


def _of_a_year(place: AskedPlace, view: View) -> Sequence[LoadFact]:
    """The loads of the last twelve months, in order."""
    return view.once("loads of a year", lambda: place.recent(view.facts.loads, RECENT_MONTHS))


def _loads(place: AskedPlace, view: View, question: AskedQuestion, bad: list[LoadFact], what: str) -> Reply:
    """How many of the loads of a year are not `bad`, and how many of the cycles that ran are logged at all."""
    loads = _of_a_year(place, view)
    gap = ""
    if bad:
        gap = f"{number(len(bad), 'load')} not so, {_span(bad)}" + (f"; {question.gap}" if question.gap else "")
    proof = _cycles(bad or loads[-1:])
    reply = how_many_good(question, loads, bad, "load", f"{{}} {what}.", proof, gap, RECENT_MONTHS)
    return measured(place, view, RECENT_MONTHS, reply)


def _at_most_in_part(reply: Reply, told: str, gap: str) -> Reply:
    """The reply with what the record does not hold, however good each row of it is."""
    if reply.answer == NO_RECORD:
        return reply
    answer = IN_PART if reply.answer == YES else reply.answer
    return Reply(answer, f"{reply.words} {told}", reply.evidence, "; ".join(t for t in (reply.gap, gap) if t))


def _indicators(place: AskedPlace, view: View, wanted) -> set[tuple]:
    """(day, cycle number) of the chemical indicators of a year that are wanted; without a number it is of no load."""
    rows = place.recent(view.facts.chemical, RECENT_MONTHS)
    return {_cycle(c) for c in rows if c.cycle_number and wanted(c)}


def _cycle(fact) -> tuple:
    return fact.row.happened_on, cycle_key(fact)


def _cycles(loads: Iterable[LoadFact]):
    return cited((x, f"cycle {x.cycle_number or '?'} of {day_of(x)}") for x in loads)


def _span(rows) -> str:
    return f"{day_of(rows[0])} to {day_of(rows[-1])}"


# ------------------------------------------------------------------------------------------------ continuity


def cycle_numbers_without_gaps(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the cycle numbers of a year follow one another, over loads, tests and checks alike."""
    first = place.since(RECENT_MONTHS)
    log = log_of(place, view)
    days, numbers = log.inside(first)
    without = len(log.plainless) - bisect_left(log.plainless, first)
    if len(numbers) < 2:
        return none_found(question, "Fewer than two cycles of the last 12 months have a plain number.")
    jumps = log.steps(first)
    broken = breaks_in(jumps)
    steps = [(a, b) for a, b in jumps if follows(a, b)]
    count = sum(b[1] - a[1] - 1 for a, b in steps)
    words = f"{number(len(numbers), 'cycle number')} from {days[0].isoformat()} to {days[-1].isoformat()}; "
    apart = len(log.unnumbered) - bisect_left(log.unnumbered, first)
    more = f"; {number(apart, 'more cycle')} logged without a number" if apart and count else ""
    words += f"{count} missing between them{more}." if count else "none is missing between them."
    if broken:
        told = joined(f"{a[1]} of {a[0].isoformat()}, then {b[1]} of {b[0].isoformat()}" for a, b in broken)
        words = words.replace("none is missing between them", "none is missing where they rise step by step")
        words += f" The count does not run on: {told}."
    words += f" {number(without, 'load')} without a plain number." if without else ""
    rows = in_order(view.facts.loads)[-1:] or in_order(view.facts.bio_tests)[-1:]
    gaps = [str(a[1] + 1) if b[1] - a[1] == 2 else f"{a[1] + 1} to {b[1] - 1}" for a, b in steps]
    gap = [f"cycles {joined(gaps)}"] if gaps else []
    gap += [f"what ran where the count does not run on, {number(len(broken), 'place')}"] if broken else []
    gap += [number(without, "number")] if without else []
    told = f"{'; '.join(gap)}: {question.gap}" if gap else ""
    reply = Reply(IN_PART if gap else YES, words, _cycles(rows), told)
    return measured(place, view, RECENT_MONTHS, reply)
