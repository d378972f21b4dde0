"""Which rules may hold for a place, and what changes if others are followed. Everything here only shows."""

from __future__ import annotations

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.gather.kept_facts import kept_facts
from audit.judge.otherwise import if_followed
from audit.regimes import all_regimes
from audit.regimes.choosing import EXAMINATION, NOT_KNOWN, PlaceAsked, places_on_file, propose
from audit.regimes.compare import NOT_ASKED, differences
from audit.regimes.in_words import CAUTION
from audit.regimes.model import KINDS_OF_PLACE
from records import clock
from records.forms.base import Refusable
from records.models import Clinic
from records.views.base import at_clinic

ELSEWHERE = "elsewhere"
TYPES_OF_UNIT = (
    ("gravity", "Gravity displacement: no pump draws the air out"),
    ("dynamic air removal", "Air removal by a pump, before or after the exposure"),
    ("cassette", "Cassette"),
)
_PART = "|"


class RulesAskedForm(Refusable):
    """Where a clinic is and what it has. Nothing of it is kept."""

    heading = "The rules cannot be proposed yet"

    place = forms.ChoiceField(
        label="Country and region",
        help_text="Not in the list? Choose the whole country, or another country: what to ask whom is then told.",
        error_messages={"required": "Where is the clinic? Choose the place, or another country."},
    )
    kind = forms.ChoiceField(
        label="Kind of clinic",
        choices=[("", "— choose —"), *KINDS_OF_PLACE.items()],
        error_messages={"required": "Rules differ by the kind of clinic. Choose one."},
    )
    units = forms.MultipleChoiceField(
        label="Kinds of unit it has",
        choices=TYPES_OF_UNIT,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: everything is looked for.",
    )
    examination = forms.ChoiceField(
        label="Examination of the pressure vessel", choices=list(EXAMINATION.items()), widget=forms.RadioSelect
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = _place_choices()

    def all_problems(self):
        return self.problems()

    def asked(self) -> PlaceAsked:
        values = self.cleaned_data
        country, _, region = values["place"].partition(_PART)
        named = "another country" if country == ELSEWHERE else country
        return PlaceAsked(named, region, values["kind"], tuple(values["units"]), values["examination"])


def _place_choices() -> list:
    groups = [
        (country, [(country, f"{country}: the whole country, or a part that is not listed"),
                   *((f"{country}{_PART}{region}", region) for region in regions)])
        for country, regions in places_on_file(all_regimes().values()).items()
    ]  # fmt: skip
    return [("", "— choose —"), *groups, (ELSEWHERE, "another country")]


@login_required
@require_safe
def choose_rules(request):
    """A form asks where the clinic is and what it has; the proposal stands under it, the answers in the address."""
    asked = bool(request.GET)
    form = RulesAskedForm(request.GET if asked else None, initial={"examination": NOT_KNOWN})
    found = propose(form.asked(), all_regimes().values()) if asked and form.is_valid() else None
    context = {"form": form, "found": found, "caution": CAUTION}
    return render(request, "audit/choose_rules.html", context, status=422 if asked and not found else 200)


# ------------------------------------------------------------------------------------------------ what changes


def _named(request, name: str):
    """The rules that the address names; None where it names none. Raises Http404 for rules not on file."""
    id = request.GET.get(name, "")
    if id and id not in all_regimes():
        raise Http404("There are no such rules on file.")
    return all_regimes()[id] if id else None


def _compared(before, after, day) -> dict:
    """What the page of a comparison needs; both in the edition in force on the day."""
    both = (before.on(day), after.on(day)) if before and after else (before, after)
    groups: dict[str, list] = {}
    for each in differences(*both) if before and after else ():
        groups.setdefault(each.subject, []).append(each)
    return {
        "before": both[0],
        "after": both[1],
        "groups": groups.items(),
        "count": sum(len(rows) for rows in groups.values()),
        "known": sorted(all_regimes().values(), key=lambda one: one.title),
        "not_asked": NOT_ASKED,
        "caution": CAUTION,
        "day": day,
    }


@login_required
@require_safe
def compare_rules(request):
    """Two sets of rules side by side, rule by rule: `?before=` and `?after=`. 404 for rules not on file."""
    before, after = _named(request, "before"), _named(request, "after")
    return render(request, "audit/compare_rules.html", _compared(before, after, clock.today()))


@at_clinic("look")
@require_safe
def clinic_other_rules(request, ground):
    """What `?after=` would change for a clinic today, rule by rule and unit by unit; judged in memory, never kept."""
    facts, clinic = kept_facts(ground.clinic), ground.clinic
    terms, after = facts.terms_on(ground.today), _named(request, "after")
    before = all_regimes().get(terms.regime) if terms else None
    context = _compared(before or all_regimes()["base"], after, ground.today)
    change = if_followed(facts, after, ground.today) if after else None
    return render(request, "audit/compare_rules.html", context | _of_clinic(clinic, change, ground.rights))


def _of_clinic(clinic: Clinic, change, rights) -> dict:
    return {"clinic": clinic, "change": change, "rights": rights}
