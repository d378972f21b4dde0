"""The one module that turns rows into facts: a clinic's or one unit's, in a fixed number of queries.

One query a table, whatever the clinic's size, and no query a row: relations are looked up in what was read. A
correction may refer to any version of its parent, so everything is keyed by origin.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime
from functools import cached_property
from operator import itemgetter

from audit import facts as f
from audit.facts import versions
from records import models as m
from records.late import is_late

from . import queries, rows, rows_of_work, work
from .books import Books
from .corrections import corrections
from .inspections import inspections
from .recordings import with_recordings


class ClinicRows:
    """What was read of one clinic's tables, resolved to versions in force."""

    def __init__(self, clinic, known_at: datetime | None):
        self.clinic, self.known_at = clinic, known_at

    @cached_property
    def organisations(self) -> dict:
        """Everybody in the register, by id."""
        return {o.pk: o for o in queries.organisations()}

    @cached_property
    def voidings(self) -> list:
        """Of the clinic's ledger and of those of the companies that serve or served it."""
        return self.among(m.Voiding, "entry__ledger__organisation_id", self.owners)

    @cached_property
    def owners(self) -> frozenset:
        """Whose books hold for the clinic: its own, and those of every company it had an agreement with by then."""
        agreements = versions.known(queries.companies(self.clinic.pk), itemgetter(1), self.known_at)
        return frozenset({self.clinic.pk, *(company for company, _ in agreements)})

    @cached_property
    def entries(self) -> dict[int, m.Entry]:
        """Every entry of the clinic's own ledger, with who logged it."""
        return {entry.pk: entry for entry in queries.entries(self.clinic.pk)}

    @cached_property
    def voided(self) -> frozenset:
        """The origins of the rows that were entered in error."""
        return frozenset(v.target for v in self.voidings)

    def _known(self, found: list) -> list:
        return versions.known(found, lambda r: r.entry.logged_at, self.known_at)

    def among(self, model, lookup: str, values, kind: str = "int") -> list:
        """Every version known by then of the rows that `queries.among` finds, oldest first; one query."""
        return self._known(queries.among(model, lookup, values, kind))

    def all_versions(self, model) -> list:
        """Every version of the clinic's rows of that model known by then, oldest first; one query.

        The clinic's own rows stand in its own ledger, whose entries are read once for all tables.
        """
        found = queries.of_clinic(model, self.clinic.pk)
        for row in found:
            if row.entry_id in self.entries:
                row.entry = self.entries[row.entry_id]
        return self._known(found)

    def unit_ids(self, every: dict) -> set[int]:
        """The units whose plates are read: those that were ever placed here."""
        return {p.unit_id for p in every[m.Placement]}

    def resolve(self, versions_read: list) -> list:
        """Of these versions those in force, in their order."""
        return versions.in_force(
            versions_read, lambda r: r.pk, lambda r: r.amends_id, lambda r: r.origin, self.voided
        )

    def row(self, fact) -> f.Row:
        """Where the row stands in the ledger, who logged it, and when."""
        entry = fact.entry
        company = self.organisations.get(entry.logged_for_id)
        return f.Row(
            ref=str(fact.ref),
            origin=str(fact.origin),
            number=entry.number,
            line=fact.line,
            happened_on=fact.happened_on,
            happened_at=fact.happened_at,
            logged_at=entry.logged_at,
            logged_by=str(entry.logged_by),
            logged_for=company.name if company else "",
            late=not entry.paper and fact.happened_on is not None and is_late(fact, entry.written_at),
            paper=entry.paper,
            corrected=fact.amends_id is not None,
            ledger="" if entry.pk in self.entries else self._ledger(fact),
        )

    def _ledger(self, fact) -> str:
        """Of a row that is not in the clinic's ledger: the organisation whose book it stands in."""
        owner = self.organisations.get(getattr(fact, "owner_id", None))
        return str(owner.ref) if owner else ""


class _Origins(dict):
    """(model, database id) of any version to its origin's ref, for resolving foreign keys."""

    def add(self, versions_read: list) -> None:
        self.update({(type(r), r.pk): str(r.origin) for r in versions_read})


def _by(rows_read: list, attribute: str) -> dict[int, list]:
    grouped = defaultdict(list)
    for row in rows_read:
        grouped[getattr(row, attribute)].append(row)
    return grouped


