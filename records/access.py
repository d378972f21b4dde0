"""Who may see and log what, on a day. Memberships and agreements are facts; nothing here is a switch.

A clinic's people see their clinic. A company's people see the clinics under a current agreement, and for ever what
they themselves logged. Everything else does not exist for them: pages answer 404.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q

from records import clock
from records.models import (
    Account,
    Agreement,
    AgreementEnd,
    Clinic,
    Membership,
    MembershipEnd,
    Placement,
    ServiceCompany,
    Unit,
    Voiding,
)

LOGGING_ROLES = frozenset({"technician", "dispatcher", "stores", "coordinator", "operator"})
SERVICE_ROLES = frozenset({"technician", "dispatcher"})
MANAGING_ROLES = frozenset({"coordinator", "dispatcher"})


def _holding(model, end_model, field: str, day: date):
    """Rows in force of a span on that day (its end exclusive)."""
    ended = end_model.objects.in_force().filter(**{f"{field}__origin": OuterRef("origin")}, effective_on__lte=day)
    voided = Voiding.objects.filter(target=OuterRef("origin"))
    return model.objects.in_force().filter(effective_on__lte=day).exclude(Exists(ended)).exclude(Exists(voided))


def memberships(account: Account, day: date | None = None):
    """The account's memberships in force on that day (today)."""
    day = day or clock.today()
    if not account.is_authenticated or account.person_id is None:
        return Membership.objects.none()
    return _holding(Membership, MembershipEnd, "membership", day).filter(person_id=account.person_id)


def agreements(day: date | None = None):
    """Agreements in force on that day (today)."""
    return _holding(Agreement, AgreementEnd, "agreement", day or clock.today())


def may_log_for(account: Account, organisation) -> bool:
    """Whether the account belongs to the organisation today in a role that may record."""
    return memberships(account).filter(organisation_id=organisation.pk, role__in=LOGGING_ROLES).exists()


def companies_of(account: Account):
    """The service companies that the account belongs to today."""
    return ServiceCompany.objects.filter(pk__in=memberships(account).values("organisation_id")).order_by("name")


def clinics_of_company(company: ServiceCompany):
    """The clinics that the company serves today."""
    return Clinic.objects.filter(pk__in=agreements().filter(company=company).values("clinic_id")).order_by("name")


def clinics_of(account: Account):
    """Every clinic the account may open today, by name."""
    own = memberships(account).values("organisation_id")
    served = agreements().filter(company_id__in=own).values("clinic_id")
    return Clinic.objects.filter(Q(pk__in=own) | Q(pk__in=served)).order_by("name")


def units_of_clinic(clinic: Clinic):
    """Units whose newest placement is at the clinic, by label: first versions, which other rows point to."""
    newest = Placement.objects.in_force().filter(unit=OuterRef("pk")).order_by("-effective_on", "-id")
    voided = Voiding.objects.filter(target=OuterRef("origin"))
    here = Unit.objects.origins().exclude(Exists(voided)).annotate(at=newest.values("clinic_id")[:1])
    return here.filter(at=clinic.pk).order_by("label", "pk")


def as_corrected(rows):
    """First versions with the values of their newest version laid over them, for showing. Never save these."""
    rows = list(rows)
    if not rows:
        return rows
    model = type(rows[0])
    newest = {r.origin: r for r in model.objects.newest().filter(origin__in=[r.origin for r in rows])}
    kept = {"id", "ref", "origin", "entry", "line", "amends", "amend_reason"}
    for row in rows:
        version = newest[row.origin]
        for field in model._meta.concrete_fields:
            if field.name not in kept and version.pk != row.pk:
                setattr(row, field.attname, getattr(version, field.attname))
    return rows


@dataclass(frozen=True, slots=True)
class Rights:
    """What an account may do at one clinic today. `company` is the company it acts for, None for own people."""

    roles: frozenset[str]
    company: ServiceCompany | None

    @property
    def may_log(self) -> bool:
        return bool(self.roles & LOGGING_ROLES)

    @property
    def may_log_visit(self) -> bool:
        """A company's technicians, and a clinic's coordinator for its own work or an outside servicer's report."""
        return bool(self.roles & (SERVICE_ROLES | {"coordinator"}))

    @property
    def may_manage(self) -> bool:
        return bool(self.roles & MANAGING_ROLES)


def rights(account: Account, clinic: Clinic) -> Rights | None:
    """What the account may do at the clinic, None when the clinic does not exist for it."""
    own, served = set(), {}
    company_ids = set(agreements().filter(clinic=clinic).values_list("company_id", flat=True))
    for m in memberships(account):
        if m.organisation_id == clinic.pk:
            own.add(m.role)
        elif m.organisation_id in company_ids:
            served.setdefault(m.organisation_id, set()).add(m.role)
    if own:
        return Rights(frozenset(own), None)
    for company_id, roles in served.items():
        return Rights(frozenset(roles), ServiceCompany.objects.get(pk=company_id))
    return None
