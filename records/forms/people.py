"""Forms of who belongs where and who serves whom."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError

from records.inviting import DAYS
from records.models import Account

from .base import EntryForm
from .fields import Choice, Day, Line, Lines, OneOf
from .log_in import PHRASE_HELP, PlainForm, check_phrases, phrase_field

TAKEN = "This log-in name is taken. Choose another one, or sign in if it is yours."
WHAT_ROLES_DO = {
    "coordinator": "coordinator: logs everything, manages people, agreement, units and rules",
    "operator": "operator: logs tests, loads, checks and papers",
    "viewer": "viewer: looks, logs nothing",
    "technician": "technician: logs visits, units, plans, parts and tests",
    "dispatcher": "dispatcher: as a technician, and manages people and agreements",
    "stores": "stores: logs parts, lots and recalls, also tests and checks, but no visits",
}


class Email(forms.EmailField):
    def __init__(self, label, **kwargs):
        super().__init__(
            label=label, required=False, max_length=200,
            error_messages={"invalid": "That is no address of mail. Write it as name@place.example, or leave it."},
            **kwargs,
        )  # fmt: skip


class InviteForm(EntryForm):
    legend = (
        "The person gets a link from you, once, and takes the role with it: with a log-in of their own, new or "
        f"existing. It opens for {DAYS} days."
    )

    name = Line("Name of the person", required=True)
    role = Choice("Role", ())
    email = Email("Address of mail", help_text="Only so that you know whom you sent it to. No mail is sent.")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        words = [(role, WHAT_ROLES_DO[role]) for role in self.ground.roles]
        self.fields["role"].choices = [("", "— choose —"), *words]
        if len(words) == 1:
            self.initial.setdefault("role", words[0][0])


class OfferForm(EntryForm):
    """An agreement between a clinic and a company, offered by one of them."""

    legend = (
        "You get a link to hand over, once. Whoever manages the other side accepts with it, and from then on the "
        f"company's people see the clinic's units and log visits there. It opens for {DAYS} days."
    )

    name = Line("What for", required=True, help_text="Such as “maintenance of all sterilizers, contract of March”.")
    email = Email("Address of mail", help_text="Only so that you know whom you sent it to. No mail is sent.")


class EndForm(EntryForm):
    effective_on = Day("First day on which it no longer holds")
    reason = Lines("Why", required=True)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.initial.setdefault("effective_on", self.ground.today)


class NewAccountForm(PlainForm):
    """A log-in for who takes an invitation."""

    name = Line("Your name, as it stands under what you log", required=True)
    username = Line(
        "Log-in name", longest=150, required=True,
        help_text="Letters, digits and @ . + - _ only.",
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )  # fmt: skip
    phrase = phrase_field("Pass phrase", help_text=PHRASE_HELP)
    again = phrase_field("Pass phrase once more")

    def clean_username(self):
        name = self.cleaned_data["username"]
        try:
            Account.username_validator(name)
        except ValidationError:
            raise ValidationError(
                "This log-in name has other characters. Use letters, digits and @ . + - _."
            ) from None
        if Account.objects.filter(username__iexact=name).exists():
            raise ValidationError(TAKEN)
        return name

    def clean(self):
        values = super().clean()
        account = Account(username=values.get("username", ""), first_name=values.get("name", ""))
        check_phrases(self, values, account)
        return values


class AcceptForm(EntryForm):
    """Accepting an agreement for one of one's own organisations."""

    side = OneOf("For which place", name=lambda o: o.name)
    effective_on = Day("From which day on")

    def __init__(self, *args, sides=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["side"].take(sides)
        self.initial.setdefault("effective_on", self.ground.today)
        if len(sides) == 1:
            self.initial.setdefault("side", sides[0])
