"""Reading the story files: who there is, and what was logged when, by whom.

A story is a folder of TOML files. `story.toml` names the fixed present, the people and the organisations,
`models.toml` the invented types of sterilizer; every other file holds `[[event]]` and `[[routine]]` tables of one
organisation. Times in a file are local to that organisation.
"""

from __future__ import annotations

import tomllib
import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo


class StoryError(ValueError):
    """The story cannot be read or played: which file or event, what is wrong, the way out."""


@dataclass(frozen=True, slots=True)
class StoryEvent:
    """One call of a writer of `records.log`. `place` is the slug of the organisation it is told for."""

    id: str
    place: str
    logged: datetime  # aware
    by: str
    do: str
    args: dict


@dataclass(frozen=True, slots=True)
class Story:
    """The whole demo. `now` is the fixed present, in UTC."""

    now: datetime
    namespace: uuid.UUID
    seed: int
    password: str
    address: str  # where the binders of the demo say that they can be checked
    accounts: tuple[dict, ...]
    people: tuple[dict, ...]
    organisations: tuple[dict, ...]
    models: dict[str, dict]
    units: dict[str, dict]  # by name: what the cycle counter showed on which day, and cycles a day
    events: tuple[StoryEvent, ...] = field(default=())  # hand-written, in the order of the files
    routines: tuple[dict, ...] = field(default=())

    def zone(self, place: str) -> ZoneInfo:
        """The time zone of an organisation. Raises StoryError."""
        for organisation in self.organisations:
            if organisation["slug"] == place:
                return ZoneInfo(organisation["time_zone"])
        raise StoryError(f"“{place}” is not among the organisations of story.toml. Add it there.")

    def ref(self, *names: str) -> uuid.UUID:
        """The fixed ref of something that the story names."""
        return uuid.uuid5(self.namespace, "/".join(names))


def _toml(path: Path) -> dict:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    except OSError as error:
        raise StoryError(f"{path}: {error.strerror}. Is the folder of the story complete?") from None
    except tomllib.TOMLDecodeError as error:
        raise StoryError(f"{path}: not TOML: {error}. Mend the line named.") from None


def read_story(folder: Path) -> Story:
    """Read the story in the folder. Raises StoryError."""
    head = _toml(folder / "story.toml")
    try:
        story = Story(
            now=head["now"].astimezone(UTC),
            namespace=uuid.UUID(head["namespace"]),
            seed=head["seed"],
            password=head["password"],
            address=head["address"],
            accounts=tuple(head["account"]),
            people=tuple(head["person"]),
            organisations=tuple(head["organisation"]),
            models=_toml(folder / "models.toml")["model"],
            units=head["unit"],
        )
    except KeyError as error:
        raise StoryError(f"{folder}/story.toml: {error} is missing. Add it.") from None
    events, routines = [], []
    for path in sorted(folder.glob("*.toml")):
        if path.name in ("story.toml", "models.toml"):
            continue
        told = _toml(path)
        place = told.get("place", "")
        zone = story.zone(place)
        events += [_event(e, path.name, place, zone) for e in told.get("event", ())]
        routines += [{"place": place, **r} for r in told.get("routine", ())]
    _refuse_doubles(events)
    return Story(**{n: getattr(story, n) for n in Story.__slots__} | {
        "events": tuple(events), "routines": tuple(routines),
    })  # fmt: skip


def _event(told: dict, file: str, place: str, zone: ZoneInfo) -> StoryEvent:
    args = dict(told)
    try:
        name, do, by, logged = args.pop("id"), args.pop("do"), args.pop("by"), args.pop("logged")
    except KeyError as error:
        raise StoryError(f"{file}: event {told.get('id', told)!r} has no {error}. Add it.") from None
    return StoryEvent(name, place, logged.replace(tzinfo=zone), by, do, args)


def _refuse_doubles(events: list[StoryEvent]) -> None:
    seen = set()
    for event in events:
        if event.id in seen:
            raise StoryError(f"Two events are called “{event.id}”. Rename one.")
        seen.add(event.id)
