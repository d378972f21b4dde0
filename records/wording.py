"""Sentences and lists that stand on the forms and in a binder alike: each is written here once. Pure text.

They hold of every clinic, whatever rules it follows.
"""

from __future__ import annotations

FAILED_AT_GROWTH = (
    "A test is failed at growth, whatever its control did; it is invalid, neither passed nor failed, when its "
    "control did not grow or its label was not followed. An invalid test leaves the duty open."
)
WEEK_OF_TEST = "A test counts for the week in which its cycle ran."
WEEK_START = "The week starts on the day the clinic states."
GAP_IS_MISSING = "Evidence that is missing and that somebody accepted as missing, with the reason."
GAP_EXCUSES_NOTHING = "It excuses nothing: what was due in it stays missed."
KNOWN_GAP = f"{GAP_IS_MISSING} {GAP_EXCUSES_NOTHING}"
REPAIR_CLASS = "Routine, significant, major or do not use, as the servicer stated it on the job."
LEAK_RATE = "The rise of pressure divided by the time, in kPa per minute, against the limit as it held that day."
AT_THE_LIMIT = (
    "A value as found or as left beyond the limit stated with it on that day; a value at the limit is inside."
)
LATE_ENTRY = (
    "Three times are kept: when it happened, when it was written down and when it reached the ledger. An entry is "
    "late when it was written after the end of the next working day after it was known."
)
COUNTED_FROM = "Counted from the newest row that counts, by the rule beside it."
SETTLED_BY_DECISION = "It is settled by a recorded decision."
CLOSED_NOT_DUE = "What the rules or a closure exempt was not due and is counted apart with its reason."
# What an entry out of a table that was kept elsewhere names as the paper it was copied from begins with this; where a
# paper is named as well, that comes first.
FROM_TABLE = "table “"
# Why somebody works on a unit, what the clinic says of its contamination, why a test was run: each as it is recorded.
JOB_REASONS = ("planned", "breakdown", "installation", "relocation", "part recall", "validation", "other")
CONTAMINATION = ("declared clean", "declared contaminated", "not declared")
PURPOSES = ("routine", "repeat", "requalification", "after repair", "installation")
# The same at length. All but routine state that the test ran after what they name.
PURPOSE_WORDS = {
    "repeat": "repeat after a failed test",
    "after repair": "after a repair or a move: it ran after that",
    "requalification": "one of the tests in a row before return to use",
    "installation": "after installation",
}
# Making a unit safe before it is opened, in order; where the maker's instructions say another order, theirs. Of each:
# its key, the text it is recorded under (without a colon, which parts it from the answer), its source.
MAKE_SAFE_STEPS = (
    ("clean", "declared clean, or treated as infectious", "29 CFR 1910.1030(d)(2)(xiv)"),
    ("cooled", "cooled, safe to touch", "common practice, no source"),
    ("zero pressure", "zero pressure shown on the gauge", "common practice, no source"),
    ("vacuum", "vacuum broken", "common practice, no source"),
    ("drained", "drained when cool", "common practice, no source"),
    (
        "unplugged",
        "unplugged, plug in sight, or a hard-wired unit locked out and tagged",
        "29 CFR 1910.147(a)(2)(iii)(A) for cord and plug, 1910.147(d) for lockout",
    ),
    ("energy", "stored energy discharged and proven dead", "29 CFR 1910.147(d)(5) and (6)"),
    ("water and air", "water and compressed air isolated", "29 CFR 1910.147(d)(3)"),
    ("generator", "separate steam generator at zero pressure", "common practice, no source"),
    ("protection", "eye, hand and face protection worn", "common practice, no source"),
)
MAKE_SAFE = tuple(text for _, text, _ in MAKE_SAFE_STEPS)
# Of these a unit may have nothing: "not on this unit: no vacuum" answers such a step. The others every unit has.
MAKE_SAFE_IF_FITTED = ("vacuum", "drained", "energy", "water and air", "generator")
NOT_ON_THIS_UNIT = "not on this unit"
# Not those of `calendar`, which follow the locale of the process: a binder has the same bytes wherever it is made.
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
SHORT_MONTHS = tuple(name[:3] for name in MONTHS)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
