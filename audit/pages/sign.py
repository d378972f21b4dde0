"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth import views
from django.contrib.auth.forms import AuthenticationForm
from django.db import OperationalError, ProgrammingError

from records.models import Account


class SignInForm(AuthenticationForm):
    """The error says the way out; it never says which of the two was wrong."""

    error_messages = {
        "invalid_login": (
            "This name and password do not fit together. Mind capital letters. If you have forgotten the "
            "password, ask whoever runs this site for a new one."
        ),
        "inactive": "This log-in was closed. Ask your clinic's coordinator or your company's dispatcher.",
    }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Log-in name"


class SignIn(views.LoginView):
    template_name = "records/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs):
        return super().get_context_data(**kwargs) | {"nobody": _nobody()}


def _nobody() -> bool:
    """Whether nobody has a log-in here yet: the database is new, or has no tables at all."""
    try:
        return not Account.objects.exists()
    except (OperationalError, ProgrammingError):
        return True


sign_in = SignIn.as_view()
sign_out = views.LogoutView.as_view()
