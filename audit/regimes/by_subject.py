"""A set of rules by subject: what it asks, what it leaves open, and what the shared rules add to it.

What the shared rules add is what an edition has word for word as they have it. Nothing here says that something is
not needed: what a text leaves open is for the maker's instructions, local rules and the clinic's own.
"""

from __future__ import annotations

from dataclasses import dataclass

from .load import load_regime
from .model import Duty, Regime, Retention

SHARED = "base"
_BY_EVENT = ("after-event", "each-implant-load")
LOADS, SPORES, WORK, RECORDS = "Mechanical and chemical results of each load", "Spore tests", "Service", "Records"
IN_A_ROW = "tests in a row after installation, relocation or a major repair"
SUBJECT_COLUMNS = ("Subject", "What these rules ask", "What they leave open", "What the shared rules add")
NONE_TOLD = ("nothing on file", "nothing noted", "nothing")  # of what is asked, left open and added
# Each subject in words, with the subjects of duties and the kinds of failure that belong to it. Common practice.
SUBJECTS_TOLD = (
    (SPORES, ("biological",), ("biological",)),
    (LOADS, (), ("mechanical", "chemical", "wet packs")),
    ("Air removal", ("air removal",), ("air removal",)),
    ("Air leak", ("air leak",), ("air leak", "air detector")),
    ("Automatic control test", ("automatic control",), ("automatic control",)),
    ("Safety check", ("safety check",), ("safety check",)),
    ("Thermometer comparison", ("thermometer comparison",), ()),
    ("Validation", ("validation report",), ()),
    (WORK, ("servicing",), ()),
    ("Pressure examination", ("pressure examination",), ()),
    ("Insurance", ("insurance",), ()),
    ("Water", ("water",), ()),
    ("Training, procedures and instructions", ("training", "procedure", "instructions"), ()),
    (RECORDS, (), ()),
)


@dataclass(frozen=True, slots=True)
class SubjectRow:
    """One subject: what is asked, what is left open, what the shared rules add; () for nothing."""

    subject: str
    asked: tuple[str, ...]
    left_open: tuple[str, ...]
    added: tuple[str, ...]

    @property
    def cells(self) -> tuple[str, ...]:
        """What stands under the last three of `SUBJECT_COLUMNS`."""
        told = zip((self.asked, self.left_open, self.added), NONE_TOLD, strict=True)
        return tuple("; ".join(texts) or none for texts, none in told)


def by_subject(regime: Regime) -> tuple[SubjectRow, ...]:
    """Every subject of one edition, in a fixed order."""
    return tuple(_row(regime, *told) for told in SUBJECTS_TOLD)


def _row(regime: Regime, words: str, subjects: tuple[str, ...], kinds: tuple[str, ...]) -> SubjectRow:
    duties = [duty for duty in regime.duties if duty.subject in subjects]
    asked = [f"{duty.title}: {_often(duty)}" for duty in duties]
    left_open = [f"{duty.title}: {duty.note}" for duty in duties if duty.note]
    if subjects and not any(duty.every not in _BY_EVENT for duty in duties):
        left_open.insert(0, "how often")
    if words == LOADS:
        asked, left_open = ([regime.release.words], []) if regime.release else ([], ["what each load asks"])
    if words == RECORDS:
        asked = [f"{kept.what}: {kept.words}" for kept in regime.retention]
        left_open = [] if any(_has_length(kept) for kept in regime.retention) else ["how long"]
    own, added = _rest(regime, words, kinds)
    return SubjectRow(words, (*asked, *own), tuple(left_open), added)


def _often(duty: Duty) -> str:
    row = f", {duty.passes} in a row" if duty.passes > 1 else ""
    only = f" (units with {' or '.join(duty.equipment)} only)" if duty.equipment else ""
    return f"{duty.words}{row}{only}"


def _has_length(kept: Retention) -> bool:
    return bool(kept.months or kept.calendar_years)


def _rest(regime: Regime, words: str, kinds: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What belongs to a subject beside its duties: what these rules say of it themselves, and what is shared."""
    shared = load_regime(SHARED)
    told = [(f"the way back after a failure: {k}", regime.path(k), shared.path(k)) for k in kinds]
    if words == SPORES:
        told.append((IN_A_ROW, regime.requalification, shared.requalification))
        told.append(("when a test counts", regime.validity, shared.validity))
    if words == WORK:
        told.append(("tests after work, by repair class", regime.verification, shared.verification))
        told.append(("tests after work on a component", regime.components, shared.components))
    own = tuple(text for text, mine, common in told if mine != common or regime.id == SHARED)
    return own, tuple(text for text, _, _ in told if text not in own)
