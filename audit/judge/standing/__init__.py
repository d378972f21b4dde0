"""May this unit be used: the ordered rules R1 to R11; the first that holds gives the answer.

| rule | holds when | word |
| --- | --- | --- |
| R1 | decommissioned, on loan elsewhere, stored as a spare, not installed yet | Not in use |
| R2 | a safety finding "do not use", a recalled part to stop use still in, a safety part missing | Out of service |
| R2 | something must be replaced, its part is awaited, and nobody allowed a use until then | Out of service |
| R3 | the last valid day of the pressure examination has passed | Out of service |
| R4 | a failed test not yet resolved, several failed cycles in a row; or withdrawn by hand | Out of service |
| R5 | tests, release or return after work are not complete; a value was left out of limits | Waiting for proof |
| R5 | it was released with a limitation that nobody stated | Waiting for proof |
| R5 | it came as a loaner or was moved, and nothing has proved it where it stands now | Waiting for proof |
| R6 | only the biological result is pending, and somebody at the clinic accepted that until a day | Limited |
| R7 | released with a limitation | Limited |
| R8 | a test or check that the rules ask is overdue | In service, overdue |
| R9 | planned service, validation or a paper is overdue or without evidence | In service, overdue |
| R10 | a known gap in the evidence within the last 24 months | In service |
| R11 | none of these | In service |

Where the rules forbid use until a thing is done, it counts more: tests after an event (installed, moved, repaired)
keep the unit waiting for proof (R5), a legal examination takes it out of service (R3), and any other such duty takes
it out of service under R8, which is then looked at before R5; one of each day of use that is not done yet today keeps
it waiting for proof until it is (R5, after that R8). Where the rules do not forbid use before it, R8 to R11 say in
their reason that it is due before the first load today.

The order is common practice, no source; each rule's own source is shown where there is one.
"""

from __future__ import annotations

from audit.judge.judgement import UnitStanding
from audit.judge.situation import Situation

from .after_work import (
    only_told,
    r5,
    r5_event,
    r6,
    r7,
    refusal_words,
    refused_return,
    waits_for_spores,
    way_back,
    why_waiting,
)
from .arrived import arrivals_with_proof, r5_arrived
from .awaited import AwaitedPart, awaited_parts, stopped_by_awaited
from .by_hand import Withdrawal, returns_that_count, withdrawals
from .in_service import GAP_MONTHS, r10, r11
from .late import r5_today, r8, r8_forbidding, r9
from .not_in_use import r1
from .safety import SafetyFinding, missing_guards, open_safety, r2, still_to_replace
from .stopped import pressure_report, r3, r4_by_hand, r4_case
from .tools import TAKEN_BACK

__all__ = [
    "GAP_MONTHS",
    "RULES_IN_ORDER",
    "TAKEN_BACK",
    "AwaitedPart",
    "SafetyFinding",
    "Withdrawal",
    "arrivals_with_proof",
    "awaited_parts",
    "missing_guards",
    "only_told",
    "open_safety",
    "pressure_report",
    "refusal_words",
    "refused_return",
    "returns_that_count",
    "stand",
    "still_to_replace",
    "waits_for_spores",
    "way_back",
    "why_waiting",
    "withdrawals",
]

# What takes the unit out comes before what lets it wait: of two answers the one that permits less.
RULES_IN_ORDER = (
    r1,
    r2,
    stopped_by_awaited,
    r3,
    r4_case,
    r4_by_hand,
    r8_forbidding,
    r5,
    r5_event,
    r5_arrived,
    r5_today,
    r6,
    r7,
    r8,
    r9,
    r10,
)


def stand(s: Situation) -> UnitStanding:
    """The first rule that holds on the day; `holds_until` is left None (see `audit.judge.holding`)."""
    for rule in RULES_IN_ORDER:
        found = rule(s)
        if found is not None:
            return found
    return r11(s)
