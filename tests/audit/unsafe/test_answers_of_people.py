"""Who counts when training is asked about: everybody who did something, row by row. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.facts import ChemicalFact
from tests.audit.unsafe.asked import YES, asks, holds, named
from tests.fact_builders import air, bio, credential, leak, load, look, row, user_check

DAY = "2025-06-10"
PART, NO = "in part", "no"
TRAINED = {"credentials": (credential("2025-01-10", person="A. User"),)}
OTHER = "B. User (no training on record)"
UNNAMED = "1 test, check or load without a name"
GOOD = named(load(DAY, "1"))


def told(title, answer, *says, place=None, not_says=(), **facts):
    facts = {"bio_tests": (), "loads": (GOOD,)} | facts
    return asks(
        "people-trained",
        title,
        never=(),
        answer=answer,
        says=says,
        not_says=not_says,
        place=place or TRAINED,
        **facts,
    )


def spore_test(by="A. User", read="A. User", report="", for_="", read_for=""):
    reading = look("2025-06-11", report=report)
    reading = replace(reading, read_by=read, row=replace(reading.row, logged_for=read_for))
    made = bio(DAY, reading)
    return {"bio_tests": (replace(made, run_by=by, row=replace(made.row, logged_for=for_)),)}


def of_company(fact):
    return replace(fact, row=replace(fact.row, logged_for="Invented Service"))


def strip(**more):
    return named(ChemicalFact(row(DAY), 5, "pass", "1", "inside", "C1"), **more)


def decided(by, for_=""):
    return replace(GOOD, released_row=replace(row(DAY), logged_by=by, logged_for=for_))


ROWS = [
    told("a load by somebody trained", YES, "1 of 1 person"),
    told("a load by somebody else", PART, "1 of 2", OTHER, loads=(GOOD, named(load(DAY, "2"), "B. User"))),
    told("a load by nobody named", PART, UNNAMED, loads=(GOOD, load(DAY, "2"))),
    told("a load logged by a company", YES, loads=(GOOD, of_company(named(load(DAY, "2"), "B. User")))),
    told("a load longer ago than a year", YES, loads=(GOOD, named(load("2024-06-26", "2"), "B. User"))),
    told("a load of a year ago to the day", PART, OTHER, loads=(GOOD, named(load("2024-06-27", "2"), "B. User"))),
    told("the same person in other letters", YES, "1 of 1 person", loads=(named(load(DAY, "2"), "a. user"),)),
    told("a load decided about by somebody else", PART, OTHER, loads=(decided("B. User"),)),
    told("a load decided about by nobody named", PART, UNNAMED, loads=(decided(""),)),
    told("a load decided about by a company", YES, loads=(decided("B. User", "Invented Service"),)),
    told("a load not decided about", YES, loads=(replace(decided("B. User"), released=""),)),
    told("a test by the same person", YES, **spore_test()),
    told("a test run by somebody else", PART, OTHER, **spore_test("B. User")),
    told("a test read by somebody else", PART, OTHER, **spore_test(read="B. User")),
    told("a test read by nobody named", PART, UNNAMED, **spore_test(read="")),
    told("a test read by a laboratory", YES, **spore_test(read="B. User", report="R-1")),
    told("a test whose reading a company logged", YES, **spore_test(read="B. User", read_for="Invented Service")),
    told("a test that a company logged", YES, **spore_test("B. User", for_="Invented Service")),
    told("a check signed by somebody else", PART, OTHER, checks=(user_check(DAY, signed="B. User"),)),
    told("a check not signed, logged by somebody else", PART, OTHER,
         checks=(named(user_check(DAY, signed=""), "B. User"),)),
    told("a check signed by one who is trained, logged by somebody else", YES,
         checks=(named(user_check(DAY), "B. User"),)),
    told("a check of a company", YES, checks=(of_company(user_check(DAY, signed="B. User")),)),
    told("an air-removal test by somebody else", PART, OTHER, air_removal=(named(air(DAY), "B. User"),)),
    told("an air-removal test of a company", YES, air_removal=(of_company(named(air(DAY), "B. User")),)),
    told("a leak test by somebody else", PART, OTHER, leaks=(named(leak(DAY), "B. User"),)),
    told("an indicator by somebody else", PART, OTHER, chemical=(strip(logged_by="B. User"),)),
    told("nobody did anything", PART, "Nobody is named", loads=()),
    told("nobody trained", "no record found", "1 person ran tests", place={"credentials": ()}),
    told("only a licence", "no record found", place={"credentials": (credential("2025-01-10", kind="licence"),)}),
    told("only somebody of a company", "no record found",
         place={"credentials": (credential("2025-01-10", holder="service company"),)}),
    told("training that begins tomorrow", "no record found",
         place={"credentials": (replace(credential("2025-06-20"), valid_from=row("2025-06-28").happened_on),)}),
    told("training that ran out", NO, "0 of 1 person",
         place={"credentials": (credential("2025-01-10", "2025-06-26"),)}),
    told("training renewed after it ran out", YES,
         place={"credentials": (credential("2024-07-01", "2025-06-26"), credential("2025-06-20"))}),
    told("trained, somebody else's training ran out", PART, "1 of 2", "B. User (valid from",
         place={"credentials": (*TRAINED["credentials"], credential("2025-01-10", "2025-06-26", person="B. User"))}),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_who_counts(row):
    holds(row)
