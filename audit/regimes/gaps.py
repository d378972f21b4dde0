"""What texts ask and these files cannot hold, said where the rules are read: each closed, partly closed, or left.

Kept as data, so that page and command say the same. A gap is closed only where a test holds it.
"""

from __future__ import annotations

from dataclasses import dataclass

CLOSED, PARTLY, LEFT = "closed", "partly closed", "left"
STATES = (CLOSED, PARTLY, LEFT)


@dataclass(frozen=True, slots=True)
class RuleGap:
    """Something that texts ask. `how`: what holds it here, or why it is left and what to do instead."""

    asked: str
    state: str  # one of STATES
    how: str


GAPS = (
    RuleGap(
        "Who must do it: the user, or a test engineer",
        LEFT,
        "A test says who did it, but a duty does not ask whose it must be. An engineer’s quarterly and yearly tests "
        "stand in the notes: enter them as planned tasks.",
    ),
    RuleGap(
        "What a report covers: a quarterly visit is no yearly validation",
        CLOSED,
        "A report counts by its kind: one of the quarterly tests never meets the duty of a validation report.",
    ),
    RuleGap(
        "A vacuum in any part of the cycle, such as drying alone",
        LEFT,
        "A unit is gravity, pump or cassette. A gravity unit that dries by vacuum owes a leak test in some places: "
        "enter it as a planned task.",
    ),
    RuleGap(
        "A chemical indicator in every load or pack",
        PARTLY,
        "A failed indicator speaks against the release, and the answers to inspectors count the loads without one. "
        "Nothing becomes overdue where one is missing.",
    ),
    RuleGap(
        "Tests after a malfunction, a power outage, a fire or flood, or a longer break",
        PARTLY,
        "A repair of a malfunction counts, and a break where the text says how long. An outage, fire or flood is no "
        "event of its own: take the unit out of service and enter a repair.",
    ),
    RuleGap(
        "How often by the number of cycles; how many indicators by the size of the chamber; each kind of cycle",
        PARTLY,
        "In Denmark the stricter of the two, monthly, is entered. How many indicators a test had is not recorded, so "
        "it is not asked; each kind of cycle is asked where that is each day.",
    ),
    RuleGap(
        "An edition that ended before another is on file; a day of compliance later than the day in force",
        PARTLY,
        "The day from which an edition holds no more is on file and is an open item of who follows it. A later day "
        "of compliance is not waited for: rules are asked from the day in force, which is stricter.",
    ),
    RuleGap(
        "The maker’s instructions before the text; one test or another",
        LEFT,
        "What outranks these rules stands beside them, and the clinic’s own duties only add to them. Of two tests "
        "of which either will do the one that shows more is asked.",
    ),
    RuleGap(
        "Where a record lies; an inventory and a register for each device",
        LEFT,
        "It stands in the notes. The record itself is where it can be read; the list of units serves as inventory.",
    ),
    RuleGap(
        "The class of a pressure vessel by pressure and volume",
        LEFT,
        "Neither is recorded of a unit, so every unit is asked. An exemption is a paper of the unit, never taken for "
        "granted: ask the maker which class it is in.",
    ),
)
