"""The invented demo: a hand-written story and seeded routine entries, played through the writers of `records.log`."""

from .database import ForeignData, state_of
from .player import load
from .story import Story, StoryError, read_story

__all__ = ["ForeignData", "Story", "StoryError", "load", "read_story", "state_of"]
