"""Places of every kind of fact, for the laws: one unit of `wide`, and what is on record of the whole place."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

from audit import facts as f
from tests.audit.unsafe.histories import FIRST, LIGHT, REGIMES, days, own_duty
from tests.audit.unsafe.wide import SELDOM, after, later, papers, units
from tests.fact_builders import calibration, clinic, closure, credential, gap, instrument, part_recall, row, terms
from tests.strategies import between, of


@st.composite
def instruments(draw):
    made = [
        replace(
            calibration(
                draw(days),
                draw(of("in tolerance", "adjusted", "out of tolerance", "no result")),
                draw(of("2030-01-01", "2025-03-20")),
            )
        )  # fmt: skip
        for _ in range(draw(between(0, 2)))
    ]
    return instrument(*made)


@st.composite
def inspections(draw):
    day = draw(days)
    met = f.PointMetFact(row(after(day, draw(later))), "done", "A. User", "")
    point = f.InspectionPointFact(row(day), "tests missing", after(day, draw(later)), "unit-1", "",
                                  draw(of(None, met)))  # fmt: skip
    return f.InspectionFact(row(day), "B. Inspector", "Invented office", "routine", "tests", None, "", (point,))


@st.composite
def recalls(draw):
    day = draw(days)
    return part_recall(day, draw(of("P1", "P2", "")), draw(of("N-1", "")), part=draw(of("seal", "vacuum pump")),
                       first=draw(of(None, FIRST)), last=draw(of(None, day)),
                       action=draw(of("replace", "inspect", "use until", "stop use")))  # fmt: skip


@st.composite
def clinics(draw) -> f.ClinicFacts:
    """One unit, and up to three facts of the whole place; the rules followed may change on a day."""
    followed = [terms(draw(of(*LIGHT, *REGIMES)), week_start=draw(between(0, 6)))]
    if draw(SELDOM):
        day = draw(days)
        followed.append(terms(draw(of(*REGIMES)), day=day, week_start=draw(between(0, 6))))
    shut = st.builds(
        lambda day, n, unit: closure(day, after(day, n), unit=unit), days, between(0, 14), of("", "unit-1")
    )
    kinds = {
        "local_duties": st.builds(
            own_duty, of("biological-test", "air-removal-test", "servicing", "water-check"),
            of("day-of-use", "calendar-week", "calendar-month", "day-of-use-and-cycle-type"), of(1), days),
        "closures": shut,
        "documents": papers(),
        "gaps": st.builds(gap, of(FIRST), of(FIRST), of(FIRST), of("", "unit-1")),
        "credentials": st.builds(credential, days, of(None, "2025-04-01")),
        "instruments": instruments(),
        "part_recalls": recalls(),
        "inspections": inspections(),
    }  # fmt: skip
    held = {name: [] for name in kinds}
    for name in draw(st.lists(of(*sorted(kinds)), max_size=3)):
        held[name].append(draw(kinds[name]))
    return clinic(draw(units()), terms=tuple(followed), **{k: tuple(v) for k, v in held.items()})
