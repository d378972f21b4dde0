"""One's own log-in: pass phrase, second factor, sittings, and what happened at the door. No record is changed."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from records.doors import events, often, passkeys, proof, reset, second, sessions
from records.doors.where import address_of
from records.forms.log_in import ChangePhraseForm, ForgottenForm, NewPhraseForm, PhraseForm, SetUpForm
from records.models import SecondFactor, Sitting
from records.views.people import at_place

EVENTS_SHOWN = 30
PER_PAGE = 50
GET_AND_POST = ["GET", "HEAD", "POST"]
NO_FIT = "This code does not fit the square. Scan it once more, and type the code of now."
_MOVING = "time codes move"  # the secret of the new device, encrypted
_OTHERS = (("?move=1", "Move them to another telephone instead"),)


@login_required
@never_cache
@require_safe
def my_log_in(request):
    """Where this log-in is signed in, what happened at its door, and what can be changed."""
    context = {
        "sittings": sessions.of_account(request.user),
        "this": request.session.session_key,
        "events": list(events.of_account(request.user)[:EVENTS_SHOWN]),
        "most": EVENTS_SHOWN,
        "factor": second.of(request.user),
        "passkeys": passkeys.of_account(request.user),
        "codes_left": second.recovery_left(request.user),
        "idle": int(settings.SITTING_IDLE.total_seconds() // 60),
        "longest": round(settings.SITTING_LONGEST.total_seconds() / 3600),
    }
    return render(request, "records/my_log_in.html", context)


@login_required
@require_POST
def end_sitting(request):
    """End one sitting of this log-in, named by its number, or all others."""
    if request.POST.get("which") == "others":
        ended = sessions.end_all(request.user, but=request.session.session_key)
    else:
        mine = {sitting.handle: sitting for sitting in sessions.of_account(request.user)}
        chosen = mine.get(request.POST.get("which", ""))
        if chosen is None:
            messages.info(request, "That sitting has ended already.")
            return redirect("my-log-in")
        ended = Sitting.objects.filter(pk=chosen.pk).delete()[0]
    if ended:
        events.note("sitting ended", request, account=request.user)
    messages.success(request, "Ended. What was typed there without a signal stays on that device.")
    return redirect("my-log-in")


def _form_page(request, form, *, title, about, button, status=200, other=()):
    context = {"form": form, "title": title, "about": about, "button": button, "other": other}
    return render(request, "records/log_in_form.html", context, status=status)


def is_proven(request, form) -> bool:
    """Whether the pass phrase of now was typed; else the form says so. Tries are limited as at the door."""
    try:
        proof.of_person(request, request.user.username, form.cleaned_data.get("now", ""), signing=False)
    except proof.NotProven as problem:
        form.add_error("now", str(problem))
        return False
    return True


@login_required
@never_cache
@sensitive_post_parameters("now", "phrase", "again")
@require_http_methods(GET_AND_POST)
def change_pass_phrase(request):
    """Change one's own. Every other sitting ends with it."""
    form = ChangePhraseForm(request.POST if request.method == "POST" else None, account=request.user)
    if form.is_bound and form.is_valid() and is_proven(request, form):
        request.user.set_password(form.cleaned_data["phrase"])
        request.user.save(update_fields=["password"])
        update_session_auth_hash(request, request.user)
        sessions.end_all(request.user, but=request.session.session_key)
        events.note("pass phrase changed", request, account=request.user)
        messages.success(request, "The new pass phrase holds from now on. Other devices are to sign in with it.")
        return redirect("my-log-in")
    about = "Other devices that are signed in are signed out by it."
    return _form_page(
        request, form, title="Change my pass phrase", about=about, button="Change it",
        status=422 if form.is_bound else 200,
    )  # fmt: skip


@login_required
@never_cache
@sensitive_post_parameters("now", "code")
@require_http_methods(GET_AND_POST)
def second_factor(request):
    """Set up time codes, move them to another device (`?move`), or take them away."""
    factor = second.of(request.user)
    if factor is not None:
        return _moved(request, factor) if "move" in request.GET else _with_factor(request)
    factor = second.begun(request.user)
    form = SetUpForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid() and is_proven(request, form):
        codes = second.confirm(factor, form.cleaned_data["code"])
        if codes:
            sessions.end_all(request.user, but=request.session.session_key)
            events.note("second factor set up", request, account=request.user)
            return show_codes(request, codes, reverse("my-log-in"))
        form.add_error("code", NO_FIT)
    return square_page(request, form, factor)


def square_page(request, form, factor, **more):
    """The page with the square of the factor, and the form for the first code."""
    context = {"form": form, "square": square(factor), "secret": second.typed_secret(factor)} | more
    return render(request, "records/second_factor.html", context, status=422 if form.is_bound else 200)


