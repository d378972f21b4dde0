"""Short ways to ask for the look-backs of one unit."""

import re
from dataclasses import replace
from datetime import date

from audit.judge.lookback import look_backs
from audit.judge.response import cases_of
from audit.judge.situation import settle
from audit.regimes import load_regime
from tests.fact_builders import clinic, load, measured, part, unit

DAY = date(2025, 12, 31)
RULES = "us-dental-cdc-2003"
NO_PATHS = replace(load_regime(RULES), failure=())  # what a failure puts in doubt where the rules have no path for it


def backs(facts=None, *, as_of=DAY, regime=RULES, place=None, **more):
    """The look-backs of a unit holding the facts named, or of `facts`."""
    facts = unit(**more) if facts is None else facts
    rules = load_regime(regime) if isinstance(regime, str) else regime
    s = settle(facts, place or clinic(facts), rules, as_of)
    cases = cases_of(s.unit, list(s.replays), s.verdicts, as_of)
    return look_backs(s.unit, s.clinic, rules, s.verdicts, s.replays, cases, as_of)


def of_kind(kind, *args, **more):
    return [b for b in backs(*args, **more) if b.kind == kind]


def loads(*days, **more):
    """A load on each day, cycles numbered from 1."""
    return tuple(load(d, str(n), **more) for n, d in enumerate(days, start=1))


def days_in(back):
    """The days of the loads inside."""
    return [re.search(r"\d{4}-\d\d-\d\d", e.text).group() for e in back.loads]


def left_out(back):
    """How many rows each reason leaves out."""
    out = {}
    for _, reason in back.outside:
        words, _, many = reason.partition(" (the nearest of ")
        out[words] = out.get(words, 0) + (int(many.rstrip(")")) if many else 1)
    return out


def seal(day, lot="P1", **more):
    """A seal fitted, with its part number or receipt lot changed where named."""
    changes = {k: more.pop(k) for k in ("number", "receipt_lot", "kit", "name") if k in more}
    return replace(part(day, lot=lot, **more), **changes)


def taken(day, with_="thermometer T1", **more):
    """A measurement with an instrument; point and quantity may be changed."""
    changes = {k: more.pop(k) for k in ("point", "quantity") if k in more}
    return replace(measured(day, **more), instrument=with_, **changes)
