"""Who coordinates at a clinic and which companies serve it, as known at a moment, in six queries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime

from audit.facts.responsible import AgreementFact, CoordinatorFact, Responsible, serving_on
from audit.facts.row import Row
from records import access
from records.models import Agreement, AgreementEnd, Clinic, Membership, MembershipEnd, Voiding

COORDINATOR = "coordinator"
ENTRY = "entry__logged_by"


def responsible(clinic: Clinic, known_at: datetime | None = None) -> Responsible:
    """Those logged by `known_at`, inclusive; all of them when that is None. Names as last signed."""
    people = Membership.objects.filter(organisation_id=clinic.pk, role=COORDINATOR)
    agreed = Agreement.objects.filter(clinic_id=clinic.pk)
    of_people = people.select_related(ENTRY, "person__account").prefetch_related("person__texts")
    read = [
        _known(rows, known_at)
        for rows in (
            of_people,
            agreed.select_related(ENTRY, "company"),
            MembershipEnd.objects.filter(membership__in=people),
            AgreementEnd.objects.filter(agreement__in=agreed),
        )
    ]
    voided = _voided((row for rows in read for row in rows), known_at)
    members, agreements, left, ended = ([row for row in rows if row.origin not in voided] for rows in read)
    until = {end.membership_id: end.effective_on for end in reversed(left)}
    over = {end.agreement_id: end.effective_on for end in reversed(ended)}
    return Responsible(
        tuple(CoordinatorFact(_row(m), _name(m.person), m.effective_on, until.get(m.pk)) for m in members),
        tuple(
            AgreementFact(_row(a), a.company.name, a.company.phone, a.scope, a.effective_on, over.get(a.pk))
            for a in agreements
        ),
        clinic.phone,
    )


def serving(clinic: Clinic, on: date, known_at: datetime | None = None) -> str:
    """The names of the companies that serve the clinic on that day, as known at the moment: "A or B", "" for none."""
    if known_at is not None:
        return serving_on(responsible(clinic, known_at).agreements, on)
    return serving_each({clinic.pk: on})[clinic.pk]


def serving_each(days: Mapping[int, date]) -> dict[int, str]:
    """The same of many clinics, each by its key on its own day: one query for each day among them."""
    found: dict[int, list[str]] = {pk: [] for pk in days}
    for day in set(days.values()):
        here = [pk for pk, on in days.items() if on == day]
        rows = access.agreements(day).filter(clinic__in=here).order_by("effective_on", "pk")
        for pk, company in rows.values_list("clinic_id", "company__name"):
            found[pk].append(company)
    return {pk: " or ".join(dict.fromkeys(names)) for pk, names in found.items()}


def _known(rows, known_at: datetime | None) -> list:
    """The newest versions of the rows logged by then, the one with the earliest day first."""
    rows = rows.order_by("effective_on", "pk")
    if known_at is not None:
        rows = rows.filter(entry__logged_at__lte=known_at)
    found = list(rows)
    corrected = {row.amends_id for row in found}
    return [row for row in found if row.pk not in corrected]


def _voided(rows: Iterable, known_at: datetime | None) -> frozenset:
    """The origins of those that were entered in error, as known by then."""
    voidings = Voiding.objects.filter(target__in=[row.origin for row in rows])
    if known_at is not None:
        voidings = voidings.filter(entry__logged_at__lte=known_at)
    return frozenset(voidings.values_list("target", flat=True))


def _name(person) -> str:
    """The name as last signed; of somebody who never signed that of the account, where there is one."""
    texts = sorted(person.texts.all(), key=lambda text: text.pk)
    if texts:
        return str(texts[-1])
    account = getattr(person, "account", None)
    return account.full_name if account else "name not on record"


def _row(fact) -> Row:
    entry = fact.entry
    return Row(
        ref=str(fact.ref), origin=str(fact.origin), number=entry.number, line=fact.line, happened_on=fact.happened_on,
        happened_at=fact.happened_at, logged_at=entry.logged_at, logged_by=str(entry.logged_by),
    )  # fmt: skip
