"""A deep run leaves no law out: each test that Hypothesis drives is marked, and each number of examples grows."""

import ast
from pathlib import Path

import pytest
from hypothesis import given, is_hypothesis_test, settings
from hypothesis import strategies as st

from tests.examples import DEEP, TIMES, examples

HERE = Path(__file__).parent


@given(st.booleans())
def test_every_law_carries_the_mark(request, law):
    """Of all that was collected, this one included."""
    laws = [item for item in request.session.items if is_hypothesis_test(getattr(item, "obj", None))]
    assert request.node in laws
    assert [item.nodeid for item in laws if item.get_closest_marker("laws") is None] == []


def numbers_of(source: str) -> list[str]:
    """What a source gives as `max_examples`, as it is written there."""
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    return [ast.unparse(k.value) for call in calls for k in call.keywords if k.arg == "max_examples"]


def test_no_law_names_a_number_that_a_deep_run_cannot_raise():
    found = [(p, n) for p in HERE.rglob("test_*.py") for n in numbers_of(p.read_text())]
    assert len(found) > 20
    assert [(p.name, n) for p, n in found if not n.startswith("examples(")] == []
    assert numbers_of("few = settings(deadline=None, max_examples=60)") == ["60"]


@pytest.mark.parametrize("ordinary", [1, 25, 300])
def test_a_deep_run_takes_twenty_times_as_many(ordinary, monkeypatch):
    deep, default = settings.get_profile(DEEP), settings.get_profile("default")
    assert (deep.max_examples, deep.deadline, deep.derandomize) == (TIMES * default.max_examples, None, False)
    for profile, many in ((default, ordinary), (deep, 20 * ordinary)):
        monkeypatch.setattr("tests.examples.settings", lambda profile=profile: profile)
        assert examples(ordinary) == many
