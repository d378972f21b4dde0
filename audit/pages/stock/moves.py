"""What becomes of a lot is entered, corrected, or said to have been entered in error."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from records import log
from records.forms import CorrectionForm, VoidForm
from records.forms.stock import FORM_OF, FittedFromForm, places_to_choose
from records.log import changes
from records.models import PartLot

from .ground import BooksGround, entry_page, of_company
from .pages import fitted_or_404, lot_or_404, move_or_404

_TITLES = {
    "moved": "Move parts", "counted": "Count parts", "returned": "Parts returned to the supplier",
    "thrown away": "Parts thrown away",
}  # fmt: skip


def _lot_page(ground: BooksGround, row: PartLot) -> str:
    return reverse("stock-lot", args=[ground.organisation.slug, row.origin])


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def log_move(request, ground: BooksGround, ref, kind: str):
    """Moved, counted, returned or thrown away: the lot and the kind stand in the address."""
    kind, row = kind.replace("-", " "), lot_or_404(ground, ref)
    if kind not in FORM_OF:
        raise Http404("nothing of that kind becomes of parts")
    places = places_to_choose(ground)

    def write(**values):
        return log.log_stock_move(owner=ground.organisation, lot=row, kind=kind, **values)

    about = str(row) if places else f"{row}. No place is on record yet: add a store or a van first."
    return entry_page(
        request, ground, FORM_OF[kind], write, title=_TITLES[kind], about=about, places=places,
        to=lambda _: _lot_page(ground, row), back=_lot_page(ground, row),
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def log_fitted_from(request, ground: BooksGround, ref, part):
    """From which place a fitted part was taken."""
    row = lot_or_404(ground, ref)
    fitted = fitted_or_404(row, part)

    def write(**values):
        said = {"kind": "fitted", "quantity": fitted.quantity, "on": fitted.happened_on, "fitted": fitted}
        return log.log_stock_move(owner=ground.organisation, lot=row, **said, **values)

    about = f"{row}: {fitted.quantity} fitted on {fitted.happened_on}"
    return entry_page(
        request, ground, FittedFromForm, write, title="Where a part was taken from", about=about,
        to=lambda _: _lot_page(ground, row), back=_lot_page(ground, row),
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def correct_lot(request, ground: BooksGround, ref):
    """What a receipt says; receipt number and day to be fitted by are asked with the lot."""
    row = lot_or_404(ground, ref)
    newest = changes.newest(row)
    return _change(request, ground, newest, newest, CorrectionForm, "Correct a receipt of parts")


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def void_lot(request, ground: BooksGround, ref):
    """A receipt that did not happen, with everything entered of it."""
    row = lot_or_404(ground, ref)
    newest = changes.newest(row)
    return _change(request, ground, newest, newest, VoidForm, "Receipt entered in error")


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def void_move(request, ground: BooksGround, ref):
    """A movement or a count that did not happen so."""
    row = move_or_404(ground, ref)
    return _change(request, ground, row, row.lot, VoidForm, "Entered in error")


def _change(request, ground: BooksGround, row, lot: PartLot, form_class, title: str):
    """Correct the row, or say that it was entered in error; back to the page of the lot."""
    if not changes.may_change(request.user, row):
        raise PermissionDenied(f"Only people of {ground.organisation.name} who may record correct its books.")
    at = _lot_page(ground, lot)
    gone = form_class is VoidForm and row._meta.model is PartLot
    home = reverse("stock", args=[ground.organisation.slug]) if gone else at
    made = []

    def form(*args, **kwargs):
        more = {"row": row} if form_class is CorrectionForm else {}
        kwargs["initial"] = (kwargs.get("initial") or {}) | {"version": row.ref}
        made.append(form_class(*args, **more, **kwargs))
        return made[-1]

    def write(by, request_key, version, reason, **values):
        if version != row.ref:
            words = "This was changed meanwhile. Look at the lot again: what you typed is below."
            raise log.Refused([log.Problem("", words)])
        said = {"by": by, "request_key": request_key, "row": row, "reason": reason}
        if form_class is VoidForm:
            return log.void(**said)
        return log.correct(changes=made[-1].changes(), confirmed=made[-1].confirmed, **said)

    return entry_page(request, ground, form, write, title=title, about=str(row), to=lambda _: home, back=at)
