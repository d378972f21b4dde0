"""Opening a clinic or a company, who belongs to it, who serves it, and the terms it works under."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.db import transaction

from records import clock, nearest
from records.models import (
    Agreement,
    AgreementEnd,
    Clinic,
    ClinicTerms,
    Closure,
    Entry,
    KnownGap,
    LocalDuty,
    Membership,
    MembershipEnd,
    Organisation,
    PersonText,
    ServiceCompany,
)

from . import may_be_logged, row_rules
from .errors import Problem
from .submission import answered, submission, unseen_in


def _happened(effective_on: date, zone: str) -> dict:
    """The day and zone of a thing that holds from a day on: what holds later was decided by today, there."""
    return {"happened_on": min(effective_on, clock.today(zone)), "zone": zone}


def _missing_day(effective_on: date | None) -> Iterator[Problem]:
    if effective_on is None:
        yield Problem("effective_on", "The day is missing. Say from which day on it holds.")


def first_day(zone: str) -> date:
    """The day from which what is opened now holds: today in `zone`, or that of UTC while it is the earlier one.

    Rights are asked by the day of UTC (`access`), and whoever opens a clinic works there at once. UTC for a zone that
    is not known.
    """
    return min(clock.today(), clock.today(zone if zone in time_zones() else "UTC"))


def open_company(*, by, request_key, slug, name, effective_on) -> ServiceCompany:
    """Open a service company; its first member is the account that opens it, as dispatcher."""
    return _open(ServiceCompany, by, request_key, slug, name, effective_on, "dispatcher")


def open_clinic(*, by, request_key, slug, name, effective_on, terms) -> Clinic:
    """Open a clinic with its first terms (`ClinicTerms` fields); the account that opens it is its coordinator."""
    return _open(Clinic, by, request_key, slug, name, effective_on, "coordinator", terms=terms)


def open_served_clinic(*, by, request_key, company, slug, name, effective_on, terms, scope="") -> Clinic:
    """Open a clinic that `company` serves from the same day on, with its first terms. Only its dispatcher may.

    Nobody belongs to the clinic yet, and the company's people never become its own: its first coordinator comes by
    invitation (`access.without_coordinator`), and from the opening on only a coordinator of the clinic changes the
    terms. `scope` is what the agreement covers.
    """
    from records import access

    from .errors import NotYours

    if not access.manages(by, company):
        raise NotYours(f"Only the dispatcher of {company.name} opens a clinic that it serves. Ask them.")
    may_be_logged.stop_on(may_be_logged.not_in_future("effective_on", effective_on, None, "UTC"))
    return _open(Clinic, by, request_key, slug, name, effective_on, "", terms=terms, company=company, scope=scope)


def _open(model, by, request_key, slug, name, effective_on, role, *, terms=None, company=None, scope=""):
    inputs = {"slug": slug, "name": name, "effective_on": effective_on, "terms": terms}
    if company is not None:
        inputs |= {"company": company, "scope": scope}
    may_be_logged.stop_on([*name_problems(slug, name), *(terms_problems(terms) if terms else ())])
    with transaction.atomic():
        may_be_logged.stop_on(
            _taken(Organisation.objects.filter(slug=slug).exclude(pk__in=model.objects.all()).first())
        )
        organisation, _ = model.objects.get_or_create(slug=slug, defaults={"name": name})
        what = f"open {model._meta.verbose_name}"
        with submission(organisation, by, request_key, what, inputs, logged_for=company) as s:
            if s.repeated:
                return organisation
            may_be_logged.stop_on(_taken(organisation))
            by.signed()
            span = {"effective_on": effective_on, **_happened(effective_on, terms["time_zone"] if terms else "UTC")}
            if role:
                s.add(Membership(organisation=organisation, person=by.person, role=role, **span))
            if terms:
                s.add(ClinicTerms(clinic=organisation, name=name, **span, **terms))
            if company is not None:
                s.add(Agreement(clinic=organisation, company=company, scope=scope, **span))
        return organisation


def name_problems(slug: str, name: str) -> Iterator[Problem]:
    """What an organisation cannot be called: the short name stands in addresses and never changes."""
    for field, value in (("slug", slug), ("name", name)):
        try:
            Organisation._meta.get_field(field).clean(value.strip(), None)
        except ValidationError:
            yield Problem(field, _HOW_TO_NAME[field])
        else:
            if words := unseen_in(value):
                yield Problem(field, words)


_HOW_TO_NAME = {
    "slug": "The short name stands in addresses: at most 50 letters without accents, digits and hyphens, such as "
    "north-street.",
    "name": "Write the name, in at most 200 characters.",
}


def _taken(organisation):
    """Opening makes the account its manager, so it is done once: never a way into an organisation that is there."""
    if organisation is not None and Entry.objects.filter(ledger__organisation=organisation).exists():
        yield Problem("slug", f"The short name “{organisation.slug}” is taken. Choose another one.")


def is_taken(slug: str) -> Iterator[Problem]:
    """Whether an organisation with that short name has begun its record: the problem, or nothing."""
    return _taken(Organisation.objects.filter(slug=slug).first())


@cache
def time_zones() -> frozenset[str]:
    """Read from many files, so once a process."""
    return frozenset(available_timezones())


def terms_problems(terms: dict) -> Iterator[Problem]:
    """What cannot be among the terms of a clinic: a time zone of no known name, a week that begins on no day."""
    if terms.get("time_zone") not in time_zones():
        typed = str(terms.get("time_zone") or "")
        way_out = nearest.meant(typed, time_zones()) or "Choose one such as Europe/Dublin."
        yield Problem("time_zone", f"“{typed}” is not a time zone. {way_out}")
    if terms.get("week_start") not in range(7):
        yield Problem("week_start", "The first day of the week is a number from 0 (Monday) to 6 (Sunday).")


def log_terms(*, by, request_key, clinic, effective_on, **terms) -> ClinicTerms:
    """New terms from a day on; they supersede the earlier ones. Only the clinic's own coordinator may."""
    may_be_logged.rights_or_refuse(by, clinic, rules=True)
    may_be_logged.stop_on([*terms_problems(terms), *_missing_day(effective_on)])
    ZoneInfo(terms["time_zone"])
    with submission(clinic, by, request_key, "terms", {"effective_on": effective_on, **terms}) as s:
        if s.repeated:
            return s.first(ClinicTerms)
        Clinic.objects.filter(pk=clinic.pk).update(name=terms["name"])
        happened = _happened(effective_on, may_be_logged.zone_of(clinic))
        return s.add(ClinicTerms(clinic=clinic, effective_on=effective_on, **happened, **terms))


