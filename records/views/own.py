"""Which facts of a clinic an account may look at: all of them, or after an agreement ended what it logged itself."""

from __future__ import annotations

from django.db.models import Q
from django.http import Http404

from records import access
from records.models import fact_model


def visible_rows(ground, rows):
    """Of these facts those in the clinic's ledger that the account may look at."""
    rows = rows.filter(entry__ledger__organisation_id=ground.clinic.pk)
    if ground.rights is not None:
        return rows
    companies = access.companies_of(ground.account).values("pk")
    return rows.filter(Q(entry__account=ground.account) | Q(entry__logged_for__in=companies))


def line_or_404(ground, kind: str, ref) -> list:
    """All versions of the fact that `ref` names (any version of it), the first one first."""
    try:
        model = fact_model(kind)
    except (LookupError, ValueError):
        raise Http404("no such kind of record") from None
    named = visible_rows(ground, model.objects.filter(ref=ref)).first()
    if named is None:
        raise Http404("no such record here")
    related = ("entry__ledger__organisation", "entry__logged_for", "entry__logged_by", "entry__account")
    versions = visible_rows(ground, model.objects.filter(origin=named.origin)).select_related(*related)
    return list(versions.order_by("id"))
