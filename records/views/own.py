"""Which facts of a clinic an account may look at: all of them, or after an agreement ended what it logged itself."""

from __future__ import annotations

from django.db.models import Q
from django.http import Http404

from records import access
from records.models import Fact, fact_model


def visible_rows(ground, rows):
    """Of these facts those in the clinic's ledger that the account may look at."""
    rows = rows.filter(entry__ledger__organisation_id=ground.clinic.pk)
    if ground.rights is not None:
        return rows
    companies = access.companies_of(ground.account).values("pk")
    return rows.filter(Q(entry__account=ground.account) | Q(entry__logged_for__in=companies))


def may_see(ground, row) -> bool:
    """Whether the account may look at this fact; no query where its entry and ledger were read along with it."""
    if row.entry.ledger.organisation_id != ground.clinic.pk:
        return False
    return ground.rights is not None or visible_rows(ground, type(row).objects.filter(pk=row.pk)).exists()


def line_or_404(ground, kind: str, ref) -> list:
    """All versions of the fact that `ref` names (any version of it), the first one first."""
    try:
        model = fact_model(kind)
    except (LookupError, ValueError):
        raise Http404("no such kind of record") from None
    named = visible_rows(ground, model.objects.filter(ref=ref)).values("origin")
    versions = visible_rows(ground, model.objects.filter(origin__in=named)).select_related(*_read_along(model))
    found = list(versions.order_by("id"))
    if not found:
        raise Http404("no such record here")
    return found


def _read_along(model) -> list[str]:
    """What a page says of a row beside its own fields: who entered it, and what it points to, as corrected."""
    names = ["entry__ledger__organisation", "entry__logged_for", "entry__logged_by", "entry__account"]
    for field in model._meta.concrete_fields:
        if not field.is_relation or field.name in ("entry", "amends"):
            continue
        names.append(field.name)
        if issubclass(field.related_model, Fact):
            names += [f"{field.name}__entry__ledger", f"{field.name}__amended_by"]
            own = field.related_model._meta.concrete_fields
            names += [f"{field.name}__{f.name}" for f in own if f.is_relation and f.name in ("unit", "part")]
    return names
