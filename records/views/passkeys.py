"""One's own passkeys: add, name, remove; and what a browser is asked of them. No record is changed."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from records import clock
from records.doors import often, passkeys, second, sessions
from records.forms.log_in import AddPasskeyForm, PhraseForm, RenameForm
from records.models import Passkey
from records.views.log_in import GET_AND_POST, is_proven, show_codes

MOST_ASKED = 120  # an hour, of one account or address: common practice, no source
_NAMED = "passkey named"  # how the one that is being added is to be called, and since when
NAMED_SECONDS = 600


def button(how: str, asks: str, words: str, or_else: str) -> dict:
    """What `records/_passkey.html` shows: a button with these words, or why there is none.

    `how` is "create" or "get", `asks` the name of the address that says what is asked; `or_else` is the way out where
    this browser cannot do it.
    """
    return {
        "how": how, "asks": reverse(asks), "words": words, "or_else": or_else, "origin": passkeys.origin(),
        "why_not": passkeys.why_not(),
    }  # fmt: skip


def as_json(said: str) -> HttpResponse:
    """What a browser is asked; kept nowhere."""
    return HttpResponse(said, content_type="application/json", headers={"Cache-Control": "no-store"})


@login_required
@never_cache
@sensitive_post_parameters("now")
@require_http_methods(GET_AND_POST)
def passkeys_page(request):
    """Those one has, and the first step to another one: its name, and the pass phrase."""
    form = AddPasskeyForm(request.POST if request.method == "POST" else None)
    mine = passkeys.of_account(request.user)
    full = len(mine) >= passkeys.MOST
    if form.is_bound and full:
        form.add_error(None, f"{passkeys.MOST} passkeys are the most. Remove one that you no longer use first.")
    if form.is_bound and form.is_valid() and is_proven(request, form):
        request.session[_NAMED] = [form.cleaned_data["name"], clock.real().timestamp()]
        return redirect("make-passkey")
    context = {"form": form, "passkeys": mine, "full": full, "most": passkeys.MOST, "why_not": passkeys.why_not()}
    return render(request, "records/passkeys.html", context, status=422 if form.is_bound else 200)


def _named(request) -> str:
    """How the passkey is to be called that is being added now, after the pass phrase; "" when none is."""
    name, at = request.session.get(_NAMED) or ("", 0)
    return name if 0 <= clock.real().timestamp() - at <= NAMED_SECONDS else ""


@login_required
@never_cache
@require_http_methods(GET_AND_POST)
def make_passkey(request):
    """The second step: the device makes it."""
    name = _named(request)
    if not name:
        messages.info(request, "Say first how the new passkey is to be called, and type the pass phrase.")
        return redirect("passkeys")
    problem = ""
    if request.method == "POST":
        try:
            codes = passkeys.add(request, request.user, request.POST.get("passkey", ""), name)
        except passkeys.NotTaken as refused:
            problem = str(refused)
        else:
            del request.session[_NAMED]
            if codes:
                sessions.end_all(request.user, but=request.session.session_key)
                return show_codes(request, codes, reverse("passkeys"))
            messages.success(request, f"The passkey “{name}” is added.")
            return redirect("passkeys")
    asks = button("create", "passkey-to-add", "Make the passkey", "Set up time codes on the page “My log-in”.")
    context = {"name": name, "passkey": asks, "problem": problem}
    return render(request, "records/make_passkey.html", context, status=422 if problem else 200)


@login_required
@never_cache
@sensitive_post_parameters("now")
@require_http_methods(GET_AND_POST)
def passkey(request, number: int):
    """Call one's own passkey by another name, or remove it."""
    key = get_object_or_404(Passkey, pk=number, account=request.user)
    do = request.POST.get("do", "") if request.method == "POST" else ""
    naming = RenameForm(request.POST if do == "rename" else None, initial={"name": key.name}, prefix="new")
    removing = PhraseForm(request.POST if do == "remove" else None)
    if do == "rename" and naming.is_valid():
        passkeys.rename(request, key, naming.cleaned_data["name"])
        messages.success(request, "It has its new name.")
        return redirect("passkeys")
    if do == "remove" and removing.is_valid() and is_proven(request, removing):
        try:
            passkeys.remove(request, key)
        except second.LastOne as refused:
            removing.add_error(None, str(refused))
        else:
            sessions.end_all(request.user, but=request.session.session_key)
            messages.success(
                request, f"The passkey “{key.name}” opens nothing any more. Other devices are to sign in again."
            )
            return redirect("passkeys")
    context = {"key": key, "naming": naming, "removing": removing}
    return render(request, "records/passkey.html", context, status=422 if request.method == "POST" else 200)


# ------------------------------------------------------------------------------------------- asked by the script


@login_required
@never_cache
@require_POST
@often.at_most(MOST_ASKED, "passkeys")
def passkey_to_add(request):
    """What the browser makes a passkey with; 403 before the pass phrase was given."""
    if not _named(request):
        return HttpResponse(status=403)
    return as_json(passkeys.to_add(request, request.user))


@login_required
@never_cache
@require_POST
@often.at_most(MOST_ASKED, "passkeys")
def passkey_to_sign(request):
    """What the browser has a passkey answer, for who is signed in to sign a record."""
    return as_json(passkeys.to_give(request, request.user, passkeys.SIGN))
