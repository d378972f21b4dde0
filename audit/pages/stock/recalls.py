"""One page for each recall notice: where its parts are, what is done and open, who told which clinic; and letters."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from audit.binder.pdf.page import SIZES
from audit.binder.pdf.report import render_report
from audit.binder.recall_letter import LetterNotice, LetterPart, recall_letter
from audit.binder.written_on_paper import day
from audit.facts import UnitFacts
from audit.gather.kept_facts import kept_of
from audit.judge.lookback.matching import name_key, same
from audit.judge.lookback.recalled_parts import Recalled, recalled_parts
from audit.judge.rules.part_recall import inspected
from records import access, clock, log
from records.forms import PartRecallForm
from records.forms.stock import RecallToldForm
from records.models import Clinic, FittedPart, PartRecall, RecallTold

from ..company import zones_of
from .ground import BooksGround, entry_page, of_company
from .pages import served_by_ref
from .read import notices_of, stock_of

CLINICS_A_PAGE = 25  # of each the facts are read


@dataclass(frozen=True, slots=True)
class RecalledOnUnit:
    """A part on a unit that the notice means, or may mean. `state` is "open" or what makes it done, in words."""

    unit: UnitFacts
    found: Recalled
    state: str

    @property
    def is_open(self) -> bool:
        return self.state == "open"


@of_company
@require_safe
def recalls_page(request, ground: BooksGround):
    """Every notice in the books, the newest first."""
    stock = stock_of(ground.organisation, ground.today)
    told = defaultdict(set)
    rows = RecallTold.objects.in_force().filter(owner=ground.organisation.pk)
    for recall, clinic in rows.values_list("recall__origin", "clinic_id"):
        told[recall].add(clinic)
    lines = [
        {
            "notice": notice,
            "in_stock": sum(held.account.left for held in stock.lots if notice in held.notices),
            "unknown": any(not held.account.known for held in stock.lots if notice in held.notices),
            "told": len(told[notice.origin]),
        }
        for notice in notices_of(ground.organisation)
    ]
    context = {"company": ground.organisation, "lines": lines, "today": ground.today}
    return render(request, "audit/stock/recalls.html", context)


def recall_or_404(ground: BooksGround, ref) -> PartRecall:
    """The newest version of a notice in the books that was not entered in error. Raises Http404."""
    named = PartRecall.objects.filter(owner=ground.organisation.pk, ref=ref).values("origin")
    found = PartRecall.objects.in_force().filter(origin__in=named).first()
    if found is None:
        raise Http404("no such notice in the books of this company")
    return found


@of_company
@require_safe
def recall_page(request, ground: BooksGround, ref):
    """Stock and vans, then the units of the clinics served; `?page=` the clinics, 25 at a time."""
    notice = recall_or_404(ground, ref)
    stock = stock_of(ground.organisation, ground.today)
    lots = [held for held in stock.lots if notice in held.notices]
    clinics = _with_such_parts(ground, notice)
    page = Paginator(clinics, CLINICS_A_PAGE).get_page(request.GET.get("page"))
    found = _on_units(list(page.object_list), notice)
    told = _told(ground, notice)
    lines = [_clinic_line(clinic, found[clinic.pk], told.pop(clinic.pk, [])) for clinic in page.object_list]
    shown = {clinic.pk for clinic in clinics}
    context = {
        "company": ground.organisation,
        "notice": notice,
        "lots": [_lot_line(stock, held) for held in lots],
        "lines": [line for line in lines if line["parts"] or line["told"]],
        "page": page,
        "others": [rows for pk, rows in told.items() if pk not in shown],
        "open_units": sum(line["open"] for line in lines),
        "done_units": sum(len(line["parts"]) - line["open"] for line in lines),
        "open_stock": sum(held.account.left for held in lots),
        "unknown_stock": any(not held.account.known for held in lots),
        "untold": [line["clinic"] for line in lines if line["open"] and not line["told"]],
        "today": ground.today,
    }
    return render(request, "audit/stock/recall.html", context)


def _lot_line(stock, held) -> dict:
    lying = [(stock.name(each.place), each.level) for each in held.account.lying]
    done = held.account.known and not held.account.left and not held.account.short
    return {"lot": held.row, "lying": lying, "known": held.account.known, "done": done, "fitted": held.account.fitted}


def _clinic_line(clinic: Clinic, parts: list[RecalledOnUnit], told: list[RecallTold]) -> dict:
    return {"clinic": clinic, "parts": parts, "told": told, "open": sum(part.is_open for part in parts)}


def _with_such_parts(ground: BooksGround, notice: PartRecall) -> list[Clinic]:
    """The clinics served today where a part of that number or name was ever fitted, whatever its lot; by name."""
    clinics = list(access.clinics_of_company(ground.organisation))
    rows = FittedPart.objects.filter(clinic__in=clinics).order_by().values_list("clinic_id", "name", "number")
    here = {clinic for clinic, name, number in rows.distinct() if _such(notice, name, number)}
    return [clinic for clinic in clinics if clinic.pk in here]


def _such(notice: PartRecall, name: str, number: str) -> bool:
    if notice.number and number:
        return same(notice.number, number)
    return name_key(notice.part) == name_key(name)


def _on_units(clinics: list[Clinic], notice: PartRecall) -> dict[int, list[RecalledOnUnit]]:
    """By clinic the parts on its units that the notice means, as judgement finds them, those open first."""
    zones = zones_of(clinics)
    made = {}
    for pk, facts in kept_of(clinics).items():
        notices = [row for row in facts.part_recalls if row.row.origin == str(notice.origin)]
        as_of = clock.today(zones.get(pk, "UTC"))
        found = [_one(unit, each) for unit in facts.units for each in recalled_parts(unit, notices, as_of)]
        made[pk] = sorted(found, key=lambda each: (not each.is_open, each.unit.label))
    return made


def _one(unit: UnitFacts, found: Recalled) -> RecalledOnUnit:
    if found.out_on is not None:
        return RecalledOnUnit(unit, found, f"done: taken out by {day(found.out_on)}")
    if inspected(unit, found):
        return RecalledOnUnit(unit, found, "done: inspected after the notice")
    return RecalledOnUnit(unit, found, "open")


def _told(ground: BooksGround, notice: PartRecall) -> dict[int, list[RecallTold]]:
    rows = RecallTold.objects.in_force().filter(owner=ground.organisation.pk, recall__origin=notice.origin)
    found = defaultdict(list)
    for row in rows.select_related("clinic", "told_by", "told_to").order_by("happened_on", "id"):
        found[row.clinic_id].append(row)
    return dict(found)


@of_company
@require_safe
def recall_letter_file(request, ground: BooksGround, ref, clinic: str):
    """The letter to one clinic as a PDF file; `?page=` letter or a4. Of no unit but the clinic's own."""
    notice, place = recall_or_404(ground, ref), served_by_ref(ground, clinic)
    size = request.GET.get("page", "letter")
    if size not in SIZES:
        raise Http404("no such size of paper")
    said = LetterNotice(
        notice.happened_on, notice.issued_by, notice.part, notice.number, notice.lot, notice.reason, notice.action
    )
    parts = [_letter_part(each) for each in _on_units([place], notice)[place.pk]]
    today: date = clock.today(zones_of([place]).get(place.pk, "UTC"))
    body = render_report(recall_letter(ground.organisation.name, place.name, said, parts, today), page_size=size)
    name = f"part-recall-{place.slug}-{today.isoformat()}.pdf"
    headers = {"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "private, no-store"}
    return HttpResponse(body, content_type="application/pdf", headers=headers)


def _letter_part(each: RecalledOnUnit) -> LetterPart:
    found, unit = each.found, each.unit
    return LetterPart(unit.label, unit.serial, found.where, found.part.row.happened_on, found.unsure, each.state)


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def recall_told(request, ground: BooksGround, ref, clinic: str):
    """That the clinic was told, by whom, whom there, and how."""
    notice, place = recall_or_404(ground, ref), served_by_ref(ground, clinic)

    def write(**values):
        return log.log_recall_told(owner=ground.organisation, recall=notice, clinic=place, **values)

    at = reverse("part-recall", args=[ground.organisation.slug, notice.origin])
    return entry_page(
        request, ground, RecallToldForm, write, title=f"{place.name} was told", about=str(notice.reason),
        to=lambda _: at, back=at,
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def enter_recall(request, ground: BooksGround):
    """A notice that came: afterwards to its page, where its parts are found."""
    slug = ground.organisation.slug
    return entry_page(
        request, ground, PartRecallForm, lambda **v: log.log_part_recall(owner=ground.organisation, **v),
        title="Enter a part recall notice", back=reverse("part-recalls", args=[slug]),
        to=lambda row: reverse("part-recall", args=[slug, row.origin]),
    )  # fmt: skip