def _moved(request, factor):
    """Another device takes the time codes over; those of the one before are taken until then."""
    secret = request.session[_MOVING] = second.replacing(request.session.get(_MOVING, ""))
    form = SetUpForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid() and is_proven(request, form):
        if second.replace(factor, secret, form.cleaned_data["code"]):
            del request.session[_MOVING]
            sessions.end_all(request.user, but=request.session.session_key)
            events.note("second factor set up", request, account=request.user)
            messages.success(request, "The codes of the new device hold from now on, those of the old one no more.")
            return redirect("my-log-in")
        form.add_error("code", NO_FIT)
    new = SecondFactor(account=request.user, secret=secret)
    return square_page(request, form, new, moves=True)


def _with_factor(request):
    form = PhraseForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid() and is_proven(request, form):
        try:
            second.take_away(request.user)
        except second.LastOne as refused:
            form.add_error(None, str(refused))
        else:
            events.note("second factor taken away", request, account=request.user)
            messages.success(request, "The time codes are taken away: they open nothing any more.")
            return redirect("my-log-in")
    about = "Codes that the app shows for this log-in open nothing any more then."
    return _form_page(
        request, form, title="Take the time codes away", about=about, button="Take them away",
        status=422 if form.is_bound else 200, other=_OTHERS,
    )  # fmt: skip


@login_required
@never_cache
@sensitive_post_parameters("now")
@require_http_methods(GET_AND_POST)
def recovery_codes(request):
    """New recovery codes, shown once; those from before open nothing any more."""
    if not second.is_set_up(request.user):
        messages.info(request, "Recovery codes stand in for a second factor. Set one up first.")
        return redirect("my-log-in")
    form = PhraseForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid() and is_proven(request, form):
        codes = second.new_recovery_codes(request.user)
        events.note("recovery codes made anew", request, account=request.user)
        return show_codes(request, codes, reverse("my-log-in"))
    left = second.recovery_left(request.user)
    about = f"{left} recovery code{'' if left == 1 else 's'} of before will open nothing any more."
    return _form_page(
        request, form, title="New recovery codes", about=about, button="Make new ones",
        status=422 if form.is_bound else 200,
    )  # fmt: skip


def show_codes(request, codes: list[str], to: str):
    """The recovery codes, once."""
    answer = render(request, "records/recovery_codes.html", {"codes": codes, "to": to})
    answer["Cache-Control"] = "no-store"
    return answer


def square(factor):
    """The secret as a QR code (ISO/IEC 18004), drawn in the page itself."""
    import segno

    drawn = segno.make(second.address(factor), error="m", micro=False).svg_inline(
        scale=5, light="#fff", title="Square to scan with an app that shows time codes"
    )
    return mark_safe(drawn)  # noqa: S308 (made here from the secret alone)


# ------------------------------------------------------------------------------------------------- forgotten


@never_cache
@require_http_methods(GET_AND_POST)
def forgotten(request):
    """Ask for a link by mail. The answer is the same whether or not anybody has the name."""
    form = ForgottenForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        name = form.cleaned_data["name"]
        if often.is_too_often("reset by address", address_of(request), 10):
            return often.refuse(request, "links to choose a new pass phrase")
        if not often.is_too_often("reset by name", name.casefold(), 3):
            reset.send(request, name)
        return render(request, "records/forgotten_sent.html")
    about = "A link to choose a new one goes to the mail address that stands with the log-in, if it has one."
    return _form_page(
        request, form, title="Pass phrase forgotten", about=about, button="Send the link",
        status=422 if form.is_bound else 200,
    )  # fmt: skip


@never_cache
@sensitive_post_parameters("phrase", "again")
@require_http_methods(GET_AND_POST)
def reset_pass_phrase(request, named: str, token: str):
    """Choose a new one by the link. A link that does not open says no more than that."""
    if often.guesses_used_up(request, "reset"):
        return often.refuse(request, "links that do not open")
    account = reset.account_of(named, token)
    if account is None:
        often.guessed_wrong(request, "reset")
        return render(request, "records/reset_dead.html", status=404)
    form = NewPhraseForm(request.POST if request.method == "POST" else None, account=account)
    if form.is_bound and form.is_valid():
        reset.choose(request, account, form.cleaned_data["phrase"])
        messages.success(request, "The new pass phrase holds. Sign in with it.")
        return redirect("sign-in")
    about = f"For the log-in of {account.full_name}. Every device that is signed in with it is signed out."
    answer = _form_page(
        request, form, title="Choose a new pass phrase", about=about, button="Choose it",
        status=422 if form.is_bound else 200,
    )  # fmt: skip
    answer["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    return answer


# ------------------------------------------------------------------------------------------------- of a place


@at_place(manage=True)
@never_cache
@require_safe
def sign_ins(request, place):
    """What happened at the door of those who belong to the place, for who manages its people."""
    page = Paginator(events.of_people(place.organisation), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "records/sign_ins.html", place.context | {"page": page, "title": "Signing in"})
