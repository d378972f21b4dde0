"""What a writer says when it refuses: what, why, and the way out, by field."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault of an input.

    `field` is the input's name, with dots for nesting ("jobs.0.readings.2.unit_of_measure"), "" for the whole.
    `confirm` is a code when the way out is to say that it really happened like this: passing the code back among
    `confirmed` records it, and judgement flags it. "" means that there is no such way.
    """

    field: str
    message: str
    confirm: str = ""


class Refused(Exception):
    """Nothing was written. `problems` says why."""

    def __init__(self, problems):
        self.problems = tuple(problems)
        super().__init__("; ".join(f"{p.field or 'entry'}: {p.message}" for p in self.problems))


class NotYours(Refused):
    """The account may not write here."""

    def __init__(self, message: str):
        super().__init__([Problem("", message)])


class SubmissionConflict(Exception):
    """The same request key came twice with different content. `entry` is what stands since the first time."""

    def __init__(self, entry):
        self.entry = entry
        super().__init__(
            f"This form was already sent once, with other content, and stands as entry {entry.number}. "
            "Nothing new was written. Open that entry, and correct it if it is wrong."
        )
