"""In what order tests run, and which process runs them.

A file's tests stay in one process, so that what the file makes once is made once. Those that take long and share
little are given out one by one, and first, so that no process is left with a long one at the end.
"""

from __future__ import annotations

import random

import pytest
from xdist.scheduler import LoadScopeScheduling

# Beginnings of names of files whose tests are given out one by one.
ALONE = ("test_browser", "test_postgresql", "test_url_walk", "test_laws", "test_oracle")
# Those that take long and share what they make, so that they too are given out first, each file as a whole.
LONG = ("test_web_server", "test_demo", "test_all_clinics", "test_old_ledgers", "test_queries")


def file_of(nodeid: str) -> str:
    return nodeid.partition("::")[0]


def alone(nodeid: str) -> bool:
    return _begins(nodeid, ALONE)


def _begins(nodeid: str, names: tuple[str, ...]) -> bool:
    return file_of(nodeid).rpartition("/")[2].startswith(names)


class ByFile(LoadScopeScheduling):
    def __init__(self, config, log=None):
        super().__init__(config, log)
        config.option.loadscopereorder = False

    def _split_scope(self, nodeid: str) -> str:
        return nodeid if alone(nodeid) else file_of(nodeid)


def shuffled(items: list[pytest.Item], seed: str) -> None:
    """Files in random order, and the tests of each; the same for the same seed."""
    chance = random.Random(seed)
    files: dict[str, list[pytest.Item]] = {}
    for item in items:
        files.setdefault(file_of(item.nodeid), []).append(item)
    each = list(files.values())
    chance.shuffle(each)
    for tests in each:
        chance.shuffle(tests)
    items[:] = [item for tests in each for item in tests]


def long_ones_first(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: not (alone(item.nodeid) or _begins(item.nodeid, LONG)))
