"""Every correction and every row entered in error, as facts."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from audit import facts as f
from records import models as m

from .rows import tidy


def _changes(t, old, new) -> tuple[tuple[str, str, str], ...]:
    skipped = {"id", "ref", "entry", "line", "amends", "amend_reason", "origin"}
    found = []
    for field in new._meta.concrete_fields:
        before, after = getattr(old, field.attname), getattr(new, field.attname)
        if field.name not in skipped and before != after:
            found.append((str(field.verbose_name), _told(t, field, old), _told(t, field, new)))
    return tuple(found)


def _told(t, field, row) -> str:
    """The value of a column in words: of a row that is pointed to what it is called, never its key."""
    value = getattr(row, field.attname)
    if value is None or not field.is_relation:
        return _said(value)
    if field.related_model is m.IndicatorLot and value in t.lots:
        return t.lots[value].lot
    if issubclass(field.related_model, m.Fact):
        origin = t.origins.get((field.related_model, value)) or str(getattr(row, field.name).origin)
        return f"record {origin[:8]}"
    return str(getattr(row, field.name))


def _said(value) -> str:
    return f"{tidy(value):f}" if isinstance(value, Decimal) else str(value)


def _correction(t, row, reason, changes) -> f.CorrectionFact:
    unit_id = row.pk if isinstance(row, m.Unit) else getattr(row, "unit_id", None)
    return f.CorrectionFact(
        number=row.entry.number,
        logged_at=row.entry.logged_at,
        logged_by=str(row.entry.logged_by),
        unit=t.origins.get((m.Unit, unit_id), "") if unit_id else "",
        what=str(row._meta.verbose_name),
        ref=str(row.origin),
        happened_on=row.happened_on,
        reason=reason,
        changes=changes,
    )


def corrections(t) -> tuple[f.CorrectionFact, ...]:
    """Every correction and every row entered in error, oldest first."""
    made = []
    by_origin = {}
    for found in (*t.every.values(), *t.books.own()):
        by_id = {r.pk: r for r in found}
        by_origin.update({r.origin: r for r in found})
        for row in found:
            if row.amends_id in by_id:
                made.append(_correction(t, row, row.amend_reason, _changes(t, by_id[row.amends_id], row)))
    for voiding in t.read.voidings:
        row = by_origin.get(voiding.target)
        if row is not None:
            fact = _correction(t, row, voiding.reason, ())
            made.append(_replace_entry(fact, voiding.entry))
    return tuple(sorted(made, key=lambda c: (c.number, c.what, c.ref)))


def _replace_entry(fact, entry):
    return replace(fact, number=entry.number, logged_at=entry.logged_at, logged_by=str(entry.logged_by))
