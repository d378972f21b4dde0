"""On which days somebody wants a mail of what is due, and where it goes."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from audit.models import MailDigest
from audit.planning.digest import DAY, NEVER, WEEK
from records.doors import events
from records.forms.base import Refusable

CHOICES = ((NEVER, "no mail"), (DAY, "every day on which something is due"), (WEEK, "once a week"))


class MailForm(Refusable):
    every = forms.ChoiceField(
        label="How often",
        choices=CHOICES,
        widget=forms.RadioSelect,
        error_messages={"required": "Nothing is chosen. Choose how often, or no mail."},
    )
    email = forms.EmailField(
        label="Mail address",
        required=False,
        max_length=254,
        help_text="Only for these mails. Each says what is due and overdue, and which units may not be used.",
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={"invalid": "That is not a mail address. Write it like name@place.example."},
    )

    def clean(self):
        values = super().clean()
        if values.get("every") in (DAY, WEEK) and not values.get("email") and "email" not in self.errors:
            self.add_error("email", "Where should the mail go? Enter the address, or choose no mail.")
        return values

    def all_problems(self):
        return self.problems()


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def my_mail(request):
    """Choose; kept for the account, changed at any time."""
    held = MailDigest.objects.filter(account=request.user).first()
    start = {"every": held.every if held else NEVER, "email": request.user.email}
    form = MailForm(request.POST if request.method == "POST" else None, initial=start)
    if form.is_bound and form.is_valid():
        _keep(request, form.cleaned_data)
        messages.success(request, f"Kept: {dict(CHOICES)[form.cleaned_data['every']]}.")
        return redirect("my-mail")
    context = {"form": form, "held": held}
    return render(request, "audit/my_mail.html", context, status=422 if form.is_bound else 200)


def _keep(request, chosen: dict) -> None:
    account = request.user
    MailDigest.objects.update_or_create(account=account, defaults={"every": chosen["every"]})
    if account.email != chosen["email"]:
        before = account.email
        account.email = chosen["email"]
        account.save(update_fields=["email"])
        # Told at the address of before; and a link to choose a pass phrase goes to the new one only after a day.
        events.note("mail address changed", request, account=account, to=before)
