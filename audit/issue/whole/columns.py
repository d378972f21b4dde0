"""The tables of a clinic's record, one a kind of row: which columns each has, and what they mean."""

from __future__ import annotations

import csv
from io import StringIO

from django.db import models

from audit.issue.whole import check
from records.ledger import canon
from records.models import fact_model

_HEADS = ("table", "what a row is", "column", "what it means", "how it is written", "empty means")
_OF_FIRST = {
    "entry": ("number of the entry of the ledger", "whole number"),
    "line": ("line in that entry", "whole number"),
    "logged_at": ("moment at which it was logged", "moment in UTC"),
    "logged_by": ("who logged it, as signed", "name"),
    "account": ("log-in under which it was logged", "ref, see ledger/register.json"),
    "ref": ("name of this version of the row", "ref"),
    "origin": ("name of the first version of the row; other rows point to it", "ref"),
    "amends": ("version that this one corrects; the newest version counts", "ref"),
    "amend_reason": ("why it was corrected", "text"),
    "happened_on": ("day on which it happened, by the clinic's calendar", "day, year-month-day"),
}
_KINDS = {
    "BooleanField": "yes or no", "DateField": "day, year-month-day", "DateTimeField": "moment in UTC",
    "DecimalField": "number with a point", "UUIDField": "ref", "JSONField": "JSON",
    "IntegerField": "whole number", "BigIntegerField": "whole number", "PositiveIntegerField": "whole number",
    "PositiveSmallIntegerField": "whole number",
}  # fmt: skip


def columns_of(kind: str) -> list[str]:
    """The columns of the table of a kind: `check.FIRST`, then the other fields of the newest form in their order."""
    form = canon.form_of(canon.newest_form())
    own = sorted({*form[canon.FACT], *form[kind]} - {*check.FIRST})
    return [*check.FIRST, *own]


def dictionary(kinds: list[str]) -> bytes:
    """What each column of these tables means, as CSV in UTF-8."""
    text = StringIO()
    table = csv.writer(text)
    table.writerow(_HEADS)
    for kind in kinds:
        model = fact_model(kind)
        of_table = (f"{kind}.csv", model._meta.verbose_name)
        for column in columns_of(kind):
            means, written, empty = _of(model, column)
            table.writerow([check.plain(each) for each in (*of_table, column, means, written, empty)])
    return ("\ufeff" + text.getvalue()).encode()


def _of(model: type[models.Model], column: str) -> tuple[str, str, str]:
    if column in _OF_FIRST:
        return (*_OF_FIRST[column], "the first version" if column == "amends" else "")
    field = model._meta.get_field(column)
    means = f"{field.verbose_name}" + (f". {field.help_text}" if field.help_text else "")
    empty = model.EMPTY_MEANS.get(column, "nothing was written" if field.blank else "")
    if field.is_relation:
        to = field.related_model._meta
        named = any(f.name == "digest" for f in to.concrete_fields)
        return means, "name" if named else f"ref of {to.verbose_name}", empty
    written = _KINDS.get(field.get_internal_type(), "text")
    if field.choices:
        written += ": " + ", ".join(str(value) for value, _ in field.flatchoices)
    return means, written, empty
