"""By which time zone a company reckons its own day: that of its books of parts and of its stops."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from records import clock
from records.forms.fields import Line
from records.log import may_be_logged
from records.log.organisations import terms_problems
from records.views.base import company_or_404


class CompanyDayForm(forms.Form):
    """The time zone; what is wrong with one is said as of a clinic's."""

    use_required_attribute = False

    time_zone = Line(
        "Time zone", longest=64, required=True,
        help_text="Such as America/Chicago or Europe/Dublin. Each clinic keeps its own.",
    )  # fmt: skip

    def clean_time_zone(self) -> str:
        typed = self.cleaned_data["time_zone"]
        for problem in terms_problems({"time_zone": typed, "week_start": 0}):
            raise forms.ValidationError(problem.message)
        return typed

    def problems(self) -> list[tuple[str, str, str]]:
        """(label, message, id to jump to) of everything that is wrong."""
        return [(bound.label, message, bound.auto_id) for bound in self for message in bound.errors]

    all_problems = problems


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def company_day(request, slug: str):
    """Shown to all of the company, written over by who manages it. What is on record keeps the zone of its day."""
    company = company_or_404(request.user, slug)
    if request.method == "POST" and not company.managed:
        raise PermissionDenied(f"Only the dispatcher of {company.name} says by which zone its day is reckoned.")
    zone = may_be_logged.zone_of(company)
    form = CompanyDayForm(request.POST if request.method == "POST" else None, initial={"time_zone": zone})
    if form.is_bound and form.is_valid():
        company.time_zone = form.cleaned_data["time_zone"]
        company.save(update_fields=["time_zone"])
        messages.success(request, f"The day of {company.name} is that of {company.time_zone} from now on.")
        return redirect("company-day", company.slug)
    context = {"company": company, "form": form, "zone": zone, "today": clock.today(zone)}
    return render(request, "audit/company_day.html", context, status=422 if form.is_bound else 200)
