"""Pages of the register."""

from __future__ import annotations

from functools import partial

from django.forms import formset_factory
from django.shortcuts import render

from records import access, forms, log
from records.forms.visit import HeadWithRows, RowFormSet, RowGroup
from records.forms.visit_rows import RowForm
from records.log.template_units import usable
from records.models import Load

from .base import at_clinic, attempt, entry_page, start_values, unit_or_404
from .returned import sign_return
from .unit_said import missing_for_return


@at_clinic()
def unit_event(request, ground, ref):
    unit = unit_or_404(ground, ref)
    write = partial(write_unit_event, ground, unit)
    about = str(access.as_corrected([unit])[0])
    title = "Take a unit out of service, or return it"
    context = {"about": about}
    return entry_page(
        request, ground, forms.UnitEventForm, write, title=title, context=context, then=sign_return, unit=unit
    )


def write_unit_event(ground, unit, **values):
    """Log the event; of a return with what judgement still misses on that day."""
    missing = ()
    if values["kind"] == "returned":
        missing = missing_for_return(ground, unit, values["on"], values.get("ends"))
    return log.log_unit_event(clinic=ground.clinic, unit=unit, missing=missing, **values)


@at_clinic("set up")
def log_fit(request, ground):
    def write(**values):
        position = values["position"]
        return log.log_fit(clinic=ground.clinic, unit=position.unit, **values)

    return entry_page(request, ground, forms.FitForm, write, title="Say what is fitted")


@at_clinic("set up")
def add_program(request, ground, ref):
    """What a program of the unit must reach; a later row of the same name takes the place of the one before."""
    unit = unit_or_404(ground, ref)
    used = Load.objects.in_force().filter(unit=unit).order_by("program").values_list("program", flat=True).distinct()
    write = partial(log.log_program, clinic=ground.clinic, unit=unit)
    title = "Say what a program must reach"
    about = str(access.as_corrected([unit])[0])
    return entry_page(request, ground, forms.ProgramForm, write, title=title, context={"about": about}, used=used)


class RegisterForms(HeadWithRows):
    """The plate with rows for positions and plan lines."""

    def __init__(self, data, *, ground, initial=None):
        self.head = forms.UnitForm(data, ground=ground, initial={"installed": True} | (initial or {}))
        kinds = (
            ("positions", forms.PositionRow, "Positions", "position"),
            ("plan", forms.PlanRow, "Maintenance plan", "plan line"),
        )
        self.groups = {
            name: RowGroup(name, title, word, self._rows(data, name, form)) for name, form, title, word in kinds
        }

    @staticmethod
    def _rows(data, name, form):
        as_row = type(form.__name__, (form, RowForm), {})
        kind = formset_factory(as_row, formset=RowFormSet, extra=3, max_num=200, absolute_max=200)
        return kind(data, prefix=name)

    def is_valid(self):
        valid = all([self.head.is_valid(), *(g.formset.is_valid() for g in self.groups.values())])
        return valid and self._codes_known()

    def _codes_known(self) -> bool:
        codes = set()
        for form in self.groups["positions"].formset.filled():
            if form.cleaned_data["code"] in codes:
                form.refuse("code", "This code is used twice. Give each position its own.")
            codes.add(form.cleaned_data["code"])
        for form in self.groups["plan"].formset.filled():
            position = form.cleaned_data["position"]
            if position and position not in codes:
                form.refuse("position", f"No position above has the code “{position}”. Add it, or leave this blank.")
        return not any(f.errors for g in self.groups.values() for f in g.formset.forms)

    def values(self):
        values = self.head.values()
        values["positions"] = [f.cleaned_data for f in self.groups["positions"].formset.filled()]
        plan = [f.cleaned_data for f in self.groups["plan"].formset.filled()]
        values["plan"] = [p | {"position": p["position"] or None} for p in plan]
        return values

    def take(self, problems):
        for p in problems:
            self.head.refuse(p.place, p.message, p.confirm)


@at_clinic("set up")
def register_unit(request, ground):
    title, status = "Put a unit on the register", 200
    page = RegisterForms(None, ground=ground, initial=start_values(request))
    if request.method == "POST" and request.POST.get("more"):
        page = RegisterForms(forms.with_more_rows(request.POST, request.POST["more"]), ground=ground)
        page.quiet()
    elif request.method == "POST":
        page = RegisterForms(request.POST, ground=ground)
        if page.is_valid():
            key = page.cleaned_data["request_key"]
            common = {"by": request.user, "request_key": key, "clinic": ground.clinic}
            response = attempt(
                request, ground, page, lambda: log.register_unit(**common, **page.values()), title=title, key=key
            )
            if response:
                return response
        status = 422
    context = {"clinic": ground.clinic, "title": title, "page": page, "form": page}
    context["templates"] = usable(ground.rights, ground.clinic)
    return render(request, "records/register_unit.html", context, status=status)
