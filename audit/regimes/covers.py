"""What the rules on file ask nothing about, so that "nothing is overdue" is not read as "everything is done".

A subject counts as covered where a duty of it falls due by itself: again and again, or by the day a report states. A
duty after an event alone covers nothing, since nothing of it is due until the event. Which subjects belong to which
equipment: common practice, no source.
"""

from __future__ import annotations

from .model import WITHOUT_VACUUM, Regime

# Each subject in words, with the subjects of duties that cover it; the order is that in which they are told.
SUBJECTS_LOOKED_FOR = (
    ("spore tests", ("biological",)),
    ("air removal", ("air removal",)),
    ("air leak", ("air leak",)),
    ("automatic control test", ("automatic control",)),
    ("safety check", ("safety check",)),
    ("validation", ("validation report",)),
    ("service", ("servicing",)),
    ("pressure examination", ("pressure examination",)),
    ("water", ("water",)),
)
_OF_VACUUM = ("air removal", "air leak")
_BY_EVENT = ("after-event", "each-implant-load")


def not_covered(regime: Regime, equipment_type: str) -> tuple[str, ...]:
    """The subjects in words of which these rules ask nothing regular of such a unit, in a fixed order.

    Air removal is looked for with dynamic air removal alone, air leaks on every unit but a gravity one. Duties that
    the clinic set itself are not looked at.
    """
    asked = {
        d.subject
        for d in regime.duties
        if d.every not in _BY_EVENT and (not d.equipment or equipment_type in d.equipment)
    }
    return tuple(
        words
        for words, subjects in SUBJECTS_LOOKED_FOR
        if _belongs(words, equipment_type) and not asked.intersection(subjects)
    )


def _belongs(words: str, equipment_type: str) -> bool:
    if words == "air removal":
        return equipment_type == "dynamic air removal"
    return words not in _OF_VACUUM or equipment_type not in WITHOUT_VACUUM
