"""Faults that were reported, and visits that were agreed, each with what became of it."""

from __future__ import annotations

from audit import facts as f
from records import models as m


def fault(t, r, settled: dict) -> f.FaultFact:
    """A reported fault; `settled` are the entries that settle one, by the origin of the report."""
    return f.FaultFact(
        t.read.row(r), reported_by=str(r.reported_by), how=r.how, what=r.what,
        withdrawal=t.origins.get((m.UnitEvent, r.withdrawal_id), "") if r.withdrawal_id else "",
        kept_because=r.kept_because, settled=settled.get(str(r.origin)),
    )  # fmt: skip


def settled_faults(t) -> dict[str, f.FaultSettledFact]:
    """By the origin of the report; of several the one logged last."""
    return {
        t.origins.get((m.FaultReport, r.fault_id)): f.FaultSettledFact(
            t.read.row(r), outcome=r.outcome, settled_by=str(r.settled_by)
        )
        for r in t.force[m.FaultSettled]
    }


def agreed_visits(t) -> f.Ordered:
    """Those in force, moved and called off ones among them, in order of the day on which they were agreed."""
    off = {
        t.origins.get((m.VisitAgreed, r.agreed_id)): f.VisitCalledOffFact(
            t.read.row(r), reason=r.reason, told_by=str(r.told_by), told_to=str(r.told_to), how=r.how
        )
        for r in t.force[m.VisitCalledOff]
    }
    return f.in_order(_agreed(t, r, off.get(str(r.origin))) for r in t.force[m.VisitAgreed])


def _agreed(t, r, called_off) -> f.VisitAgreedFact:
    company = t.read.organisations.get(r.company_id)
    return f.VisitAgreedFact(
        t.read.row(r), company=company.name if company else "", visit_on=r.visit_on, hour=r.hour,
        agreed_with=str(r.agreed_with), agreed_by=str(r.agreed_by), how=r.how, about=r.about,
        instead_of=t.origins.get((m.VisitAgreed, r.instead_of_id), "") if r.instead_of_id else "",
        reason=r.reason, called_off=called_off,
    )  # fmt: skip
