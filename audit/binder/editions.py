"""Which rules, in which edition, a clinic followed in a period."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from audit.binder.sections import RulesFollowed
from audit.facts import ClinicFacts
from audit.facts.dates import ONE_DAY
from audit.regimes import Regime, all_regimes
from audit.regimes.places import home

_UNNAMED = "none adopted"


def rules_followed(
    facts: ClinicFacts, first: date, last: date, regimes: Mapping[str, Regime] | None = None
) -> tuple[RulesFollowed, ...]:
    """Each stretch of the period under the same rules in the same edition, oldest first; both days inclusive.

    Days before the first terms of the clinic are left out. `regimes` are all that may be named (default: on file).
    """
    known = all_regimes() if regimes is None else regimes
    out: list[RulesFollowed] = []
    for start, end in _cut(facts, first, last, known):
        terms = facts.terms_on(start)
        if terms is None:
            continue
        made = _followed(terms.regime, known.get(terms.regime), start, end)
        before = out[-1] if out else None
        if before and (before.id, before.edition, before.last) == (made.id, made.edition, start - ONE_DAY):
            made = _followed(terms.regime, known.get(terms.regime), before.first, end)
            out.pop()
        out.append(made)
    return tuple(out)


def places_of(id: str, on: date) -> tuple[str, ...] | None:
    """The places whose texts are those of a set of rules on a day, the narrowest first; None for one not on file."""
    regime = all_regimes().get(id)
    return home(regime.on(on).place) if regime else None


def _followed(id: str, regime: Regime | None, start: date, end: date) -> RulesFollowed:
    if regime is None:
        return RulesFollowed(id, id or _UNNAMED, "", None, start, end)
    then = regime.on(end)
    return RulesFollowed(then.id, then.title, then.edition, then.valid_from, start, end)


def _cut(facts: ClinicFacts, first: date, last: date, known: Mapping[str, Regime]) -> Iterator[tuple[date, date]]:
    """The period cut where other terms take effect or an edition of rules named by the terms comes into force."""
    turns = {terms.effective_on for terms in facts.terms}
    for id in {terms.regime for terms in facts.terms} & set(known):
        regime = known[id]
        turns |= {one.valid_from for one in (regime, *regime.earlier)}
    starts = sorted({first, *(day for day in turns if first < day <= last)})
    yield from zip(starts, [*(day - ONE_DAY for day in starts[1:]), last], strict=True)
