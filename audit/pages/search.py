"""The page that finds things by what is printed on them."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.pages.found import EACH, LEAST, LONGEST, search


@login_required
@require_safe
def search_page(request):
    """What `?q=` finds; without it, what can be looked for."""
    words = request.GET.get("q", "").strip()[:LONGEST]
    short = 0 < len(words) < LEAST
    context = {
        "words": words,
        "groups": search(request.user, words),
        "asked": len(words) >= LEAST,
        "short": short,
        "least": LEAST,
        "longest": LONGEST,
        "each": EACH,
    }
    return render(request, "audit/search.html", context, status=400 if short else 200)
