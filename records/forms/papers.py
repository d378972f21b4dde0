"""Forms of papers on file, closures and known gaps."""

from __future__ import annotations

from pathlib import PurePath

from django import forms

from records.files.paper_check import LIMITS
from records.models.documents import DOCUMENT_KINDS

from .base import EntryForm
from .fields import Choice, Day, Line, Lines, OneOf


class AboutClinic(EntryForm):
    """About the whole place, or one of its units."""

    unit = OneOf("Unit", required=False, blank="the whole place")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["unit"].take(self.ground.units())


class DocumentForm(AboutClinic):
    kind = Choice("Kind of paper", DOCUMENT_KINDS)
    title = Line("Title", longest=200, required=True)
    valid_from = Day("Valid from")
    valid_to = Day("Last valid day", required=False, help_text="Leave blank when the paper states no end.")
    file = forms.FileField(
        label="File",
        allow_empty_file=True,
        help_text=LIMITS,
        error_messages={"required": "The file is missing. Choose it (again: a browser does not keep it)."},
    )

    FIELD_OF = EntryForm.FIELD_OF | {"content": "file", "filename": "file"}

    def values(self) -> dict:
        values = super().values()
        file = values.pop("file")
        name = PurePath(file.name.replace("\\", "/")).name
        return values | {"filename": name[-200:], "content": file.read()}


class ClosureForm(AboutClinic):
    legend = "Days without patients, both ends included. It may lie ahead; entered afterwards it shows as late."

    from_on = Day("First day")
    to_on = Day("Last day")
    why = Line("Why", longest=300, required=True)


class GapForm(AboutClinic):
    legend = "Evidence that is known to be missing. You accept that in your own name; it stays visible as a gap."

    from_on = Day("First day")
    to_on = Day("Last day")
    what = Line("What is missing", longest=300, required=True)
    why = Lines("Why it is missing", required=True)
