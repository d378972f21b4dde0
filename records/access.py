"""Who may see and log what, on a day. Memberships and agreements are facts; nothing here is a switch.

A clinic's people see their clinic. A company's people see the clinics under a current agreement, and for ever what
they themselves logged. Everything else does not exist for them: pages answer 404.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet

from records import clock
from records.models import (
    Account,
    Agreement,
    AgreementEnd,
    Clinic,
    Entry,
    Membership,
    MembershipEnd,
    Placement,
    ServiceCompany,
    Unit,
    Voiding,
)
from records.models.prepared import prepared

LOGGING_ROLES = frozenset({"technician", "dispatcher", "stores", "coordinator", "operator"})
SERVICE_ROLES = frozenset({"technician", "dispatcher"})
VISIT_ROLES = SERVICE_ROLES | {"coordinator"}
PARTS_ROLES = VISIT_ROLES | {"stores"}
MANAGING_ROLES = frozenset({"coordinator", "dispatcher"})


def _holding(model, end_model, field: str, day: date):
    """Rows in force of a span on that day (its end exclusive)."""
    ended = end_model.objects.in_force().filter(**{f"{field}__origin": OuterRef("origin")}, effective_on__lte=day)
    return model.objects.in_force().filter(effective_on__lte=day).exclude(Exists(ended))


def memberships(account: Account, day: date | None = None):
    """The account's memberships in force on that day (today)."""
    day = day or clock.today()
    if not account.is_authenticated or account.person_id is None:
        return Membership.objects.none()
    return _holding(Membership, MembershipEnd, "membership", day).filter(person_id=account.person_id)


def members(organisation, day: date | None = None):
    """The memberships of the organisation in force on that day (today)."""
    return _holding(Membership, MembershipEnd, "membership", day or clock.today()).filter(organisation=organisation)


def manages(account: Account, organisation, day: date | None = None) -> bool:
    """Whether the account itself belongs to the organisation in a role that says who belongs to it."""
    return memberships(account, day).filter(organisation=organisation, role__in=MANAGING_ROLES).exists()


def without_coordinator(account: Account):
    """Clinics that a company opened, which still wait for somebody of their own; by name.

    Only those that the company serves today, and only for who manages that company. A clinic that has had a
    coordinator is its own from then on, whatever becomes of that person.
    """
    mine = memberships(account).filter(role__in=MANAGING_ROLES).values("organisation_id")
    opening = Entry.objects.filter(ledger__organisation=OuterRef("clinic_id"), number=1)
    opened = agreements().filter(company_id__in=mine).filter(company_id__in=opening.values("logged_for_id"))
    return Clinic.objects.filter(nobody_s(), pk__in=opened.values("clinic_id")).order_by("name")


def nobody_s() -> Q:
    """Of clinics: that a company opened and that have never had a coordinator of their own."""
    own = Membership.objects.in_force().filter(organisation=OuterRef("pk"), role__in=MANAGING_ROLES)
    opening = Entry.objects.filter(ledger__organisation=OuterRef("pk"), number=1, logged_for__isnull=False)
    return Q(Exists(opening), ~Exists(own))


def handing_over(account: Account, organisation) -> ServiceCompany | None:
    """The company for which the account may invite the clinic's first coordinator, None when it may not."""
    if not without_coordinator(account).filter(pk=organisation.pk).exists():
        return None
    opening = Entry.objects.filter(ledger__organisation=organisation.pk, number=1)
    return ServiceCompany.objects.get(pk__in=opening.values("logged_for_id"))


def agreements(day: date | None = None):
    """Agreements in force on that day (today)."""
    return _holding(Agreement, AgreementEnd, "agreement", day or clock.today())


def may_log_for(account: Account, organisation) -> bool:
    """Whether the account belongs to the organisation today in a role that may record."""
    return memberships(account).filter(organisation_id=organisation.pk, role__in=LOGGING_ROLES).exists()


def may_visit_for(account: Account, company) -> bool:
    """Whether the account belongs to the company today in a role that may record visits."""
    return memberships(account).filter(organisation_id=company.pk, role__in=SERVICE_ROLES).exists()


def logged_at_a_clinic(account: Account) -> bool:
    """Whether anything was logged under the account in a clinic's ledger: it keeps sight of that for ever."""
    return Entry.objects.filter(account=account, ledger__organisation__clinic__isnull=False).exists()


def companies_of(account: Account):
    """The service companies that the account belongs to today; `managed` ones are those that it manages."""
    return _companies(memberships(account))


def company_of(account: Account, slug: str) -> ServiceCompany | None:
    """That one of `companies_of`, None when the account does not belong to it today. One query."""
    if not account.is_authenticated or account.person_id is None:
        return None
    return next(iter(_company(account.person_id, slug, clock.today())), None)


