"""A visit that is begun without a signal: the same pages, of a draft that the server learns of once it can.

The pages are taken along for each unit. What is typed stays on the device under a key that the device makes; the
first of it that reaches the server begins the draft under that key, and from there on it is a draft like any other.
Sent twice, it is one draft, and recorded twice, one visit. Several units of one visit are pages of each unit, which
the device sends under one key with all their names (`units`).
"""

from __future__ import annotations

import uuid

from django.http import Http404
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from audit.binder.blank_forms import work as sheet
from audit.judge.clocks.plan import plan_lines
from audit.models import VisitDraft
from audit.pages.visit.guide import steps
from records import access
from records.forms import EntryContext
from records.views.base import at_clinic

from ..opened import OpenedClinic, opened
from .drafts import DraftedVisit, begin, blank, device_of, key_of, line_of, open_drafts
from .end_forms import HeadForm
from .kits import kits_for
from .photos import visit_photo
from .record import show_record, suggested, visit_record
from .steps import show_step, visit_step
from .units import about_of


class Unbegun(DraftedVisit):
    """A visit of one unit that the server knows nothing of yet."""

    unbegun = True

    def _reverse(self, name: str, *more) -> str:
        return reverse(name, args=[self.ground.clinic.slug, self.draft.units[0], *more])

    @property
    def name(self) -> str:
        return f"of-{self.draft.units[0]}"

    def address(self, n: int, step: str) -> str:
        return self._reverse("unbegun-step", step)

    def photo_address(self, n: int, step: str) -> str:
        return self._reverse("unbegun-photo", step)

    @property
    def record_address(self) -> str:
        return self._reverse("unbegun-record")


def _units_or_404(request, ground: EntryContext, ref) -> list:
    """The units of the visit in the device's order, of which the page's is one; it alone where none are named."""
    named = list(dict.fromkeys(request.POST.get("units", "").split())) or [str(ref)]
    here = {str(u.ref): u for u in access.as_corrected(access.units_of_clinic(ground.clinic))}
    if str(ref) not in named or any(each not in here for each in named):
        raise Http404("No such unit at this clinic.")
    return [here[each] for each in named]


def _unbegun(request, ground: EntryContext, ref) -> Unbegun:
    """The visit of a unit before anything is typed; with what is typed already elsewhere and not recorded."""
    page = opened(request, ground, str(ref))
    visit = Unbegun(request, ground, blank(ground, [page.facts.units[0]], ""), page)
    drafts = [d for d in open_drafts(ground.account, clinic=ground.clinic) if d.units == [str(ref)]]
    visit.more = {"begun": [line_of(draft) for draft in drafts]}
    return visit


def begun_as(request, ground: EntryContext, ref) -> VisitDraft:
    """The draft under the device's key, begun now unless it was. Raises Http404 for a key that is not one's own."""
    key = key_of(request, "visit_key", "request_key")
    if key is None:
        raise Http404("The page lost the key of its visit. Open it again.")
    draft = begin(ground, _units_or_404(request, ground, ref), device_of(request), key)
    if draft is None:
        raise Http404("No such visit is being typed here.")
    return draft


def _number(draft: VisitDraft, unit) -> int:
    """Which unit of the visit it is, from 1 on."""
    return draft.units.index(str(unit)) + 1


@require_http_methods(["GET", "HEAD", "POST"])
@at_clinic("visit")
def unbegun_step(request, ground, unit, step):
    if request.method == "POST":
        draft = begun_as(request, ground, unit)
        n = _number(draft, unit)
        response = visit_step(request, ground.clinic.slug, ref=draft.ref, n=n, step=step)
        response["X-Visit"] = _where(ground, draft, n, step, response.status_code)
        return response
    visit = _unbegun(request, ground, unit)
    if not steps.is_step(step, visit.units[1].lines.keys()):
        raise Http404("This visit has no such page.")
    return show_step(request, visit, 1, step)


def _where(ground: EntryContext, draft: VisitDraft, n: int, step: str, status: int) -> str:
    """Where the visit goes on: at the page that is not complete, else where it was left."""
    if status == 422:
        return reverse("visit-step", args=[ground.clinic.slug, draft.ref, n, step]) + "?check=1"
    return reverse("visit-draft", args=[ground.clinic.slug, draft.ref])


@require_http_methods(["GET", "HEAD", "POST"])
@at_clinic("visit")
def unbegun_record(request, ground, unit):
    if request.method == "POST":
        draft = begun_as(request, ground, unit)
        return visit_record(request, ground.clinic.slug, ref=draft.ref)
    visit = _unbegun(request, ground, unit)
    start = suggested(visit) | {"request_key": uuid.uuid4()}
    return show_record(visit, HeadForm(initial=start), quiet=True)


@require_POST
@at_clinic("visit")
def unbegun_photo(request, ground, unit, step):
    """A photo that comes before the rest of its visit begins it."""
    draft = begun_as(request, ground, unit)
    return visit_photo(request, ground.clinic.slug, ref=draft.ref, n=_number(draft, unit), step=step)


def unbegun_pages(page: OpenedClinic, units, kits) -> list[str]:
    """The addresses of all pages with which a visit of each of the units can be begun and ended without a signal.

    `kits`: those in the books of who takes them along.
    """
    found = []
    for unit in units:
        about = about_of(page, unit.ref)
        due = [steps.TASK + line.code for _, line in sheet.due_tasks(about)]
        early = [steps.TASK + line.code for line in plan_lines(about.unit, about.as_of)]
        more = steps.to_add(bool(kits_for(kits, about)))
        named = dict.fromkeys([*steps.ORDER, *due, *more, *early])
        found += [reverse("unbegun-step", args=[page.clinic.slug, unit.ref, name]) for name in named]
        found.append(reverse("unbegun-record", args=[page.clinic.slug, unit.ref]))
    return found
