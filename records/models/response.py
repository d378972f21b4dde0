"""What is done after a failure."""

from __future__ import annotations

from django.db import models

from .base import Fact, UnitFact, text, words

CASE_KINDS = (
    "biological",
    "air removal",
    "air leak",
    "chemical",
    "mechanical",
    "automatic control",
    "safety check",
    "air detector",
    "wet packs",
)


class FailureCase(UnitFact):
    """Opened by the failing fact, mechanically. Whether it is open or resolved is computed, never set."""

    kind = models.CharField(max_length=20, choices=words(*CASE_KINDS))
    opened_by = models.UUIDField()  # origin of the failing fact

    class Meta(Fact.Meta):
        verbose_name = "failure case"


FOLLOW_UPS = [
    ("withdraw", "take the unit out of service"),
    ("review", "review the process and the records"),
    ("retest", "repeat the test"),
    ("recall packs", "recall and reprocess packs"),
    ("find cause", "find the cause"),
    ("confine", "cause known at once and confined to one load"),
    ("repair", "inspect or repair the unit"),
    ("notify", "tell those who must know"),
    ("return", "return the unit to use"),
    ("other", "something else"),
]


class FollowUp(UnitFact):
    """An action in a failure case, with who is to do it. That it was done is a row of its own."""

    case = models.ForeignKey(FailureCase, models.PROTECT, related_name="followups")
    action = models.CharField(max_length=14, choices=FOLLOW_UPS)
    what = models.CharField("what exactly", max_length=500)
    owner = text(120)
    due_on = models.DateField(null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"due_on": "no day was set"}

    class Meta(Fact.Meta):
        verbose_name = "follow-up"


class FollowUpDone(UnitFact):
    """The follow-up was done: when, by whom, and what shows it."""

    followup = models.ForeignKey(FollowUp, models.PROTECT, related_name="dones")
    done_by = text(120)
    outcome = models.CharField("what came of it, and what shows it", max_length=500)

    class Meta(Fact.Meta):
        verbose_name = "follow-up done"
        verbose_name_plural = "follow-ups done"