@prepared
def _company(person: int, slug: str, day: date) -> QuerySet[ServiceCompany]:
    mine = _holding(Membership, MembershipEnd, "membership", day).filter(person_id=person)
    return _companies(mine).filter(slug=slug)


def _companies(mine: QuerySet[Membership]) -> QuerySet[ServiceCompany]:
    managed = Exists(mine.filter(organisation=OuterRef("pk"), role__in=MANAGING_ROLES))
    found = ServiceCompany.objects.filter(pk__in=mine.values("organisation_id")).order_by("name")
    return found.annotate(managed=managed)


def clinics_of_company(company: ServiceCompany):
    """The clinics that the company serves today."""
    return Clinic.objects.filter(pk__in=agreements().filter(company=company).values("clinic_id")).order_by("name")


def clinics_of(account: Account):
    """Every clinic the account may open today, by name."""
    own = memberships(account).values("organisation_id")
    served = agreements().filter(company_id__in=own).values("clinic_id")
    return Clinic.objects.filter(Q(pk__in=own) | Q(pk__in=served)).order_by("name")


def clinics_managed(account: Account):
    """The clinics where the account may say today how things are set up, by name: own ones, and those it serves."""
    mine = memberships(account).filter(role__in=MANAGING_ROLES).values("organisation_id")
    served = agreements().filter(company_id__in=mine).values("clinic_id")
    return Clinic.objects.filter(Q(pk__in=mine) | Q(pk__in=served)).order_by("name")


def units_of_clinic(clinic: Clinic):
    """Units whose newest placement is at the clinic, by label: first versions, which other rows point to."""
    return units_at(clinic.pk)


def units_at(clinic_id: int):
    """`units_of_clinic`, of the clinic with that key."""
    newest = Placement.objects.in_force().filter(unit=OuterRef("pk")).order_by("-effective_on", "-id")
    voided = Voiding.objects.filter(target=OuterRef("origin"))
    here = Unit.objects.origins().exclude(Exists(voided)).annotate(at=newest.values("clinic_id")[:1])
    return here.filter(at=clinic_id).order_by("label", "pk")


def as_corrected(rows):
    """First versions with the values of their newest version laid over them, for showing. Never save these."""
    rows = list(rows.select_related("amended_by") if isinstance(rows, QuerySet) else rows)
    # Most rows were never corrected; where it is known already, only those that were are looked up.
    looked_up = [r for r in rows if not _known_as_it_was(r)]
    if not looked_up:
        return rows
    model = type(rows[0])
    newest = {r.origin: r for r in model.objects.newest().filter(origin__in=[r.origin for r in looked_up])}
    kept = {"id", "ref", "origin", "entry", "line", "amends", "amend_reason"}
    for row in looked_up:
        version = newest[row.origin]
        for field in model._meta.concrete_fields:
            if field.name not in kept and version.pk != row.pk:
                setattr(row, field.attname, getattr(version, field.attname))
    return rows


def _known_as_it_was(row) -> bool:
    """Whether the row was read along with its correction, and there is none."""
    corrected = type(row).amended_by
    return corrected.is_cached(row) and getattr(row, "amended_by", None) is None


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
        return bool(self.roles & VISIT_ROLES)

    @property
    def may_set_up(self) -> bool:
        """Units, where they stand, what is fitted and what is planned: who may also record the work on them."""
        return self.may_log_visit

    @property
    def may_enter_parts(self) -> bool:
        return bool(self.roles & PARTS_ROLES)

    @property
    def may_manage(self) -> bool:
        return bool(self.roles & MANAGING_ROLES)

    @property
    def may_set_rules(self) -> bool:
        """Only the clinic's own coordinator: who keeps the units does not choose what the work is judged by."""
        return self.company is None and "coordinator" in self.roles


@prepared
def _belonging(person: int, clinic: int, day: date) -> QuerySet[Membership]:
    """The person's memberships of that day at the clinic, and of companies that serve it then."""
    serving = agreements(day).filter(clinic=clinic, company_id=OuterRef("organisation_id"))
    mine = _holding(Membership, MembershipEnd, "membership", day).filter(person_id=person)
    mine = mine.filter(Q(organisation_id=clinic) | Exists(serving))
    return mine.select_related("organisation__servicecompany").order_by("organisation__name", "pk")


def rights(account: Account, clinic: Clinic) -> Rights | None:
    """What the account may do at the clinic, None when the clinic does not exist for it. One query."""
    if not account.is_authenticated or account.person_id is None:
        return None
    mine = _belonging(account.person_id, clinic.pk, clock.today())
    own = frozenset(m.role for m in mine if m.organisation_id == clinic.pk)
    if own:
        return Rights(own, None)
    if not mine:
        return None
    company = mine[0].organisation.servicecompany
    return Rights(frozenset(m.role for m in mine if m.organisation_id == company.pk), company)
