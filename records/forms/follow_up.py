"""Forms of what is done after a failure."""

from __future__ import annotations

from records.log.withdrawals import offered
from records.models.response import FOLLOW_UPS

from .base import EntryForm, Transcribed
from .fields import Choice, Day, Line, Lines, OneOf, TimeOfDay

RETURN = "return"


class Returning(EntryForm):
    """A form on which a unit may be returned as well. `unit`: whose withdrawals are offered, None for none."""

    confirmable = True
    ends = OneOf(
        "It is returned to use: which withdrawal that ends",
        required=False,
        blank="no return is recorded",
        unknown="That withdrawal is not one of this unit’s that stand. Choose one of the list.",
        name=lambda event: f"out since {event.happened_on}: {event.reason}",
    )

    def __init__(self, *args, unit=None, **kwargs):
        super().__init__(*args, **kwargs)
        named = self.data.get("ends", "")
        standing = offered(unit, self.ground.today, named) if unit is not None else []
        if standing:
            self.fields["ends"].take(standing)
            self.order_fields([name for name in self.fields if name != "ends"])
        else:
            del self.fields["ends"]


class FollowUpForm(Transcribed, Returning):
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
        if values.get("ends") and (values.get("action") != RETURN or not values.get("done_on")):
            self.add_error("ends", "Only a return that was done ends a withdrawal. Enter when, or choose none.")
        return values


class FollowUpDoneForm(Returning):
    FIELD_OF = EntryForm.FIELD_OF | {"done_on": "on"}

    on = Day("Done on")
    at = TimeOfDay("Time")
    done_by = Line("Done by", help_text="Leave blank when it was you.")
    outcome = Lines("What came of it, and what shows it", required=True)
    paper = Line("Copied from paper: which page", longest=300)
