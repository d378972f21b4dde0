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
# The usual cautions before a cover comes off: 29 CFR 1910.147 for stored energy, the rest common practice, no source.
MAKE_SAFE = (
    "user confirms the unit is free and wiped",
    "switched off",
    "zero pressure confirmed by gauge and by venting",
    "cooled down",
    "unplugged, plug in sight, before the cover comes off",
    "drained",
)
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
