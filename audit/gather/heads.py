"""The newest ledger entries that a clinic's binder may rest on: its own, and those of the companies that serve it."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Q

from audit.facts import ClinicFacts
from audit.facts.heads import LedgerHead
from records.models import Agreement, Clinic, Entry, Ledger, Organisation, ServiceCompany


def heads(clinic: Clinic, facts: ClinicFacts, as_of: date) -> tuple[LedgerHead, ...]:
    """The head of the clinic's ledger, then of each company it had an agreement with, by name.

    Those are the companies whose books (credentials, instruments, part recalls) are read for the clinic. A head is
    the newest entry logged by `facts.known_at`, inclusive; of all entries when that is None. An organisation without
    an entry by then has no head. The clinic goes by the name of its terms on `as_of`.
    """
    terms = facts.terms_on(as_of)
    own = _head(clinic, terms.name if terms else facts.slug, facts.known_at)
    served_by = [_head(each, each.name, facts.known_at) for each in _companies(clinic, facts.known_at)]
    return tuple(head for head in (own, *served_by) if head is not None)


def numbers(clinic: Clinic) -> dict[int, int]:
    """The number of the newest entry of each of those ledgers, by organisation.

    Twice the same: nothing was logged in between.
    """
    served_by = Agreement.objects.filter(clinic_id=clinic.pk).values("company_id")
    read = Ledger.objects.filter(Q(organisation_id=clinic.pk) | Q(organisation_id__in=served_by))
    return dict(read.values_list("organisation_id", "number"))


def _companies(clinic: Organisation, known_at: datetime | None) -> list[ServiceCompany]:
    agreements = Agreement.objects.filter(clinic_id=clinic.pk)
    if known_at is not None:
        agreements = agreements.filter(entry__logged_at__lte=known_at)
    return list(ServiceCompany.objects.filter(pk__in=agreements.values("company_id")).order_by("name", "ref"))


def _head(organisation: Organisation, name: str, known_at: datetime | None) -> LedgerHead | None:
    entries = Entry.objects.filter(ledger__organisation_id=organisation.pk)
    if known_at is not None:
        entries = entries.filter(logged_at__lte=known_at)
    newest = entries.order_by("-number").values_list("number", "hash").first()
    return LedgerHead(str(organisation.ref), name, *newest) if newest else None
