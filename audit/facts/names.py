"""What things are called: repair classes, tests before return to service, grades of condition, how a name came in."""

from __future__ import annotations

from collections.abc import Iterable

# The four repair classes by their letters and by the words on screen and paper.
_CLASSES = {"A": "routine", "B": "significant", "C": "major", "X": "do not use"}

# The tests before return to service. Common practice, no source.
TESTS = {
    "V1": "function cycle, readings compared",
    "V2": "air leakage or pressure hold",
    "V3": "steam penetration",
    "V4": "calibration check",
    "V5": "electrical safety",
    "V6": "interlock, safety valve, cut-outs",
    "V7": "one spore test (biological indicator)",
    "V8": "qualification set of spore tests",
    "V9": "performance requalification with load",
    "V10": "statutory examination",
}

GRADES = {0: "0 as new", 1: "1 worn", 2: "2 at its limit", 3: "3 failed"}

TOLD, SIGNED, PASSKEY, CLAIMED = "told", "signed", "passkey", "claimed"
# How the name of who signed came into the record, by its code; "" where nothing says so.
GIVEN = {
    SIGNED: "signed with pass phrase",
    PASSKEY: "signed with passkey",
    "entered": "entered while signed in, not signed",
    TOLD: "told by {by}, not signed",
    "paper": "copied from paper by {by}",
    "not asked": "told or signed: not asked then",
    CLAIMED: "signed, as the file says that was read",
    "": "",
}


def given_words(code: str, by: str) -> str:
    """How a name came in, in words; `by`: who entered it, "" where that is not known."""
    return GIVEN[code].format(by=by or "somebody else")


def repair_class(value: str) -> str:
    """Letter or word of a repair class as the word; other text unchanged."""
    return _CLASSES.get(value, value) or "not stated"


def titles(codes: Iterable[str]) -> str:
    """Tests before return to service as a list, each by its code and name; what stands behind a code stays."""
    split = (code.partition(" ") for code in codes)
    return ", ".join(f"{test_title(code)}{gap}{rest}" for code, gap, rest in split)


def test_title(code: str) -> str:
    """The code of a test before return to service with its name; a code that is none of them unchanged."""
    return f"{code} {TESTS[code]}" if code in TESTS else code
