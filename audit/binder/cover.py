"""The cover: whose binder, which days, as of when, under which rules, how much is in it, and the cautions."""

from __future__ import annotations

from collections import Counter

from audit.binder.answers import answer_counts, asked
from audit.binder.open_items import since
from audit.binder.scope import Scope
from audit.binder.sections import Cautions, Cell, Column, KeyValues, Section, Table, Title
from audit.binder.written_on_paper import counted, dated, day, lines, moment, span
from audit.judge.judgement import Severity, Word
from audit.regimes import all_regimes

TITLE = "Sterilizer maintenance and monitoring record"

_MOST = 6  # units told one by one
_COLUMNS = (Column("Unit", 18), Column("Answer", 22), Column("Why", 52), Column("Since", 15), Column("Rows", 17))

# Cautions of the trade: pressure and stored heat, 29 CFR 1910.147(a)(1)(i) for stored energy and
# 29 CFR 1910.1030(d)(2)(xiv) for contaminated equipment; scald and mains are common practice, no source.
CAUTIONS = (
    "Pressure: never open a door or a fitting until the chamber is at zero pressure and has cooled; never "
    "bypass an interlock.",
    "Scald: steam, hot water in reservoir and lines, and hot surfaces burn; open slowly, face aside, gloves "
    "and eye protection on.",
    "Mains: pull the plug and keep it in your hand before a cover comes off; let stored energy drain first.",
    "Infection: treat chamber, drain filter and waste water as contaminated until shown otherwise; mind sharps.",
    "Local codes, the maker's instructions and licensed practice outrank everything in this binder.",
)


def open_findings(scope: Scope) -> list:
    """Every open item of the clinic and its units."""
    return [*scope.judgement.findings, *(f for unit in scope.judgement.units for f in unit.findings)]


def _standings(scope: Scope) -> str:
    words = Counter(unit.standing.word for unit in scope.judgement.units)
    parts = [f"{words[word]} {word.value.lower()}" for word in Word if words[word]]
    return ", ".join(parts) or "no unit on record"


def _severities(scope: Scope) -> str:
    severities = Counter(finding.severity for finding in open_findings(scope))
    parts = [f"{severities[severity]} {severity.value}" for severity in Severity if severities[severity]]
    return ", ".join(parts) or "none"


def _histories(scope: Scope) -> str:
    jobs = [job for unit in scope.units for job in scope.inside(unit.facts.jobs)]
    tests = sum(len(scope.inside(unit.facts.bio_tests)) for unit in scope.units)
    parts = sum(len(scope.inside(job.parts)) for unit in scope.units for job in unit.facts.jobs)
    visits = len({job.visit for job in jobs})
    return (
        f"{counted(visits, 'service visit')} with {counted(len(jobs), 'job')}, "
        f"{counted(parts, 'part')} fitted, "
        f"{counted(tests, 'spore test')} (biological indicator)"
    )


def _records(scope: Scope) -> str:
    marked = [fact.row for fact, _ in scope.every if fact.row.late or fact.row.paper]
    inside = [row for row in marked if scope.holds(row.happened_on)]
    late = sum(1 for row in inside if row.late)
    paper = sum(1 for row in inside if row.paper)
    corrections = len(scope.facts.corrections)
    return (
        f"{counted(corrections, 'correction')} in all; in the period "
        f"{counted(late, 'late entry', 'late entries')}, "
        f"{counted(paper, 'entry', 'entries')} transcribed from paper"
    )


def _rules(scope: Scope) -> str:
    judgement = scope.judgement
    if not judgement.regime:
        return "Rules: none adopted on this day"
    regime, named_edition = all_regimes().get(judgement.regime), judgement.regime_edition
    validity = f", in force since {day(regime.on(scope.as_of).valid_from)}" if regime else ""
    named = f"Rules: {judgement.regime_title}, edition {named_edition}{validity} ({judgement.regime})"
    others = [r for r in scope.rules if (r.id, r.edition or named_edition) != (judgement.regime, named_edition)]
    return lines(named, "Other rules held on earlier days of the period: see the method" if others else "")


def _heads(scope: Scope) -> list[tuple[str, Cell]]:
    if not scope.heads:
        return [("Tamper check", Cell("no ledger entry on record"))]
    return [
        ("Tamper check", Cell(f"{head.name}: ledger entry {head.number}\n{head.hash}", to="method"))
        for head in scope.heads
    ]


def _gaps(scope: Scope) -> str:
    gaps = {gap.row.ref for unit in (None, *scope.units) for gap in scope.gaps(unit, scope.from_on, scope.last)}
    return f"{counted(len(gaps), 'gap')} accepted for days of the period" if gaps else "none declared for the period"


def _answers(scope: Scope) -> tuple[Table, ...]:
    """May each unit be used? In the clinic's own order; of many units only some, those that may not be used first."""
    judged = [unit for unit in scope.units if unit.judgement]
    if not judged:
        return ()
    told = judged
    if len(judged) > _MOST:
        told = [u for u in judged if not u.judgement.standing.word.may_be_used][:_MOST] or judged[:_MOST]
    rows = tuple(
        (
            unit.link(),
            Cell(unit.judgement.standing.word.value, strong=True),
            Cell(dated(unit.judgement.standing.reason)),
            Cell(since(unit.judgement.standing.since)),
            scope.evidence(unit.judgement.standing.proof),
        )
        for unit in told
    )
    left = len(judged) - len(told)
    caption = "May each unit be used?" + (
        f" {len(told)} of {len(judged)}, the others under Open items" if left else ""
    )
    return (Table(caption, _COLUMNS, rows),)


def cover(scope: Scope) -> Section:
    """The first section."""
    terms = scope.facts.terms_on(scope.as_of)
    known = scope.facts.known_at
    pairs = [
        ("Address", Cell(terms.address if terms and terms.address else "none on record")),
        ("Programme", Cell(terms.programme if terms else "none on record")),
        ("Answers as of", Cell(day(scope.as_of))),
        ("Known at", Cell(f"logged up to {moment(known)}" if known else "everything logged so far")),
        ("Rules we follow", Cell(_rules(scope), to="method-rules")),
        *_heads(scope),
        ("Units", Cell(f"{len(scope.units)}: {_standings(scope)}", to="open-items")),
        ("Open items", Cell(_severities(scope), to="open-items")),
        ("Answers", Cell(answer_counts(asked(scope.judgement.answers)) or "no question on record", to="answers")),
        ("Known gaps", Cell(_gaps(scope), to="clinic")),
        ("In the period", Cell(_histories(scope))),
        ("Records", Cell(_records(scope), to="changes")),
    ]
    blocks = (
        Title(TITLE, scope.name, (span(scope.from_on, scope.to_on),)),
        *_answers(scope),
        KeyValues("", tuple(pairs)),
        Cautions("Cautions", CAUTIONS),
    )
    return Section("cover", "Cover", 1, blocks)
