"""A decision that somebody else typed in the name of who decides decides nothing, and an open item says who does.

21 CFR 11.100(a), 11.200(a)(2). A return to use, that a pending result is accepted, and that a failure was confined to
one load are decisions; that a repair was done or a cause found is a thing that happened: common practice, no source.
"""

from dataclasses import replace

import pytest

from audit.judge.judgement import Severity, Word
from tests.audit.judge.rules.test_fault_reported import fault
from tests.audit.unsafe.table import BEGUN, PERMITS, TESTED, history, holds
from tests.audit.unsafe.test_classes_add_up import EARLY, PLACES, RENEWED, WHOLE
from tests.audit.unsafe.test_recall_after_a_positive import AGAIN, EMPTY, positive
from tests.audit.unsafe.test_recall_after_a_positive import told as after_positive
from tests.audit.unsafe.test_refused_return import visit as at_visit
from tests.audit.unsafe.test_told_or_signed import CFR, found
from tests.audit.unsafe.test_withdrawals import PROVEN, TITLE, back, in_case, out
from tests.fact_builders import bio, case, conclude, event, job, row, sign, step

CODES = ("signed", "passkey", "entered", "told", "paper", "not asked", "claimed", "")
DAY, LATER = "2025-06-12", "2025-06-13"
WORDS = "C. Manager, told by B. Technician, not signed"


def by(fact, given, who="C. Manager"):
    return replace(fact, by=who, given=given, row=replace(fact.row, logged_by="B. Technician"))


def told_back(day=DAY, given="told", **more):
    return by(back(day, **more), given)


def events(words, *made, word, opens=(), **more):
    never = () if word in PERMITS else PERMITS
    return history(words, CFR, word=word, never=never, opens=opens, events=(BEGUN, *made), **more)


ONLY = ("return-only-told",)
BY_NAME = {"ends": "out-2025-06-10"}
SCRAPPED = event("2025-06-10", "decommissioned", "too old")
STEP_OF_CASE = in_case()

RETURNS = [
    *(
        events(f"withdrawn, returned by a name {code or 'of which nothing is said'}", out(), told_back(given=code),
               word=Word.OUT if code == "told" else Word.IN_SERVICE)
        for code in CODES
    ),
    events("a return told that names the withdrawal", out(), told_back(**BY_NAME), word=Word.OUT, opens=ONLY),
    events("a return told that names none", out(), told_back(), word=Word.OUT, opens=ONLY),
    events("told of the same day with both times", out(at="09:00"), told_back("2025-06-10", at="15:00"),
           word=Word.OUT, opens=ONLY),
    events("told, then entered by its own person", out(), told_back(), told_back(LATER, "entered"),
           word=Word.IN_SERVICE),
    events("told by name, then entered by name", out(), told_back(**BY_NAME), told_back(LATER, "entered", **BY_NAME),
           word=Word.IN_SERVICE),
    events("entered by its own person, then told once more", out(), told_back(given="entered"), told_back(LATER),
           word=Word.IN_SERVICE),
    events("two withdrawals, one returned, the other told", out(), out("2025-06-11", "leaks"),
           told_back(given="entered", ends="out-2025-06-11"), told_back(LATER, **BY_NAME), word=Word.OUT, opens=ONLY),
    events("two withdrawals, the told return leaves both open: one that names none ends none of them",
           out(), out("2025-06-11", "leaks"), told_back(**BY_NAME), told_back(LATER, "entered"), word=Word.OUT),
    events("decommissioned, and returned by a name that was told", SCRAPPED, told_back(), word=Word.NOT_IN_USE,
           opens=ONLY),
    events("decommissioned, and returned by its own person", SCRAPPED, told_back(given="entered"),
           word=Word.IN_SERVICE),
    events("the withdrawal of a failure, proven, its return told", out("2025-06-17", TITLE),
           told_back("2025-06-20", ends="out-2025-06-17"), word=Word.OUT, opens=ONLY, **STEP_OF_CASE),
    events("the same, entered", out("2025-06-17", TITLE), told_back("2025-06-20", "entered", ends="out-2025-06-17"),
           word=Word.IN_SERVICE, **STEP_OF_CASE),
    events("a refusal to take back, and a return by hand told", told_back("2025-06-25"), word=Word.WAITING,
           opens=ONLY, jobs=(at_visit(sign("2025-06-23", "refused")),)),
    events("a refusal to take back, and a return by hand entered", told_back("2025-06-25", "entered"),
           word=Word.IN_SERVICE, jobs=(at_visit(sign("2025-06-23", "refused")),)),
    events("a withdrawal that was told holds all the same", by(out(), "told"), word=Word.OUT),
]  # fmt: skip


@pytest.mark.parametrize("one", RETURNS)
def test_a_return_told_ends_nothing(one):
    holds(one)


