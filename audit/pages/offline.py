"""What keeps the pages at hand without a signal: the service worker, its pages, and what is taken along for a day."""

from __future__ import annotations

import hashlib
import json
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.db.models import Min
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from audit.facts import UnitFacts
from audit.gather.proofs import proofs_of
from audit.judge.judgement import Word
from audit.models import Standing
from audit.planning.round import week_of
from audit.regimes.model import WITHOUT_VACUUM
from audit.site.headers import POLICY, written
from records import access, clock
from records.forms import EntryContext
from records.log.kit_rules import kits_of
from records.models import BioReading, BioTest
from records.views.base import at_clinic, company_or_404

from .company import zones_of
from .desk.day import case_address
from .desk.entry import AIR, KINDS, LEAK, Kind
from .duties import failure_lines
from .opened import OpenedClinic, opened
from .visit.drafts import open_drafts
from .visit.unbegun import unbegun_pages

ROOT = Path(__file__).resolve().parents[2]
STATIC = tuple(ROOT / app / "static" for app in ("records", "audit"))
TEMPLATES = ROOT / "templates"
WORKER = ("audit/outbox-store.js", "audit/outbox-send.js", "audit/worker.js")
# The shell is what every page needs. Larger files and other kinds are kept once a page has asked for them.
SHELL_KINDS = {".css", ".js", ".svg"}
SHELL_LARGEST = 120_000  # bytes


def _files() -> list[tuple[str, Path]]:
    """(name, path) of the static files of this project, by name."""
    found = [(path.relative_to(base).as_posix(), path) for base in STATIC for path in base.rglob("*")]
    return sorted((name, path) for name, path in found if path.is_file())


def shell_version() -> str:
    """A digest of all static files and of the pages that the worker keeps: when one changes, all are fetched anew."""
    paths = [path for _, path in _files()]
    paths += [TEMPLATES / "base.html", *sorted((TEMPLATES / "audit" / "offline").glob("*.html"))]
    return _digest(tuple((str(path), path.stat().st_mtime_ns) for path in paths))


@lru_cache(maxsize=4)
def _digest(files: tuple[tuple[str, int], ...]) -> str:
    """Of the bytes, not of the times: the times only say when to read again."""
    digest = hashlib.sha256()
    for path, _ in files:
        content = Path(path).read_bytes()
        digest.update(f"{Path(path).name}:{len(content)}:".encode())
        digest.update(content)
    return digest.hexdigest()[:20]


def shell() -> list[str]:
    """Addresses of the static files that every page may need."""
    small = [n for n, p in _files() if p.suffix in SHELL_KINDS and p.stat().st_size <= SHELL_LARGEST]
    return [static(name) for name in small if name != WORKER[-1]]