def _lots(read: ClinicRows) -> dict[int, f.LotFact]:
    """Indicator lots by the id of their origin row, with the values in force."""
    every = read.among(m.IndicatorLot, "owner_id", read.owners)
    current = {r.origin: rows.lot(r) for r in read.resolve(every)}
    return {r.pk: current[r.origin] for r in every if r.origin in current}


class _Tables:
    """Every table of the clinic, read once."""

    LEAVES = (
        m.TaskOutcome, m.ConditionFinding, m.Reading, m.FittedPart, m.VerificationTest, m.Signature,
        m.JobConclusion,
    )  # fmt: skip
    SIMPLE = (
        m.Placement, m.Position, m.Fit, m.PlanLine, m.UnitEvent, m.CounterReading, m.Visit, m.VisitEnd, m.Job,
        m.BioTest, m.BioReading, m.ChemicalResult, m.AirRemovalTest, m.LeakTest, m.Load, m.LoadRelease, m.UserCheck,
        m.FailureCase, m.FollowUp, m.FollowUpDone, m.Document, m.KnownGap, m.ClinicTerms, m.LocalDuty, m.Closure,
        m.Program, m.Inspection, m.InspectionPoint, m.PointMet, m.BinderIssue,
        m.FaultReport, m.FaultSettled, m.VisitAgreed, m.VisitCalledOff, m.CycleRecording,
    )  # fmt: skip

    def __init__(self, read: ClinicRows):
        self.read = read
        self.every = {model: read.all_versions(model) for model in (*self.SIMPLE, *self.LEAVES)}
        first = {u.pk: u.origin for u in queries.units(read.unit_ids(self.every))}
        self.every[m.Unit] = read.among(m.Unit, "origin", set(first.values()), "UUID")
        self.origins = _Origins()
        for found in self.every.values():
            self.origins.add(found)
        self.force = {model: read.resolve(found) for model, found in self.every.items()}
        self.lots = _lots(read)
        self.plan_codes = {p.pk: p.code for p in self.every[m.PlanLine]}

    @cached_property
    def books(self) -> Books:
        return Books(self.read)

    def of(self, model, attribute: str) -> dict[int, list]:
        return _by(self.force[model], attribute)


def _job_facts(t: _Tables) -> dict[int, list[f.JobFact]]:
    leaves = {model: t.of(model, "job_id") for model in _Tables.LEAVES}
    visits = {str(v.origin): v for v in t.force[m.Visit]}
    departures = {t.origins.get((m.Visit, e.visit_id)): e for e in t.force[m.VisitEnd]}
    first_ids = {r.origin: r.pk for r in t.every[m.Job] if r.ref == r.origin}
    made = defaultdict(list)
    for job in t.force[m.Job]:
        visit_origin = t.origins.get((m.Visit, job.visit_id))
        visit = visits.get(visit_origin)
        made[job.unit_id].append(
            rows_of_work.job(t, job, visit, departures.get(visit_origin), first_ids[job.origin], leaves)
        )
    return made


def _bio_tests(t: _Tables) -> dict[int, list[f.BioTestFact]]:
    readings = t.of(m.BioReading, "bio_test_id")
    first_ids = {r.origin: r.pk for r in t.every[m.BioTest] if r.ref == r.origin}
    made = defaultdict(list)
    for test in t.force[m.BioTest]:
        looks = f.in_order(rows.bio_reading(t, r) for r in readings.get(first_ids[test.origin], ()))
        made[test.unit_id].append(rows.bio_test(t, test, looks))
    return made


def _cases(t: _Tables) -> dict[int, list[f.CaseFact]]:
    steps, dones = t.of(m.FollowUp, "case_id"), t.of(m.FollowUpDone, "followup_id")
    first = {r.origin: r.pk for model in (m.FailureCase, m.FollowUp) for r in t.every[model] if r.ref == r.origin}
    made = defaultdict(list)
    for case in t.force[m.FailureCase]:
        followups = f.in_order(
            rows.follow_up(t, s, dones.get(first[s.origin], ())) for s in steps.get(first[case.origin], ())
        )
        made[case.unit_id].append(
            f.CaseFact(t.read.row(case), kind=case.kind, opened_by=str(case.opened_by), followups=followups)
        )
    return made


def _simple(t: _Tables, model, build) -> dict[int, list]:
    made = defaultdict(list)
    for row in t.force[model]:
        made[row.unit_id].append(build(t, row))
    return made


