"""The first page after signing in: straight to the one place there is, or a list of them."""

from __future__ import annotations

from collections import Counter

from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from audit.judge.judgement import Word
from records import access
from records.models import Organisation

from .company import current_standings


@login_required
@require_safe
def home(request):
    """One company: its page. One clinic: its page. Several: a list. None: what to do about it."""
    companies = list(access.companies_of(request.user))
    clinics = list(access.clinics_of(request.user))
    own = _own(request.user, clinics) if companies else clinics
    if len(companies) == 1 and not own:
        return redirect("company", slug=companies[0].slug)
    if len(clinics) == 1 and not companies:
        return redirect("clinic", slug=clinics[0].slug)
    counts = _counts(own)
    lines = [{"clinic": c, "words": counts.get(c.pk, [])} for c in own]
    context = {"companies": companies, "lines": lines}
    if not companies and not clinics:
        context["begun"] = Organisation.objects.exists()
    return render(request, "audit/home.html", context)


def _own(account, clinics) -> list:
    """The clinics that the account itself belongs to, without those its company serves."""
    ids = set(access.memberships(account).values_list("organisation_id", flat=True))
    return [c for c in clinics if c.pk in ids]


def _counts(clinics) -> dict[int, list[tuple[str, int]]]:
    """Standings of each clinic's units, counted by word in the order of `Word`."""
    found: dict[int, Counter] = {}
    rows, _ = current_standings(clinics)
    for clinic_id, word in rows.values_list("clinic_id", "word"):
        found.setdefault(clinic_id, Counter())[word] += 1
    return {pk: [(w.value, n[w.value]) for w in Word if n[w.value]] for pk, n in found.items()}