def log_membership(*, by, request_key, organisation, account, role, effective_on) -> Membership:
    """`account` belongs to the organisation in a role. Only who manages the organisation may say so.

    Of a clinic that a company opened, its dispatcher says who is the first coordinator.
    """
    company = None if answered(by, request_key) else _handing_over(by, organisation, role)
    account.signed()
    inputs = {"account": account, "role": role, "effective_on": effective_on}
    with submission(organisation, by, request_key, "membership", inputs, logged_for=company) as s:
        if s.repeated:
            return s.first(Membership)
        _handing_over(by, organisation, role)  # again behind the lock: of two, one is the first
        happened = _happened(effective_on, may_be_logged.zone_of(organisation))
        row = Membership(person=account.person, role=role, effective_on=effective_on, **happened)
        row.organisation = organisation
        return s.add(row)


def _handing_over(by, organisation: Organisation, role: str) -> ServiceCompany | None:
    """The company that hands the clinic over to its first coordinator, None for who manages it. Raises NotYours."""
    from records import access

    if role == "coordinator" and not access.manages(by, organisation):
        company = access.handing_over(by, organisation)
        if company is not None:
            return company
    _refuse_unless_manager(by, organisation)
    return None


def _refuse_unless_manager(by, organisation: Organisation) -> None:
    from records import access

    from .errors import NotYours

    roles = set(access.memberships(by).filter(organisation=organisation).values_list("role", flat=True))
    if not roles & access.MANAGING_ROLES and not by.is_superuser:
        raise NotYours(
            f"Only the coordinator or dispatcher of {organisation.name} may change who belongs to it. Ask them."
        )


def end_membership(*, by, request_key, membership, effective_on, reason) -> MembershipEnd:
    """The membership no longer holds from that day on."""
    _refuse_unless_manager(by, membership.organisation)
    inputs = {"membership": membership, "effective_on": effective_on, "reason": reason}
    with submission(membership.organisation, by, request_key, "end of membership", inputs) as s:
        if s.repeated:
            return s.first(MembershipEnd)
        happened = _happened(effective_on, may_be_logged.zone_of(membership.organisation))
        return s.add(MembershipEnd(membership=membership, effective_on=effective_on, reason=reason, **happened))


