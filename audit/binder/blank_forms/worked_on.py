"""Which tests work on each component asks before return, by the table of components and the rules followed."""

from __future__ import annotations

from collections.abc import Iterable

from audit.binder.blank_forms.about import FormSubject
from audit.binder.blank_forms.values import FormTable, said
from audit.binder.sections import Column
from audit.binder.written_on_paper import first_upper
from audit.facts.names import repair_class, test_title
from audit.judge.work.asked import asked_beside, leak_tested
from audit.judge.work.touched import SAFETY_CHECK
from audit.regimes.components import Component, components

_NONE = "none beside those of the class"


def tests_by_component(about: FormSubject) -> dict[tuple[str, ...], list[Component]]:
    """The components by the tests asked after work on them beside those of the class; what asks none stands last."""
    dynamic = about.unit.equipment_type == "dynamic air removal"
    leaks = leak_tested(about.unit, about.regime)
    groups: dict[tuple[str, ...], list[Component]] = {}
    for component in components().values():
        groups.setdefault(asked_beside(component, about.regime, dynamic, leaks), []).append(component)
    return dict(sorted(groups.items(), key=lambda group: not group[0]))


def worked_on(about: FormSubject) -> FormTable:
    """Worked on, and what it asks: a row for all components that ask the same."""
    columns = (
        Column("Worked on (least class of the work)", 62),
        Column("Tests asked before return, beside those of the class", 38),
    )
    rows = tuple(
        (said(first_upper(", ".join(map(_named, held)))), said(_tests(codes) or _NONE))
        for codes, held in tests_by_component(about).items()
    )
    return FormTable("Tests by what was worked on", columns, rows, note=_note(components().values()))


def _named(component: Component) -> str:
    return f"{component.name} ({repair_class(component.least)})"


def _tests(codes: Iterable[str]) -> str:
    return "\n".join(test_title(code) for code in codes)


def _note(every: Iterable[Component]) -> str:
    every = tuple(every)
    safety = ", ".join(c.name for c in every if c.safety)
    lifts = "; ".join(f"{c.name} {', '.join(c.lifts)}" for c in every if c.lifts != c.tests)
    sources = "; ".join(dict.fromkeys(c.source.citation for c in every))
    return (
        "Several things worked on: the tests of all of them. Cleaned or lubricated only: "
        f"{SAFETY_CHECK} after {safety}. What is not named here counts as major until somebody decides with a reason."
        f" Before “do not use” on it is lifted: {lifts}. Sources: {sources}."
    )
