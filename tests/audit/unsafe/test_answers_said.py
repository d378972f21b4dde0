"""What an answer says is so: its sentences are counted again by second functions that share nothing with the first.

Day by day and row by row over random histories; nothing here is quick. What only one function can tell, as the words
of how a duty was kept, is left to its own tests.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.facts import ClinicFacts
from audit.facts.dates import add_months
from audit.judge.answers.registry import OF_PLACE, OF_UNIT
from tests.audit.judge.answers.asking import place_of, question
from tests.examples import examples
from tests.fact_builders import counter, credential
from tests.strategies import LAST, between, clinics, of

YES, NO, IN_PART, NONE = "yes", "no", "in part", "no record found"
DAY = timedelta(days=1)
SLOW = {"suppress_health_check": list(HealthCheck), "deadline": None}
RESULTS = st.sampled_from(["pass", "pass", "pass", "fail", "not recorded"])
NUMBERS = st.sampled_from(["", "A", *map(str, range(1, 9))])
PEOPLE = st.sampled_from(["", "A. User", "B. User"])
RELEASED = st.sampled_from(["released", "released", "rejected", ""])
SHOWN = st.lists(st.integers(0, 60), max_size=3)
HELD = st.lists(st.tuples(of("A. User", "B. User"), of("2025-01-05", "2024-06-01")), max_size=2)


@st.composite
def recorded(draw) -> ClinicFacts:
    """A random history whose loads and tests carry numbers, results and names, or do not."""
    facts = draw(clinics())
    unit = facts.units[0]

    def filled(one):
        more = {"cycle_number": draw(NUMBERS), "mechanical": draw(RESULTS), "chemical": draw(RESULTS)}
        if hasattr(one, "released"):
            more["released"] = draw(RELEASED)
            more["row"] = replace(one.row, logged_by=draw(PEOPLE))
        else:
            more["run_by"] = draw(PEOPLE)
        return replace(one, **more)

    shown = draw(SHOWN)
    counts = tuple(
        counter(date(2025, 1, 1) + timedelta(days=120 * n), sum(shown[: n + 1])) for n in range(len(shown))
    )
    unit = replace(
        unit,
        loads=tuple(map(filled, unit.loads)),
        bio_tests=tuple(map(filled, unit.bio_tests)),
        counters=(unit.counters, counts, ())[draw(between(0, 2))],
    )
    held = tuple(credential(day, person=who) for who, day in draw(HELD))
    return replace(facts, units=(unit,), credentials=held)


def place(facts):
    return place_of(facts, facts.terms[0].regime, LAST)


def reply(id, asked):
    one = question(id)
    if one.per == "place":
        return OF_PLACE[one.answers](asked, one)
    return OF_UNIT[one.answers](asked, asked.views[0], one)


def day_of(fact) -> date:
    return fact.row.happened_on


def days(first, last):
    return [first + n * DAY for n in range((last - first).days + 1)]


# ------------------------------------------------------------------------------------------------ cycles


def cycles_on(unit, day) -> int:
    """Cycles logged of one day: loads, numbered tests, leak tests, tests of a visit, and what cannot be a load's."""
    loads = [x for x in unit.loads if day_of(x) == day]
    tests = [t for t in (*unit.bio_tests, *unit.air_removal) if day_of(t) == day]
    work = [t for j in unit.jobs for t in j.tests if day_of(t) == day and t.code in ("V1", "V2", "V3")]
    numbers = {f.cycle_number for f in (*loads, *tests, *work, *_named(unit, day)) if f.cycle_number}
    plain_loads = [x for x in loads if not x.cycle_number]
    of_loads = len({x.cycle_number for x in loads if x.cycle_number}) + len(plain_loads)
    unnumbered = [t for t in tests if not t.cycle_number]
    empty = [t for t in unnumbered if t.chamber == "empty"]
    maybe = max(0, len(unnumbered) - len(empty) - of_loads)
    ran = [t for t in work if t.result in ("pass", "fail") and not t.cycle_number]
    leaks = [x for x in unit.leaks if day_of(x) == day]
    return len(numbers) + len(plain_loads) + len(empty) + maybe + len(ran) + len(leaks)


