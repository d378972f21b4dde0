"""The kits of a company: what lies in each, changed by another list, and some that came."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from records import log
from records.forms.kits import KitForm, KitReceivedForm, kit_of_books
from records.log.kit_rules import kits_of
from records.models import Kit, Part

from .ground import BooksGround, entry_page, of_company


def _kits_page(ground: BooksGround) -> str:
    return reverse("kits", args=[ground.organisation.slug])


def kit_or_404(ground: BooksGround, ref) -> Kit:
    """The kit of the books that nothing takes the place of. Raises Http404."""
    kit = kit_of_books(ground.organisation, ref)
    if kit is None:
        raise Http404("no such kit in the books of this company")
    return kit


@of_company
@require_safe
def kits_page(request, ground: BooksGround):
    """Every kit with its list."""
    context = {"company": ground.organisation, "kits": kits_of(ground.organisation), "today": ground.today}
    return render(request, "audit/stock/kits.html", context)


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def add_kit(request, ground: BooksGround):
    """A new kit out of kinds of parts in the books."""
    parts = Part.objects.in_force().filter(owner=ground.organisation.pk)
    about = "" if parts.exists() else "No kind of part is in the books yet: add it first."
    return entry_page(
        request, ground, KitForm, lambda **v: log.log_kit(owner=ground.organisation, **v), title="Add a kit",
        about=about, to=lambda _: _kits_page(ground), back=_kits_page(ground),
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def change_kit(request, ground: BooksGround, ref):
    """Another list: it takes the place of the one before, which stays on record."""
    kit = kit_or_404(ground, ref)
    return entry_page(
        request, ground, KitForm, lambda **v: log.log_kit(owner=ground.organisation, instead_of=kit, **v),
        title=f"Change the list of {kit.name}", kit=kit, to=lambda _: _kits_page(ground), back=_kits_page(ground),
    )  # fmt: skip


@of_company
@require_http_methods(["GET", "HEAD", "POST"])
def receive_kit(request, ground: BooksGround, ref):
    """Some kits came: a receipt of each component, with its own lot."""
    kit = kit_or_404(ground, ref)

    def write(**values):
        return log.receive_kit(owner=ground.organisation, kit=kit, **values)[0]

    home = reverse("stock", args=[ground.organisation.slug])
    return entry_page(
        request, ground, KitReceivedForm, write, title=f"Enter a receipt of {kit.name}", kit=kit, to=lambda _: home,
        back=_kits_page(ground),
    )  # fmt: skip
