"""Scanning: what a code says and what it points to. Nothing is recorded here; a scan only leads on or fills in.

Answers a page, or JSON to a script that asks for it. The raw scan is given back with what was read from it.
"""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import Http404, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from records import access, clock
from records.log.recalls import doubt_of, notices_for
from records.models import Clinic
from records.scan.gs1 import SEPARATOR, CodeReading, Doubt, Scan, read
from records.scan.scanned import Match, matches, unit_of_label
from records.views.base import at_clinic


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def scan(request):
    """Scanning before a clinic is chosen: a label of ours leads to its unit, anything else asks at which clinic."""
    slug = request.POST.get("clinic", "")
    if slug:
        return clinic_scan(request, slug=slug)
    clinics = list(access.clinics_of(request.user))
    if request.method != "POST" and len(clinics) == 1:
        return redirect("clinic-scan", clinics[0].slug)
    context = {"clinics": clinics}
    if request.method == "POST":
        context |= _found(request, None, [])
    return _answer(request, context)


@at_clinic("look")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def clinic_scan(request, ground):
    """Scanning at a clinic: leads to the unit, its visit, the box of indicators or the entry of a lot."""
    context = {"clinic": ground.clinic, "rights": ground.rights}
    if request.method == "POST":
        context |= _found(request, ground, None)
    return _answer(request, context)


def _found(request, ground, found: list[Match] | None) -> dict:
    raw = request.POST.get("scan", "")
    scanned = read(raw, ground.today if ground else clock.today())
    found = matches(ground, scanned) if ground else found
    lines = [_line(ground, match) for match in found]
    elsewhere = unit_of_label(request.user, scanned.unit) if scanned.unit and not lines else None
    if elsewhere:
        clinic, unit = elsewhere
        lines = [_unit_line(clinic, access.rights(request.user, clinic), str(unit.origin), f"{unit}, {clinic.name}")]
    doubts = [*scanned.doubts, *_disagreements(scanned, found)]
    return {
        "scan": scanned,
        "lines": lines,
        "doubts": doubts,
        "new": _new_lots(ground, scanned, found),
        "raw": raw,
        "shown": raw.replace(SEPARATOR, "␝"),
    }


def _line(ground, match: Match) -> dict:
    if match.kind == "unit":
        return _unit_line(ground.clinic, ground.rights, match.ref, match.title)
    slug, links = ground.clinic.slug, []
    if match.kind == "indicator lot" and match.row.kind == "biological" and ground.rights.may_log:
        links = [("Start a spore test with it", f"{reverse('log-bio', args=[slug])}?{urlencode({'lot': match.ref})}")]
    title = match.title
    if match.kind == "part lot" and (doubt := doubt_of(notices_for(ground.clinic), match.row, ground.today)):
        title = f"{title}, {doubt}"
    return {"kind": match.kind, "ref": match.ref, "title": title, "links": links, "lots": list(match.lots)}


def _unit_line(clinic: Clinic, rights, ref: str, title: str) -> dict:
    links = [("Open the unit’s page", reverse("unit", args=[clinic.slug, ref]))]
    if rights.may_log_visit:
        links.append(("Begin a visit", f"{reverse('visit-begin', args=[clinic.slug])}?unit={ref}"))
    if rights.may_log:
        links.append(("Start a spore test", f"{reverse('log-bio', args=[clinic.slug])}?unit={ref}"))
    return {"kind": "unit", "ref": ref, "title": title, "links": links, "lots": []}


def _disagreements(scanned: Scan, found: list[Match]) -> list[Doubt]:
    """Where the label and the records name different days for the same lot."""
    said = {r.lot.upper(): r.expiry for r in scanned.readings if r.lot and r.expiry}
    lots = [m for m in found if m.kind in ("indicator lot", "part lot")]
    differ = [m for m in lots if said.get(m.row.lot.upper(), m.row.expiry) != m.row.expiry]
    return [Doubt("other-day", _two_days(m, said[m.row.lot.upper()]), ask=False) for m in differ]


def _two_days(match: Match, said) -> str:
    kept = f"use by {match.row.expiry}" if match.row.expiry else "no such day"
    return f"The label says use by {said}; the records of {match.title.split(',')[0]} say {kept}. Which is right?"


def _new_lots(ground, scanned: Scan, found: list[Match]) -> list[dict]:
    """For each lot that is not on record, the way to enter it."""
    if ground is None or not ground.rights.may_log:
        return []
    known = {m.row.lot.upper() for m in found if m.kind in ("indicator lot", "part lot")}
    known |= {m.row.receipt_lot.upper() for m in found if m.kind == "part lot"}
    fresh = [r for r in scanned.readings if r.lot and r.lot.upper() not in known]
    if scanned.kind == "lot" and found:
        fresh = []  # the text is the name of something else
    return [{"lot": r.lot, "address": _new_box(ground, r)} for r in fresh]


def _new_box(ground, reading: CodeReading) -> str:
    start = {"lot": reading.lot} | ({"expiry": reading.expiry.isoformat()} if reading.expiry else {})
    return f"{reverse('add-indicator-lot', args=[ground.clinic.slug])}?{urlencode(start)}"


def _answer(request, context: dict):
    bad = "scan" in context and context["scan"].kind == "unread"
    status = 422 if bad else 200
    if request.method == "POST" and "application/json" in request.headers.get("Accept", ""):
        return JsonResponse(_as_json(context), status=status)
    return render(request, "audit/scan.html", context, status=status)


def _as_json(context: dict) -> dict:
    scanned = context["scan"]
    return {
        "kind": scanned.kind,
        "raw": context["raw"],
        "symbology": scanned.symbology,
        "ask": scanned.ask and scanned.kind != "unit label",
        "doubts": [{"code": d.code, "message": d.message} for d in context["doubts"]],
        "readings": [_reading(each) for each in scanned.readings],
        "matches": [
            {**line, "links": [{"text": t, "address": a} for t, a in line["links"]]} for line in context["lines"]
        ],
        "new": context["new"],
    }


def _reading(reading: CodeReading) -> dict:
    return {
        "gtin": reading.gtin,
        "lot": reading.lot,
        "expiry": reading.expiry.isoformat() if reading.expiry else "",
        "produced": reading.produced.isoformat() if reading.produced else "",
        "serial": reading.serial,
        "udi": reading.udi,
        "fields": [list(field) for field in reading.fields],
        "doubts": [{"code": d.code, "message": d.message} for d in reading.doubts],
    }


@login_required
@require_safe
def labelled_unit(request, label: str):
    """Where the address on a label leads: the page of the unit at the clinic where it stands now."""
    found = unit_of_label(request.user, label)
    if found is None:
        raise Http404("No unit of this label that the account may see.")
    clinic, unit = found
    return redirect("unit", clinic.slug, unit.origin)
