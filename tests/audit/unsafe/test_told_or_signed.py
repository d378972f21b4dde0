"""A name that somebody else typed is told, not signed: it takes nothing back and says so.

21 CFR 11.100(a), 11.200(a)(2): a signature is one person's own and used by nobody else.
"""

from dataclasses import replace

import pytest

from audit.judge.judgement import Severity, Word
from audit.judge.response.said import followup_evidence
from tests.audit.unsafe.table import BEGUN, PERMITS, history, holds
from tests.audit.unsafe.test_withdrawals import PROVEN, TITLE, back, out
from tests.fact_builders import case, job, load, outcome, row, sign, step

DAY, LATER = "2025-06-23", "2025-06-25"
CFR = "21 CFR 11.100(a), 11.200(a)(2)"
CODES = ("signed", "entered", "told", "paper", "not asked", "claimed", "")


def signed(given, meaning="returned to use", day=DAY, by="B. Technician"):
    made = sign(day, meaning)
    return replace(made, name="C. Manager", given=given, row=replace(made.row, logged_by=by))


def visit(*signatures, day=DAY):
    return job(day, outcomes=(outcome(day),), signatures=(sign(day), *signatures))


def told(words, *jobs, word, opens=(), loads=()):
    never = () if word in PERMITS else PERMITS
    return history(words, CFR, jobs=jobs, word=word, never=never, opens=opens, events=(BEGUN,), loads=loads)


