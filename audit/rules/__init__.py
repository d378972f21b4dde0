"""Open items, one rule a file: each looks at a judged unit and yields what is wrong, since when, and the way out."""

from . import (
    after_work,
    awaited_too_long,
    counters,
    invalid_test,
    loads_while_out,
    missed_weeks,
    missing_part,
    not_applicable,
    open_case,
    out_of_date,
    overdue,
    parts,
    readings,
    return_without_proof,
    undecided,
    unknown_fit,
)

RULES = [
    ("open-case", open_case.check),
    ("loads-while-out", loads_while_out.check),
    ("return-without-proof", return_without_proof.check),
    ("after-work", after_work.check),
    ("out-of-date", out_of_date.check),
    ("overdue", overdue.check),
    ("awaited-too-long", awaited_too_long.check),
    ("invalid-test", invalid_test.check),
    ("missing-part", missing_part.check),
    ("unknown-fit", unknown_fit.check),
    ("parts", parts.check),
    ("counters", counters.check),
    ("readings", readings.check),
    ("undecided", undecided.check),
    ("missed-weeks", missed_weeks.check),
    ("not-applicable", not_applicable.check),
]
