"""The terms of a clinic: what it is, where, and which rules it follows from which day on."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from audit.regimes import all_regimes
from audit.regimes.model import Regime
from records import log
from records.forms.base import EntryForm
from records.forms.fields import Choice, Day, Line, Lines
from records.models import ClinicTerms
from records.views.base import at_clinic, entry_page

from .regimes import country_of

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_KEPT = ("name", "programme", "address", "time_zone", "week_start", "regime")


class TermsForm(EntryForm):
    legend = (
        "New terms hold from a day on; days before it keep the terms of then. The rules followed decide what is due: "
        "choose those of the place and the kind of clinic, and ask the authority when in doubt."
    )

    name = Line("Name of the clinic", longest=200, required=True)
    programme = Choice("Kind of clinic", ClinicTerms._meta.get_field("programme").choices)
    address = Lines("Address")
    time_zone = Line("Time zone", longest=64, required=True, help_text="Such as America/Chicago or Europe/Dublin.")
    week_start = Choice("The week begins on", list(enumerate(_WEEKDAYS)), coerce=int)
    regime = Choice("Rules followed", ())
    effective_on = Day("Holds from which day on")

    def __init__(self, *args, terms=None, **kwargs):
        super().__init__(*args, **kwargs)
        held = _by_country(all_regimes().values())
        if terms is not None and terms.regime not in all_regimes():
            held.append((terms.regime, f"{terms.regime} (not on file: the common base rules are used)"))
        self.fields["regime"].choices = [("", "— choose —"), *held]
        self.initial["effective_on"] = self.ground.today
        if terms is not None:
            self.initial |= {name: getattr(terms, name) for name in _KEPT}


def _by_country(regimes: Iterable[Regime]) -> list:
    """Choices in groups of a country, as the page of the rules on file has them; by title within."""
    groups: dict[str, list] = {}
    for regime in sorted(regimes, key=lambda regime: (country_of(regime), regime.title)):
        groups.setdefault(country_of(regime) or "Wherever no other rules are followed", []).append(
            (regime.id, regime.title)
        )
    return list(groups.items())


@at_clinic("rules")
def log_terms(request, ground):
    rows = ClinicTerms.objects.in_force().filter(clinic=ground.clinic).order_by("effective_on", "id")
    terms = rows.filter(effective_on__lte=ground.today).last() or rows.last()
    write = partial(log.log_terms, clinic=ground.clinic)
    return entry_page(
        request, ground, TermsForm, write, title="Change the clinic’s terms", terms=terms,
        template="audit/terms.html",
    )  # fmt: skip