def log_agreement(*, by, request_key, clinic, company, effective_on, scope="") -> Agreement:
    """`company` serves `clinic` from that day on. The clinic's coordinator says so, in the clinic's ledger."""
    _refuse_unless_manager(by, clinic)
    inputs = {"company": company, "effective_on": effective_on, "scope": scope}
    with submission(clinic, by, request_key, "agreement", inputs) as s:
        if s.repeated:
            return s.first(Agreement)
        happened = _happened(effective_on, may_be_logged.zone_of(clinic))
        return s.add(Agreement(clinic=clinic, company=company, effective_on=effective_on, scope=scope, **happened))


def end_agreement(*, by, request_key, agreement, effective_on, reason) -> AgreementEnd:
    """The agreement no longer holds from that day on; the company keeps sight of what it logged itself.

    Either side may end it: the clinic's coordinator, or the company's dispatcher in the company's name. It stands in
    the clinic's ledger, where the agreement stands.
    """
    company = _ending_side(by, agreement)
    if company is not None and not answered(by, request_key):
        may_be_logged.stop_on(_left_alone(agreement.clinic))
    inputs = {"agreement": agreement, "effective_on": effective_on, "reason": reason}
    with submission(agreement.clinic, by, request_key, "end of agreement", inputs, logged_for=company) as s:
        if s.repeated:
            return s.first(AgreementEnd)
        happened = _happened(effective_on, may_be_logged.zone_of(agreement.clinic))
        row = AgreementEnd(agreement=agreement, effective_on=effective_on, reason=reason, **happened)
        row.clinic = agreement.clinic
        return s.add(row)


def _left_alone(clinic):
    """Nobody would see what is on record of a clinic that no coordinator has taken over."""
    managers = Membership.objects.in_force().filter(organisation=clinic.pk, role="coordinator")
    if not managers.exists() and Entry.objects.filter(ledger__organisation=clinic.pk, number__gt=1).exists():
        words = f"Nobody of {clinic.name} has taken over yet, so nobody would see its records any more."
        yield Problem("", f"{words} Invite its coordinator, and end the agreement when the invitation is taken.")


def _ending_side(by, agreement) -> ServiceCompany | None:
    """The company that the account ends the agreement for, None for the clinic. Raises NotYours."""
    from records import access

    if not access.manages(by, agreement.clinic) and access.manages(by, agreement.company):
        return agreement.company
    _refuse_unless_manager(by, agreement.clinic)
    return None


def log_local_duty(*, by, request_key, clinic, effective_on, duty, every, count, source) -> LocalDuty:
    """A duty that the clinic sets itself from that day on; `count` is days or months, as `every` says, else 1."""
    may_be_logged.rights_or_refuse(by, clinic, rules=True)
    may_be_logged.stop_on(_missing_day(effective_on))
    fields = {"duty": duty, "every": every, "count": count, "source": source, "effective_on": effective_on}
    with submission(clinic, by, request_key, "duty of our own", fields) as s:
        if s.repeated:
            return s.first(LocalDuty)
        return s.add(LocalDuty(clinic=clinic, **_happened(effective_on, may_be_logged.zone_of(clinic)), **fields))


def log_closure(*, by, request_key, clinic, from_on, to_on, why, unit=None) -> Closure:
    """Days without patients, both ends inclusive. It may lie ahead; entered afterwards it shows as late."""
    may_be_logged.rights_or_refuse(by, clinic, rules=True)
    fields = {"from_on": from_on, "to_on": to_on, "why": why, "unit": unit}
    may_be_logged.stop_on([*row_rules.closure(fields.get), *_own_unit(unit, clinic)])
    with submission(clinic, by, request_key, "closure", fields) as s:
        if s.repeated:
            return s.first(Closure)
        return s.add(Closure(clinic=clinic, **_happened(from_on, may_be_logged.zone_of(clinic)), **fields))


def _own_unit(unit, clinic) -> Iterator[Problem]:
    """A unit that is meant alone stands at the clinic; None: the whole place."""
    if unit is not None:
        yield from may_be_logged.unit_of_clinic("unit", unit, clinic)


def log_gap(*, by, request_key, clinic, from_on, to_on, what, why, unit=None) -> KnownGap:
    """Evidence that is known to be missing, both ends inclusive; the account accepts that in its own name."""
    may_be_logged.rights_or_refuse(by, clinic, rules=True)
    fields = {"from_on": from_on, "to_on": to_on, "what": what, "why": why, "unit": unit}
    may_be_logged.stop_on([*row_rules.span(fields.get), *_own_unit(unit, clinic)])
    with submission(clinic, by, request_key, "known gap", fields) as s:
        if s.repeated:
            return s.first(KnownGap)
        accepted: PersonText = by.signed()
        happened = _happened(to_on, may_be_logged.zone_of(clinic))
        return s.add(KnownGap(clinic=clinic, accepted_by=accepted, **happened, **fields))
