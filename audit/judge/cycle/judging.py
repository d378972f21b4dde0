"""Judges a recorded cycle under a profile.

The whole word, in this order: not met (only what is certain), incomplete, cannot be judged, met. A log that ends
early is never met, nor is one without the pressure that its profile asks for, nor one of too few sensors.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite

import numpy as np

from .criteria import criteria_of
from .file import FileProblem, RecordedCycle
from .lethality import f0_minutes
from .profile import HERE, Profile, load_profile, profile_ids
from .reading import read_cycle
from .scene import Scene, scene_of
from .verdict import INCOMPLETE, MET, NOT_MET, UNKNOWN, Criterion, JudgedCycle


class NoProfile(ValueError):
    """No profile is named, or one that is not on file; the message names those that are."""


def judged_file(content: bytes, profile: str | None = None) -> JudgedCycle:
    """Read the bytes of a file and judge it under the profile on file of that name, else the one the file names.

    Raises NotInForm for a file that is not in the form, NoProfile where no profile is known.
    """
    cycle = read_cycle(content)
    held, problems = profile_of(cycle, profile)
    return judge(cycle, held, problems)


def profile_of(cycle: RecordedCycle, named: str | None) -> tuple[Profile, tuple[FileProblem, ...]]:
    """The profile to judge by: the one named goes before the file's own, which is said. Raises NoProfile."""
    own = cycle.keys.get("profile", "")
    wanted = named if named is not None else own
    if wanted not in profile_ids(HERE):
        what = f"There is no profile “{wanted[:80]}”" if wanted else "No profile is named"
        raise NoProfile(f"{what}. On file: {', '.join(profile_ids(HERE))}.")
    problems = ()
    if named is not None and "profile" in cycle.keys and own != named:
        said = f"the file names the profile “{own}”; it is judged under “{named}”, as was asked."
        problems = (FileProblem(cycle.key_lines["profile"], said),)
    return load_profile(wanted), problems


def judge(cycle: RecordedCycle, profile: Profile, problems: tuple[FileProblem, ...] = ()) -> JudgedCycle:
    """Judge a cycle that was read. `problems` are told with those of the file."""
    scene = scene_of(cycle, profile)
    criteria = tuple(criteria_of(scene))
    own, unknown = [*_incomplete(scene, criteria)], [*_unknown(scene)]
    verdicts = {criterion.verdict for criterion in criteria}
    if NOT_MET in verdicts:
        word = NOT_MET
    elif scene.why or INCOMPLETE in verdicts:
        word = INCOMPLETE
    elif unknown or UNKNOWN in verdicts:
        word = UNKNOWN
    else:
        word = MET
    f0, least, lost = _lethality(cycle)
    told = (*cycle.problems, *problems, *own, *unknown, *lost)
    return JudgedCycle(word, criteria, f0, least, told, profile.id)


def _incomplete(scene: Scene, criteria: tuple[Criterion, ...]) -> Iterator[FileProblem]:
    """Why the log is incomplete: by itself, or for what its profile asks of it."""
    if scene.why:
        yield FileProblem(0, f"The log is incomplete: {scene.why}.")
    else:
        yield from (FileProblem(0, f"The log is incomplete: {c.words}") for c in criteria if c.verdict == INCOMPLETE)


def _unknown(scene: Scene) -> Iterator[FileProblem]:
    """What keeps the whole from being judged though every criterion on record is met."""
    cycle, profile = scene.cycle, scene.profile
    pressure = cycle.pressure
    if profile.pressure_asked and (pressure is None or not len(pressure.column.filled(0, len(cycle.time.values)))):
        yield FileProblem(
            0, f"There is no pressure on record, and {profile.id} asks for it: saturation is not judged."
        )
    if scene.sensors < profile.sensors_least:
        asked = profile.sensors_least
        yield FileProblem(
            0, f"{scene.sensors} of at least {asked} columns of temperature that {profile.id} asks for."
        )


def _lethality(cycle: RecordedCycle) -> tuple[float | None, float | None, tuple[FileProblem, ...]]:
    """F0 of the reference and the least of all sensors, in minutes."""
    seconds = cycle.time.floats()
    found = []
    for column in cycle.temperatures:
        rows = slice(None) if column.there is None else np.flatnonzero(column.there)
        celsius = np.asarray(column.values[rows], float) / column.scale
        with np.errstate(all="ignore"):
            f0 = f0_minutes(seconds[rows], celsius) if len(celsius) else None
        found.append(f0 if f0 is not None and isfinite(f0) else None)
    least = None if len(found) == 1 or None in found else min(found)
    lost = () if None not in found else (FileProblem(0, "F0 cannot be said of every sensor: values are missing."),)
    return found[0], least, lost
