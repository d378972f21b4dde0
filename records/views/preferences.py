"""How days, pressures and temperatures are written: by a clinic, and on this device."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from records.forms.base import Refusable
from records.views.base import at_clinic, safe_next
from records.writing import preferences

_UNKNOWN = {"required": "Nothing is chosen. Choose one.", "invalid_choice": "That is none of these. Choose one."}


def _choice(label: str, choices) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, widget=forms.RadioSelect, error_messages=_UNKNOWN)


class WrittenForm(Refusable):
    days = _choice("Days", tuple(preferences.DAY_STYLES.items()))
    temperature = _choice("Temperature", (("C", "°C"), ("F", "°F")))
    pressure = _choice("Pressure", (("kPa", "kPa"), ("bar", "bar"), ("psi", "psi")))
    next = forms.CharField(required=False, widget=forms.HiddenInput)

    def all_problems(self):
        return self.problems()


def _start(now: preferences.Written, request) -> dict:
    return {**{name: getattr(now, name) for name in preferences.CHOICES}, "next": safe_next(request)}


def _codes(form) -> str:
    return preferences.cookie_of(preferences.Written(**{n: form.cleaned_data[n] for n in preferences.CHOICES}))


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def written(request):
    """Choose for this device, for a year, or let each clinic's own way hold again. No record is changed by it."""
    back = safe_next(request) or reverse("preferences")
    if request.method == "POST" and request.POST.get("do") == "forget":
        answer = redirect(back)
        answer.delete_cookie(preferences.COOKIE, samesite="Lax")
        messages.success(request, "On this device each clinic’s pages are written as that clinic writes.")
        return answer
    start = _start(preferences.current(), request)
    form = WrittenForm(request.POST if request.method == "POST" else None, initial=start)
    if form.is_bound and form.is_valid():
        answer = redirect(back)
        answer.set_cookie(
            preferences.COOKIE,
            _codes(form),
            max_age=preferences.YEAR_SECONDS,
            httponly=True,
            samesite="Lax",
            secure=settings.SESSION_COOKIE_SECURE,
        )
        messages.success(request, "Kept on this device.")
        return answer
    context = {"form": form, "chosen": preferences.COOKIE in request.COOKIES}
    return render(request, "records/preferences.html", context, status=422 if form.is_bound else 200)


@at_clinic("manage")
@require_http_methods(["GET", "HEAD", "POST"])
def clinic_written(request, ground):
    """How a clinic writes: what its pages show to everybody whose device has no choice of its own. No record."""
    clinic = ground.clinic
    start = _start(preferences.read(clinic.written), request)
    form = WrittenForm(request.POST if request.method == "POST" else None, initial=start)
    if form.is_bound and form.is_valid():
        clinic.written = _codes(form)
        clinic.save(update_fields=["written"])
        messages.success(request, f"The pages of {clinic.name} are written so from now on.")
        return redirect(safe_next(request) or reverse("set-up", args=[clinic.slug]))
    context = {"form": form, "clinic": clinic}
    return render(request, "records/preferences.html", context, status=422 if form.is_bound else 200)
