"""What several things ask of one job is asked together; a defect, or a later visit, takes nothing of it away."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.fact_builders import bio, conclude, job, leak, line, outcome, part, position, seen

DAY, LATER, LAST, AS_OF = "2025-06-23", "2025-06-24", "2025-06-25", "2025-06-27"
ST79 = "ST79 clause 13 (qualification): after installation, relocation, malfunction and major repair"
PLACES = tuple(position(code) for code in ("pump", "latch", "seal", "valve"))
EARLY = TESTED[:-1]  # the last one of them is of 18 June
WHOLE = ("V1", "V4", "V6")
RENEWED = {"parts": (part(DAY, "pump", "replaced on condition", "vacuum pump"),)}
MORE = {"findings": (seen(DAY, "latch", 3, "adjust", "X"),)}
ACCEPTED = conclude(LATER, "pending", acceptor="C. Manager", deadline="2025-07-30")
SPORES = tuple(bio(f"2025-06-{n}", result="pass", known="2025-06-27") for n in (24, 25, 26))


def told(words, *jobs, word=Word.WAITING, source=ST79, bio_tests=EARLY, never=PERMITS, **more):
    never = () if word in PERMITS else never
    held = {"positions": PLACES, "jobs": jobs, "bio_tests": bio_tests}
    return history(words, source, as_of=AS_OF, never=never, word=word, **(held | more))


ROWS = [
    told("relocated, no spore test since", job(DAY, reason="relocation", tests=WHOLE)),
    told(
        "relocated and a defect found and repaired: still three spore tests",
        job(DAY, reason="relocation", tests=WHOLE, **MORE),
    ),
    told("pump renewed", job(DAY, tests=WHOLE, **RENEWED)),
    told("pump renewed and a defect “do not use” found and repaired", job(DAY, tests=WHOLE, **RENEWED, **MORE)),
    told(
        "pump renewed and a part condemned: out of service, not in service",
        job(DAY, tests=WHOLE, findings=(seen(DAY, "seal", 2, "condemn"),), **RENEWED),
        word=Word.OUT,
    ),
    told(
        "installed, and the class stated as “do not use”",
        job(DAY, reason="installation", tests=WHOLE, class_stated="X"),
        word=Word.OUT,
    ),
    told(
        "pump renewed, three spore tests since",
        job(DAY, tests=WHOLE, **RENEWED),
        bio_tests=(*EARLY, *SPORES),
        word=Word.IN_SERVICE,
    ),
    told("pump renewed, two spore tests since", job(DAY, tests=WHOLE, **RENEWED), bio_tests=(*EARLY, *SPORES[:2])),
    told(
        "pump and latch: the latch's V6 is asked beside what the pump asks",
        job(DAY, tests=("V1", "V4"), parts=(*RENEWED["parts"], part(DAY, "latch", "replaced on condition", "latch"))),
        bio_tests=(*EARLY, *SPORES),
    ),
    told("a defect “do not use” adjusted: at least what significant work asks", job(DAY, tests=("V1", "V6"), **MORE)),
    told("the same with V4", job(DAY, tests=WHOLE, **MORE), word=Word.IN_SERVICE),
    told(
        "class stated lower than the plan's line",
        job(DAY, class_stated="A", outcomes=(outcome(DAY),)),
        plan=(line(repair_class="B", day="2025-06-01"),),
    ),
    told(
        "class stated lower than the finding's",
        job(DAY, class_stated="A", findings=(seen(DAY, "seal", 1, "replace", "C"),), parts=(part(DAY),)),
    ),
    told(
        "not released; the next visit is pending and accepted: the first one is not answered",
        job(DAY, end="not released", tests=(), outcomes=(outcome(DAY),)),
        job(LATER, conclusion=ACCEPTED, outcomes=(outcome(LATER),)),
    ),
    told(
        "not released; the next visit pending, its spore test negative since",
        job(DAY, end="not released", tests=(), outcomes=(outcome(DAY),)),
        job(LATER, conclusion=ACCEPTED, outcomes=(outcome(LATER),)),
        bio_tests=(*EARLY, bio(LAST, result="pass", purpose="after repair")),
    ),
    told(
        "not released; the next visit released with its tests",
        job(DAY, end="not released", tests=(), outcomes=(outcome(DAY),)),
        job(LATER, outcomes=(outcome(LATER),)),
        word=Word.IN_SERVICE,
    ),
    told(
        "pump renewed and not released; the next visit changes a seal and is released: three spore tests still",
        job(DAY, end="not released", tests=WHOLE, **RENEWED),
        job(LATER, outcomes=(outcome(LATER),)),
    ),
    told(
        "latch renewed without V6 and not released; the next visit released without V6",
        job(DAY, end="not released", parts=(part(DAY, "latch", "replaced on condition", "latch"),)),
        job(LATER, outcomes=(outcome(LATER),)),
    ),
    told(
        "not released; the next visit released with a limitation: limited",
        job(DAY, end="not released", tests=(), outcomes=(outcome(DAY),)),
        job(LATER, end="limited", outcomes=(outcome(LATER),)),
        word=Word.LIMITED,
    ),
    told(
        "released with a limitation; a later visit pending and then proven lifts no limitation",
        job(DAY, end="limited", outcomes=(outcome(DAY),)),
        job(LATER, conclusion=ACCEPTED, outcomes=(outcome(LATER),)),
        bio_tests=(*EARLY, bio(LAST, result="pass")),
        word=Word.LIMITED,
    ),
    told(
        "limited and released on one day without times: limited",
        job(DAY, end="limited", outcomes=(outcome(DAY),)),
        job(DAY, outcomes=(outcome(DAY),)),
        word=Word.LIMITED,
    ),
    told(
        "released with a limitation, and nobody says which",
        job(DAY, conclusion=conclude(DAY, "limited", ""), outcomes=(outcome(DAY),)),
    ),
    told(
        "the same, and a later visit released without one",
        job(DAY, conclusion=conclude(DAY, "limited", ""), outcomes=(outcome(DAY),)),
        job(LATER, outcomes=(outcome(LATER),)),
        word=Word.IN_SERVICE,
    ),
    told("a seal renewed and the visit closed as “not worked on”", job(DAY, end="not worked on", parts=(part(DAY),))),
    told(
        "looked at and closed as “not worked on”",
        job(DAY, end="not worked on", tests=(), outcomes=(outcome(DAY, what="not due"),)),
        word=Word.IN_SERVICE,
    ),
    told(
        "started and not concluded; a visit of the day, order unknown, is released",
        job(DAY, end="", outcomes=(outcome(DAY),)),
        job(DAY, outcomes=(outcome(DAY),)),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


@pytest.mark.parametrize("regime", ["us-ca-body-art", "us-nj-body-art", "neha-body-art-model", "base"])
def test_silence_of_a_place_asks_the_air_removal_tests_of_the_common_rules(regime):
    """ST79:2006 Table 8; the texts of these places speak of spore tests alone."""
    work = job(DAY, tests=("V1", "V2", "V3", "V4"), **RENEWED)
    spores = (*EARLY, *SPORES)
    held = {
        "type": "dynamic air removal",
        "positions": PLACES,
        "jobs": (work,),
        "bio_tests": spores,
        "leaks": (leak(LATER),),
    }
    row = history(
        "pump of a vacuum unit",
        ST79,
        as_of=AS_OF,
        regime=regime,
        never=PERMITS,
        word=Word.WAITING,
        says=("3 more passing air-removal test(s) in a row",),
        **held,
    ).values[0]
    holds(row)


def test_a_defect_never_makes_an_answer_more_permitting():
    for reason in ("planned", "relocation", "installation"):
        work = job(DAY, reason=reason, tests=WHOLE, outcomes=(outcome(DAY),))
        plain = _word(work)
        for decision in ("leave", "adjust", "replace", "condemn", "clean", "repair kit"):
            for letter in ("A", "B", "C", "X"):
                worse = replace(work, findings=(seen(DAY, "latch", 3, decision, letter),))
                assert _word(worse).rank <= plain.rank, (reason, decision, letter)


def _word(work):
    held = {"positions": PLACES, "jobs": (work,), "bio_tests": EARLY}
    return history("defect", as_of=AS_OF, not_says=("nothing of the kind",), **held).values[0].judged().standing.word