def test_a_return_told_says_who_returns_it():
    one = events("told", out(), told_back(ref="told"), word=Word.OUT)
    (item,) = found(one, "return-only-told")
    assert item.message == f"the return to use of 2025-06-12: {WORDS}: that ends no withdrawal"
    assert item.way_out.startswith("C. Manager signs it on the page of that record with an own account, or enters")
    assert (item.severity, str(item.since)) == (Severity.PUT_RIGHT, DAY)
    assert [(e.ref, e.text) for e in item.evidence] == [("told", f"returned on 2025-06-12: {WORDS}")]


def test_several_told_are_one_item_and_once_returned_none():
    two = events("twice", out(), told_back(), told_back(LATER), word=Word.OUT)
    (item,) = found(two, "return-only-told")
    assert item.message.startswith("2 returns to use were told, not signed, the last of 2025-06-13")
    for code in ("signed", "entered", "paper", "not asked", "claimed", ""):
        for day in (DAY, LATER):
            one = events("then entered", out(), told_back(), told_back(day, code), word=Word.IN_SERVICE)
            assert not found(one, "return-only-told"), (code, day)
    late = events("entered before it was told", SCRAPPED, told_back("2025-06-11", "entered"), told_back(),
                  word=Word.IN_SERVICE)  # fmt: skip
    assert found(late, "return-only-told")


def test_of_a_return_told_the_unit_is_not_in_service_since():
    one = events("told once more", out(), told_back(given="entered"), told_back("2025-06-20"), word=Word.IN_SERVICE)
    assert str(one.values[0].judged().standing.since) == DAY


def test_a_return_told_is_no_return_of_the_case():
    made = {"bio_tests": PROVEN, "cases": (case("bad", "2025-06-17"),)}
    for given, proof in (("told", 0), ("entered", 1)):
        one = events("case", told_back("2025-06-20", given), word=Word.IN_SERVICE, **made)
        (said,) = one.values[0].judged().cases
        last = next(s for s in said.steps if s.action == "return")
        assert len(last.evidence) == proof, given


def test_the_weeks_after_a_return_told_stay_owed():
    """It may have been used since: that nobody signed the return takes nothing away of what was owed."""
    tests = tuple(t for t in TESTED if str(t.row.happened_on) < "2025-04-01")
    held = {"bio_tests": (*tests, bio("2025-06-25"))}
    missed = []
    for given in ("told", "entered"):
        back_in_june = told_back("2025-06-24", "entered")
        one = events("weeks", out("2025-04-01"), told_back("2025-04-08", given), back_in_june, word=Word.IN_SERVICE,
                     opens=("missed-week",), **held)  # fmt: skip
        holds(one.values[0])
        missed.append([f.message for f in found(one, "missed-week")])
    assert missed[0] == missed[1]


@pytest.mark.parametrize(("given", "is_open"), [("told", True), ("entered", False), ("", False)])
def test_a_fault_stays_open_where_the_return_of_its_withdrawal_was_told(given, is_open):
    reported = replace(fault(withdrawal="out-2025-06-10"), row=row("2025-06-10"))
    one = events("fault", out(), told_back(LATER, given, **BY_NAME), word=Word.OUT if is_open else Word.IN_SERVICE,
                 faults=(reported,))  # fmt: skip
    assert bool(found(one, "fault-reported")) is is_open


# ---------------------------------------------------------------------------- a pending result that is accepted

VISIT, LAST = "2025-06-23", "2025-07-30"


def accepted(given, *signatures, deadline=LAST):
    end = replace(conclude(VISIT, "pending", acceptor="C. Manager", deadline=deadline), accepted_given=given)
    end = replace(end, row=replace(end.row, logged_by="B. Technician"))
    return job(VISIT, tests=WHOLE, conclusion=end, signatures=(sign(VISIT), *signatures), **RENEWED)


def took_back(given):
    return replace(sign(VISIT, "returned to use"), given=given)


def pending(words, visit, *, word, opens=(), **more):
    held = {"positions": PLACES, "bio_tests": EARLY} | more
    return history(words, CFR, word=word, never=() if word is Word.LIMITED else (*PERMITS, Word.LIMITED), opens=opens,
                   jobs=(visit,), events=(BEGUN,), **held)  # fmt: skip


TOLD_PENDING = ("acceptance-only-told",)
PENDING = [
    *(
        pending(f"accepted by a name {code or 'of which nothing is said'}", accepted(code), word=Word.LIMITED)
        for code in ("entered", "paper", "not asked", "")
    ),
    pending("accepted in the name of somebody else", accepted("told"), word=Word.WAITING, opens=TOLD_PENDING),
    pending("the same, and taken back by a name that was told", accepted("told", took_back("told")),
            word=Word.WAITING, opens=TOLD_PENDING),
    *(
        pending(f"the same, and taken back by a name {code or 'of which nothing is said'}",
                accepted("told", took_back(code)), word=Word.LIMITED)
        for code in CODES if code != "told"
    ),
    pending("the same, the taking back refused", accepted("told", replace(sign(VISIT, "refused"), given="signed")),
            word=Word.WAITING, opens=TOLD_PENDING),
    pending("told, and the deadline over", accepted("told", deadline="2025-06-26"), word=Word.WAITING,
            opens=("pending-past-deadline", *TOLD_PENDING)),
]  # fmt: skip


