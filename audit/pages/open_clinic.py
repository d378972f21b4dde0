"""Opening a clinic that a company serves: its name, its first terms, and the agreement, in one entry."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from audit.pages.terms import TermsForm
from records import log
from records.forms.base import EntryForm
from records.forms.fields import Day, Line
from records.log.organisations import is_taken, terms_problems
from records.log.submission import answered
from records.views.people import at_place

_TERMS = ("programme", "address", "time_zone", "week_start", "regime")
_SLUG = "Letters without accents, digits and hyphens, such as north-street. It stands in addresses and never changes."


class OpenClinicForm(TermsForm):
    legend = (
        "The record of a clinic that your company serves, with the rules that it is judged by from the first day on. "
        "Ask the clinic which rules it follows, and the authority when in doubt: once the record is open, only the "
        "clinic’s own coordinator changes them. Invite that person next."
    )

    slug = forms.SlugField(
        label="Short name", max_length=50, help_text=_SLUG,
        error_messages={
            "required": "The clinic needs a short name for its addresses. Enter one, such as north-street.",
            "invalid": "A short name has letters without accents, digits and hyphens only, such as north-street.",
        },
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )  # fmt: skip
    effective_on = Day(
        "Holds from which day on", required=False,
        help_text="Blank: from today on. Earlier, if the paper of an earlier time is to be entered.",
    )  # fmt: skip
    scope = Line("What the agreement covers", longest=500, help_text="Such as “maintenance of all sterilizers”.")

    field_order = ("request_key", "next", "name", "slug", *_TERMS, "effective_on", "scope")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        del self.initial["effective_on"]  # today is the clinic's, and where it is, is asked here
        self.fields["effective_on"].optional_word = "or blank for today"

    def clean(self):
        """What the writer would refuse is said along with the rest, not after it."""
        values = super().clean()
        found = [p for p in terms_problems(values) if p.field == "time_zone" and values.get("time_zone")]
        if not answered(self.ground.account, values.get("request_key")):
            found += is_taken(values.get("slug"))
        self.take(found)
        return values

    def values(self):
        values = EntryForm.values(self)
        values["terms"] = {name: values.pop(name) for name in _TERMS}
        values["effective_on"] = values["effective_on"] or log.first_day(values["terms"]["time_zone"])
        return values


@at_place(manage=True)
@require_http_methods(["GET", "HEAD", "POST"])
def open_clinic(request, place):
    """Sent twice it is opened once; refused, everything typed comes back."""
    form, status = OpenClinicForm(ground=place), 200
    if request.method == "POST":
        form, status = OpenClinicForm(request.POST, ground=place), 422
        if form.is_valid():
            try:
                return _opened(request, place, form)
            except log.SubmissionConflict as conflict:
                name = conflict.entry.ledger.organisation.name
                words = f"This form opened {name} already, so nothing new was written. For another clinic, open the"
                form.refuse("", f"{words} form anew from the company’s page.")
                status = 409
            except log.Refused as refusal:
                form.take(refusal.problems)
    context = place.context | {"form": form, "title": "Open a clinic"}
    return render(request, "records/open_clinic.html", context, status=status)


def _opened(request, place, form):
    key = form.cleaned_data["request_key"]
    before = answered(request.user, key)
    clinic = log.open_served_clinic(by=request.user, request_key=key, company=place.organisation, **form.values())
    if before:
        messages.info(request, f"{clinic.name} was opened with this form already. Nothing was written twice.")
    else:
        messages.success(request, f"The record of {clinic.name} is open, with its rules and the agreement.")
    return redirect("clinic", clinic.slug)