ROWS = [
    *(
        told(f"refused, and taken back by a name {code or 'of which nothing is said'}", visit(signed("", "refused"),
             signed(code)), word=Word.WAITING if code == "told" else Word.IN_SERVICE)
        for code in CODES
    ),
    *(
        told(f"refused, a later visit taken back by a name {code or 'of which nothing is said'}",
             visit(signed("", "refused")), visit(signed(code, day=LATER), day=LATER),
             word=Word.WAITING if code == "told" else Word.IN_SERVICE)
        for code in CODES
    ),
    told("a refusal that was told holds all the same", visit(signed("told", "refused")), word=Word.WAITING),
    told("taken back, told: an open item", visit(signed("told")), word=Word.IN_SERVICE, opens=("return-only-told",)),
    told("a load released in the name of somebody else: an open item", visit(signed("signed")), word=Word.IN_SERVICE,
         loads=(replace(load(DAY, mechanical="pass"), released_given="told"),), opens=("release-only-told",)),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def found(one, rule):
    return [f for f in one.values[0].judged().findings if f.rule == rule]


@pytest.mark.parametrize("code", [c for c in CODES if c != "told"])
def test_only_what_was_told_is_an_open_item(code):
    loads = (replace(load(DAY, mechanical="pass"), released_given=code),)
    one = told("not told", visit(signed(code)), word=Word.IN_SERVICE, loads=loads)
    assert not found(one, "return-only-told") and not found(one, "release-only-told")


def test_who_told_it_is_said():
    release = replace(load(DAY, "7", mechanical="pass"), released_given="told")
    release = replace(release, row=replace(release.row, logged_by="B. Technician"))
    one = told("told", visit(signed("told")), word=Word.IN_SERVICE, loads=(release,))
    (item,) = found(one, "return-only-told")
    assert item.message == "the return to use of 2025-06-23: C. Manager, told by B. Technician, not signed"
    assert item.severity is Severity.PUT_RIGHT
    (item,) = found(one, "release-only-told")
    assert item.message == "the decision on 1 load(s) was told by somebody else, not signed, on 2025-06-23"
    assert item.evidence[0].text == "cycle 7 of 2025-06-23: released, told by B. Technician, not signed"


def test_one_of_two_returns_signed_is_enough_and_two_told_are_one_item():
    both = told("both", visit(signed("told"), signed("signed")), word=Word.IN_SERVICE)
    assert not found(both, "return-only-told")
    two = told("two", visit(signed("told")), visit(signed("told", day=LATER), day=LATER), word=Word.IN_SERVICE)
    (item,) = found(two, "return-only-told")
    assert item.message.startswith("2 returns to use were told, not signed, the last of 2025-06-25")


def test_a_step_of_a_failure_says_who_told_it():
    done = step("2025-06-17", "return", done="2025-06-18")
    assert "told" not in followup_evidence(done).text
    for by, says in (("A. Doer", False), ("a.  doer", False), ("B. Technician", True)):
        text = followup_evidence(replace(done, done_row=replace(row("2025-06-18"), logged_by=by))).text
        assert ("by A. Doer, told by B. Technician, not signed" in text) is says, text


# A positive spore test of 16 June known on the 17th, when the unit was taken out; proven by the repeat on the 19th.
PROOF_DAY, AFTER = "2025-06-19", "2025-06-20"


def returned(given="", day=AFTER):
    done = step(day, "return", done=day)
    return replace(done, done_given=given, done_row=replace(row(day), logged_by="B. Technician"))


def of_case(words, *steps, word, more=(), opens=()):
    """The unit was taken out as a step of that failure; `steps` are the returns in the case, `more` those by hand."""
    facts = {"bio_tests": PROVEN, "cases": (case("bad", "2025-06-17", *steps),), "events": (BEGUN, OUT, *more)}
    return history(words, CFR, word=word, never=() if word in PERMITS else PERMITS, opens=opens, **facts)


OUT = out("2025-06-17", TITLE)
RETURNED = [
    *(
        of_case(f"a return in the case by a name {code or 'of which nothing is said'}", returned(code),
                word=Word.IN_SERVICE)
        for code in ("entered", "paper", "not asked", "")
    ),
    of_case("a return in the case in the name of somebody else", returned("told"), word=Word.OUT,
            opens=("return-only-told",)),
    of_case("told, then entered by its own person", returned("told"), returned("entered", "2025-06-21"),
            word=Word.IN_SERVICE),
    of_case("entered by its own person, then told once more", returned("entered"), returned("told", "2025-06-21"),
            word=Word.IN_SERVICE),
    of_case("told on the day of the proof", returned("told", PROOF_DAY), word=Word.OUT),
    of_case("told, then returned by hand with the withdrawal named", returned("told"), word=Word.IN_SERVICE,
            more=(back("2025-06-21", ends=OUT.row.ref),)),
]  # fmt: skip


@pytest.mark.parametrize("one", RETURNED)
def test_a_return_in_a_case_that_was_told_ends_no_withdrawal(one):
    holds(one)


def test_a_return_in_a_case_that_was_told_says_who_returns_it():
    one = of_case("told", returned("told"), word=Word.OUT)
    (item,) = found(one, "return-only-told")
    told = "return on 2025-06-20 by A. Doer, told by B. Technician, not signed: return"
    assert item.message == f"{TITLE}: {told}: that ends no withdrawal"
    assert item.way_out.startswith("A. Doer enters the return to use with an own account")
    assert (item.severity, str(item.since)) == (Severity.PUT_RIGHT, AFTER)
    (said,) = one.values[0].judged().cases
    last = next(s for s in said.steps if s.action == "return")
    assert (last.state, last.done_on, last.note) == ("open", None, f"{told}: that is no return")


@pytest.mark.parametrize("later", [returned("entered"), returned("entered", "2025-06-21")])
def test_once_its_own_person_returned_it_nothing_is_open(later):
    assert not found(of_case("both", returned("told"), later, word=Word.IN_SERVICE), "return-only-told")
    early = of_case("before the proof", returned("told"), returned("entered", "2025-06-18"), word=Word.OUT)
    assert found(early, "return-only-told")
    before = of_case("proven, but before", returned("told", "2025-06-21"), returned("entered"), word=Word.IN_SERVICE)
    assert found(before, "return-only-told")
