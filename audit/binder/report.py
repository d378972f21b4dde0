"""The report of one visit for the clinic: each job as the binder shows it, with what is awaited after it. Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from audit.binder.after_work import counter_words
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Binder, Cell, KeyValues, Paragraph, Photo, Photos, Section
from audit.binder.service import job_sections
from audit.binder.tests_in_visit import in_cycle
from audit.binder.written_on_paper import NO_RECORD, OUTRANKED, dated, day
from audit.facts import JobFact

START = "contents"  # a report lists no pages: its head stands where they would be led back to


def visit_jobs(asked: Scope, visit: str) -> tuple[tuple[UnitScope, JobFact], ...]:
    """The jobs of a visit with their units, in the order of the units. `visit` is its origin."""
    return tuple((unit, job) for unit in asked.units for job in unit.facts.jobs if job.visit == visit)


@dataclass(frozen=True, slots=True)
class ShownPhoto:
    """A photo of the visit. `pixels` is its size across and down, None when its file is lost."""

    unit: str  # the ref of the unit
    key: str
    pixels: tuple[int, int] | None
    caption: str


def visit_report(asked: Scope, visit: str, photos: Sequence[ShownPhoto] = (), tests: Collection[str] = ()) -> Binder:
    """The report as a binder of its own; `tests` are origins of spore tests and indicators recorded with the visit.

    Raises ValueError when the visit has no job in the scope.
    """
    jobs = visit_jobs(asked, visit)
    if not jobs:
        raise ValueError("No job of that visit is on record by the day of the report.")
    on = jobs[0][1].row.happened_on
    sections = [_head(asked, jobs)]
    for n, (unit, job) in enumerate(jobs, start=1):
        sections.append(Section(f"unit-{n}", unit.label, 2, (_standing(asked, unit),)))
        sections += job_sections(asked, unit, job, n)
        sections += in_cycle(asked, unit, n, tests)
        sections += _photos(n, [photo for photo in photos if photo.unit == unit.facts.ref])
    return Binder(
        title=f"Service report: {asked.name}, {day(on)}",
        clinic=asked.name,
        period=f"visit of {day(on)}",
        from_on=asked.from_on,
        to_on=asked.to_on,
        as_of=asked.as_of,
        known_at=asked.facts.known_at,
        forbidding=0,
        sections=tuple(sections),
    )


def _head(asked: Scope, jobs) -> Section:
    job = jobs[0][1]
    pairs = (
        ("Place", Cell(asked.name)),
        ("Date of service", Cell(day(job.row.happened_on))),
        ("Serviced by", Cell(f"{job.worked_by or NO_RECORD}, {job.servicer or 'company not stated'}")),
        ("Units", Cell(", ".join(unit.label for unit, _ in jobs))),
        ("Recorded", Cell(f"entry {job.row.number}, by {job.row.logged_by or NO_RECORD}")),
    )
    said = f"Rules: {asked.judgement.regime_title}. {OUTRANKED}"
    return Section(START, "Service report", 1, (KeyValues("", pairs), Paragraph(said, "small")))


def _photos(n: int, photos: Sequence[ShownPhoto]) -> list[Section]:
    """The photos of one unit; of a lost one what it showed, for that it was taken is on record."""
    if not photos:
        return []
    here = tuple(Photo(p.key, p.pixels, p.caption, f"Photo: {p.caption}") for p in photos if p.pixels)
    lost = tuple(Paragraph(f"Photo not shown, its file is lost: {p.caption}") for p in photos if not p.pixels)
    return [Section(f"photos-{n}", "Photos", 3, ((Photos(here),) if here else ()) + lost)]


def _standing(asked: Scope, unit: UnitScope) -> KeyValues:
    held = unit.judgement.standing if unit.judgement else None
    answer = f"{held.word.value}: {dated(held.reason)}" if held else NO_RECORD
    pairs = [(f"May it be used? As of {day(asked.as_of)}", Cell(answer, strong=True))]
    for counter in ("cycles", "hours"):
        if any(c.counter == counter for c in unit.facts.counters):
            pairs.append((f"Counter, {counter}", Cell(counter_words(unit.facts, counter))))
    return KeyValues("", tuple(pairs))
