"""Appendices: a list of the attached papers with what is known of each, then the pages of each. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from audit.binder.attached import AS_FILED, PICTURE, Paper, ShownPage
from audit.binder.scope import Scope
from audit.binder.sections import AttachedPage, Cautions, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import day
from audit.judge.judgement import ClinicJudgement, Evidence, Finding, Severity

APPENDICES = "appendices"
_NAMES = {
    "application/pdf": "PDF",
    "image/png": "PNG picture",
    "image/jpeg": "JPEG picture",
    "text/plain": "text",
    "text/csv": "CSV table",
}
_EXPLAINED = (
    "Papers on file that hold on a day of the period or on the day of the answer. An original that is embedded is "
    "attached to this file byte for byte under the name beside it; its SHA-256, under its first page, shows that it "
    "is the file that was filed. Pages are shown as filed where a file for keeping (PDF/A-3, PDF/UA-1) allows it; "
    "else a picture of the page is shown, with the reason. Links, notes and actions of the original do not work here."
)


def appendix_sections(scope: Scope, papers: Sequence[Paper]) -> tuple[Section, ...]:
    """The list of the papers, then a section for each with its pages."""
    listed = Section(
        APPENDICES,
        "Appendices: attached papers",
        1,
        (*((Paragraph(_EXPLAINED, "small"),) if papers else ()), _list(scope, papers)),
        joins=True,
    )
    return (listed, *(_section(paper) for paper in papers))


def with_paper_findings(judgement: ClinicJudgement, papers: Iterable[Paper]) -> ClinicJudgement:
    """What is wrong with papers among the open items: of the unit that a paper is about, or of the whole place."""
    found = [(paper.unit, _finding(paper)) for paper in papers if paper.problem]
    if not found:
        return judgement
    known = {unit.unit for unit in judgement.units}
    units = tuple(
        replace(unit, findings=(*unit.findings, *(f for where, f in found if where == unit.unit)))
        for unit in judgement.units
    )
    rest = (finding for where, finding in found if where not in known)
    return replace(judgement, units=units, findings=(*judgement.findings, *rest))


def _finding(paper: Paper) -> Finding:
    return Finding(
        rule=paper.rule,
        severity=Severity.PUT_RIGHT,
        since=paper.row.happened_on,
        message=f"The paper “{paper.title}” ({paper.kind}, file {paper.filename}) cannot be shown. {paper.problem}",
        way_out=paper.way_out,
        evidence=(Evidence(paper.ref, f"{paper.kind}: {paper.title}"),),
        owner="clinic",
    )


def size(count: int | None) -> str:
    """Bytes as a reader of files knows them; powers of 1024."""
    if count is None:
        return "size not known"
    if count < 1024:
        return f"{count} bytes"
    return f"{count / 1024:.1f} KiB" if count < 1024 * 1024 else f"{count / 1024 / 1024:.1f} MiB"


def _about(scope: Scope, paper: Paper) -> Cell:
    unit = next((unit for unit in scope.units if unit.facts.ref == paper.unit), None)
    return Cell("whole clinic", to="clinic") if unit is None else unit.link()


def _valid(paper: Paper) -> str:
    return f"{day(paper.valid_from)} to {day(paper.valid_to, 'no end stated')}"


def _list(scope: Scope, papers: Sequence[Paper]) -> Table:
    columns = (
        Column("Paper", 112),
        Column("Kind", 58),
        Column("About", 44),
        Column("Valid", 66),
        Column("File as filed", 170),
        Column("Record", 32, small=True),
        Column("Page", 28, "right"),
    )
    rows = tuple(
        (
            Cell(f"{paper.number}. {paper.title}", to=paper.section),
            Cell(paper.kind),
            _about(scope, paper),
            Cell(_valid(paper)),
            Cell("\n".join(_as_filed(paper))),
            scope.proof(paper),
            Cell("", to=paper.section, page=""),
        )
        for paper in papers
    )
    return Table("Attached papers", columns, rows, empty="Attached papers: none on file for these days.")


def _as_filed(paper: Paper) -> Iterable[str]:
    """The file, who logged it when, where the original is, and what is shown of it."""
    yield f"{paper.filename}, {_type(paper)}, {size(paper.size)}"
    by = paper.row.logged_by
    yield f"filed {day(paper.row.happened_on)}{f', logged by {by}' if by else ''}"
    yield f"embedded in this file as {paper.embedded_as}" if paper.content else "the original is not embedded"
    shown = _how(paper)
    yield f"shown, {shown}" if shown else "no page of it is shown"


def _section(paper: Paper) -> Section:
    """Its pages, with the SHA-256 under the first; of a paper without any, why, and the SHA-256."""
    proof = f"SHA-256 of the file as filed: {paper.sha256}"
    blocks: list = []
    if paper.problem:
        blocks.append(Cautions("This paper cannot be shown", (paper.problem, f"Way out: {paper.way_out}")))
    if paper.note:
        blocks.append(Paragraph(paper.note, "small"))
    if not paper.pages:
        blocks.append(Paragraph(proof, "small"))
    blocks += [_page(paper, shown, "" if n else proof) for n, shown in enumerate(paper.pages)]
    return Section(paper.section, f"{paper.number}. {paper.title}", 2, tuple(blocks))


def _type(paper: Paper) -> str:
    return _NAMES.get(paper.media_type, "of a kind not known here")


def _how(paper: Paper) -> str:
    """Which pages are shown as filed and which are pictures, with the reasons."""
    ways: dict[str, list[int]] = {}
    for shown in paper.pages:
        ways.setdefault(_way(shown), []).append(shown.number)
    return "\n".join(f"{_numbers(numbers)}: {way}" for way, numbers in ways.items())


def _way(shown: ShownPage) -> str:
    return AS_FILED if shown.way == AS_FILED else f"{PICTURE}, for {shown.why}" if shown.why else PICTURE


def _numbers(numbers: list[int]) -> str:
    """Page 3; pages 1 to 4, 6."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and spans[-1][-1] == number - 1:
            spans[-1][1:] = [number]
        else:
            spans.append([number])
    words = ", ".join(f"{span[0]} to {span[-1]}" if len(span) > 1 else str(span[0]) for span in spans)
    return f"page {words}" if len(numbers) == 1 else f"pages {words}"


def _page(paper: Paper, shown: ShownPage, proof: str) -> AttachedPage:
    where = "the original is embedded in this file" if paper.content else "the original is not embedded"
    picture = "" if shown.way == AS_FILED else " A picture of the page."
    reads = f" It reads: {shown.text}" if shown.text else " It holds no text that can be read out."
    of = paper.total or len(paper.pages)
    note = f"{paper.number}. {paper.title}, page {shown.number} of {of}, {_way(shown)}"
    return AttachedPage(
        key=paper.key(shown),
        number=shown.number,
        of=of,
        natural=(shown.width, shown.height),
        alt=f"Page {shown.number} of {of} of {paper.title}, filed as {paper.filename}; {where}.{picture}{reads}",
        note=f"{note}. {proof}" if proof else note,
    )
