"""Forms of an inspection: who came and what they found, a point to correct, and that one was met."""

from __future__ import annotations

from records.models import BinderIssue, Document

from .base import EntryForm, Transcribed, standing_rows
from .fields import Day, Line, Lines, OneOf
from .papers import AboutClinic

_LONGEST = 1000  # of one point


class InspectionForm(Transcribed):
    legend = (
        "Somebody came to inspect the place. What they ask to be corrected stays on the list of open items until "
        "its own entry says that it was met; a point with a day, a unit or a rule of its own is added afterwards."
    )

    visitor = Line("Who came", longest=200, required=True)
    office = Line("From which office", longest=200, required=True)
    occasion = Line("Occasion", longest=200)
    asked = Lines("What they asked for, and what they found", longest=4000, rows=4)
    binder = OneOf("Binder that was handed out", required=False, blank="none was handed out")
    report = OneOf("Their report", required=False, blank="none on file yet")
    what = Lines("What is to be corrected, one point a line", longest=20 * _LONGEST, rows=4)
    due_on = Day("By which day, all of these points", required=False)

    FIELD_OF = EntryForm.FIELD_OF | {"points": "what"}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        clinic = self.ground.clinic
        issued = BinderIssue.objects.filter(clinic=clinic).order_by("-happened_on", "-id")
        self.fields["binder"].take(standing_rows(issued))
        self.fields["report"].take(papers_of(clinic))

    def clean(self):
        values = super().clean()
        if values.get("due_on") and not _told(values.get("what")):
            self.add_error("due_on", "A day for which points? Enter what is to be corrected, or clear the day.")
        long = [n for n, line in enumerate(_told(values.get("what")), start=1) if len(line) > _LONGEST]
        if long:
            self.add_error("what", f"Point {long[0]} has more than {_LONGEST} letters. Say it shorter.")
        return values

    def values(self) -> dict:
        values = super().values()
        due_on = values.pop("due_on")
        values["points"] = [{"what": line, "due_on": due_on} for line in _told(values.pop("what"))]
        return values

    def refuse(self, place, message, confirm="") -> None:
        """A point has no field of its own here: what is said of one stands at the lines of all, or at their day."""
        if not isinstance(place, str) and place.field == "points":
            place = "due_on" if place.parts[-1] == "due_on" else "what"
        super().refuse(place, message, confirm)


class InspectionPointForm(AboutClinic):
    on = Day("Named on")
    what = Lines("What is to be corrected", longest=_LONGEST, required=True)
    due_on = Day("By which day", required=False)
    citation = Line("Rule that they named", longest=300)
    paper = Line("Copied from paper: which page", longest=300)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.order_fields(["request_key", "next", "on", "what", "due_on", "unit", "citation", "paper"])


class PointMetForm(Transcribed):
    outcome = Lines("What was done, and what shows it", longest=_LONGEST, rows=3, required=True)
    done_by = Line("Done by", help_text="Leave blank when it was you.")
    document = OneOf("Paper that shows it", required=False, blank="none on file")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["document"].take(papers_of(self.ground.clinic))


def papers_of(clinic) -> list:
    """The papers of the clinic that were not entered in error, the newest first."""
    return standing_rows(Document.objects.filter(clinic=clinic).order_by("-happened_on", "-id"))


def _told(text: str | None) -> list[str]:
    return [line.strip() for line in (text or "").splitlines() if line.strip()]
