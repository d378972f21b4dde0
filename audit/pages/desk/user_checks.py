"""A round of checks by the people of the place: each pass, fail or not done, signed once, recorded one by one."""

from __future__ import annotations

from copy import deepcopy

from django.forms import TextInput

from records.forms import UserCheckForm
from records.forms.fields import Tick
from records.models import UserCheck

from .forms import DeskForm, as_targets

CHECK_KINDS = tuple(kind for kind, _ in UserCheck._meta.get_field("kind").choices)
MEASURED = ("thermometer comparison", "water")


def slug_of(kind: str) -> str:
    return kind.replace(" ", "_")


def _of_one(name: str, label: str):
    """The field of the form of one check, under the label that it has in a round."""
    field = deepcopy(UserCheckForm.base_fields[name])
    field.label = label
    return field


class ChecksForm(DeskForm):
    """One round of checks, each with the fields of `UserCheckForm`. Each is recorded as an entry of its own; what was
    not chosen is not recorded."""

    confirmable = True
    button = "Record the round"

    cycle_number = deepcopy(UserCheckForm.base_fields["cycle_number"])
    cycle_type = deepcopy(UserCheckForm.base_fields["cycle_type"])
    purpose = deepcopy(UserCheckForm.base_fields["purpose"])
    signs = Tick("")
    signed_by = deepcopy(UserCheckForm.base_fields["signed_by"])
    told = {"signed_by": {"label": "Signed by somebody else", "help_text": "The full name."}}

    def __init__(self, *args, kinds=CHECK_KINDS, **kwargs):
        super().__init__(*args, **kwargs)
        self.kinds = kinds
        self.fields["signs"].label = f"I sign these checks: {self.ground.account.full_name}"
        for kind in kinds:
            slug = slug_of(kind)
            title = kind.capitalize()
            self.fields[slug] = _of_one("result", title)
            self.fields[slug].required = False
            as_targets(self.fields[slug])
            if kind in MEASURED:
                self.fields[f"{slug}_value"] = _of_one("value", f"{title}: value read")
                self.fields[f"{slug}_unit_of_measure"] = _of_one("unit_of_measure", "Measured in")
            self.fields[f"{slug}_note"] = note = _of_one("note", f"{title}: note, or why it was not done")
            note.widget, note.help_text = TextInput(attrs={"autocomplete": "off", "maxlength": note.max_length}), ""

    @property
    def upfront_names(self):
        more = ("purpose",) if self.is_after_something else ()
        return (*(n for kind in self.kinds for n in self._names(kind)), *more, "signs")

    def _names(self, kind: str) -> list[str]:
        slug = slug_of(kind)
        return [n for n in (slug, f"{slug}_value", f"{slug}_unit_of_measure", f"{slug}_note") if n in self.fields]

    @property
    def rows(self) -> list[dict]:
        """Each check with its fields, for the page."""
        return [self._row(slug_of(kind)) for kind in self.kinds]

    def _row(self, slug: str) -> dict:
        measured = [self[f"{slug}_{n}"] for n in ("value", "unit_of_measure") if f"{slug}_{n}" in self.fields]
        return {"result": self[slug], "measured": measured, "note": self[f"{slug}_note"]}

    def clean(self):
        values = super().clean()
        if not any(values.get(slug_of(kind)) for kind in self.kinds) and not self.errors:
            self.add_error(None, "Nothing is chosen. Choose pass, fail or not done for each check that was due.")
        return values

    def round(self) -> list[dict]:
        """What the writer is told of each check that was chosen, in order. Call when the form is valid."""
        values = super().values()
        signed = self.ground.account.full_name if values["signs"] else values["signed_by"]
        common = {n: values[n] for n in ("on", "at", "cycle_number", "cycle_type", "purpose", "confirmed")}
        return [
            common | {"kind": kind, "result": values[slug], "note": values[f"{slug}_note"], "signed_by": signed}
            | {"value": values.get(f"{slug}_value"), "unit_of_measure": values.get(f"{slug}_unit_of_measure", "")}
            for kind in self.kinds
            if values[slug := slug_of(kind)]
        ]  # fmt: skip
