"""Forms of what is done after a failure."""

from __future__ import annotations

from records.models.response import FOLLOW_UPS

from .base import EntryForm, Transcribed
from .fields import Choice, Day, Line, Lines, TimeOfDay


class FollowUpForm(Transcribed):
    legend = "What is to be done. If it is done already, fill in the second half too."

    action = Choice("Action", FOLLOW_UPS)
    what = Lines("What exactly", required=True)
    owner = Line("Who is to do it")
    due_on = Day("Until", required=False)
    done_on = Day("Done on", required=False, help_text="Leave blank while it is not done.")
    done_by = Line("Done by", help_text="Leave blank when it was you.")
    outcome = Lines("What came of it, and what shows it")

    def clean(self):
        values = super().clean()
        said = values.get("outcome") or values.get("done_by")
        if said and not values.get("done_on") and "done_on" not in self.errors:
            self.add_error(
                "done_on", "Done on which day? Without a day it stays to be done: enter it, or clear the rest."
            )
        return values


class FollowUpDoneForm(EntryForm):
    FIELD_OF = EntryForm.FIELD_OF | {"done_on": "on"}

    on = Day("Done on")
    at = TimeOfDay("Time")
    done_by = Line("Done by", help_text="Leave blank when it was you.")
    outcome = Lines("What came of it, and what shows it", required=True)
    paper = Line("Copied from paper: which page", longest=300)
