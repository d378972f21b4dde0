"""The words that a fact may carry where it carries one of a few, by field. What is not listed is free text.

Shared by the reader of the open format and its schema; a test holds them against the choices of the record.
"""

from __future__ import annotations

from .clinic import CalibrationFact, CredentialFact, LocalDutyFact, PartRecallFact, TermsFact
from .monitoring import (
    AirRemovalFact,
    BioReadingFact,
    BioTestFact,
    CaseFact,
    ChemicalFact,
    FollowUpFact,
    LeakFact,
    LoadFact,
    LotFact,
    UserCheckFact,
)
from .names import GIVEN
from .recordings import RECORDING_VERDICTS, CycleRecordingFact
from .service import ConclusionFact, FindingFact, OutcomeFact, PartFact, ReadingFact, SignatureFact, VerificationFact
from .stock import WORDS as _OF_STOCK
from .unit import CounterFact, FitFact, PlacementFact, PlanLineFact, UnitEventFact
from .whole import UnitFacts
from .work import FaultFact, VisitAgreedFact, VisitCalledOffFact

_ACTIONS = ("inspect", "clean", "lubricate", "replace", "test", "calibrate")
_CLASSES = ("A", "B", "C", "X")
_HOW = ("on site", "telephone", "message")
_NAMED = ("entered", "told", "paper", "not asked", "")  # how a name that is typed came in: nobody signs by that
_PASS_FAIL = ("pass", "fail")
_RECORDED = ("pass", "fail", "not recorded")
_CHAMBER = ("empty", "full", "not stated")
_PURPOSES = ("routine", "repeat", "requalification", "after repair", "installation")

WORDS: dict[type, dict[str, tuple]] = {
    TermsFact: {"programme": ("dental", "medical", "veterinary", "body art"), "week_start": tuple(range(7))},
    LocalDutyFact: {
        "every": (
            "calendar-week",
            "calendar-week-with-patients",
            "calendar-month",
            "calendar-quarter",
            "calendar-year",
            "rolling-days",
            "rolling-months",
            "day-of-use",
            "day-of-use-and-cycle-type",
            "stated-date",
        )
    },
    CredentialFact: {"kind": ("training", "licence", "competence", "other")},
    CalibrationFact: {"result": ("in tolerance", "adjusted", "out of tolerance", "no result")},
    PartRecallFact: {"action": ("replace", "inspect", "use until", "stop use")},
    PlacementFact: {"use": ("in use", "stored as spare")},
    FitFact: {"state": ("yes", "none", "missing", "unknown")},
    PlanLineFact: {"action": _ACTIONS, "repair_class": _CLASSES},
    UnitEventFact: {
        "kind": ("installed", "relocated", "withdrawn", "returned", "decommissioned", "loaner in", "loaner out"),
        "given": tuple(GIVEN),
    },
    CounterFact: {"counter": ("cycles", "hours")},
    OutcomeFact: {
        "action": _ACTIONS,
        "outcome": ("done", "not due", "deferred", "not possible", "not applicable", "not done"),
    },
    FindingFact: {
        "grade": (0, 1, 2, 3),
        "decision": ("leave", "clean", "adjust", "repair kit", "replace", "part awaited", "condemn"),
        "repair_class": _CLASSES,
    },
    PartFact: {
        "lot_state": ("printed", "not printed", "unreadable"),
        "action": ("replaced on plan", "replaced on condition", "found in place"),
        "kit_fate": ("fitted", "old one kept", "left out", "not in the bag", ""),
    },
    VerificationFact: {
        "code": tuple(f"V{n}" for n in range(1, 11)),
        "result": ("pass", "fail", "not done", "not applicable"),
    },
    ReadingFact: {"found_while": ("", "before cool-down", "after cool-down")},
    SignatureFact: {
        "meaning": ("released", "returned to use", "left out of use", "refused", "nobody present"),
        "given": tuple(GIVEN),
    },
    ConclusionFact: {
        "conclusion": ("released", "limited", "pending", "not released", "not worked on"),
        "accepted_given": _NAMED,
    },
    LotFact: {"kind": ("biological", "chemical")},
    BioReadingFact: {
        "test": ("growth", "no growth", "no result"),
        "control": ("growth", "no growth", "no result", "not stated"),
    },
    BioTestFact: {
        "chamber": _CHAMBER,
        "purpose": _PURPOSES,
        "site": ("clinic", "laboratory"),
        "mechanical": _RECORDED,
        "chemical": _RECORDED,
    },
    ChemicalFact: {"type": (1, 2, 3, 4, 5, 6), "result": ("pass", "fail", "not read")},
    AirRemovalFact: {"result": _PASS_FAIL, "chamber": _CHAMBER, "purpose": (*_PURPOSES, "")},
    LeakFact: {"result": _PASS_FAIL, "purpose": (*_PURPOSES, "")},
    LoadFact: {
        "released": ("released", "rejected", ""),
        "mechanical": (*_RECORDED, ""),
        "chemical": (*_RECORDED, ""),
        "packs": ("dry", "wet", "not recorded", ""),
        "released_given": tuple(GIVEN),
        "pack_condition": ("intact", "damaged", "not recorded", ""),
    },
    UserCheckFact: {
        "kind": ("automatic control", "safety check", "thermometer comparison", "water", "air detector"),
        "result": ("pass", "fail", "not done"),
        "purpose": (*_PURPOSES, ""),
    },
    FollowUpFact: {
        "done_given": tuple(GIVEN),
        "action": (
            "withdraw",
            "review",
            "retest",
            "recall packs",
            "find cause",
            "confine",
            "repair",
            "notify",
            "return",
            "other",
        ),
    },
    CaseFact: {
        "kind": (
            "biological",
            "air removal",
            "air leak",
            "chemical",
            "mechanical",
            "automatic control",
            "safety check",
            "air detector",
            "wet packs",
        )
    },
    CycleRecordingFact: {"how": ("upload", "collected"), "verdict": RECORDING_VERDICTS},
    FaultFact: {"how": _HOW},
    VisitAgreedFact: {"how": _HOW},
    VisitCalledOffFact: {"how": _HOW},
    UnitFacts: {"equipment_type": ("gravity", "dynamic air removal", "cassette")},
}

WORDS |= _OF_STOCK