def _units(t: _Tables) -> tuple[f.UnitFacts, ...]:
    releases = {t.origins.get((m.Load, r.load_id)): r for r in t.force[m.LoadRelease]}
    settled = work.settled_faults(t)
    parts = {
        "placements": _simple(t, m.Placement, rows.placement),
        "positions": _simple(t, m.Position, rows.position),
        "fits": _simple(t, m.Fit, rows.fit),
        "plan": _simple(t, m.PlanLine, rows.plan_line),
        "events": _simple(t, m.UnitEvent, rows.unit_event),
        "counters": _simple(t, m.CounterReading, rows.counter),
        "jobs": _job_facts(t),
        "bio_tests": _bio_tests(t),
        "chemical": _simple(t, m.ChemicalResult, rows.chemical),
        "air_removal": _simple(t, m.AirRemovalTest, rows.air_removal),
        "leaks": _simple(t, m.LeakTest, rows.leak),
        "checks": _simple(t, m.UserCheck, rows.user_check),
        "loads": _simple(t, m.Load, lambda t, r: rows.load(t, r, releases.get(str(r.origin)))),
        "cases": _cases(t),
        "documents": _simple(t, m.Document, rows.document),
        "gaps": _simple(t, m.KnownGap, rows.gap),
        "programs": _simple(t, m.Program, rows.program),
        "faults": _simple(t, m.FaultReport, lambda t, r: work.fault(t, r, settled)),
    }
    first_ids = {r.origin: r.pk for r in t.every[m.Unit] if r.ref == r.origin}
    units = sorted(t.force[m.Unit], key=lambda u: (u.label, str(u.origin)))
    return tuple(
        rows.unit(t, u, {name: f.in_order(found.get(first_ids[u.origin], ())) for name, found in parts.items()})
        for u in units
    )


def units_of(read: ClinicRows) -> tuple[f.UnitFacts, ...]:
    """The units by label, with the facts of every table that `read` gives rows of; recorded cycles apart."""
    return _units(_Tables(read))


def clinic_facts(clinic: m.Clinic, *, known_at: datetime | None = None) -> f.ClinicFacts:
    """Everything known of the clinic by `known_at` (inclusive; all that is logged when None).

    The number of queries is fixed: one a table, whatever the number of units and rows (pinned by a test).
    """
    read = ClinicRows(clinic, known_at)
    t = _Tables(read)
    whole_place = [rows.document(t, d) for d in t.force[m.Document] if d.unit_id is None]
    gaps = [rows.gap(t, g) for g in t.force[m.KnownGap] if g.unit_id is None]
    return f.ClinicFacts(
        ref=str(clinic.ref),
        slug=clinic.slug,
        terms=f.in_order(rows.terms(t, r) for r in t.force[m.ClinicTerms]),
        local_duties=f.in_order(rows.local_duty(t, r) for r in t.force[m.LocalDuty]),
        closures=f.in_order(rows.closure(t, r) for r in t.force[m.Closure]),
        units=with_recordings(t, _units(t)),
        documents=f.in_order(whole_place),
        gaps=f.in_order(gaps),
        credentials=t.books.credentials(),
        instruments=t.books.instruments(),
        part_recalls=t.books.part_recalls(),
        corrections=corrections(t),
        inspections=inspections(t),
        agreed_visits=work.agreed_visits(t),
        heads=_heads(t),
        known_at=known_at,
    )


def _heads(t: _Tables) -> tuple[f.LedgerHead, ...]:
    """The clinic's newest entry known by then, under its name by its newest terms: the register's may change."""
    read = t.read
    if read.known_at is None:
        newest = next(iter(queries.newest_entry(read.clinic.pk)), None)
    else:
        entries = m.Entry.objects.filter(ledger__organisation_id=read.clinic.pk, logged_at__lte=read.known_at)
        newest = entries.order_by("-number").first()
    terms = max(t.force[m.ClinicTerms], key=lambda r: (r.effective_on, r.pk), default=None)
    name = terms.name if terms else read.clinic.slug
    return (f.LedgerHead(name, newest.number, newest.hash),) if newest else ()


def day_at(facts: f.ClinicFacts, moment: datetime) -> date:
    """The clinic's calendar day at `moment`; UTC before any terms are in effect."""
    return facts.day_of(moment)
