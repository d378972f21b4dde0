"""What is said beside a lot that was looked for: that it is recalled, was taken out, or was corrected."""

from __future__ import annotations

from records import models as m
from records.log.recalls import means, taken_out


def marks_of_fitted(rows: list[m.FittedPart], notices: list[m.PartRecall]) -> list[list[str]]:
    """For each of these fitted parts its marks; two queries, none without rows."""
    if not rows:
        return []
    out = taken_out(rows)
    return [
        [
            *_recalled(notices, row.name, row.number, (row.lot, row.receipt_lot), row.happened_on),
            *([f"taken out by {out[row.origin]}"] if row.origin in out else []),
            *_corrected(row),
        ]
        for row in rows
    ]


def marks_of_lots(rows: list[m.PartLot], notices: list[m.PartRecall]) -> list[list[str]]:
    """For each of these lots its marks. A notice that means days of fitting means it whenever it may be fitted."""
    return [
        [
            *_recalled(notices, row.part.name, row.part.number, (row.lot, row.receipt_lot), None),
            *_corrected(row),
        ]
        for row in rows
    ]


def _recalled(notices, name: str, number: str, lots, on):
    for notice in notices:
        day = on or notice.made_from or notice.made_to or notice.happened_on
        if means(notice, name=name, number=number, lots=lots, on=day):
            yield f"recalled: notice of {notice.happened_on} ({notice.action})"
            return


def _corrected(row) -> list[str]:
    return [f"corrected: {row.amend_reason}"] if row.amends_id else []
