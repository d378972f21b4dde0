"""Work that a service visit owes: a fault that was reported, a day agreed with a clinic. And how one gets in there.

What happened is a fact: that a fault was reported, that it was settled without a visit, that a day was agreed with
the clinic, that this was called off. Who is to come and in which order is only a plan, working state that may change
(`audit.models.PlannedStop`); so is how one gets in (`SiteAccess`). What is owed is in no table: it is computed.
"""

from __future__ import annotations

from django.db import models

from .base import ClinicFact, Fact, UnitFact, person_field, text, words
from .field import HOW_ASKED
from .people import Account, Clinic, ServiceCompany
from .units import UnitEvent


class FaultReport(UnitFact):
    """A fact: the clinic, or somebody on the telephone, reported that something is wrong with the unit.

    `happened_on` and `happened_at` are when it was reported. Whether the unit may be used meanwhile is always said:
    `withdrawal` took it out of service with this very entry, or `kept_because` says why it stays in use and who
    decided. Whether it was looked at is worked out from what came later.
    """

    reported_by = person_field("who reported it")
    how = models.CharField("how it was reported", max_length=12, choices=words(*HOW_ASKED))
    what = models.CharField("what is wrong, in their words", max_length=1000)
    withdrawal = models.ForeignKey(UnitEvent, models.PROTECT, null=True, blank=True, related_name="+")
    kept_because = text(500, verbose_name="why it stays in use, and who decided")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"withdrawal": "the unit stayed in use"}

    class Meta(Fact.Meta):
        verbose_name = "fault reported"
        verbose_name_plural = "faults reported"

    def __str__(self):
        return self.what


class FaultSettled(UnitFact):
    """A fact: a fault that was reported needs no visit any more: what it was, and who decided. It returns no unit."""

    fault = models.ForeignKey(FaultReport, models.PROTECT, related_name="settled")
    outcome = models.CharField("what it was, and why nobody needs to come", max_length=1000)
    settled_by = person_field("who decided")

    class Meta(Fact.Meta):
        verbose_name = "fault settled"
        verbose_name_plural = "faults settled"

    def __str__(self):
        return self.outcome


class VisitAgreed(ClinicFact):
    """A fact: the company and the clinic agreed on a day for a visit; `happened_on` is when they did.

    One that is `instead_of` another moves it, with the reason. Nothing is known from it of what was done.
    """

    company = models.ForeignKey(ServiceCompany, models.PROTECT, related_name="+")
    visit_on = models.DateField("day of the visit")
    hour = text(60, verbose_name="at what time")
    agreed_with = person_field("with whom at the clinic")
    agreed_by = person_field("by whom of the company")
    how = models.CharField("how it was agreed", max_length=12, choices=words(*HOW_ASKED))
    about = text(1000, verbose_name="work that it is about")
    instead_of = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="moved_to")
    reason = text(500, verbose_name="why it was moved")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"instead_of": "no earlier agreement is moved by it"}

    class Meta(Fact.Meta):
        verbose_name = "visit agreed"
        verbose_name_plural = "visits agreed"

    def __str__(self):
        return f"visit on {self.visit_on}" + (f", {self.hour}" if self.hour else "")


class VisitCalledOff(ClinicFact):
    """A fact: an agreed visit was called off: why, and who told whom."""

    agreed = models.ForeignKey(VisitAgreed, models.PROTECT, related_name="called_off")
    reason = models.CharField("why", max_length=500)
    told_by = person_field("who called it off")
    told_to = person_field("who was told")
    how = models.CharField("how", max_length=12, choices=words(*HOW_ASKED))

    class Meta(Fact.Meta):
        verbose_name = "visit called off"
        verbose_name_plural = "visits called off"

    def __str__(self):
        return self.reason


class SiteAccess(models.Model):
    """How one gets in at a clinic, and whom to ask. Working state: written over, with who changed it last; no fact.

    The address is no column here: it stands in the clinic's terms, which are facts.
    """

    clinic = models.OneToOneField(Clinic, models.CASCADE, related_name="site_access")
    contact = text(200, verbose_name="whom to ask for")
    phone = text(80, verbose_name="telephone")
    hours = text(300, verbose_name="hours")
    notes = text(1000, verbose_name="getting in")
    changed_by = models.ForeignKey(Account, models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "site access"

    def __str__(self):
        return f"getting in at {self.clinic}"
