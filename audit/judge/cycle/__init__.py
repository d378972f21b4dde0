"""A recorded cycle, judged: its file is read, held against a profile and told criterion by criterion. Pure.

`judged_file` is the door. Time, temperature and saturation decide; lethality is shown and decides nothing.
"""

from __future__ import annotations

from .file import FileProblem, NotInForm, RecordedCycle
from .judging import judge, judged_file
from .profile import Profile, ProfileError, load_profile, profile_ids, read_profile, stricter
from .reading import read_cycle
from .verdict import Criterion, JudgedCycle

__all__ = [
    "Criterion",
    "JudgedCycle",
    "FileProblem",
    "Profile",
    "ProfileError",
    "RecordedCycle",
    "NotInForm",
    "judge",
    "judged_file",
    "load_profile",
    "profile_ids",
    "read_cycle",
    "read_profile",
    "stricter",
]