def _named(unit, day):
    return [f for f in (*unit.chemical, *unit.checks) if day_of(f) == day]


def logged(unit, first, last) -> int:
    return sum(cycles_on(unit, day) for day in days(first, last))


def counter_missing(unit, first) -> int | None:
    """Cycles shown by readings after the last fall and not logged; None where two readings do not tell."""
    rows = sorted((day_of(c), c.row.number, c.total) for c in unit.counters if c.counter == "cycles")
    kept = []
    for n, (day, _, total) in enumerate(rows):
        slip = kept and total < kept[-1][1] and n + 1 < len(rows) and rows[n + 1][2] >= kept[-1][1]
        if not slip:
            kept.append((day, total))
    for n in range(len(kept) - 1, 0, -1):
        if kept[n][1] < kept[n - 1][1]:
            kept = kept[n:]
            break
    while len(kept) > 1 and kept[1][0] < first:
        kept = kept[1:]
    if len(kept) < 2:
        return None
    missing = 0
    if kept[0][0] < first:
        (day, total), (after, more) = kept[:2]
        short = max(0, int(more - total) - logged(unit, day + DAY, after))
        inside = len([d for d in days(day + DAY, after) if d >= first])
        missing += -(-short * inside // (after - day).days)
        kept = kept[1:]
    (day, total), (after, more) = kept[0], kept[-1]
    return missing + max(0, int(more - total) - logged(unit, day + DAY, after))


@settings(max_examples=examples(60), **SLOW)
@given(recorded())
def test_cycles_logged_and_missing_are_those_on_record(facts):
    unit, asked = facts.units[0], place(facts)
    first = add_months(LAST, -12)
    said = reply("mechanical-each-load", asked)
    told = re.search(r"([\d,]+)(?: of about ([\d,]+))? cycles logged", said.words)
    if told is None:
        assert said.answer == NONE
        return
    count, ran = (int((n or "0").replace(",", "")) for n in told.groups())
    assert count == logged(unit, first, LAST)
    shown = counter_missing(unit, first)
    if shown:
        assert ran - count >= shown  # the numbers may show more
    if said.answer == YES:
        assert not ran and not shown
        read = [day_of(c) for c in unit.counters if c.counter == "cycles"]
        numbered = [day_of(x) for x in (*unit.loads, *unit.bio_tests) if x.cycle_number.isdigit()]
        assert len(set(read)) > 1 or len(numbered) > 1


# ------------------------------------------------------------------------------------------------ loads

_GOOD = {
    "mechanical-each-load": lambda x: x.mechanical in ("pass", "fail"),
    "chemical-each-pack": lambda x: x.chemical in ("pass", "fail"),
}


@settings(max_examples=examples(60), **SLOW)
@given(recorded(), st.sampled_from(sorted(_GOOD)))
def test_so_many_of_so_many_loads(facts, id):
    said = reply(id, place(facts))
    loads = [x for x in facts.units[0].loads if day_of(x) >= add_months(LAST, -12)]
    good = sum(map(_GOOD[id], loads))
    if not loads:
        assert said.answer == NONE
        return
    assert said.words.startswith(f"{good} of {len(loads)} load")
    assert said.answer == NO if good == 0 else said.answer in ((YES, IN_PART) if good == len(loads) else (IN_PART,))


@settings(max_examples=examples(60), **SLOW)
@given(recorded())
def test_no_failed_load_is_called_kept_from_use(facts):
    said = reply("failed-loads-not-used", place(facts))
    unit = facts.units[0]
    bad_tests = {(day_of(t), t.cycle_number) for t in unit.bio_tests if "fail" in (t.mechanical, t.chemical)}
    bad = [
        x
        for x in unit.loads
        if "fail" in (x.mechanical, x.chemical) or (x.cycle_number and (day_of(x), x.cycle_number) in bad_tests)
    ]
    unread = [x for x in unit.loads if x not in bad and "not recorded" in (x.mechanical, x.chemical)]
    if said.answer == YES:
        assert unit.loads and not unread and all(x.released == "rejected" for x in bad)
    if said.answer != NONE:
        assert f"{len(bad)} with a failed result" in said.words and f"{len(unread)} without" in said.words


# ------------------------------------------------------------------------------------------------ failures


@settings(max_examples=examples(100), **SLOW)
@given(recorded(), st.sampled_from(["out-until-proven", "proven-before-reuse"]))
def test_no_load_is_on_record_only_where_none_is(facts, id):
    asked = place(facts)
    said, unit = reply(id, asked), facts.units[0]
    kind = question(id).about
    cases = [c for c in asked.views[0].said.cases if c.phase != "entered in error" and kind in ("", c.kind)]
    tests = {(day_of(t), t.cycle_number) for t in (*unit.bio_tests, *unit.air_removal) if t.cycle_number}

    def inside(case, ends: bool):
        last = case.resolved_on or LAST + DAY
        loads = [x for x in unit.loads if (day_of(x), x.cycle_number) not in tests]
        if ends:
            return [x for x in loads if case.known_on <= day_of(x) <= last]
        return [x for x in loads if case.known_on < day_of(x) < last]

    clear = [c for c in cases if not inside(c, True)]
    assert said.words.count("no load is on record in between") <= len(clear)
    if cases and said.answer == YES:
        assert not any(inside(c, False) for c in cases)
    path = asked.regime.path
    if any(inside(c, False) for c in cases if path(c.kind) and path(c.kind).withdraws):
        assert said.answer == NO
    if not cases and said.answer == YES:
        assert not any("fail" in (x.mechanical, x.chemical) for x in (*unit.loads, *unit.bio_tests)) or kind
        assert any(t.readings for t in unit.bio_tests) or not kind


@settings(max_examples=examples(60), **SLOW)
@given(recorded())
def test_packs_are_called_recalled_only_where_the_recall_is_done_or_none_was_asked(facts):
    asked = place(facts)
    said = reply("packs-recalled", asked)
    cases = [c for c in asked.views[0].said.cases if c.phase != "entered in error"]
    assert "no recall was asked: no recall" not in said.words
    if said.answer == YES:
        for case in cases:
            done = any(f.action == "recall packs" and f.done_on for c in facts.units[0].cases for f in c.followups)
            assert done if case.recall.startswith("recall") else case.phase == "returned"


@settings(max_examples=examples(60), **SLOW)
@given(recorded())
def test_two_answers_count_the_same_failures(facts):
    asked = place(facts)
    counts = {
        m.group(1)
        for id in ("out-until-proven", "packs-recalled")
        for m in [re.search(r"(\d+) failures? on record", reply(id, asked).words)]
        if m
    }
    cases = [c for c in asked.views[0].said.cases if c.phase != "entered in error"]
    assert counts <= {str(len(cases))}


# ------------------------------------------------------------------------------------------------ how far back


def idle_days(unit) -> set[date]:
    """The days up to LAST on which the unit was stored, withdrawn or gone all day, day by day."""
    out, stopped, stored = set(), False, False
    placed = {}
    for p in sorted(unit.placements, key=lambda p: (p.effective_on, p.row.number)):
        placed[p.effective_on] = p.use == "stored as spare"
    events = sorted(unit.events, key=lambda e: (day_of(e), e.row.number))
    for day in days(date(2024, 11, 1), LAST):
        stored = placed.get(day, stored)
        was = stopped
        for event in (e for e in events if day_of(e) == day):
            if event.kind in ("withdrawn", "decommissioned", "loaner out"):
                stopped = True
            elif event.kind in ("returned", "installed", "loaner in"):
                stopped = False
        if stored or (was and stopped and not any(day_of(e) == day and e.kind in _BACK for e in events)):
            out.add(day)
    return out


_BACK = ("returned", "installed", "loaner in")


@settings(max_examples=examples(60), **SLOW)
@given(recorded())
def test_loads_are_called_kept_only_without_a_longer_time_of_use_without_one(facts):
    unit, asked = facts.units[0], replace(place(facts))
    said = reply("load-log-kept", asked)
    if said.answer in (NONE, "not asked here"):
        assert said.answer != NONE or not unit.loads
        return
    begin = min(day_of(e) for e in unit.events if e.kind in ("installed", "loaner in"))
    asked_from = max((o for o in _oldest_days(asked) if o), default=None) and min(o for o in _oldest_days(asked) if o)
    shut = {d for c in facts.closures for d in days(c.from_on, min(c.to_on, LAST))} | idle_days(unit)
    loaded = {day_of(x) for x in unit.loads}
    since, gap = 0, False
    for day in days(max(begin, asked_from), LAST):
        since += day not in shut
        gap = gap or since > 31
        if day in loaded:
            since = 0
    if gap:
        assert said.answer == IN_PART and "loads: nothing from" in said.words + said.gap
    else:
        assert "loads: nothing from" not in said.words


def _oldest_days(asked):
    for rule in asked.regime.retention:
        if rule.calendar_years:
            yield date(LAST.year - rule.calendar_years, 1, 1)
        elif rule.months:
            yield add_months(LAST, -rule.months) if rule.starts == "record" else date(1900, 1, 1)


# ------------------------------------------------------------------------------------------------ people, papers


@settings(max_examples=examples(60), **SLOW)
@given(recorded())
def test_so_many_of_so_many_people(facts):
    said, unit = reply("people-trained", place(facts)), facts.units[0]
    held = {c.person.casefold() for c in facts.credentials}
    first = add_months(LAST, -12)
    looks = [r for t in unit.bio_tests for r in t.readings if day_of(r) <= LAST]  # not read yet on that day
    did = {t.run_by for t in unit.bio_tests} | {r.read_by for r in looks}
    did |= {c.signed_by for c in unit.checks} | {x.row.logged_by for x in unit.loads}
    everyone = held | {name.casefold() for name in did if name}
    good = [p for p in held if any(c.valid_from >= first for c in facts.credentials if c.person.casefold() == p)]
    if not held:
        assert said.answer == NONE
        return
    assert said.words.startswith(f"The training of {len(good)} of {len(everyone)} p")
    if said.answer == YES:
        assert len(good) == len(everyone) and "" not in did
        assert did  # somebody is named
    else:
        assert len(good) < len(everyone) or "" in did or not did or unit.air_removal or unit.leaks


@settings(max_examples=examples(40), **SLOW)
@given(recorded(), st.sampled_from(["pressure-examined", "validated-yearly"]))
def test_a_paper_answers_only_by_its_kind_and_in_date(facts, id):
    said, one = reply(id, place(facts)), question(id)
    papers = [d for d in facts.units[0].documents if d.kind == one.about and d.valid_from <= LAST]
    held = [d for d in papers if d.valid_to is None or d.valid_to >= LAST]
    fresh = [d for d in held if add_months(d.valid_from, one.months) >= LAST]
    assert said.answer == (YES if fresh else IN_PART if held else NO if papers else NONE)


# ------------------------------------------------------------------------------------------------ laws


@settings(max_examples=examples(60), **SLOW)
@given(recorded(), st.data())
def test_a_result_that_is_not_known_turns_no_answer_into_yes(facts, data):
    unit = facts.units[0]
    if not unit.loads:
        return
    n = data.draw(st.integers(0, len(unit.loads) - 1))
    lost = data.draw(st.sampled_from(["mechanical", "chemical", "released", "cycle_number"]))
    less = replace(unit.loads[n], **{lost: "" if lost in ("released", "cycle_number") else "not recorded"})
    other = replace(facts, units=(replace(unit, loads=(*unit.loads[:n], less, *unit.loads[n + 1 :])),))
    before, after = place(facts), place(other)
    ids = ("mechanical-each-load", "chemical-each-pack", "loads-released-on-proof", "failed-loads-not-used")
    for id in (*ids, "each-item-documented", "cycle-numbers", "no-data-no-release", "implant-loads-tested"):
        if reply(id, before).answer != YES:
            assert reply(id, after).answer != YES, (id, lost)
