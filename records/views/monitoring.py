"""Pages of the monitoring record."""

from __future__ import annotations

import uuid
from functools import partial

from django.http import Http404

from records import forms, log
from records.log.indicators import ready_at
from records.models import BioReading, BioTest

from .base import at_clinic, entry_page, one_or_404, unit_or_404
from .unit_said import against_use


def _of_unit(request, ground, form, writer, title, *, initial=None, **context):
    """A page about one unit; `?unit=` chooses it beforehand."""
    initial = dict(initial or {})
    if request.GET.get("unit"):
        initial["unit"] = str(unit_or_404(ground, _uuid_or_404(request.GET["unit"])).ref)
    if request.GET.get("lot"):  # a scanned box; one that is not in the list chooses nothing
        initial |= {"lot": request.GET["lot"], "control_lot": request.GET["lot"]}
    write = partial(writer, clinic=ground.clinic)
    return entry_page(request, ground, form, write, title=title, initial=initial, context=context)


def _uuid_or_404(value):
    try:
        return uuid.UUID(value)
    except ValueError:
        raise Http404("no such unit") from None


@at_clinic()
def log_bio(request, ground):
    return _of_unit(
        request, ground, forms.BioTestForm, log.start_bio_test, "Start a spore test (biological indicator)",
        initial=_last_box(ground), lots=True,
    )  # fmt: skip


def _last_box(ground) -> dict:
    """The box of the clinic's last spore test, for test and control, where it is still in the list."""
    tests = BioTest.objects.in_force().filter(clinic=ground.clinic)
    last = tests.select_related("lot").order_by("-id").first()
    if last is None or last.lot not in ground.indicator_lots("biological"):
        return {}
    return {"lot": str(last.lot.ref), "control_lot": str(last.lot.ref)}


@at_clinic()
def read_bio(request, ground, ref):
    test = one_or_404(BioTest.objects.origins().filter(clinic=ground.clinic), ref=ref)
    newest = one_or_404(BioTest.objects.in_force(), origin=test.origin)
    write = partial(log.read_bio_test, clinic=ground.clinic, bio_test=newest)
    readings = BioReading.objects.in_force().filter(bio_test=test).order_by("happened_on", "id")
    context = {"test": newest, "ready": ready_at(newest), "readings": readings}
    title = "Read a spore test and its control"
    return entry_page(
        request, ground, forms.ReadBioForm, write, title=title, template="records/read_bio.html", context=context
    )


@at_clinic()
def log_chemical(request, ground):
    return _of_unit(request, ground, forms.ChemicalForm, log.log_chemical, "Log a chemical indicator", lots=True)


@at_clinic()
def log_air_removal(request, ground):
    return _of_unit(request, ground, forms.AirRemovalForm, log.log_air_removal, "Log an air-removal test", lots=True)


@at_clinic()
def log_leak(request, ground):
    return _of_unit(request, ground, forms.LeakForm, log.log_leak, "Log an air-leak test")


@at_clinic()
def log_load(request, ground):
    def write(**values):
        return log.log_load(**values, standing_against=against_use(ground, values["unit"], values["on"]))

    return _of_unit(request, ground, forms.LoadForm, write, "Log a load")


@at_clinic()
def log_user_check(request, ground):
    return _of_unit(request, ground, forms.UserCheckForm, log.log_user_check, "Log a user check")


@at_clinic()
def add_indicator_lot(request, ground):
    """`?lot=` and `?expiry=` are what was scanned from the label."""
    write = partial(log.log_indicator_lot, clinic=ground.clinic)
    start = {name: request.GET[name] for name in ("lot", "expiry") if request.GET.get(name)}
    return entry_page(request, ground, forms.IndicatorLotForm, write, title="Add a box of indicators", initial=start)
