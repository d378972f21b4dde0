"""The facts of a clinic as last read, so that a page need not read forty tables again. A cache, never evidence.

What was kept is used only while the ledgers of the clinic, and of the companies whose books are read for it, stand
where they stood, their names in the register and the names erased on demand are the same, and the code that reads
and keeps facts is the same. Where ledgers only grew by what a day brings, that is added (`grown`). Otherwise, and
when it is damaged, the tables are read and the facts kept anew. Binders, exports and whatever is asked for as known
at a moment are always read from the tables.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Collection
from functools import cache
from pathlib import Path

from django.db import DatabaseError, transaction
from django.db.models import DateField, Func, IntegerField, Q, Subquery

from audit.facts import ClinicFacts
from audit.models import FactsCache
from records import clock
from records import models as m

from . import marks
from .grown import grown, may_grow
from .packing import Damaged, packed, unpacked, written
from .read import clinic_facts
from .recordings import judging_digest, unread

logger = logging.getLogger(__name__)
AUDIT = Path(__file__).parents[1]


@cache
def code_digest() -> str:
    """A digest of everything that decides what the facts of a row are and how they are kept."""
    records = AUDIT.parent / "records"
    folders = (AUDIT / "gather", AUDIT / "facts", records / "models")
    files = [path for folder in folders for path in sorted(folder.glob("*.py"))] + [records / "late.py"]
    parts = hashlib.sha256(judging_digest().encode())
    for path in files:
        parts.update(path.name.encode() + b"\0" + path.read_bytes())
    return parts.hexdigest()


def heads_of(clinics: Collection[m.Clinic]) -> dict[int, str]:
    """By clinic what its facts rest on, as text: twice the same means the same facts. Two queries, one for one."""
    served = m.Agreement.objects.filter(clinic__in=[clinic.pk for clinic in clinics])
    # Erasing a name changes what facts say, and no ledger: that is what it is for.
    erased = m.PersonText.objects.filter(erased_on__isnull=False).order_by()
    count = erased.values(n=Func("pk", function="COUNT", output_field=IntegerField()))
    last = erased.values(day=Func("erased_on", function="MAX", output_field=DateField()))
    owners = Q(pk__in=[clinic.pk for clinic in clinics]) | Q(pk__in=served.values("company_id"))
    rows = m.Organisation.objects.filter(owners).values_list(
        "pk", "slug", "name", "ledger__number", "ledger__hash", Subquery(count), Subquery(last)
    )
    lines = {row[0]: list(row) for row in rows}
    mine = {clinic.pk: {clinic.pk} for clinic in clinics}
    if len(mine) == 1:
        mine = {pk: set(lines) for pk in mine}
    else:
        for clinic_id, company_id in served.values_list("clinic_id", "company_id"):
            mine[clinic_id].add(company_id)
    return {pk: _text([lines[owner] for owner in sorted(of)]) for pk, of in mine.items()}


def _text(lines: list) -> str:
    return json.dumps([code_digest(), *lines], default=str)


def kept_facts(clinic: m.Clinic) -> ClinicFacts:
    """Everything known of the clinic: equal to `clinic_facts(clinic)`, in two queries where it is kept already."""
    return kept_of([clinic])[clinic.pk]


def kept_of(clinics: Collection[m.Clinic]) -> dict[int, ClinicFacts]:
    """By clinic everything known of it; in three queries however many, where all is kept already."""
    clinics = {clinic.pk: clinic for clinic in clinics}
    heads = heads_of(list(clinics.values()))
    kept = FactsCache.objects.filter(clinic__in=clinics).values_list("clinic_id", "heads", "payload")
    facts = {pk: _brought_up(clinics[pk], head, heads[pk], payload) for pk, head, payload in kept.iterator()}
    return {pk: facts.get(pk) or _read(clinic, heads[pk]) for pk, clinic in clinics.items()}


def _brought_up(clinic: m.Clinic, was: str, now: str, payload: bytes) -> ClinicFacts | None:
    """What was kept, with what was logged since; None where the tables must be read."""
    if was == now:
        return _opened(clinic, was, payload)
    facts = _opened(clinic, was, payload) if may_grow(was, now) else None
    facts = grown(clinic, facts, was, now) if facts else None
    if facts and heads_of([clinic])[clinic.pk] == now:
        _keep(clinic, now, facts)
    return facts


def _opened(clinic: m.Clinic, heads: str, payload: bytes) -> ClinicFacts | None:
    """What was kept; None when it is damaged, or was not kept by this program."""
    try:
        return _unmarked(clinic, heads, payload)
    except Damaged as fault:
        logger.warning("The facts kept of %s are damaged (%s); they are read again.", clinic.slug, fault)
        return None


def _unmarked(clinic: m.Clinic, heads: str, payload: bytes) -> ClinicFacts:
    payload = bytes(payload)
    stored, body = payload[: marks.SIZE], payload[marks.SIZE :]
    if not marks.fits(stored, "facts", str(clinic.pk).encode(), heads.encode(), body):
        raise Damaged("it does not carry this program's mark")
    return unpacked(body)


def _marked(clinic: m.Clinic, heads: str, facts: ClinicFacts) -> bytes:
    body = packed(facts)
    return marks.mark("facts", str(clinic.pk).encode(), heads.encode(), body) + body


def _read(clinic: m.Clinic, heads: str) -> ClinicFacts:
    """The facts from the tables; kept when nothing was logged while they were read."""
    facts = clinic_facts(clinic)
    if heads_of([clinic])[clinic.pk] == heads and not unread(facts):
        _keep(clinic, heads, facts)
    return facts


def _keep(clinic: m.Clinic, heads: str, facts: ClinicFacts) -> None:
    """Keep the facts. A page is never lost because they could not be kept."""
    row = FactsCache(clinic_id=clinic.pk, heads=heads, payload=_marked(clinic, heads, facts), made_at=clock.now())
    try:
        with transaction.atomic():
            FactsCache.objects.bulk_create(
                [row], update_conflicts=True, unique_fields=["clinic"], update_fields=["heads", "payload", "made_at"]
            )
    except DatabaseError:
        logger.warning("The facts of %s could not be kept.", clinic.slug, exc_info=True)


def difference(clinic: m.Clinic) -> str:
    """What is wrong with what is kept of the clinic; "" when it is right, out of date (never used) or not there."""
    row = FactsCache.objects.filter(clinic_id=clinic.pk, heads=heads_of([clinic])[clinic.pk]).first()
    if row is None:
        return ""
    try:
        kept = _unmarked(clinic, row.heads, row.payload)
    except Damaged as fault:
        return f"the facts kept are damaged: {fault}"
    return "" if written(kept) == written(clinic_facts(clinic)) else "the facts kept are not those of the tables"
