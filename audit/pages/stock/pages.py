"""Where each lot is, which lots lie at each place, one lot with all that became of it."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from audit.planning.stock import STAYED, StepTold
from records import access, log
from records.forms.base import standing_rows
from records.forms.set_up import PartForm, PartLotForm
from records.forms.stock import StockPlaceForm
from records.models import Clinic, FittedPart, Part, PartLot, StockMove

from .ground import BooksGround, entry_page, of_company
from .read import Held, Stock, stock_of

LOTS_SHOWN = 200  # on one page


@of_company
@require_safe
def stock_page(request, ground: BooksGround):
    """Every lot that is not used up, `?all=1` those too; and the same by place."""
    stock = stock_of(ground.organisation, ground.today)
    everything = request.GET.get("all") == "1"
    lots = [held for held in stock.lots if everything or not held.account.used_up]
    context = {
        "company": ground.organisation,
        "today": ground.today,
        "unfolded": request.GET.get("open") == "1",
        "lots": [_line(stock, held) for held in lots[:LOTS_SHOWN]],
        "more": max(0, len(lots) - LOTS_SHOWN),
        "all": everything,
        "used_up": sum(held.account.used_up for held in stock.lots),
        "places": [_place(stock, place) for place in stock.places.values()],
        "any": bool(stock.lots),
        "to_settle": [line for line in (_line(stock, held) for held in stock.lots) if line["problems"]],
    }
    return render(request, "audit/stock/stock.html", context)


def _line(stock: Stock, held: Held) -> dict:
    """A lot as the pages say it: where it lies, why it must not be fitted, what speaks against the numbers."""
    account = held.account
    lying = [(stock.name(each.place), each.level) for each in account.lying]
    return {
        "lot": held.row,
        "barred": held.barred,
        "lying": lying,
        "fitted": account.fitted,
        "known": account.known,
        "left": account.left,
        "problems": list(_problems(stock, held)),
    }


def _problems(stock: Stock, held: Held):
    """What the entries say against each other, each with the way out."""
    for place, on, number in held.account.short:
        yield (
            f"{number} more went out of {stock.name(place)} than came in, by {on}. Enter the receipt or the move "
            "that is missing, or count what lies there."
        )
    for step in held.account.unplaced:
        yield (
            f"{step.quantity} fitted on {step.on} ({step.words}): from which place is not said. Open the lot and say "
            "it, or count every place where some lie."
        )
    for step in held.account.missing:
        yield (
            f"{step.quantity} not in the bag on {step.on} ({step.words}), though received by the entries. Count what "
            "lies where this lot lies; correct the receipt if it never came."
        )
    for told in held.account.differences:
        yield _difference(stock, told)


def _difference(stock: Stock, told: StepTold) -> str:
    step = told.step
    gone = f"{-told.difference} fewer" if told.difference < 0 else f"{told.difference} more"
    return (
        f"Counted on {step.on} at {stock.name(told.place)}: {step.quantity}, {gone} than the entries say. If "
        "somebody knows what became of them, enter it for its own day, and the difference goes."
    )


def _place(stock: Stock, place) -> dict:
    """A place with the lots that lie there, by name of the part."""
    ref = str(place.origin)
    lying = [(held, each.level) for held in stock.lots for each in held.account.lying if each.place == ref]
    return {"place": place, "lots": [(held.row, level, held.barred) for held, level in lying]}


def lot_or_404(ground: BooksGround, ref) -> PartLot:
    """The newest version of a lot in the books that was not entered in error; any version's ref names it."""
    named = PartLot.objects.filter(owner=ground.organisation.pk, ref=ref).values("origin")
    found = standing_rows(PartLot.objects.filter(origin__in=named).select_related("part"))
    if not found:
        raise Http404("no such lot in the books of this company")
    return found[0]


