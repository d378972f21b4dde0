"""What all entry pages share: whose clinic it is, one way from form to writer, and what is answered.

Statuses: 302 recorded (or recorded before, said in a note), 422 refused with everything typed kept, 403 may look but
not record, 404 does not exist for this account, 409 the same form was sent before with other content.
"""

from __future__ import annotations

from functools import wraps

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from records import access, log
from records.forms import EntryContext
from records.ledger.entry_rows import EntryRow, rows_by_entry
from records.log import may_be_logged
from records.log.submission import answered
from records.models import Entry, ServiceCompany, Visit
from records.writing import preferences

MAY = {
    "log": lambda rights: rights.may_log,
    "visit": lambda rights: rights.may_log_visit,
    "set up": lambda rights: rights.may_set_up,
    "parts": lambda rights: rights.may_enter_parts,
    "manage": lambda rights: rights.may_manage,
    "rules": lambda rights: rights.may_set_rules,
    "look": lambda rights: True,
}


def _logged_here(account, clinic) -> bool:
    """Whether the account or a company of its logged anything at the clinic: it keeps sight of that."""
    companies = access.companies_of(account).values("pk")
    entries = Entry.objects.filter(ledger__organisation_id=clinic.pk)
    return entries.filter(Q(account=account) | Q(logged_for__in=companies)).exists()


def company_or_404(account, slug: str) -> ServiceCompany:
    """A company that the account belongs to today; 404 for everybody else, whether or not there is one."""
    company = access.company_of(account, slug)
    if company is None:
        raise Http404("no such company")
    return company


def at_clinic(need: str = "log"):
    """A view of one clinic: signed in, 404 when the clinic does not exist for the account, 403 without `need`.

    `need` is one of log, visit, set up, parts, manage, rules, look; "own" lets in people of a company whose agreement
    ended, with `ground.rights` None: such a view must show only what they logged themselves.
    """

    def decorate(view):
        @wraps(view)
        @login_required
        def wrapped(request, slug, **kwargs):
            clinic = may_be_logged.clinic_with_zone(slug)
            rights = access.rights(request.user, clinic) if clinic else None
            if clinic is None or (rights is None and not (need == "own" and _logged_here(request.user, clinic))):
                raise Http404("no such clinic")
            if rights is not None and need in MAY and not MAY[need](rights):
                roles = ", ".join(sorted(rights.roles))
                raise PermissionDenied(f"Your role at {clinic.name} ({roles}) may look, but not record this.")
            ground = EntryContext(clinic, request.user, rights, may_be_logged.zone_today(clinic))
            preferences.at_clinic(clinic.written)
            with timezone.override(ground.zone):
                return view(request, ground, **kwargs)

        return wrapped

    return decorate


def one_or_404(rows, **lookup):
    row = rows.filter(**lookup).first()
    if row is None:
        raise Http404("no such row here")
    return row


def unit_or_404(ground: EntryContext, ref):
    return one_or_404(access.units_of_clinic(ground.clinic), ref=ref)


def safe_next(request) -> str:
    """Where to go afterwards, "" unless it is an address of this site."""
    target = request.POST.get("next") or request.GET.get("next") or ""
    allowed = url_has_allowed_host_and_scheme(
        target, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return target if allowed else ""


def address_of(clinic, row) -> str:
    """The page of a fact: of a visit its report, of anything else its record."""
    if row._meta.model is Visit:
        return reverse("visit", args=[clinic.slug, row.origin])
    return reverse("record", args=[clinic.slug, row._meta.model_name, row.origin])


def rows_of_entry(entry) -> list[EntryRow]:
    """The facts of an entry, in its order."""
    return rows_by_entry([entry.pk]).get(entry.pk, [])


def answer_conflict(request, ground, form, conflict, title):
    rows = rows_of_entry(conflict.entry)
    # A row of a company's books has no page of its own.
    stands = address_of(ground.clinic, rows[0]) if rows and "clinic" in ground.shown else ""
    context = ground.shown | {"title": title, "entry": conflict.entry, "message": str(conflict)}
    context |= {"stands": stands, "typed": form.typed()}
    return render(request, "records/conflict.html", context, status=409)


def written_by(request, ground, form, write, title):
    """(what `write` returned, None), (None, the page of a conflict), or (None, None) when it was refused.

    The problems of a refusal are shown in the form. Raises PermissionDenied when it is not the account's to write.
    """
    try:
        return write(), None
    except log.SubmissionConflict as conflict:
        return None, answer_conflict(request, ground, form, conflict, title)
    except log.NotYours as refusal:
        raise PermissionDenied(refusal.problems[0].message) from None
    except log.Refused as refusal:
        form.take(refusal.problems)
        return None, None


def attempt(request, ground, form, write, *, title, key, to=None):
    """Write and redirect; None when the writer refused, with its problems shown in the form."""
    before = answered(request.user, key)
    row, instead = written_by(request, ground, form, write, title)
    if row is None:
        return instead
    if before:
        messages.info(request, f"This was already recorded, as entry {row.entry.number}. Nothing was written twice.")
    else:
        messages.success(request, f"Recorded as entry {row.entry.number}.")
    return redirect(safe_next(request) or (to or address_of)(ground.organisation, row))


def start_values(request) -> dict:
    return {"next": safe_next(request)}


def entry_page(
    request, ground, form_class, write, *, title, initial=None, template="records/form.html", context=None, to=None,
    **kwargs,
):  # fmt: skip
    """The page of one form: shown, refused with what was typed, or recorded. `write` gets the form's values.

    `ground` says in whose ledger it is (`organisation`) and what pages of theirs are drawn with (`shown`).
    `to(organisation, row)` is where to go afterwards; None, of a clinic only: to the row's own page.
    """
    form = form_class(ground=ground, initial=start_values(request) | (initial or {}), **kwargs)
    status = 200
    if request.method == "POST":
        form = form_class(request.POST, request.FILES, ground=ground, **kwargs)
        if form.is_valid():
            key = form.cleaned_data["request_key"]
            common = {"by": request.user, "request_key": key}
            response = attempt(
                request, ground, form, lambda: write(**common, **form.values()), title=title, key=key, to=to
            )
            if response:
                return response
        status = 422
    shown = ground.shown | {"title": title, "form": form} | (context or {})
    shown["back"] = safe_next(request) or shown.get("back", "")
    return render(request, template, shown, status=status)
