"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth import views
from django.contrib.auth.forms import AuthenticationForm


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


sign_in = SignIn.as_view()
sign_out = views.LogoutView.as_view()
