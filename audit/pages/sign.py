"""Signing in and out: name and pass phrase, then a passkey or a code where one is asked for."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import views
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.db import OperationalError, ProgrammingError
from django.http import HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from records.doors import enter, events, often, passkeys, second, throttle
from records.doors.where import address_of, device_of
from records.forms.log_in import CodeForm
from records.models import Account
from records.views.log_in import NO_FIT, show_codes, square_page
from records.views.passkeys import MOST_ASKED, as_json, button

CLOSED = "This log-in was closed. Ask your clinic's coordinator or your company's dispatcher."


class SignInForm(AuthenticationForm):
    """The error says the way out; it never says which of the two was wrong."""

    error_messages = {
        "invalid_login": (
            "This name and pass phrase do not fit together. Mind capital letters. If you have forgotten the pass "
            "phrase, choose a new one below, or ask whoever runs this site for a link to do so."
        ),
        "inactive": CLOSED,
    }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["username"].label, self.fields["password"].label = "Log-in name", "Pass phrase"

    def get_invalid_login_error(self):
        why = getattr(self.request, "door", "")
        if why == "held":
            wait = throttle.in_words(self.request.door_until)
            return ValidationError(
                f"Too many tries that did not fit. Nothing more is looked at for {wait}; then try again. Your pass "
                "phrase stays as it is."
            )
        return ValidationError(CLOSED) if why == "closed" else super().get_invalid_login_error()


class SignIn(views.LoginView):
    template_name = "records/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs):
        return super().get_context_data(**kwargs) | {"nobody": _nobody()}

    def form_valid(self, form):
        step = enter.step_after_phrase(self.request, form.get_user(), self.get_success_url())
        to = {"": self.get_success_url(), "code": "sign-in-code", "second factor": "sign-in-second-factor"}[step]
        return redirect(to)


class SignOut(views.LogoutView):
    def post(self, request, *args, **kwargs):
        if request.user.is_authenticated:
            events.note("signed out", request, account=request.user)
        return super().post(request, *args, **kwargs)


def _nobody() -> bool:
    """Whether nobody has a log-in here yet: the database is new, or has no tables at all."""
    try:
        return not Account.objects.exists()
    except (OperationalError, ProgrammingError):
        return True


sign_in = SignIn.as_view()
sign_out = SignOut.as_view()


@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_code(request):
    """After name and pass phrase: a passkey, the time code, or a recovery code."""
    half = enter.half_in(request)
    if half is None:
        return _again(request)
    account, to = half
    form = CodeForm(request.POST if request.method == "POST" else None)
    answer = request.POST.get("passkey", "")
    form.fields["code"].required = not answer
    if form.is_bound and form.is_valid():
        why_not = _why_not_by_passkey if answer else _why_not_by_code
        problem = why_not(request, account, answer or form.cleaned_data["code"])
        if not problem:
            enter.enter(request, account)
            return redirect(to)
        form.add_error(None if answer else "code", problem)
    has_codes, has_passkeys = second.of(account) is not None, bool(passkeys.of_account(account))
    context = {"form": form, "has_codes": has_codes}
    if has_passkeys:
        context["passkey"] = button("get", "passkey-to-sign-in", "Use a passkey", "Type a code below.")
    return render(request, "records/sign_in_code.html", context, status=422 if form.is_bound else 200)


def _why_not_by_code(request, account: Account, code: str) -> str:
    """ "" when the code opens; else why not, which is noted."""
    until = throttle.held_until(account.username, address_of(request))
    if until is not None:
        return f"Too many tries that did not fit. Wait {throttle.in_words(until)}, then try again."
    if _opens(request, account, code):
        return ""
    events.note("code refused", request, account=account)
    return "This code does not open. Type the one that is shown now, or a recovery code."


def _why_not_by_passkey(request, account: Account, answer: str) -> str:
    """ "" when the passkey opens; else why not, which is noted."""
    try:
        passkeys.check(request, account, passkeys.SIGN_IN, answer)
    except passkeys.NotTaken as problem:
        return str(problem)
    return ""


def _opens(request, account: Account, code: str) -> bool:
    factor = second.of(account)
    if factor is not None and second.is_right(factor, code):
        return True
    if not second.recovers(account, code):
        return False
    events.note("recovery code used", request, account=account)
    messages.info(request, f"{second.recovery_left(account)} recovery codes are left. Make new ones on “My log-in”.")
    return True


@never_cache
@require_POST
@often.at_most(MOST_ASKED, "passkeys")
def passkey_to_sign_in(request):
    """After name and pass phrase: what the browser has a passkey answer, or makes the first one with."""
    half = enter.half_in(request)
    if half is None:
        return HttpResponse(status=403)
    account, _ = half
    if second.is_set_up(account):
        return as_json(passkeys.to_give(request, account, passkeys.SIGN_IN))
    return as_json(passkeys.to_add(request, account))


@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_second_factor(request):
    """This site asks the account for a second factor, and it has none yet: set up before anything opens."""
    half = enter.half_in(request)
    if half is None or second.is_set_up(half[0]):
        return _again(request)
    account, to = half
    factor = second.begun(account)
    form = CodeForm(request.POST if request.method == "POST" else None)
    answer = request.POST.get("passkey", "")
    form.fields["code"].required = not answer
    if form.is_bound and form.is_valid():
        codes, problem = _first_passkey(request, account, answer) if answer else _first_code(factor, form)
        if codes:
            enter.enter(request, account)
            if not answer:
                events.note("second factor set up", request, account=account)
            return show_codes(request, codes, resolve_url(to))
        form.add_error(None if answer else "code", problem)
    way = button("create", "passkey-to-sign-in", "Make a passkey", "Set up time codes above.")
    return square_page(request, form, factor, asked=True, passkey=way)


def _first_code(factor, form) -> tuple[list[str], str]:
    """The recovery codes, or why the code is not right."""
    codes = second.confirm(factor, form.cleaned_data["code"])
    return codes, "" if codes else NO_FIT


def _first_passkey(request, account: Account, answer: str) -> tuple[list[str], str]:
    """The recovery codes, or why the passkey is not taken. It is called after the browser, until it is renamed."""
    try:
        return passkeys.add(request, account, answer, device_of(request)), ""
    except passkeys.NotTaken as problem:
        return [], str(problem)


def _again(request):
    messages.info(request, "That took too long. Sign in with name and pass phrase once more.")
    return redirect("sign-in")