@pytest.mark.parametrize("one", PENDING)
def test_that_a_pending_result_is_accepted_is_the_clinics_own_word(one):
    holds(one)


def test_an_acceptance_told_says_who_accepts():
    (item,) = found(pending("told", accepted("told"), word=Word.WAITING), "acceptance-only-told")
    assert item.message == (
        "work of 2025-06-23: that C. Manager accepts the pending spore test was entered by B. Technician and signed "
        "by nobody at the clinic: it is not accepted"
    )
    assert "C. Manager signs the return to use of that visit" in item.way_out
    assert item.severity is Severity.FORBIDS
    over = pending("over", accepted("told", deadline="2025-06-26"), word=Word.WAITING)
    (item,) = found(over, "acceptance-only-told")
    assert "signs" not in item.way_out and item.severity is Severity.PUT_RIGHT
    for code in ("entered", "paper", "not asked", ""):
        assert not found(pending("own", accepted(code), word=Word.LIMITED), "acceptance-only-told")


def test_once_the_result_is_known_nothing_is_open_of_it():
    spores = tuple(bio(f"2025-06-{n}", result="pass", known="2025-06-27") for n in (24, 25, 26))
    one = history("known", CFR, word=Word.IN_SERVICE, jobs=(accepted("told"),), events=(BEGUN,), positions=PLACES,
                  bio_tests=(*EARLY, *spores))  # fmt: skip
    holds(one.values[0])
    assert not found(one, "acceptance-only-told")


# -------------------------------------------------------------------- causes, repairs, confined to one load


def told_step(action, given="told", day="2025-06-19"):
    done = step(day, action, done=day, outcome="pack in the wrong tray")
    return replace(done, done_given=given, done_row=replace(row(day), logged_by="B. Technician"))


def of_case(words, *steps, word, opens=(), bio_tests=None, regime="us-dental-cdc-2003"):
    held = after_positive(positive(), AGAIN, *EMPTY) if bio_tests is None else {"bio_tests": bio_tests}
    cases = (case(positive().row.ref, "2025-06-17", *steps),)
    return history(words, "common practice, no source", word=word, never=() if word in PERMITS else PERMITS,
                   opens=opens, cases=cases, regime=regime, **held)  # fmt: skip


CAUSES = [
    of_case("a failed repeat, the cause told, three negative: who entered it vouches for it", told_step("find cause"),
            word=Word.IN_SERVICE, opens=("cause-only-told",)),
    of_case("a repair by a technician from outside, told", told_step("repair"), word=Word.IN_SERVICE,
            opens=("cause-only-told",)),
    of_case("the cause told before the repeat, which refuted it", told_step("find cause", day="2025-06-17"),
            word=Word.OUT, opens=("cause-only-told",)),
]  # fmt: skip


@pytest.mark.parametrize("one", CAUSES)
def test_a_cause_told_is_the_word_of_who_entered_it(one):
    holds(one)
    (item,) = [f for f in one.judged().findings if f.rule == "cause-only-told"]
    assert item.severity is Severity.NOTE
    said = "told by B. Technician, not signed: pack in the wrong tray: it counts as the word of B. Technician"
    assert item.message.endswith(said)


@pytest.mark.parametrize("given", ["entered", "paper", "not asked", ""])
def test_a_cause_of_its_own_person_leaves_nothing_open(given):
    one = of_case("own", told_step("find cause", given), word=Word.IN_SERVICE)
    both = of_case("both", told_step("find cause"), told_step("find cause", given), word=Word.IN_SERVICE)
    assert not found(one, "cause-only-told") and not found(both, "cause-only-told")


ST79 = "us-healthcare-st79-2017"


@pytest.mark.parametrize("given", CODES[2:6])
def test_a_recall_is_limited_only_by_who_decides_it(given):
    """ST79:2006: no recall where the cause is known at once and confined to one load."""
    one = of_case("confined", told_step("confine", given, "2025-06-17"), word=Word.OUT, regime=ST79,
                  bio_tests=(*EARLY[:-1], positive()))  # fmt: skip
    (said,) = one.values[0].judged().cases
    (mine,) = [s for s in said.steps if s.action == "confine"]
    limited = given != "told"
    assert ("only the load of the failed test" in said.recall) is limited, said.recall
    assert bool(found(one, "confined-only-told")) is not limited
    assert (mine.state, mine.done_on is None) == (("done", False) if limited else ("open", True))