@of_company
@require_safe
def lot_page(request, ground: BooksGround, ref):
    """One lot: where it is, what became of it in order, and what can be entered."""
    row = lot_or_404(ground, ref)
    stock = stock_of(ground.organisation, ground.today, lot=row)
    (held,) = stock.lots
    context = _line(stock, held) | {
        "company": ground.organisation,
        "row": held.row,
        "notices": held.notices,
        "told": [_told(stock, told, held) for told in reversed(held.account.told)],
        "versions": list(PartLot.objects.filter(origin=row.origin).select_related("entry__logged_by").order_by("id")),
        "places": list(stock.places.values()),
        "kinds": (("moved", "Move some"), ("counted", "Count"), ("returned", "Returned to the supplier"),
                  ("thrown-away", "Thrown away")),
    }  # fmt: skip
    return render(request, "audit/stock/lot.html", context)


def _told(stock: Stock, told: StepTold, held: Held) -> dict:
    """One step in words; `say` is the ref of a fitted part whose place can be said, `void` that of an entry."""
    step = told.step
    where = stock.name(told.place) if told.place else ""
    if step.kind == "fitted":
        words = f"{step.quantity} fitted: {step.words}"
        words += f", from {where}" + (f" ({told.how})" if told.how else "") if where else ", from nobody knows where"
    elif step.kind in STAYED:
        words = f"{step.quantity} {step.kind}: {step.words}; nothing moved"
    elif step.kind == "moved":
        words = f"{step.quantity} moved from {where} to {stock.name(step.to)}"
    elif step.kind == "counted":
        words = f"{step.quantity} counted at {where}"
        if told.difference:
            words += f", {abs(told.difference)} {'fewer' if told.difference < 0 else 'more'} than the entries say"
    elif step.kind == "received":
        words = f"{step.quantity} received, put into {where}"
    else:
        words = f"{step.quantity} {step.kind}{' to the supplier' if step.kind == 'returned' else ''}, from {where}"
    reason = "" if step.kind in ("fitted", *STAYED) else step.words
    return {"on": step.on, "words": words, "reason": reason, "say": step.part if told.how else "",
            "void": "" if step.kind == "received" else step.ref}  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def add_place(request, ground: BooksGround):
    return entry_page(
        request, ground, StockPlaceForm, lambda **v: log.log_stock_place(owner=ground.organisation, **v),
        title="Add a place for parts", to=lambda row: _home(ground), back=_home(ground),
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def receive(request, ground: BooksGround):
    """A receipt, with how many came and where they were put."""
    parts = Part.objects.in_force().filter(owner=ground.organisation.pk)
    about = "" if parts.exists() else "No kind of part is in the books yet: add it first."
    return entry_page(
        request, ground, PartLotForm, lambda **v: log.log_part_lot(owner=ground.organisation, **v),
        title="Enter a receipt of parts", about=about, back=_home(ground),
        to=lambda row: reverse("stock-lot", args=[ground.organisation.slug, row.origin]),
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def add_kind(request, ground: BooksGround):
    return entry_page(
        request, ground, PartForm, lambda **v: log.log_part(owner=ground.organisation, **v),
        title="Add a kind of spare part", to=lambda row: _home(ground), back=_home(ground),
    )  # fmt: skip


def _home(ground: BooksGround) -> str:
    return reverse("stock", args=[ground.organisation.slug])


def served_by_ref(ground: BooksGround, slug: str) -> Clinic:
    """A clinic that the company serves today. Raises Http404."""
    found = access.clinics_of_company(ground.organisation).filter(slug=slug).first()
    if found is None:
        raise Http404("this company does not serve such a clinic")
    return found


def fitted_or_404(row: PartLot, ref) -> FittedPart:
    """The part fitted out of that lot, newest version. Raises Http404."""
    found = FittedPart.objects.in_force().filter(origin=ref, part_lot__origin=row.origin).first()
    if found is None:
        raise Http404("no part of that lot was fitted so")
    return found


def move_or_404(ground: BooksGround, ref) -> StockMove:
    """The newest version of a movement in the books, not entered in error. Raises Http404."""
    named = StockMove.objects.filter(owner=ground.organisation.pk, ref=ref).values("origin")
    found = StockMove.objects.in_force().filter(origin__in=named).select_related("lot").first()
    if found is None:
        raise Http404("no such movement in the books of this company")
    return found
