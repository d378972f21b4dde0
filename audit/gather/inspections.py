"""Inspections of the place, each with its points and what was done about them."""

from __future__ import annotations

from collections import defaultdict

from audit import facts as f
from records import models as m


def inspections(t) -> f.Ordered:
    """Those in force, in order of their day; `t` is what `gather` has read. Rows are found by any version."""
    points, met, issued = _points(t), _met(t), _issued(t)

    def made(r) -> f.InspectionFact:
        own = (_point(t, p, met) for p in points.get(str(r.origin), ()))
        return f.InspectionFact(
            t.read.row(r), visitor=str(r.visitor), office=r.office, occasion=r.occasion, asked=r.asked,
            binder=issued.get(t.origins.get((m.BinderIssue, r.binder_id))), report=_paper(t, r.report_id),
            points=f.in_order(own),
        )  # fmt: skip

    return f.in_order(made(r) for r in t.force[m.Inspection])


def _points(t) -> dict[str, list]:
    found = defaultdict(list)
    for point in t.force[m.InspectionPoint]:
        found[t.origins.get((m.Inspection, point.inspection_id))].append(point)
    return found


def _met(t) -> dict[str, f.PointMetFact]:
    """By the origin of the point; of several the one logged last."""
    return {
        t.origins.get((m.InspectionPoint, r.point_id)): f.PointMetFact(
            t.read.row(r), outcome=r.outcome, done_by=str(r.done_by), document=_paper(t, r.document_id)
        )
        for r in t.force[m.PointMet]
    }


def _issued(t) -> dict[str, f.IssuedFact]:
    """By its origin every binder that was handed out at an inspection."""
    handed = {t.origins.get((m.BinderIssue, r.binder_id)) for r in t.force[m.Inspection]}
    return {
        str(r.origin): f.IssuedFact(
            t.read.row(r), from_on=r.from_on, to_on=r.to_on, as_of=r.as_of, file_sha256=r.file_sha256
        )
        for r in t.force[m.BinderIssue]
        if str(r.origin) in handed
    }


def _point(t, r, met: dict) -> f.InspectionPointFact:
    return f.InspectionPointFact(
        t.read.row(r), what=r.what, due_on=r.due_on,
        unit=t.origins.get((m.Unit, r.unit_id), "") if r.unit_id else "", citation=r.citation,
        met=met.get(str(r.origin)),
    )  # fmt: skip


def _paper(t, document_id: int | None) -> str:
    return t.origins.get((m.Document, document_id), "") if document_id else ""
