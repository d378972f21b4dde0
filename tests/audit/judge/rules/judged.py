"""The open items of one unit, asked for in one line."""

from datetime import date

from audit.judge.evaluate import evaluate_unit
from audit.regimes import load_regime
from tests.fact_builders import clinic, event, position, unit

DAY = date(2025, 6, 20)


def items(facts=None, *, rule="", as_of=DAY, regime="us-dental-cdc-2003", place=None, **more):
    """The unit's open items, those of one rule where it is named."""
    more = {} if facts is not None else {"events": (event("2025-01-01"),), "positions": (position(),)} | more
    facts = unit(**more) if facts is None else facts
    rules = load_regime(regime) if isinstance(regime, str) else regime
    own = place or {}
    said = evaluate_unit(facts, clinic(facts, **own), rules, as_of).findings
    assert not [f for f in said if f.rule in ("rule-failed", "not-judged")], said
    return [f for f in said if not rule or f.rule == rule]


def one(**more):
    """The only open item of a rule; the checks every one of them must pass."""
    (found,) = items(**more)
    assert found.message and found.way_out and found.evidence and found.source is not None
    assert found.owner in ("clinic", "service company")
    return found
