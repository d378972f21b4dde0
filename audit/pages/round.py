"""The round of a company: what falls due at which clinic in the next twelve weeks, and what to bring."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.blank_forms import NoUnit, paper_forms
from audit.binder.pdf.blank_forms import render_forms
from audit.binder.pdf.page import SIZES
from audit.gather.kept_facts import kept_facts
from audit.issue.blank_forms import AHEAD
from audit.judge.evaluate import evaluate
from audit.planning.round import WINDOW, WINDOWS, Round, Stop, Week, bring, plan_round, week_of
from audit.regimes import all_regimes
from records import access
from records.views.base import company_or_404

from .days import DayProblem, read_day, today_of
from .getting_in import getting_in_of
from .planned import StopShown, by_item, stops_of
from .round_read import RoundRead, lots_of, read_works

WAITING_NAMED = 5
STOPS_SHOWN = 60  # on one page; the weeks after them are opened by themselves


@dataclass(frozen=True, slots=True)
class RoundAsked:
    """What the address asks for; what is not known is named in `problems` and left out."""

    clinic: str
    technician: str
    window: int
    week: date | None
    problems: tuple[str, ...]

    @classmethod
    def of(cls, query, clinics) -> RoundAsked:
        problems = []
        clinic = query.get("clinic", "")
        if clinic and clinic not in {c.slug for c in clinics}:
            problems.append("That clinic is not served by this company, so every clinic is shown.")
            clinic = ""
        window, week = query.get("early", str(WINDOW)), query.get("week", "")
        if window not in {str(n) for n in WINDOWS}:
            problems.append(f"Work can be done early by {', '.join(map(str, WINDOWS))} days; {WINDOW} is used.")
            window = str(WINDOW)
        try:
            week = week_of(date.fromisoformat(week)) if week else None
        except ValueError:
            problems.append("That week is not a day of the calendar, so all weeks are shown.")
            week = None
        return cls(clinic, query.get("technician", ""), int(window), week, tuple(problems))


@dataclass(frozen=True, slots=True)
class RoundPage:
    """The round as asked for."""

    company: object
    clinics: list
    asked: RoundAsked
    read: RoundRead
    made: Round
    technicians: tuple[str, ...]


def _page(request, slug: str) -> RoundPage:
    company = company_or_404(request.user, slug)
    clinics = list(access.clinics_of_company(company))
    asked = RoundAsked.of(request.GET, clinics)
    read = read_works([c for c in clinics if asked.clinic in ("", c.slug)])
    technicians = tuple(sorted({i.last_by for w in read.works for i in w.items if i.last_by}))
    works = read.works
    if asked.technician:
        works = [replace(w, items=tuple(i for i in w.items if i.last_by == asked.technician)) for w in works]
    made = plan_round(works, read.today, window=asked.window)
    return RoundPage(company, clinics, asked, read, made, technicians)


@login_required
@require_safe
def round_page(request, slug: str):
    """Weeks as sections, clinics under them. What narrows it stands in the address."""
    page = _page(request, slug)
    asked = page.asked
    if asked.week and page.made.week(asked.week) is None:
        asked = replace(asked, week=None, problems=(*asked.problems, "That week is not among the next twelve."))
    shown = _shown(page.made, asked.week)
    lots = lots_of(page.company, page.read.today)
    given = by_item(stops_of(page.company, page.read.works, clinics=page.clinics))
    context = _common(request, page) | {
        "asked": asked,
        "weeks": page.made.weeks,
        "made": page.made,
        "shown": [_week_shown(week, given, lots) for week in shown],
        "more": [week for week in page.made.weeks if week.stops and week not in shown] if not asked.week else [],
        "chosen": _chosen(asked, page.clinics),
        "narrowed": bool(asked.clinic or asked.technician or asked.week),
        "windows": WINDOWS,
        "problems": asked.problems,
        "insides": getting_in_of(page.clinics),
        "sizes": sorted(SIZES, reverse=True),
        "stops": sum(len(week.stops) for week in page.made.weeks),
        "may_visit": access.may_visit_for(request.user, page.company),
    }
    return render(request, "audit/round.html", context)


def _week_shown(week: Week, given: dict[tuple[str, str, str], StopShown], lots) -> dict:
    """The week with what to bring; its stops, those with work that nobody was given first, each with whose it is."""
    stops = [_stop_shown(stop, given) for stop in week.stops]
    stops.sort(key=lambda each: not each["open"])
    return {"week": week, "stops": stops, "lines": bring(week.stops, lots, week.end)}


def _stop_shown(stop: Stop, given: dict[tuple[str, str, str], StopShown]) -> dict:
    """`planned`: the stops on which its due work stands; `open`: how much of it stands on none."""
    found = [given.get(item.key) for item in stop.due]
    planned = {each.row.pk: each for each in found if each is not None}
    return {"stop": stop, "planned": list(planned.values()), "open": found.count(None)}


def _chosen(asked: RoundAsked, clinics) -> str:
    """What the list is narrowed to, in one line."""
    named = {clinic.slug: clinic.name for clinic in clinics}
    told = [named.get(asked.clinic, "every clinic")]
    told += [f"last worked on by {asked.technician}"] if asked.technician else []
    told += ["one week" if asked.week else "all twelve weeks"]
    return ", ".join((*told, f"up to {asked.window} days ahead" if asked.window else "nothing early"))


def _common(request, page: RoundPage) -> dict:
    return {
        "company": page.company,
        "clinics": page.clinics,
        "technicians": page.technicians,
        "today": page.read.today,
        "waiting": page.read.waiting,
        "waiting_named": page.read.waiting[:WAITING_NAMED],
        "waiting_count": len(page.read.waiting),
        "waiting_more": max(0, len(page.read.waiting) - WAITING_NAMED),
        "read": len(page.read.works),
        "asked": page.asked,
        "query": _query(request),
        "query_of_week": _query(request, "week"),
    }


def _query(request, *without: str) -> str:
    kept = request.GET.copy()
    for name in without:
        kept.pop(name, None)
    return kept.urlencode()


def _shown(made: Round, week: date | None) -> list[Week]:
    """The week asked for, else weeks with work until the page is full; at least one."""
    if week:
        return [each for each in made.weeks if each.start == week]
    shown, stops = [], 0
    for each in made.weeks:
        if each.stops and (not shown or stops + len(each.stops) <= STOPS_SHOWN):
            shown.append(each)
            stops += len(each.stops)
        elif each.stops:
            break
    return shown


def _week_or_404(page: RoundPage, week: str) -> Week:
    try:
        found = page.made.week(week_of(date.fromisoformat(week)))
    except ValueError:
        found = None
    if found is None:
        raise Http404("That week is not among the next twelve.")
    return found


@login_required
@require_safe
def round_parts(request, slug: str, week: str):
    """The parts of one week, to be printed and ticked off."""
    page = _page(request, slug)
    found = _week_or_404(page, week)
    context = _common(request, page) | {
        "week": found,
        "lines": bring(found.stops, lots_of(page.company, page.read.today), found.end),
    }
    return render(request, "audit/round_parts.html", context)


@login_required
@require_safe
def round_sheets(request, slug: str, week: str):
    """The visit sheets of the units with work at one stop, as a PDF file, for `?clinic=` and `?on=` (blank: undated).

    404 when there is no stop at that clinic in that week.
    """
    page = _page(request, slug)
    found = _week_or_404(page, week)
    stop = next((s for s in found.stops if s.clinic == page.asked.clinic), None)
    size = request.GET.get("page", "letter")
    if stop is None or size not in SIZES:
        raise Http404("No stop at that clinic in that week.")
    facts = kept_facts(next(c for c in page.clinics if c.slug == stop.clinic))
    today = today_of(facts)
    try:
        asked = request.GET.get("on", "")
        on = read_day(asked, "the day of the visit", latest=today + timedelta(days=AHEAD)) if asked else None
        inside = getting_in_of([c for c in page.clinics if c.slug == stop.clinic])[stop.clinic].lines
        body = _sheets(facts, stop, today, on, size, inside)
    except (DayProblem, NoUnit) as problem:
        return render(request, "audit/round_refused.html", _common(request, page) | {"problem": problem}, status=400)
    name = f"job-sheets-{stop.clinic}-{on.isoformat() if on else found.start.isoformat()}.pdf"
    return HttpResponse(
        body,
        content_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-store"},
    )


def _sheets(facts, stop: Stop, today: date, on: date | None, size: str, inside) -> bytes:
    judgement = evaluate(facts, min(on, today) if on else today)
    regime = all_regimes()[judgement.regime].on(judgement.as_of)
    forms = paper_forms(facts, judgement, regime, "visit", on=on, getting_in=inside)
    wanted = {f"visit-{item.unit}" for item in stop.items}
    kept = tuple(form for form in forms.forms if form.id in wanted)
    body, _ = render_forms(replace(forms, forms=kept), judgement.as_of, page_size=size)
    return body
