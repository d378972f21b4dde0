"""Which rules hold for a place: proposed with reasons, with what they leave open and whom to ask about it.

A proposal is no ruling. What holds is decided by the place itself: its authority, its licence, its inspector. Rules
of a narrower place come before those of a wider one, and rules of one kind of place before those of any kind; several
may hold together, and then the stricter of each is kept. Whom to ask about what: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .by_subject import SHARED
from .covers import SUBJECTS_LOOKED_FOR, not_covered
from .in_words import RuleLine, memory_count, sections
from .load import load_regime
from .model import ANY, KINDS_OF_PLACE, Regime
from .read_duty import EQUIPMENT

ASKED_BY_LAW, EXEMPT, NOT_KNOWN = "asked", "exempt", "not known"
EXAMINATION = {
    ASKED_BY_LAW: "the law asks an examination of the pressure vessel",
    EXEMPT: "the unit is exempt from that law",
    NOT_KNOWN: "not known yet",
}
EXAMINED = "pressure examination"
AUTHORITY, MAKER, LABOUR, INSURER = (
    "the licensing board or health authority of the place",
    "the maker’s instructions",
    "the authority for pressure vessels (labour or boiler inspection)",
    "the insurer",
)
ASK = {
    "spore tests": AUTHORITY,
    "air removal": f"{MAKER}, then {AUTHORITY}",
    "air leak": MAKER,
    "automatic control test": MAKER,
    "safety check": MAKER,
    "validation": f"{AUTHORITY}; who validates: {MAKER}",
    "service": f"{MAKER}; {INSURER}",
    EXAMINED: f"{LABOUR}; {INSURER}",
    "water": MAKER,
}
# What to ask where no rules of the place are on file: the question, and whom.
QUESTIONS_FOR_A_PLACE = (
    ("Which text holds for this kind of place, in which edition, and from which day?", AUTHORITY),
    ("How often is a spore test asked, who reads it, and in which load?", AUTHORITY),
    ("What must be checked and recorded of each load before it is released?", AUTHORITY),
    ("Which tests are asked each day of use, with air removal by a pump above all?", f"{MAKER}; {AUTHORITY}"),
    ("What follows after a failed test, who must be told, and how soon?", AUTHORITY),
    ("How long are which records kept, and where?", f"{AUTHORITY}; {INSURER}"),
    ("Must the pressure vessel be examined, by whom, and by which day?", f"{LABOUR}; {INSURER}"),
    ("How often is the unit serviced and validated, and by whom?", f"{MAKER}; {INSURER}"),
)


@dataclass(frozen=True, slots=True)
class PlaceAsked:
    """Where a clinic is and what it has. `region`: also a locality of it; "" where none was named.

    `equipment`: types of its units, () where they are not known: then everything is looked for. `examination` is a
    key of EXAMINATION.
    """

    country: str
    region: str
    kind: str  # a key of KINDS_OF_PLACE
    equipment: tuple[str, ...] = ()
    examination: str = NOT_KNOWN


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """A subject on which the rules ask nothing regular of such units, and whom to ask about it."""

    subject: str
    ask: str


@dataclass(frozen=True, slots=True)
class ProposedRules:
    """One set of rules with the reasons for it, what it asks of such units regularly, and what it leaves open."""

    regime: Regime
    reasons: tuple[str, ...]
    asks: tuple[RuleLine, ...]
    left_open: tuple[LeftOpen, ...]


@dataclass(frozen=True, slots=True)
class RulesProposal:
    """What is proposed for a place, the nearest first. `own` is False where no rules of the place itself are on file.

    `said`: what must be known beside, in sentences. `questions`: what to ask whom, where the place has none on file.
    """

    asked: PlaceAsked
    own: bool
    rules: tuple[ProposedRules, ...]
    said: tuple[str, ...]
    questions: tuple[tuple[str, str], ...]


def places_on_file(regimes: Iterable[Regime]) -> dict[str, tuple[str, ...]]:
    """Each country with the regions and localities that have rules on file, all in the order of the alphabet."""
    found: dict[str, set[str]] = {}
    for one in regimes:
        if one.country:
            found.setdefault(one.country, set()).update(filter(None, (one.region, _inner(one))))
    return {country: tuple(sorted(found[country])) for country in sorted(found)}


def _inner(regime: Regime) -> str:
    """A locality with its region, so that no two are taken for each other."""
    return f"{regime.locality}, {regime.region}" if regime.locality else ""


def propose(asked: PlaceAsked, regimes: Iterable[Regime]) -> RulesProposal:
    """The rules on file that may hold there; the common base alone where there are none.

    Names of places are compared without regard to case. Rules that hold only where a place has adopted them come
    after all others.
    """
    held = tuple(regimes)
    fitting = _without_what_is_taken_over(sorted((one for one in held if _holds(one, asked)), key=_rank))
    own = any(not one.where_adopted and _nearness(one) >= _named(asked) for one in fitting)
    chosen = fitting if any(not one.where_adopted for one in fitting) else [*fitting, load_regime(SHARED)]
    return RulesProposal(
        asked,
        own,
        tuple(_proposed(one, asked) for one in chosen),
        tuple(_said(asked, own, fitting, held)),
        () if own else QUESTIONS_FOR_A_PLACE,
    )


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.strip().casefold()


def _in_region(regime: Regime, asked: PlaceAsked) -> bool:
    """Whether the place asked about lies in what the rules hold for."""
    if not _same(regime.country, asked.country):
        return False
    outer = asked.region.rpartition(", ")[2]
    if regime.locality:
        return _same(_inner(regime), asked.region)
    return not regime.region or _same(regime.region, outer)


def _holds(regime: Regime, asked: PlaceAsked) -> bool:
    of_kind = asked.kind in regime.kinds or ANY in regime.kinds
    return bool(regime.country) and of_kind and _in_region(regime, asked)


def _nearness(regime: Regime) -> int:
    """0 for the whole country, 1 for the region, 2 for the locality within it."""
    return bool(regime.region) + bool(regime.locality)


def _named(asked: PlaceAsked) -> int:
    """As near as rules must be to be the place's own: of its region where one was named. A locality adds to it."""
    return 1 if asked.region else 0


