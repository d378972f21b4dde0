"""The answer for one unit in one line: tested each week of half a year unless a test says otherwise."""

from audit.judge.evaluate import evaluate_unit
from audit.regimes import load_regime
from tests.fact_builders import clinic, event, on, position, unit, weekly

START = event("2025-01-01")
TESTED = weekly("2025-01-01", "2025-06-25")


def standing(as_of, *, events=(START,), place=None, regime="us-dental-cdc-2003", **more):
    """The standing on `as_of`; `place` are facts of the whole clinic, `more` those of the unit."""
    facts = unit(events=events, positions=(position(),), **({"bio_tests": TESTED} | more))
    return evaluate_unit(facts, clinic(facts, **(place or {})), load_regime(regime), on(as_of)).standing