@require_safe
def service_worker(request):
    """The worker, served from the root so that every page is in its reach."""
    about = {
        "version": shell_version(),
        "shell": shell(),
        "static": settings.STATIC_URL,
        # Names with a digest in them never change their content.
        "fixed": not settings.DEBUG,
        "offline": reverse("offline"),
        "waiting": reverse("waiting"),
        "signIn": reverse("sign-in"),
        "signOut": [reverse("sign-out"), reverse("admin:logout")],
        "state": reverse("waiting-state"),
        # Pages from the store are held to what pages of the server are held to.
        "policy": written(POLICY),
    }
    sources = [(ROOT / "audit" / "static" / name).read_text(encoding="utf-8") for name in WORKER]
    body = f"self.ABOUT = {json.dumps(about, sort_keys=True)};\n" + "\n".join(sources)
    response = HttpResponse(body, content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    response["Service-Worker-Allowed"] = "/"
    return response


@require_safe
def no_signal(request):
    """Shown when there is no signal and the page asked for is not on the device. Says nothing of anybody."""
    return render(request, "audit/offline/offline.html")


@require_safe
def waiting(request):
    """What waits on the device; its script fills it in, the server has no part in it."""
    return render(request, "audit/offline/waiting.html")


@never_cache
@require_safe
def waiting_state(request):
    """Who is signed in, and a fresh token for the forms that waited."""
    account = str(request.user.ref) if request.user.is_authenticated else ""
    return JsonResponse({"account": account, "token": get_token(request) if account else ""})


@never_cache
@at_clinic("look")
@require_safe
def take_along(request, ground: EntryContext):
    """Addresses of the pages of a clinic that a person needs there for a day."""
    page = opened(request, ground)
    return JsonResponse({"name": page.clinic.name, "addresses": _pages_of(page, request.user)})


@never_cache
@login_required
@require_safe
def take_along_company(request, slug: str):
    """The company's page and round; then where the pages of each clinic it serves are told, the soonest due first."""
    company = company_or_404(request.user, slug)
    clinics = _soonest_first(list(access.clinics_of_company(company)))
    told = [{"name": c.name, "address": reverse("take-along", args=[c.slug])} for c in clinics]
    return JsonResponse({"name": company.name, "addresses": _pages_of_company(slug, clinics), "more": told})


def _pages_of_company(slug: str, clinics: list) -> list[str]:
    """With the parts to bring in this week and the next, by the latest day at a clinic, as the round has it."""
    today = max((clock.today(zone) for zone in zones_of(clinics).values()), default=clock.today())
    weeks = [week_of(today + timedelta(weeks=n)) for n in (0, 1)]
    parts = [("round-parts", [slug, week.isoformat()]) for week in weeks]
    return _known([("company", [slug]), ("round", [slug]), *parts])


def _soonest_first(clinics: list) -> list:
    """By the earliest date on which something falls due there, as last judged; those never judged at the end."""
    due = Standing.objects.filter(clinic__in=clinics).values_list("clinic_id").annotate(Min("next_due_on"))
    dates = {pk: day for pk, day in due if day}
    return sorted(clinics, key=lambda clinic: (dates.get(clinic.pk, date.max), clinic.name))


FORMS = (
    "log-bio", "log-chemical", "log-air-removal", "log-leak", "log-load", "log-user-check", "add-indicator-lot",
    "log-fit", "add-document",
)  # fmt: skip


def _pages_of(page: OpenedClinic, account) -> list[str]:
    slug, rights = page.clinic.slug, page.rights
    judged = list(zip(page.facts.units, page.judgement.units, strict=True))
    present = {str(unit.ref) for unit in access.units_of_clinic(page.clinic)}
    units = [facts for facts, _ in judged if facts.ref in present]
    idle = {answer.unit for _, answer in judged if answer.standing.word is Word.NOT_IN_USE}
    used = [facts for facts in units if facts.ref not in idle]
    pages = [("home", []), ("clinic", [slug]), ("may-be-used", [slug])] + [("unit", [slug, u.ref]) for u in units]
    if not rights.may_log:
        return _known(pages)
    pages += [("day", [slug])] + [(kind.name, [slug, unit.ref]) for unit in used for kind in _kinds_of(unit)]
    pages += [(name, [slug]) for name in FORMS] + [("unit-event", [slug, unit.ref]) for unit in units]
    pages += [(name, [slug, ref]) for name in ("day-read", "read-bio") for ref in _unread(page.clinic)]
    found = _known(pages) + _responses(page, judged)
    if rights.may_log_visit:
        start = reverse("log-visit", args=[slug])
        found += [*_known([("visit-begin", [slug])]), start, *(f"{start}?units={unit.ref}" for unit in units)]
        found += [reverse("visit-draft", args=[slug, draft.ref]) for draft in _own_drafts(page, account)]
        found += unbegun_pages(page, units, kits_of(rights.company or page.clinic))
    return found


def _own_drafts(page: OpenedClinic, account) -> list:
    """Visits that the account is typing at the clinic, all of whose units are still there."""
    here = {unit.ref for unit in page.facts.units}
    return [draft for draft in open_drafts(account, clinic=page.clinic) if here >= set(draft.units)]


def _kinds_of(unit: UnitFacts) -> list[Kind]:
    """The entries of a day that the unit can have."""
    without = (AIR, LEAK) if unit.equipment_type in WITHOUT_VACUUM else ()
    return [kind for kind in KINDS if kind not in without]


def _responses(page: OpenedClinic, units) -> list[str]:
    """The guided response to each failure that is not settled."""
    proofs = proofs_of(page.clinic.slug, page.facts)
    found = (case_address(page, line.case, proofs) for line in failure_lines(units))
    return list(dict.fromkeys(address for address in found if address))


def _unread(clinic) -> list:
    """The spore tests that nobody has read yet."""
    read = BioReading.objects.in_force().values("bio_test")
    tests = BioTest.objects.in_force().filter(clinic=clinic)
    return list(tests.exclude(origin__in=BioTest.objects.filter(pk__in=read).values("origin")).values_list(
        "origin", flat=True
    ))  # fmt: skip


def _known(pages) -> list[str]:
    """The addresses of the pages, each once."""
    return list(dict.fromkeys(reverse(name, args=args) for name, args in pages))