def _rank(regime: Regime) -> tuple:
    return (regime.where_adopted, -_nearness(regime), ANY in regime.kinds, regime.title)


def _without_what_is_taken_over(fitting: list[Regime]) -> list[Regime]:
    """What rules of a narrower place have taken over whole is not proposed beside them."""
    taken = {one.inherits: _nearness(one) for one in reversed(fitting)}
    return [one for one in fitting if taken.get(one.id, 0) <= _nearness(one)]


def _lies_within(regime: Regime, asked: PlaceAsked) -> bool:
    """Whether rules for this kind of place are of a part of the place asked about."""
    if not _same(regime.country, asked.country) or not ({asked.kind, ANY} & set(regime.kinds)):
        return False
    if not asked.region:
        return bool(regime.region)
    return bool(regime.locality) and _same(regime.region, asked.region)


# ------------------------------------------------------------------------------------------------ in words


def _proposed(regime: Regime, asked: PlaceAsked) -> ProposedRules:
    types = asked.equipment or EQUIPMENT
    duties, lines = regime.duties, sections(regime)[0].lines
    mine = [
        line
        for duty, line in zip(duties, lines, strict=True)
        if not duty.equipment or set(duty.equipment) & set(types)
    ]
    return ProposedRules(regime, tuple(_reasons(regime, asked)), tuple(mine), _left_open(regime, asked, types))


def _reasons(regime: Regime, asked: PlaceAsked) -> Iterable[str]:
    if regime.id == SHARED:
        yield "no rules on file hold for this place: these common ones alone ask no test at any time"
        return
    where = regime.locality or regime.region or regime.country
    yield (
        f"it is a text of {where}"
        if _nearness(regime) or not asked.region
        else (
            f"it holds for the whole country ({regime.country}), so for {asked.region} too, beside a text of its own"
        )
    )
    kinds = "any kind of place" if ANY in regime.kinds else " and ".join(KINDS_OF_PLACE[k] for k in regime.kinds)
    yield f"it is for {kinds}"
    if regime.where_adopted:
        yield "a model: it holds only where the place has adopted it, which the authority knows"
    if regime.inherits not in ("", SHARED):
        yield f"what it does not say itself is taken from {load_regime(regime.inherits).title}"
    if regime.ended:
        yield f"this edition ended on {regime.ended.on.isoformat()}: {regime.ended.words}"
    if held := memory_count(regime):
        yield f"{held} of its rules {'is' if held == 1 else 'are'} from memory: confirm before relying on them"


def _left_open(regime: Regime, asked: PlaceAsked, types: tuple[str, ...]) -> tuple[LeftOpen, ...]:
    """Every subject that is left open for one of the types of unit, in the fixed order."""
    missing = {words for type in types for words in not_covered(regime, type)}
    return tuple(
        LeftOpen(words, ASK[words])
        for words, _ in SUBJECTS_LOOKED_FOR
        if words in missing and not (words == EXAMINED and asked.examination == EXEMPT)
    )


def _said(asked: PlaceAsked, own: bool, fitting: list[Regime], held: tuple[Regime, ...]) -> Iterable[str]:
    kind, where = KINDS_OF_PLACE[asked.kind], asked.region or asked.country
    if not own:
        yield f"On file are no rules of {where} for this kind of place ({kind}). There may be some all the same."
        others = sorted({k for one in held if _of_place(one, asked) for k in one.kinds if k != ANY})
        if others:
            yield f"On file for {where} are rules for: {', '.join(KINDS_OF_PLACE[k] for k in others)}."
    if inner := sorted({_inner(one) or one.region for one in held if _lies_within(one, asked)}):
        yield f"Parts of {where} have rules of their own on file: {'; '.join(inner)}. Ask with the part it lies in."
    firm = [one for one in fitting if not one.where_adopted]
    if len(firm) > 1:
        yield "Several sets may hold together. Follow the stricter of each, as a duty of the clinic’s own if need be."
    if asked.examination == EXEMPT:
        yield (
            "An exemption from the law on pressure vessels is a paper of the unit: file the certificate or the text "
            "relied on. Nothing here takes it for granted."
        )
    if asked.examination == ASKED_BY_LAW and not any(d.subject == EXAMINED for one in firm for d in one.duties):
        yield (
            "None of these rules asks the examination of the pressure vessel: enter it as a duty of the clinic’s "
            "own, by the day that the last report states."
        )
    if asked.examination == NOT_KNOWN:
        yield f"Whether the pressure vessel must be examined: ask {LABOUR}. Until it is known, take it that it must."
    yield "The clinic’s own stricter rules stand on top: they are entered as duties of its own, with their source."


def _of_place(regime: Regime, asked: PlaceAsked) -> bool:
    """Whether rules are of the place that was named, whatever kind of place they are for."""
    return _in_region(regime, asked) and _nearness(regime) >= _named(asked)
