"""A clinic opened for an account on a day: rights, facts and judgement, read once and shared by its pages."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from urllib.parse import urlencode

from django.http import Http404

from audit.facts import ClinicFacts
from audit.gather.kept_facts import kept_facts
from audit.gather.proofs import proofs_of
from audit.gather.read import clinic_facts, day_at
from audit.gather.responsible import serving
from audit.judge.evaluate import evaluate
from audit.judge.judgement import ClinicJudgement
from audit.judge.next_step import with_company
from records import access
from records.forms import EntryContext
from records.models import Clinic

from .days import asked_day, asked_moment, today_of


@dataclass(frozen=True, slots=True)
class OpenedClinic:
    """`problem` is what was wrong with the day asked for, "" when nothing was.

    `company` is the name of who serves the clinic on that day; "" for none, or where it was not asked.
    """

    clinic: Clinic
    rights: access.Rights
    facts: ClinicFacts
    judgement: ClinicJudgement
    today: date
    as_of: date
    problem: str
    company: str = ""

    @property
    def known_at(self) -> datetime | None:
        """Only what had been logged by then was read; None: everything."""
        return self.facts.known_at

    @property
    def query(self) -> str:
        """What a link to another page of the clinic carries on: "" for today and all that is known."""
        asked = {"as_of": self.as_of.isoformat()} if self.as_of != self.today else {}
        if self.known_at is not None:
            asked |= {"as_of": self.as_of.isoformat(), "known_at": self.known_at.isoformat()}
        return f"?{urlencode(asked)}" if asked else ""

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
            "known_at": self.known_at,
            "known_day": day_at(self.facts, self.known_at) if self.known_at else None,
            "query": self.query,
            "proofs": proofs_of(self.clinic.slug, self.facts),
        }


def opened(request, ground: EntryContext, unit_ref: str = "", *, named: bool = False) -> OpenedClinic:
    """The clinic of the page judged on the day asked for (`?as_of=`), from what had been logged by `?known_at=`.

    Who may open it was asked at the door of the page, `at_clinic`, and is not asked again.
    `named`: what is next tells the name of the company that serves the clinic, which is one more question to the
    database. With `unit_ref`, only that unit is judged. Without a day, it is the day of `?known_at=`, or today.
    Raises Http404 when the unit is not one of the clinic's.
    """
    clinic = ground.clinic
    known_at, unknown = asked_moment(request, ground.zone) if request.GET.get("known_at") else (None, "")
    facts = clinic_facts(clinic, known_at=known_at) if known_at else kept_facts(clinic)
    if unit_ref:
        units = tuple(u for u in facts.units if u.ref == unit_ref)
        if not units:
            raise Http404("No such unit at this clinic.")
        facts = replace(facts, units=units)
    today = today_of(facts)
    as_of, problem = asked_day(request, today, day_at(facts, known_at) if known_at else today)
    problem = " ".join(each for each in (unknown, problem) if each)
    company = serving(clinic, as_of, known_at) if named else ""
    judgement = with_company(evaluate(facts, as_of), company)
    return OpenedClinic(clinic, ground.rights, facts, judgement, today, as_of, problem, company)
