"""How one gets in at clinics: the address out of their terms, contact, telephone, hours and notes."""

from __future__ import annotations

from dataclasses import dataclass

from audit.facts.dates import ONE_DAY
from records import clock
from records.models import ClinicTerms, SiteAccess


@dataclass(frozen=True, slots=True)
class GettingIn:
    """Each is "" where nobody has said it. The address holds today; without a number here it is the clinic's own."""

    address: str = ""
    contact: str = ""
    phone: str = ""
    hours: str = ""
    notes: str = ""

    @property
    def lines(self) -> tuple[tuple[str, str], ...]:
        """What is known, each with its name."""
        said = (
            ("Address", self.address), ("Ask for", self.contact), ("Telephone", self.phone), ("Hours", self.hours),
            ("Getting in", self.notes),
        )  # fmt: skip
        return tuple((name, text) for name, text in said if text)


def getting_in_of(clinics) -> dict[str, GettingIn]:
    """By slug; two queries, however many clinics."""
    terms = ClinicTerms.objects.in_force().filter(clinic__in=clinics, effective_on__lte=clock.today() + ONE_DAY)
    addresses = {}
    found = terms.order_by("effective_on", "id").values_list("clinic_id", "address", "time_zone", "effective_on")
    for clinic, address, zone, day in found:
        if day <= clock.today(zone):
            addresses[clinic] = address
    rows = {row.clinic_id: row for row in SiteAccess.objects.filter(clinic__in=clinics)}
    return {c.slug: _of(c, addresses.get(c.pk, ""), rows.get(c.pk)) for c in clinics}


def _of(clinic, address: str, row: SiteAccess | None) -> GettingIn:
    if row is None:
        return GettingIn(address, phone=clinic.phone)
    return GettingIn(address, row.contact, row.phone or clinic.phone, row.hours, row.notes)
