"""What a writer says when it refuses: what, why, and the way out, by field."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class InputPlace:
    """Where in an input: names of fields and numbers of rows from 0 on, from the outermost in; none for the whole.

    `Place() / "jobs" / 0 / "readings" / 2 / "unit_of_measure"` is a field of the third reading of the first job.
    """

    parts: tuple[str | int, ...] = ()

    @classmethod
    def named(cls, name: str) -> InputPlace:
        """A field of the input itself; "" for the whole. ValueError for a name with dots, which is no single name."""
        if "." in name:
            raise ValueError(f"“{name}” is no name of a field. Put its place together with /.")
        return cls((name,) if name else ())

    def __truediv__(self, part: str | int) -> InputPlace:
        return InputPlace((*self.parts, part))

    @property
    def field(self) -> str:
        """The name of the field alone, "" where a row or the whole is meant."""
        last = self.parts[-1] if self.parts else ""
        return last if isinstance(last, str) else ""

    def __str__(self) -> str:
        return ".".join(map(str, self.parts))


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault of an input.

    `place` says where in the input; the name of one of its fields may be given instead, "" for the whole.
    `confirm` is a code when the way out is to say that it really happened like this: passing the code back among
    `confirmed` records it, and judgement flags it. "" means that there is no such way.
    """

    place: InputPlace
    message: str
    confirm: str = ""

    def __post_init__(self) -> None:
        if isinstance(self.place, str):
            object.__setattr__(self, "place", InputPlace.named(self.place))

    @property
    def field(self) -> str:
        """The place in words for a message, with dots ("jobs.0.readings.2.unit_of_measure"); "" for the whole."""
        return str(self.place)


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
