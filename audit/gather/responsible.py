"""Who coordinates at a clinic and which companies serve it, as known at a moment."""

from __future__ import annotations

from datetime import datetime

from audit.facts.responsible import AgreementFact, CoordinatorFact, Responsible
from audit.facts.row import Row
from records.models import Account, Agreement, AgreementEnd, Clinic, Membership, MembershipEnd, Voiding

COORDINATOR = "coordinator"


def responsible(clinic: Clinic, known_at: datetime | None = None) -> Responsible:
    """Those logged by `known_at`, inclusive; all of them when that is None. Names as last signed."""
    held = Membership.objects.filter(organisation_id=clinic.pk, role=COORDINATOR)
    agreed = Agreement.objects.filter(clinic_id=clinic.pk).select_related("company")
    left = _ends(MembershipEnd, "membership_id", held, known_at)
    ended = _ends(AgreementEnd, "agreement_id", agreed, known_at)
    people = tuple(
        CoordinatorFact(_row(m), _name(m.person), m.effective_on, left.get(m.pk))
        for m in _known(held.prefetch_related("person__texts"), known_at)
    )
    companies = tuple(
        AgreementFact(_row(a), a.company.name, a.company.phone, a.scope, a.effective_on, ended.get(a.pk))
        for a in _known(agreed, known_at)
    )
    return Responsible(people, companies, clinic.phone)


def _known(rows, known_at: datetime | None) -> list:
    """The rows in force: neither corrected nor entered in error, logged by then, oldest first."""
    rows = rows.select_related("entry__logged_by").order_by("effective_on", "pk")
    if known_at is not None:
        rows = rows.filter(entry__logged_at__lte=known_at)
    found = list(rows)
    corrected = {row.amends_id for row in found}
    voided = Voiding.objects.filter(target__in=[row.origin for row in found])
    if known_at is not None:
        voided = voided.filter(entry__logged_at__lte=known_at)
    gone = set(voided.values_list("target", flat=True))
    return [row for row in found if row.pk not in corrected and row.origin not in gone]


def _ends(model, of: str, rows, known_at: datetime | None) -> dict[int, object]:
    """The first day on which each of the rows no longer holds, the earliest of several."""
    ends = _known(model.objects.filter(**{f"{of.removesuffix('_id')}__in": rows}), known_at)
    found: dict[int, object] = {}
    for end in ends:
        found.setdefault(getattr(end, of), end.effective_on)
    return found


def _name(person) -> str:
    texts = sorted(person.texts.all(), key=lambda text: text.pk)
    if texts:
        return str(texts[-1])
    account = Account.objects.filter(person=person).first()
    return account.full_name if account else "name not on record"


def _row(fact) -> Row:
    entry = fact.entry
    return Row(
        ref=str(fact.ref), origin=str(fact.origin), number=entry.number, line=fact.line, happened_on=fact.happened_on,
        happened_at=fact.happened_at, logged_at=entry.logged_at, logged_by=str(entry.logged_by),
    )  # fmt: skip
