"""A clinic opened for an account on a day: rights, facts and judgement, read once and shared by its pages."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from django.http import Http404
from django.shortcuts import get_object_or_404

from audit.evaluate import evaluate
from audit.facts import ClinicFacts
from audit.gather import clinic_facts
from audit.judgement import ClinicJudgement
from audit.proofs import proofs_of
from records import access
from records.models import Clinic

from .days import asked_day, today_of


@dataclass(frozen=True, slots=True)
class Opened:
    """`problem` is what was wrong with the day asked for, "" when nothing was."""

    clinic: Clinic
    rights: access.Rights
    facts: ClinicFacts
    judgement: ClinicJudgement
    today: date
    as_of: date
    problem: str

    @property
    def zone(self) -> str:
        terms = self.facts.terms_on(self.as_of)
        return terms.zone if terms else "UTC"

    def context(self) -> dict:
        """What every page of a clinic needs."""
        return {
            "clinic": self.clinic,
            "rights": self.rights,
            "judgement": self.judgement,
            "terms": self.facts.terms_on(self.as_of),
            "zone": self.zone,
            "today": self.today,
            "as_of": self.as_of,
            "past": self.as_of != self.today,
            "problem": self.problem,
            "proofs": proofs_of(self.clinic.slug, self.facts),
        }


def open_clinic(account, slug: str) -> tuple[Clinic, access.Rights]:
    """The clinic and the account's rights there. Raises Http404 when it does not exist for the account."""
    clinic = get_object_or_404(access.clinics_of(account), slug=slug)
    rights = access.rights(account, clinic)
    if rights is None:
        raise Http404("No such clinic.")
    return clinic, rights


def opened(request, slug: str, unit_ref: str = "") -> Opened:
    """The clinic judged on the day asked for; with `unit_ref`, only that unit is judged.

    Raises Http404 when the clinic does not exist for the account or the unit is not one of the clinic's.
    """
    clinic, rights = open_clinic(request.user, slug)
    facts = clinic_facts(clinic)
    if unit_ref:
        units = tuple(u for u in facts.units if u.ref == unit_ref)
        if not units:
            raise Http404("No such unit at this clinic.")
        facts = replace(facts, units=units)
    today = today_of(facts)
    as_of, problem = asked_day(request, today)
    return Opened(clinic, rights, facts, evaluate(facts, as_of), today, as_of, problem)
