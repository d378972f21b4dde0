"""Forms of one's own log-in."""

from __future__ import annotations

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from records.models import Account

from .fields import Line

LONGEST_PHRASE = 200
LONGEST_PASSKEY_NAME = 60
# What the framework's own checks find, by their codes, in the words of these pages.
WHY_NOT = {
    "password_too_short": "This is too short: at least 12 characters. Take a few words in a row.",
    "password_too_common": "This is too common: everybody tries it. Take a few words in a row.",
    "password_too_similar": "This is too similar to the name or the mail address of the log-in. Take other words.",
}
PHRASE_HELP = (
    "At least twelve characters, and none of those that everybody tries. A few words in a row are easier to remember "
    "than one strange word."
)


def phrase_field(label: str, kind: str = "new-password", help_text: str = "") -> Line:
    """A pass phrase as it is typed: nothing of it is cut away."""
    widget = forms.PasswordInput(attrs={"autocomplete": kind})
    field = Line(label, longest=LONGEST_PHRASE, required=True, help_text=help_text, widget=widget)
    field.strip = False
    return field


def check_phrases(form: forms.Form, values: dict, account: Account) -> None:
    """Add to the form what is wrong with a pass phrase typed twice (`phrase`, `again`) for that account."""
    phrase, again = values.get("phrase"), values.get("again")
    if phrase and again and phrase != again:
        form.add_error("again", "The two differ. Type the pass phrase once more.")
    if phrase:
        try:
            validate_password(phrase, account)
        except ValidationError as refused:
            for each in refused.error_list:
                form.add_error("phrase", WHY_NOT.get(each.code, each))


class PlainForm(forms.Form):
    """A form that enters nothing into a record."""

    use_required_attribute = False
    heading = "Not done yet"

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages["required"] = "This is missing. Fill it in."

    def all_problems(self) -> list[tuple[str, str, str]]:
        """(label, message, id to jump to) of everything that is wrong."""
        found = [("", m, "") for m in self.non_field_errors()]
        return found + [(bound.label, m, bound.auto_id) for bound in self for m in bound.errors]


class CodeForm(PlainForm):
    """A time code or a recovery code."""

    code = Line(
        "Code", longest=40, required=True,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "autocapitalize": "none"}),
    )  # fmt: skip


class NewPhraseForm(PlainForm):
    """A new pass phrase, typed twice."""

    phrase = phrase_field("New pass phrase", help_text=PHRASE_HELP)
    again = phrase_field("New pass phrase once more")

    def __init__(self, *args, account, **kwargs):
        super().__init__(*args, **kwargs)
        self.account = account

    def clean(self):
        values = super().clean()
        check_phrases(self, values, self.account)
        return values


class ChangePhraseForm(NewPhraseForm):
    """One's own, by who knows the present one."""

    now = phrase_field("Pass phrase of now", "current-password")
    field_order = ("now", "phrase", "again")


class PhraseForm(PlainForm):
    """The pass phrase once more, before something that opens or closes a door."""

    now = phrase_field("Pass phrase", "current-password")


def passkey_name(help_text: str = "") -> Line:
    """How its person calls a passkey."""
    return Line("Name of the passkey", longest=LONGEST_PASSKEY_NAME, required=True, help_text=help_text)


class AddPasskeyForm(PlainForm):
    """How a new passkey is to be called, by who knows the pass phrase."""

    name = passkey_name("By which you know the device again, such as “blue key on the ring”.")
    now = phrase_field("Pass phrase", "current-password")


class RenameForm(PlainForm):
    """Another name for a passkey."""

    name = passkey_name()


class SetUpForm(CodeForm):
    """The first code of a second factor, by who knows the pass phrase."""

    now = phrase_field("Pass phrase", "current-password")


class ForgottenForm(PlainForm):
    """Whose pass phrase is forgotten."""

    name = Line(
        "Log-in name", longest=150, required=True,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )  # fmt: skip
