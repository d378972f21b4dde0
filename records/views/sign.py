"""Signing what is on record: by who is signed in, or by another on the same device with a log-in of their own."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from records import log
from records.doors import passkeys, proof
from records.forms.base import EntryForm
from records.forms.fields import Line
from records.forms.log_in import phrase_field
from records.log import signatures
from records.models import fact_model

from .base import address_of, at_clinic, safe_next
from .fact_in_words import voiding_of
from .own import line_or_404
from .passkeys import button


class SignForm(EntryForm):
    """Name and pass phrase; who is signed in may give a passkey instead, or neither after signing in this sitting."""

    name = Line(
        "Log-in name of who signs", longest=150, required=True,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
        help_text="Somebody else at the same device signs with their own name and pass phrase.",
    )  # fmt: skip
    phrase = phrase_field("Pass phrase", "current-password")

    def __init__(self, *args, proven: str, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["phrase"].required = False
        if proven:
            self.fields[
                "phrase"
            ].help_text = f"You gave your {proven} in this sitting already: leave it out where you sign yourself."
        else:
            self.fields["phrase"].optional_word = "needed"


@at_clinic("look")
@never_cache
@sensitive_post_parameters("phrase")
@require_http_methods(["GET", "HEAD", "POST"])
def sign(request, ground, kind, ref):
    """Sign one row, with what signing it says beside the form."""
    if kind not in {model._meta.model_name for model in signatures.WHO}:
        raise Http404("nothing to sign")
    row = line_or_404(ground, fact_model(kind)._meta.model_name, ref)[-1]
    if voiding_of(row):
        raise Http404("it was entered in error")
    start = {"name": request.user.username, "next": safe_next(request)}
    more = {"ground": ground, "initial": start, "proven": proof.proven_with(request)}
    form = SignForm(request.POST if request.method == "POST" else None, **more)
    if form.is_bound and form.is_valid() and (signer := _signer(request, form)):
        by, how = signer
        try:
            key = form.cleaned_data["request_key"]
            signed = log.sign(by=by, request_key=key, row=row, passkey=how == proof.PASSKEY)
        except (log.Refused, log.SubmissionConflict) as refusal:
            form.refuse("", " ".join(p.message for p in getattr(refusal, "problems", ())) or str(refusal))
        else:
            messages.success(request, f"Signed by {by.full_name}, as entry {signed.entry.number}.")
            return redirect(safe_next(request) or address_of(ground.clinic, row))
    who = getattr(row, signatures.WHO[type(row)])
    context = {
        "clinic": ground.clinic, "form": form, "row": row, "who": who, "means": signatures.means(row),
        "given": signatures.given_in_words(row), "back": safe_next(request) or address_of(ground.clinic, row),
    }  # fmt: skip
    if passkeys.of_account(request.user):
        context["passkey"] = button("get", "passkey-to-sign", "Sign with my passkey", "Sign with the pass phrase.")
    return render(request, "records/sign.html", context, status=422 if form.is_bound else 200)


def _signer(request, form):
    """Who signs, and with what; None when name and proof are not right: the form says so."""
    name, phrase = form.cleaned_data["name"], form.cleaned_data["phrase"]
    answer = request.POST.get("passkey", "")
    try:
        if name == request.user.username:
            return request.user, proof.prove(request, phrase, answer)
        if answer:
            form.refuse("name", f"The passkey is that of {request.user.full_name}, who is signed in. Somebody else "
                                "signs with their own name and pass phrase.")  # fmt: skip
            return None
        return proof.of_person(request, name, phrase), proof.PASS_PHRASE
    except proof.NotProven as problem:
        form.refuse("" if answer else "phrase", str(problem))
        return None
