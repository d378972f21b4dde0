"""With how many examples a law is tried: an ordinary run is quick, a deep one takes twenty times as many."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

DEEP, TIMES = "deep", 20
_ORDINARY = settings.get_profile("default").max_examples  # of a law that names no number itself


def register() -> None:
    """Make the deep run known: `pytest -m laws --hypothesis-profile deep`. Each example may take as long as it needs.

    Examples are always new ones, also where the environment asks for the same each time.
    """
    slow = [HealthCheck.too_slow]
    many = TIMES * _ORDINARY
    settings.register_profile(DEEP, max_examples=many, deadline=None, suppress_health_check=slow, derandomize=False)


def examples(ordinary: int) -> int:
    """How many examples or seeds this run takes where an ordinary one takes `ordinary`."""
    return ordinary * settings().max_examples // _ORDINARY
