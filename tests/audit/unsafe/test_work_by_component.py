"""What was touched decides the least class of work and its tests; a stated class is higher or does not count."""

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.fact_builders import air, bio, job, leak, line, outcome, part, position, seen

DAY, AS_OF = "2025-06-23", "2025-06-27"
ST79 = "ST79 as quoted in public: vessel weld, door, vacuum pump, generator, control rebuild are major"
TRADE = "component table of the trade; common practice, no source"
GRAVITY, VACUUM = "gravity", "dynamic air removal"
EARLY = TESTED[:-1]
SPORES = tuple(bio(f"2025-06-{n}", result="pass", known="2025-06-27") for n in (24, 25, 26))
AIRS = tuple(air(f"2025-06-{n}") for n in (24, 25, 26))
WAIT, GOOD = Word.WAITING, Word.IN_SERVICE


def told(words, what, tests, word, *, type=GRAVITY, bio_tests=EARLY, airs=(), source=TRADE, says=(), **more):
    """`what`: the name of a part that was replaced on condition, at a position of that name."""
    code = what.replace(" ", "-")
    more = {"parts": (part(DAY, code, "replaced on condition", what),)} | more
    work = job(DAY, reason="breakdown", tests=tests, **more)
    never = () if word in PERMITS else PERMITS
    held = {"type": type, "positions": (position(code),), "jobs": (work,), "bio_tests": bio_tests}
    return history(words, source, as_of=AS_OF, never=never, word=word, says=says, air_removal=airs, **held)


