"""Visits that are being typed: who may open one, saving a page of it, two devices at the same page.

A save names the revision that its page was opened at. It is refused, with both answers shown, only where another
device saved another answer to the same page since; pages that differ do not stand in each other's way. Of the answers
of one device the one that was typed last stands, in whatever order they arrive.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date
from functools import cache, partial

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.http import Http404, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from audit.models import VisitDraft
from audit.pages.visit.guide.steps import is_idle
from records import clock
from records.forms import EntryContext
from records.log.template_content import readings_of_units

from ..opened import OpenedClinic, opened
from .end_forms import HeadForm
from .kits import kits_in_books
from .units import VisitUnit, about_of

LONGEST = 5000  # characters typed into one field
MOST = 400_000  # characters of a whole draft
VISIT = "visit"  # the key of what belongs to no unit


class Gone(Exception):
    """The draft was recorded or thrown away meanwhile."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """Another device saved the page since: `there` is its answer, saved at `at`."""

    there: dict
    at: str
    revision: int


def draft_or_404(ground: EntryContext, ref) -> VisitDraft:
    """One's own draft at this clinic."""
    draft = VisitDraft.objects.filter(ref=ref, clinic=ground.clinic, account=ground.account).first()
    if draft is None:
        raise Http404("No such visit is being typed here.")
    return draft


def blank(ground: EntryContext, units: list, device: str, **more) -> VisitDraft:
    """A draft of these units, not kept yet."""
    now = clock.now()
    side = ground.rights.company or ground.clinic
    content = {"side": str(side.ref), "labels": [u.label for u in units], "steps": {}, "photos": []}
    refs = [str(unit.ref) for unit in units]
    return VisitDraft(
        clinic=ground.clinic, account=ground.account, units=refs, content=content, begun_at=now, saved_at=now,
        device=device[:200], **more,
    )  # fmt: skip


def begin(ground: EntryContext, units: list, device: str, key=None) -> VisitDraft:
    """A draft of these units. Sent twice under one key, it is one draft; None when the key is of another one."""
    refs = [str(unit.ref) for unit in units]
    try:
        with transaction.atomic():
            draft = blank(ground, units, device, **({"request_key": key} if key else {}))
            draft.save()
            return draft
    except IntegrityError:
        own = VisitDraft.objects.filter(request_key=key, clinic=ground.clinic, account=ground.account)
        return own.filter(units=refs).first()


def key_of(request, *names: str):
    """The key under one of these names, None where it is none."""
    for name in names:
        try:
            return uuid.UUID(request.POST.get(name, ""))
        except ValueError:
            continue
    return None


def open_drafts(account=None, **where):
    """Drafts that are not recorded, the newest first; of one account, or of all."""
    found = VisitDraft.objects.filter(recorded_at=None, **where).select_related("clinic", "account")
    return (found.filter(account=account) if account else found).order_by("-saved_at")


