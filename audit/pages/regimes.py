"""The rules on file, for anybody signed in: all of them, and one with every rule and where it stands."""

from __future__ import annotations

from datetime import date

from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.judge.words import WORDS
from audit.regimes import all_regimes, load_regime, regime_ids
from audit.regimes.by_subject import SUBJECT_COLUMNS, by_subject
from audit.regimes.gaps import GAPS
from audit.regimes.held import days_held, why_that_day
from audit.regimes.in_words import CAUTION, NOTHING, grade_line, memory_count, notes, sections

from .days import DayProblem, read_day


@login_required
@require_safe
def rules_list(request):
    """Every set of rules by country: place, programme, edition, and how many of its rules are from memory."""
    held = sorted(all_regimes().values(), key=lambda one: (one.id != "base", one.title))
    groups: dict[str, list[dict]] = {}
    for one in sorted(held, key=country_of):
        row = {"regime": one, "memory": memory_count(one), "earlier": len(one.earlier)}
        groups.setdefault(country_of(one), []).append(row)
    countries = [
        {"name": name or "Wherever no other rules are followed, or a local code adopts them", "rows": rows,
         "programmes": sorted({row["regime"].programme for row in rows})}
        for name, rows in groups.items()
    ]  # fmt: skip
    unfolded = request.GET.get("open") == "1"
    context = {
        "countries": countries,
        "count": len(held),
        "caution": CAUTION,
        "unfolded": unfolded,
        "gaps": GAPS,
        "words": WORDS,
    }
    return render(request, "audit/regimes.html", context)


def country_of(regime) -> str:
    """The last part of its place; "" for rules of no country, which so come first."""
    last = regime.place.rpartition(", ")[2]
    return last if last[:1].isupper() else ""


@login_required
@require_safe
def rules_page(request, id: str):
    """One set of rules in its newest edition, or in the one in force on `?on=`. 404 for rules not on file."""
    if id not in regime_ids():
        raise Http404("There are no such rules on file.")
    newest = load_regime(id)
    on, problem = _asked(request)
    regime = newest.on(on) if on else newest
    context = {
        "regime": regime,
        "parent": load_regime(regime.inherits) if regime.inherits else None,
        "sections": sections(regime),
        "by_subject": by_subject(regime),
        "subject_columns": SUBJECT_COLUMNS,
        "memory": memory_count(regime),
        "grades": grade_line(regime),
        "notes": notes(regime),
        "editions": days_held(newest),
        "why_that_day": why_that_day(regime),
        "newest": newest,
        "too_early": on is not None and on < regime.valid_from,
        "on": on,
        "problem": problem,
        "caution": CAUTION,
        "nothing": NOTHING,
        "unfolded": request.GET.get("open") == "1",
    }
    return render(request, "audit/regimes_one.html", context, status=400 if problem else 200)


def _asked(request) -> tuple[date | None, str]:
    """The day asked about, None for the newest edition; and what was wrong with it, or ""."""
    text = request.GET.get("on", "")
    if not text:
        return None, ""
    try:
        return read_day(text, "the day asked about"), ""
    except DayProblem as problem:
        return None, f"{problem} Shown is the newest edition."
