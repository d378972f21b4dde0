"""Due items of papers, people and instruments. Common practice, no source, unless a line says otherwise."""

from dataclasses import replace

import pytest

from audit.facts import LocalDutyFact
from audit.judge.clocks import all_clocks
from audit.judge.clocks.last_valid_days import clinic_clocks, paper_clocks
from audit.judge.rules.overdue import findings_of_clinic
from audit.judge.situation import at, clinic_by_day, settle
from audit.regimes import load_regime
from tests.fact_builders import calibration, clinic, credential, document, event, instrument, on, row, unit

BASE = load_regime("base")


def of_place(as_of, **more):
    return clinic_clocks(clinic_by_day(clinic(**more), on(as_of)), BASE, on(as_of))


EDGES = [
    ("2026-01-30", "ok"),
    ("2026-01-31", "due soon"),
    ("2026-03-31", "due soon"),
    ("2026-04-01", "due"),
    ("2026-04-02", "overdue"),
]


@pytest.mark.parametrize(("as_of", "state"), EDGES)
def test_a_last_valid_day_is_in_time_and_shown_sixty_days_before(as_of, state):
    held = credential("2025-04-02", "2026-04-01")
    insured = document("insurance", "2025-04-02", "2026-04-01")
    for clocks in (of_place(as_of, credentials=(held,)), of_place(as_of, documents=(insured,))):
        assert [(c.state, str(c.due_on), str(c.overdue_on)) for c in clocks] == [(state, "2026-04-01", "2026-04-02")]
    calibrated = instrument(calibration("2025-04-02", until="2026-04-01"))
    assert [c.state for c in of_place(as_of, instruments=(calibrated,))] == [state]
    facts = unit(documents=(document("insurance", "2025-04-02", "2026-04-01"),))
    assert [c.state for c in paper_clocks(facts, on(as_of))] == [state]


def test_the_newest_of_a_person_kind_and_title_holds():
    held = (
        credential("2024-01-01", "2025-01-01"),
        credential("2025-01-01", "2026-01-01"),
        credential("2024-01-01", "2024-06-01", person="B. User"),
        credential("2024-01-01", "2024-07-01", kind="licence"),
        credential("2024-01-01", person="C. User"),
    )
    said = {c.title: str(c.due_on) for c in of_place("2025-06-01", credentials=held)}
    assert said == {
        "training: A. User": "2026-01-01",
        "training: B. User": "2024-06-01",
        "licence: A. User": "2024-07-01",
    }


def test_one_that_follows_without_a_gap_carries_it_on():
    old, new = (
        credential("2024-01-01", "2025-03-31", day="2024-01-01"),
        credential("2025-04-01", "2026-03-31", day="2025-03-01"),
    )
    assert [str(c.due_on) for c in of_place("2025-03-15", credentials=(old, new))] == ["2026-03-31"]
    later = replace(new, valid_from=on("2025-04-02"))
    assert [str(c.due_on) for c in of_place("2025-03-15", credentials=(old, later))] == ["2025-03-31"]
    assert [str(c.due_on) for c in of_place("2025-04-02", credentials=(old, later))] == ["2026-03-31"]


def test_one_without_a_last_day_that_took_its_place_ends_the_due_item():
    held = (credential("2024-01-01", "2025-01-01"), credential("2025-01-01"))
    assert of_place("2025-06-01", credentials=held) == ()


def test_an_instrument_never_calibrated_has_no_evidence_and_one_without_a_result_does_not_count():
    never = instrument()
    without = instrument(
        calibration("2025-01-01", "in tolerance", "2025-12-31"), calibration("2025-02-01", "no result")
    )
    out = instrument(calibration("2025-01-01", "out of tolerance", "2026-01-01"))
    assert [c.state for c in of_place("2025-06-01", instruments=(never,))] == ["no evidence"]
    assert [str(c.due_on) for c in of_place("2025-06-01", instruments=(without,))] == ["2025-12-31"]
    assert [str(c.due_on) for c in of_place("2025-06-01", instruments=(out,))] == ["2026-01-01"]


def test_a_duty_of_the_whole_place_is_met_by_its_papers_alone():
    day = on("2024-01-01")
    own = LocalDutyFact(row(day), day, "training", "rolling-months", 12, "own policy")
    papers = (document("training", "2025-01-01"), document("training", "2025-03-01", unit="unit-1"))
    said = of_place("2025-06-01", local_duties=(own,), documents=papers)
    assert [(c.id, c.state, str(c.due_on)) for c in said] == [("duty:training", "ok", "2026-01-01")]
    assert [c.state for c in of_place("2025-06-01", local_duties=(own,))] == ["no evidence"]


def test_papers_that_a_duty_asks_for_are_not_listed_twice():
    regime = load_regime("ie")
    papers = (
        document("pressure examination", "2025-01-01", "2026-01-01"),
        document("insurance", "2025-01-01", "2026-02-01"),
    )
    held = unit(events=(event("2024-01-01"),), documents=papers)
    day = on("2025-06-01")
    clocks = all_clocks(at(settle(held, clinic(held, regime="ie"), regime, day), day).duty)
    assert sorted(c.id.partition(":")[0] for c in clocks) == ["duty", "paper"]
    assert {c.title for c in clocks} == {"Periodic examination under the pressure rules", "insurance"} or len(
        clocks
    ) == 2


def test_open_items_of_the_whole_place():
    clocks = of_place(
        "2025-06-01",
        credentials=(
            credential("2024-01-01", "2025-05-30"),
            credential("2024-01-01", "2026-05-30", person="B. User"),
        ),
        instruments=(instrument(),),
    )
    said = {f.rule: f for f in findings_of_clinic(clocks, on("2025-06-01"))}
    assert set(said) == {"paper-overdue", "no-evidence"}
    assert "2 days overdue, due by 2025-05-30" in said["paper-overdue"].message
    assert (said["paper-overdue"].owner, said["no-evidence"].owner) == ("clinic", "service company")
    assert str(said["paper-overdue"].since) == "2025-05-31"
