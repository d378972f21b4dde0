"""Looking things up: all entries, one fact with all its versions; correcting a fact, or saying it did not happen."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import render
from django.views.decorators.http import require_safe
from django_tables2 import RequestConfig

from records import forms, log
from records.log import changes, signatures
from records.models import CycleRecording, Document, Entry, Load, Voiding, fact_model
from records.views.tables import EntryTable, with_rows

from .base import address_of, at_clinic, attempt, rows_of_entry, safe_next, start_values
from .fact_in_words import in_words, label_of, shown_fields, title_of, voiding_of
from .own import line_or_404, may_see


@at_clinic("look")
@require_safe
def entries(request, ground):
    found = Entry.objects.filter(ledger__organisation_id=ground.clinic.pk).order_by("-number")
    table = EntryTable(found.select_related("logged_by", "logged_for"), clinic=ground.clinic)
    RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
    with_rows(table)
    return render(
        request,
        "records/entries.html",
        {"may_enter": bool(ground.rights and ground.rights.may_log), "clinic": ground.clinic, "table": table},
    )


def _side_by_side(versions) -> list[dict]:
    """One line a field with its words in each version, and whether they differ."""
    lines = []
    for field in shown_fields(type(versions[0])):
        words = [in_words(v, field) for v in versions]
        lines.append({"label": label_of(field), "words": words, "differs": len(set(words)) > 1})
    return lines


@at_clinic("own")
@require_safe
def record(request, ground, kind, ref):
    versions = line_or_404(ground, kind, ref)
    newest = versions[-1]
    voiding = voiding_of(newest)
    context = {
        "clinic": ground.clinic, "title": title_of(newest), "kind": kind, "versions": versions, "row": newest,
        "lines": _side_by_side(versions), "voiding": voiding, "parents": _pointed_to(ground, newest),
        "may_change": voiding is None and changes.may_change(request.user, newest), "others": _others(ground, newest),
        "signing": _signing(newest, voiding),
        "cycles_of": _load_with_cycles(ground, newest),
        "document": newest if isinstance(newest, Document) else None, "zone": ground.zone,
    }  # fmt: skip
    return render(request, "records/record.html", context)


def _load_with_cycles(ground, row):
    """The load whose recorded cycles a page of its own shows; None where none is, or who asks may not look."""
    if ground.rights is None or not isinstance(row, Load | CycleRecording):
        return None
    return row.origin if isinstance(row, Load) else row.load.origin


def _signing(row, voiding) -> dict | None:
    """How the name came into a row that is signed, and whether it waits for that; None for other rows."""
    if type(row) not in signatures.WHO or voiding is not None:
        return None
    waits = signatures.given(row) in ("entered", "told") and signatures.means(row) != ""
    return {"words": signatures.given_in_words(row), "waits": waits}


def _link(ground, row) -> dict:
    return {"title": f"{title_of(row)}: {row}", "address": address_of(ground.clinic, row)}


def _pointed_to(ground, row) -> list[dict]:
    """The facts of this clinic that the row points to."""
    targets = [getattr(row, f.name) for f in row._meta.concrete_fields if f.is_relation and f.name != "amends"]
    facts = [t for t in targets if hasattr(t, "origin")]
    if isinstance(row, Voiding):
        facts = list(fact_model(row.kind).objects.filter(ref=row.target))
    return [_link(ground, t) for t in facts if may_see(ground, t)]


def _others(ground, row) -> list[dict]:
    return [_link(ground, r) for r in rows_of_entry(row.entry) if r.ref != row.ref]


def _changeable_or_refuse(request, ground, kind, ref):
    versions = line_or_404(ground, kind, ref)
    if isinstance(versions[0], Voiding) or kind in changes.PERMANENT:
        raise Http404("what the program wrote itself stands")
    if not changes.may_change(request.user, versions[-1]):
        entry = versions[-1].entry
        name = entry.logged_for.name if entry.logged_for else ground.clinic.name
        raise PermissionDenied(f"This was recorded by {name}; only its people who may record can correct it.")
    return versions


def _version(request, versions):
    """The version that the sender looked at: the newest one when the form is first shown."""
    sent = request.POST.get("version", "")
    return next((v for v in versions if str(v.ref) == sent), versions[-1])


def _change_page(request, ground, kind, versions, form_class, write, title, kwargs):
    row = _version(request, versions)
    start = start_values(request) | {"version": row.ref}
    status = 200
    form = form_class(ground=ground, initial=start, **kwargs(row))
    if request.method == "POST":
        form = form_class(request.POST, ground=ground, initial=start, **kwargs(row))
        if form.is_valid():
            key = form.cleaned_data["request_key"]
            send = {"by": request.user, "request_key": key, "reason": form.cleaned_data["reason"], "row": row}
            response = attempt(
                request, ground, form, lambda: write(form, send), title=title, key=key,
                to=lambda clinic, _: address_of(clinic, row),
            )  # fmt: skip
            if response:
                return response
        status = 422
    about = f"{title_of(row)}: {row}"
    context = {"clinic": ground.clinic, "title": title, "form": form, "about": about}
    context |= {"back": safe_next(request) or address_of(ground.clinic, row)}
    if row is not versions[-1]:
        context["later"] = address_of(ground.clinic, versions[-1])
    return render(request, "records/form.html", context, status=status)


@at_clinic("own")
def correct(request, ground, kind, ref):
    versions = _changeable_or_refuse(request, ground, kind, ref)

    def write(form, send):
        return log.correct(changes=form.changes(), confirmed=form.confirmed, **send)

    return _change_page(
        request, ground, kind, versions, forms.CorrectionForm, write, "Correct a record", kwargs=lambda r: {"row": r}
    )


@at_clinic("own")
def void(request, ground, kind, ref):
    versions = _changeable_or_refuse(request, ground, kind, ref)

    def write(form, send):
        return log.void(**send)

    return _change_page(
        request, ground, kind, versions, forms.VoidForm, write, "Entered in error", kwargs=lambda r: {}
    )