V1, V12 = ("V1",), ("V1", "V2")
PROVEN = {"bio_tests": (*EARLY, *SPORES)}
ROWS = [
    told(
        "vacuum pump, stated routine, V1 and V2", "vacuum pump", V12, WAIT, type=VACUUM, class_stated="A", source=ST79
    ),
    told(
        "vacuum pump with everything but three air-removal tests",
        "vacuum pump",
        ("V1", "V2", "V3", "V4"),
        WAIT,
        type=VACUUM,
        source=ST79,
        **PROVEN,
    ),
    told(
        "vacuum pump with everything",
        "vacuum pump",
        ("V1", "V2", "V3", "V4"),
        GOOD,
        type=VACUUM,
        airs=AIRS,
        source=ST79,
        **PROVEN,
    ),
    told("control board, stated routine", "control board", V12, WAIT, class_stated="A", source=ST79),
    told("door, stated routine", "door", V12, WAIT, class_stated="A", source=ST79),
    told("door, three spore tests, no V6", "door", ("V1", "V4"), WAIT, source=ST79, **PROVEN),
    told("door, three spore tests and V6", "door", ("V1", "V4", "V6"), GOOD, source=ST79, **PROVEN),
    told("pressure vessel, stated routine", "pressure vessel", V12, WAIT, class_stated="A", source=ST79),
    told("vessel weld", "vessel weld", ("V1", "V4"), WAIT, source=ST79),
    told("steam generator, no spore tests", "steam generator", ("V1", "V4", "V5"), WAIT, source=ST79),
    told("firmware", "firmware", ("V1", "V4"), WAIT, source=ST79),
    told("safety valve, V1 and V2", "safety valve", V12, WAIT),
    told("safety valve, V1 and V4, no V6", "safety valve", ("V1", "V4"), WAIT, says=("V6",)),
    told("safety valve, V1, V4 and V6", "safety valve", ("V1", "V4", "V6"), GOOD),
    told("door-latch interlock, V1 and V2", "door latch interlock", V12, WAIT, says=("V6",)),
    told("latch, V1", "latch", V1, WAIT, says=("V6",)),
    told("latch, V1 and V6", "latch", ("V1", "V6"), GOOD),
    told("lid latches, V1", "lid latches", V1, WAIT),
    told("hinge, V1", "door hinge", V1, WAIT, says=("V6",)),
    told("seal seat, V1 and V4", "seal seat", ("V1", "V4"), WAIT, says=("V6",)),
    told("thermal cut-out without V6", "thermal cut-out", ("V1", "V4", "V5"), WAIT),
    told("thermal cut-out with V5 and V6", "thermal cut-out", ("V1", "V4", "V5", "V6"), GOOD),
    told("relay without V5", "relay", ("V1", "V4", "V6"), WAIT),
    told("temperature sensor, V1 and V2", "temperature sensor", V12, WAIT, says=("V4",)),
    told("temperature sensor, V1 and V4", "temperature sensor", ("V1", "V4"), GOOD),
    told("pressure gauge, V1", "pressure gauge", V1, WAIT),
    told("heating element without V5", "heating element", ("V1", "V4"), WAIT, says=("V5",)),
    told("heating element with V4 and V5", "heating element", ("V1", "V4", "V5"), GOOD),
    told("cover, V1", "side panel", V1, WAIT, says=("V5",)),
    told("cover, V1 and V5", "side panel", ("V1", "V5"), GOOD),
    told("mains cord, V1", "mains cord", V1, WAIT, says=("V5",)),
    told("solenoid valve of a vacuum unit, V1 and V2", "solenoid valve", V12, WAIT, type=VACUUM, says=("V3",)),
    told("solenoid valve of a vacuum unit, V1, V2 and V3", "solenoid valve", ("V1", "V2", "V3"), GOOD, type=VACUUM),
    told(
        "solenoid valve of a vacuum unit, the air-removal test of the day after",
        "solenoid valve",
        V12,
        GOOD,
        type=VACUUM,
        airs=AIRS[:1],
    ),
    told(
        "solenoid valve of a vacuum unit, the air-removal test of the day, time not known",
        "solenoid valve",
        V12,
        WAIT,
        type=VACUUM,
        airs=(air(DAY),),
    ),
    told("solenoid valve of a gravity unit, V1", "solenoid valve", V1, GOOD),
    told("pump diaphragm of a vacuum unit, V1 and V2", "pump diaphragm", V12, WAIT, type=VACUUM),
    told(
        "pump diaphragm of a vacuum unit with V3 and V4",
        "pump diaphragm",
        ("V1", "V2", "V3", "V4"),
        GOOD,
        type=VACUUM,
    ),
    told("door gasket of a gravity unit, V1", "door gasket", V1, GOOD),
    told("door gasket of a vacuum unit, V1", "door gasket", V1, WAIT, type=VACUUM, says=("V2",)),
    told("door gasket of a vacuum unit, V1 and V2", "door gasket", V12, GOOD, type=VACUUM),
    told("filter of a vacuum unit, V1 and V2", "bacteria-retentive air filter", V12, GOOD, type=VACUUM),
    told("something that nobody knows, V1", "flux thing", V1, WAIT),
    told("something that nobody knows, stated routine without a reason", "flux thing", V1, WAIT, class_stated="A"),
    told(
        "something that nobody knows, stated routine with a reason",
        "flux thing",
        V1,
        GOOD,
        class_stated="A",
        class_reason="a name plate, no function",
    ),
    told("something that nobody knows, a reason and no class", "flux thing", V1, WAIT, class_reason="a name plate"),
    told(
        "a vacuum pump is not lowered by a reason",
        "vacuum pump",
        V1,
        WAIT,
        class_stated="A",
        class_reason="like for like",
    ),
    told("a seal, stated major: three spore tests", "seal", ("V1", "V4"), WAIT, class_stated="C"),
    told(
        "a part named “vacuum pump” at the position of the seal",
        "seal",
        V1,
        WAIT,
        parts=(part(DAY, "seal", "replaced on condition", "Vacuum pump, Model One"),),
    ),
    told(
        "a part without a useful name at the position of the pump",
        "vacuum pump",
        V1,
        WAIT,
        parts=(part(DAY, "vacuum-pump", "replaced on condition", "spare part"),),
    ),
    told("a sensor adjusted, V1", "sensor", V1, WAIT, parts=(), findings=(seen(DAY, "sensor", 1, "adjust"),)),
    told(
        "a sensor looked at and left, V1", "sensor", V1, GOOD, parts=(), findings=(seen(DAY, "sensor", 1, "leave"),)
    ),
    told("a solenoid cleaned, V1", "solenoid", V1, GOOD, parts=(), findings=(seen(DAY, "solenoid", 1, "clean"),)),
    told(
        "a latch lubricated, V1",
        "latch",
        V1,
        WAIT,
        parts=(),
        outcomes=(outcome(DAY, "", "latch", "lubricate"),),
        says=("V6",),
    ),
    told(
        "a hinge lubricated, V1",
        "hinge",
        V1,
        GOOD,
        parts=(),
        outcomes=(outcome(DAY, "", "hinge", "lubricate"),),
    ),
    told("a chamber cleaned, V1", "chamber", V1, GOOD, parts=(), outcomes=(outcome(DAY, "", "chamber", "clean"),)),
    told(
        "a safety valve tested, V1",
        "safety valve",
        V1,
        GOOD,
        parts=(),
        outcomes=(outcome(DAY, "", "safety-valve", "test"),),
    ),
    told("calibrated, V1", "", V1, WAIT, parts=(), outcomes=(outcome(DAY, "", "", "calibrate"),), says=("V4",)),
    told(
        "found in place: nothing was changed",
        "vacuum pump",
        V1,
        GOOD,
        parts=(part(DAY, "vacuum-pump", "found in place", "vacuum pump"),),
        outcomes=(outcome(DAY, "", "", "inspect"),),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_what_is_not_known_is_an_open_item_that_names_it_and_the_way_out():
    row = told("unknown", "flux thing", V1, WAIT).values[0]
    item = next(f for f in row.judged().findings if f.rule == "component-not-known")
    assert "flux thing" in item.message and "state the class" in item.way_out


def test_a_leak_test_of_the_clinic_run_after_the_work_stands_for_v2():
    work = job(DAY, parts=(part(DAY),))
    for leaks, word in (
        ((leak("2025-06-24"),), GOOD),
        ((leak(DAY),), WAIT),
        ((leak(DAY, purpose="after repair"),), GOOD),
    ):
        held = {"type": VACUUM, "jobs": (work,), "leaks": leaks, "bio_tests": EARLY}
        holds(history("gasket", as_of=AS_OF, word=word, **held).values[0])


def test_the_line_of_the_plan_says_what_it_is_where_nothing_else_does():
    plan = (line("renew-pump", "", "replace", day="2025-06-01"),)
    work = job(DAY, outcomes=(outcome(DAY, "renew-pump", ""),))
    row = history("pump by the plan", as_of=AS_OF, word=WAIT, jobs=(work,), plan=plan, bio_tests=EARLY).values[0]
    holds(row)
    assert "component-not-known" not in {f.rule for f in row.judged().findings}
