"""Forms of work that is owed: a fault reported or settled, a visit agreed or called off, how one gets in."""

from __future__ import annotations

from django import forms

from records.log.work import KEPT, OUT
from records.models.field import HOW_ASKED

from .base import Dated
from .fields import Choice, Day, Line, Lines

MEANWHILE = [
    (OUT, "no: it is taken out of service now (also when nobody knows)"),
    (KEPT, "yes: it stays in use, for the reason below"),
]


class FaultForm(Dated):
    legend = (
        "A fault that is reported opens work for the service company and stays an open item until somebody looked at "
        "it. Pressure, scald, mains: nobody opens anything to find out."
    )

    what = Lines("What is wrong, in their words", longest=1000, rows=3, required=True)
    reported_by = Line("Reported by", longest=200)
    how = Choice("How", HOW_ASKED, initial="telephone")
    meanwhile = Choice("May it be used meanwhile?", MEANWHILE)
    kept_because = Line("Why it stays in use, and who decided", longest=500)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.order_fields(["request_key", "next", "what", "meanwhile", "kept_because", "reported_by", "how"])


class FaultSettledForm(Dated):
    legend = "It returns no unit: one that was taken out of service is returned by itself, with its reason."

    outcome = Lines("What it was, and why nobody needs to come", longest=1000, rows=3, required=True)
    settled_by = Line("Who decided", longest=200)


class VisitAgreedForm(Dated):
    visit_on = Day("Day of the visit")
    hour = Line("At what time", longest=60)
    agreed_with = Line("With whom at the clinic", longest=200, required=True)
    how = Choice("How it was agreed", HOW_ASKED, initial="telephone")
    reason = Line("Why it is moved", longest=500)
    # Which agreement the form was opened on, "" for none; it is read by the page, not by the writer.
    instead_of = forms.CharField(required=False, widget=forms.HiddenInput)

    FIELD_OF = Dated.FIELD_OF | {"instead_of": "reason"}

    def __init__(self, *args, moved=False, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["on"].label, self.fields["at"].label = "Agreed on", "Agreed at"
        if not moved:
            del self.fields["reason"]
        self.order_fields(["request_key", "next", "visit_on", "hour", "reason", "agreed_with", "how", "on", "at"])

    def values(self) -> dict:
        return {name: value for name, value in super().values().items() if name != "instead_of"}


class VisitCalledOffForm(Dated):
    reason = Line("Why it is called off", longest=500, required=True)
    told_to = Line("Who was told", longest=200, required=True)
    how = Choice("How", HOW_ASKED, initial="telephone")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["on"].label, self.fields["at"].label = "Called off on", "Called off at"
        self.order_fields(["request_key", "next", "reason", "told_to", "how", "on", "at"])


class SiteAccessForm(forms.Form):
    """How one gets in. It is written over; nothing of it is a record."""

    use_required_attribute = False

    contact = Line("Whom to ask for", longest=200, help_text="Name and role, as they want to be asked for.")
    phone = Line("Telephone", longest=80, help_text="The number that is answered on the day.")
    hours = Line("Hours", longest=300, help_text="When somebody is there, and when not to come.")
    notes = Lines(
        "Getting in",
        longest=1000,
        rows=3,
        help_text="Entrance, parking, floor. No code that opens a door.",
    )

    def problems(self) -> list[tuple[str, str, str]]:
        """(label, message, id to jump to) of everything that is wrong."""
        return [(bound.label, message, bound.auto_id) for bound in self for message in bound.errors]
