"""What cannot have happened or is not yours is refused; what should not have happened is asked about, then recorded.

Each check yields problems: what, why, and the way out.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import OuterRef, QuerySet, Subquery

from records import access, clock
from records.models import Clinic, ClinicTerms, CounterReading, IndicatorLot, PartLot, ServiceCompany, Unit, Voiding
from records.models.prepared import prepared

from . import gathering
from .errors import NotYours, Problem, Refused

# No unit in use today is older; an earlier year is a slip of the finger.
EARLIEST_YEAR = 1950


def stop_on(problems, confirmed=()) -> None:
    """Raise Refused with the problems that were not confirmed as having happened."""
    left = [p for p in problems if not p.confirm or p.confirm not in confirmed]
    if left:
        raise Refused(left)


def rights_or_refuse(by, clinic, *, visit=False, manage=False, rules=False) -> access.Rights:
    """The account's rights at the clinic; of a visit's, who manages, or who sets the rules. Raises NotYours."""
    rights = gathering.once(("rights", by.pk, clinic.pk), lambda: access.rights(by, clinic))
    if rights is None:
        raise NotYours("This clinic is not one of yours. Sign in with an account that belongs to it.")
    if rules and not rights.may_set_rules:
        raise NotYours(f"Only the coordinator of {clinic.name} sets the rules that it is judged by. Ask them.")
    allowed = rights.may_manage if manage else rights.may_log_visit if visit else rights.may_log
    if not allowed:
        raise NotYours(
            f"Your role here ({', '.join(sorted(rights.roles))}) may look but not record this. "
            "Ask the clinic's coordinator to change your role."
        )
    return rights


def zone_of(organisation) -> str:
    """The time zone today of a clinic, by its terms in force there, or of a company; UTC before any is said."""
    return gathering.once(("zone", organisation.pk), lambda: _zone_of(organisation))


def _zone_of(organisation) -> str:
    newest = _zones_up_to(organisation.pk, clock.today() + ONE_DAY)
    zone = next((zone for day, zone in newest if day <= clock.today(zone)), "")
    return zone or next(iter(_zone_of_company(organisation.pk)), "") or "UTC"


@prepared
def _zone_of_company(company: int) -> QuerySet:
    return ServiceCompany.objects.filter(pk=company).values_list("time_zone", flat=True)


@prepared
def _zones_up_to(clinic: int, last: date) -> QuerySet:
    """The newest terms in effect on that day, the newest first: (day, zone)."""
    terms = _terms(clinic).filter(effective_on__lte=last).order_by("-effective_on", "-id")
    return terms.values_list("effective_on", "time_zone")[:_LOOKED_AT]


def clinic_with_zone(slug: str) -> Clinic | None:
    """The clinic of that slug with what `zone_today` needs, None when there is none. One query."""
    today = clock.today()
    return next(iter(_by_slug(slug, *(today + ONE_DAY * n for n in _BY_DAY.values()))), None)


@prepared
def _by_slug(slug: str, ahead: date, of_utc_day: date, behind: date) -> QuerySet[Clinic]:
    newest = dict(zip(_BY_DAY, (ahead, of_utc_day, behind), strict=True))
    return _annotated(Clinic.objects.filter(slug=slug), newest)


def with_zone(clinics: QuerySet[Clinic]) -> QuerySet[Clinic]:
    """The clinics with what `zone_today` needs, in their own query."""
    today = clock.today()
    return _annotated(clinics, {name: today + ONE_DAY * n for name, n in _BY_DAY.items()})


def _annotated(clinics: QuerySet[Clinic], days: dict[str, date]) -> QuerySet[Clinic]:
    return clinics.annotate(**{name: Subquery(_zones_by(day)[:1]) for name, day in days.items()})


def zone_today(clinic: Clinic) -> str:
    """The time zone today of a clinic out of `with_zone`; UTC before any terms."""
    today = clock.today()
    for name, n in _BY_DAY.items():
        zone = getattr(clinic, name)
        # No place is more than a day behind UTC, so the last of them holds wherever it is.
        if zone and (n == -1 or clock.today(zone) >= today + ONE_DAY * n):
            return zone
    return "UTC"


ONE_DAY = timedelta(days=1)
_LOOKED_AT = 20
# Zones by the terms in effect on the day of UTC, and on the days beside it: places are up to a day ahead or behind.
_BY_DAY = {"zone_ahead": 1, "zone_of_utc_day": 0, "zone_behind": -1}


def _terms(clinic_id):
    return ClinicTerms.objects.in_force().filter(clinic_id=clinic_id)


def _zones_by(day: date):
    terms = _terms(OuterRef("pk")).filter(effective_on__lte=day)
    return terms.order_by("-effective_on", "-id").values_list("time_zone")


def not_in_future(field: str, on: date | None, at: datetime | None, zone: str) -> Iterator[Problem]:
    """A day that is missing, before 1950, or after today in `zone`; or a time more than five minutes ahead.

    Today itself may be logged. `zone` is an IANA name, `at` aware or None.
    """
    today = clock.today(zone)
    if on is None:
        yield Problem(field, "The day is missing. Say on which day it happened.")
    elif on.year < EARLIEST_YEAR:
        yield Problem(field, f"{on} lies before {EARLIEST_YEAR}. Check the year.")
    elif on > today:
        yield Problem(
            field,
            f"{on} is in the future (today is {today}). A record says what happened: log it when it has.",
        )
    elif at is not None and at > clock.now() + timedelta(minutes=5):
        yield Problem(field, "That time has not come yet. Check the time, or leave it out if it is not known.")


def before_register(field: str, unit: Unit | None, on: date | None, paper: str) -> Iterator[Problem]:
    """What is said to have happened before the unit was put on the register is asked about, unless it is history
    on paper: most often the year is a slip."""
    if unit is not None and on is not None and not paper and on < unit.happened_on:
        yield Problem(
            field,
            f"{on} lies before {unit.happened_on}, the day {unit.label} was put on the register. Check the year. "
            "If it comes from paper, say which page; if it really was so, confirm it.",
            confirm="before-register",
        )


def unit_of_clinic(field: str, unit: Unit | None, clinic) -> Iterator[Problem]:
    """A unit that is missing, or whose newest placement is not at the clinic."""
    if unit is None:
        yield Problem(field, "The unit is missing. Choose the unit this is about.")
    elif not gathering.once(("stands", unit.pk, clinic.pk), lambda: bool(list(_standing_there(unit.pk, clinic.pk)))):
        yield Problem(
            field,
            f"{unit.label} does not stand at {clinic.name}. Choose one of its units, or move the unit here first.",
        )


@prepared
def _standing_there(unit: int, clinic: int) -> QuerySet:
    """The unit, where its newest placement is at the clinic."""
    return access.units_at(clinic).filter(pk=unit).values_list("pk")


def indicator_lot(field: str, lot: IndicatorLot | None, clinic, kind: str, on: date) -> Iterator[Problem]:
    """Unknown or foreign lots are refused; an expired one is asked about (the test then doesn't count)."""
    if lot is None:
        yield Problem(field, "The lot is not known. Choose the box, or add it first with the lot on its label.")
        return
    if lot.owner_id != clinic.pk and lot.owner_id not in gathering.once(
        ("serving", clinic.pk), lambda: _serving(clinic)
    ):
        yield Problem(field, "That lot is not known here. Choose one of the clinic's own boxes, or add it.")
    elif gathering.once(("voided", lot.origin), lambda: Voiding.objects.filter(target=lot.origin).exists()):
        yield Problem(
            field, f"Lot {lot.lot} was entered in error, so nothing is known of that box. Add it as its label reads."
        )
    elif lot.kind != kind:
        yield Problem(field, f"Lot {lot.lot} is a box of {lot.kind} indicators. Choose a {kind} one.")
    elif lot.expiry is not None and on is not None and lot.expiry < on:
        yield Problem(
            field,
            f"Lot {lot.lot} expired on {lot.expiry}, before {on}: a test with it doesn't count. Use another box. "
            "If it was really run like this, confirm it; it is recorded and flagged.",
            confirm="expired-lot",
        )


def _serving(clinic) -> set[int]:
    return set(access.agreements().filter(clinic=clinic).values_list("company_id", flat=True))


def part_lot(field: str, lot: PartLot, company, clinic) -> Iterator[Problem]:
    """A lot in the books of neither the company that does the work nor the clinic; `company` None: own people."""
    owners = {clinic.pk} | ({company.pk} if company else set())
    if lot.owner_id not in owners:
        yield Problem(field, "That lot was not received by your company. Choose one of your own lots.")


def expired_part(field: str, expiry: date | None, on: date) -> Iterator[Problem]:
    """A part fitted after its last day is asked about; on that day itself it may still be fitted."""
    if expiry is not None and expiry < on:
        yield Problem(
            field,
            f"The part expired on {expiry}, before it was fitted. Fit another one. "
            "If it was really fitted, confirm it; it is recorded and flagged.",
            confirm="expired-part",
        )


def _last_counter(unit, counter: str, on: date, but=None) -> CounterReading | None:
    """The newest reading in force of that counter up to that day, the day included; not that of origin `but`."""
    readings = CounterReading.objects.in_force().filter(unit=unit, counter=counter, happened_on__lte=on)
    if but is not None:
        readings = readings.exclude(origin=but)
    return readings.order_by("-happened_on", "-id").first()


def offset_or_last(unit, counter: str, offset, on: date | None) -> Decimal:
    """What to add for the life total: as given, else as it was at the last reading, else nothing."""
    if offset is not None:
        return Decimal(offset)
    last = _last_counter(unit, counter, on) if unit is not None and on is not None else None
    return last.offset if last else Decimal(0)


def counter_forward(
    field: str, unit, counter: str, shown, offset, reason: str, on: date, but=None
) -> Iterator[Problem]:
    """A counter never runs backwards by itself: a lower value needs what to add, or at least a reason.

    `but` is the origin of a reading to leave out: the one that is being corrected.
    """
    if unit is None or on is None:
        return
    last = _last_counter(unit, counter, on, but)
    if last is None or shown is None or reason:
        return
    total, before = Decimal(shown) + Decimal(offset or 0), last.shown + last.offset
    if total < before:
        yield Problem(field, counter_words(counter, f"{shown:f}", before, last.happened_on))


def counter_words(counter: str, shown: str, before: Decimal, on: date) -> str:
    """What is said of a counter that shows less than it stood at."""
    return (
        f"The {counter} counter shows {shown}, but it stood at {before:f} on {on}. "
        "If the board or the counter was changed, enter what to add for the life total and why. "
        "If nobody knows why, write “unknown” as the reason; it is recorded and flagged."
    )


def read_after_incubation(test, at, hours, result: str) -> Iterator[Problem]:
    """Growth may be read at any time; no growth only after the label's hours."""
    label = test.lot.incubation_hours
    if hours is None and at is not None and test.happened_at is not None:
        hours = (at - test.happened_at).total_seconds() / 3600
    if result == "no growth" and hours is not None and hours < label:
        yield Problem(
            "incubated_hours",
            f"The label asks for at least {label} h of incubation and this is {float(hours):.1f} h. No growth is "
            "not final before that: read it again later. To note this early look all the same, confirm it.",
            confirm="read-early",
        )


def after(field: str, later: date | None, earlier: date, what: str) -> Iterator[Problem]:
    """`later` before `earlier`; the same day may be. `what` names the earlier one, for the message."""
    if later is not None and later < earlier:
        yield Problem(field, f"{later} lies before {earlier}, {what}. Check both days.")