def line_of(draft: VisitDraft) -> dict:
    """A draft for a list: where, what, since when, whether it was left for long."""
    now = clock.now()
    return {
        "draft": draft,
        "units": ", ".join(draft.content["labels"]),
        "idle": is_idle(draft.saved_at, now),
        "hours": int((now - draft.saved_at).total_seconds() // 3600),
    }


def device_of(request) -> str:
    """Which device sends: its own name where a script gave it one, else the session."""
    return (request.POST.get("device") or request.session.session_key or "")[:40]


def base_of(request) -> int:
    sent = request.POST.get("revision", "")
    return int(sent) if sent.isdigit() and len(sent) < 10 else 0


def typed_at(request) -> int:
    """When the device says that the page was typed, in milliseconds of its own clock; 0 when it does not say."""
    return moment_of(request.POST.get("typed_at", ""))


def moment_of(sent) -> int:
    """Milliseconds as sent, 0 where they are none."""
    text = str(sent)
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else 0


def save(draft: VisitDraft, key: str, data: dict, base: int, device: str, typed_at: int = 0) -> Conflict | None:
    """Keep a page's answer, or say that another one stands there since `base`. Raises Gone; ValueError when too long.

    Against an answer of the same device, that which was typed later stands (`typed_at`, milliseconds of its clock, 0
    when it is not known). `draft` is brought up to what stands afterwards.
    """
    _refuse_too_long(data)
    with transaction.atomic():
        held = VisitDraft.objects.select_for_update().filter(pk=draft.pk, recorded_at=None).first()
        if held is None:
            raise Gone
        there = held.content["steps"].get(key)
        if there is not None and there["data"] != data and there["rev"] > base:
            before = there.get("typed_at", 0) if there["device"] == device else 0
            if not (before and typed_at >= before):
                _take(draft, held)
                superseded = bool(before and typed_at)
                return None if superseded else Conflict(there["data"], there["at"], held.revision)
        if there is None or there["data"] != data:
            held.revision += 1
            held.saved_at, held.device = clock.now(), device
            page = {"rev": held.revision, "at": held.saved_at.isoformat(), "device": device, "data": data}
            if typed_at:
                page["typed_at"] = typed_at
            held.content["steps"][key] = page
            if len(str(held.content)) > MOST:
                raise ValueError("This visit holds more text than can be kept. Record it, and begin another one.")
            held.save()
        _take(draft, held)
    return None


def change(draft: VisitDraft, make) -> None:
    """Change the content under lock, such as by adding a photo. Raises Gone."""
    with transaction.atomic():
        held = VisitDraft.objects.select_for_update().filter(pk=draft.pk, recorded_at=None).first()
        if held is None:
            raise Gone
        make(held.content)
        held.saved_at = clock.now()
        held.save()
        _take(draft, held)


def _take(draft: VisitDraft, held: VisitDraft) -> None:
    draft.content, draft.revision, draft.saved_at = held.content, held.revision, held.saved_at


def _refuse_too_long(data: dict) -> None:
    for value in data.values():
        if len(value) > LONGEST:
            raise ValueError(f"One answer has more than {LONGEST} characters. Shorten it.")


def typed(request, fields) -> dict:
    """What was sent for these fields, as typed."""
    return {name: request.POST[name].strip() for name in fields if request.POST.get(name, "").strip()}


class DraftedVisit:
    """A draft with its units, read together. `more` is what its pages say beside what they always say."""

    unbegun = False
    more: dict = {}

    def __init__(self, request, ground: EntryContext, draft: VisitDraft, page: OpenedClinic) -> None:
        self.request, self.ground, self.draft, self.page = request, ground, draft, page
        now, lots = clock.now(), _once(ground.part_lots)
        kits, asked = (
            _once(partial(kits_in_books, ground)),
            _once(partial(readings_of_units, draft.units, page.as_of)),
        )
        boxes = cache(ground.indicator_lots)
        self.technician = ground.account.full_name
        self.labels = draft.content["labels"]
        here = {unit.ref for unit in page.facts.units}
        self.units = {
            n: VisitUnit(
                about_of(page, ref),
                n,
                self.held(n),
                technician=self.technician,
                now=now,
                lots=lots,
                boxes=boxes,
                kits=kits,
                asked=partial(_of_unit, asked, ref),
                on=self.day,
            )  # fmt: skip
            for n, ref in enumerate(draft.units, start=1)
            if ref in here
        }
        left = draft.content.get("left_out", [])
        everyone = enumerate(zip(draft.units, self.labels, strict=False), start=1)
        self.gone = [(k, label) for k, (ref, label) in everyone if ref not in here and k not in left]

    def held(self, n: int) -> dict:
        """What was typed for the unit, by page."""
        start = f"{n}/"
        pages = self.draft.content["steps"].items()
        return {key.removeprefix(start): page["data"] for key, page in pages if key.startswith(start)}

    @property
    def day(self) -> date:
        """The day of the visit as its last page says, else today."""
        held = self.draft.content["steps"].get(VISIT, {}).get("data", {})
        try:
            return HeadForm.base_fields["on"].clean(held.get("on", ""))
        except ValidationError:
            return self.page.as_of

    @property
    def name(self) -> str:
        """By what a device knows the visit."""
        return str(self.draft.ref)

    def address(self, n: int, step: str) -> str:
        return reverse("visit-step", args=[self.ground.clinic.slug, self.draft.ref, n, step])

    def photo_address(self, n: int, step: str) -> str:
        return reverse("visit-photo", args=[self.ground.clinic.slug, self.draft.ref, n, step])

    @property
    def record_address(self) -> str:
        return reverse("visit-record", args=[self.ground.clinic.slug, self.draft.ref])

    def photos(self, n: int, step: str = "") -> list[dict]:
        return [p for p in self.draft.content["photos"] if p["n"] == n and step in ("", p["step"])]


def _of_unit(asked, ref: str) -> list:
    return asked().get(ref, [])


def _once(make):
    kept: list = []

    def read():
        if not kept:
            kept.append(make())
        return kept[0]

    return read


def visit_of(request, ground: EntryContext, ref, n: int | None = None):
    """The visit for a page; only the unit asked for is judged, all without `n`. Raises Http404.

    Without `n`, units that have left the clinic since are in `gone`.
    """
    draft = draft_or_404(ground, ref)
    if draft.recorded_at is not None:
        raise Gone
    if n is not None and not 1 <= n <= len(draft.units):
        raise Http404("This visit has no such unit.")
    page = opened(request, ground, draft.units[n - 1] if n is not None else "")
    return DraftedVisit(request, ground, draft, page)


def wants_data(request) -> bool:
    return request.headers.get("Accept", "").startswith("application/json")


def answer_gone(request, ground: EntryContext, ref):
    """The visit is recorded already, or thrown away: its report, or the list."""
    draft = VisitDraft.objects.filter(ref=ref, clinic=ground.clinic, account=ground.account).first()
    where = reverse("visit-begin", args=[ground.clinic.slug])
    if draft is not None and draft.visit:
        where = reverse("visit", args=[ground.clinic.slug, draft.visit])
    if wants_data(request):
        return JsonResponse({"gone": where}, status=410)
    return redirect(where)


def answer_conflict(visit: DraftedVisit, n: int, step: str, mine: dict, conflict: Conflict):
    """Both answers side by side; nothing is lost and nothing overwritten."""
    if wants_data(visit.request):
        return JsonResponse({"conflict": visit.address(n, step), "revision": conflict.revision}, status=409)
    unit = visit.units[n]
    context = {
        "clinic": visit.ground.clinic, "draft": visit.draft, "unit": unit.about.unit, "title": unit.title(step),
        "lines": side_by_side(unit.form(step, mine), unit.form(step, conflict.there)), "mine": mine,
        "conflict": conflict, "address": visit.address(n, step), "device": device_of(visit.request),
        "n": n, "step": step,
    }  # fmt: skip
    return render(visit.request, "audit/visit/conflict.html", context, status=409)


def side_by_side(mine, there) -> list[dict]:
    """One line a field that was filled in on either side."""
    lines = []
    for bound in mine:
        words = [_words(form[bound.name]) for form in (mine, there)]
        if any(words):
            lines.append({"label": bound.label, "mine": words[0], "there": words[1], "differs": words[0] != words[1]})
    return lines


def _words(bound) -> str:
    value = bound.value()
    if value in (None, "", False):
        return ""
    if value in ("on", True):
        return "ticked"
    return str(dict(getattr(bound.field, "choices", ())).get(value, value))
