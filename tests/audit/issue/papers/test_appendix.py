"""The appendices as data and as pieces: what is said of each paper, where it is found, how it is read aloud."""

from dataclasses import replace
from datetime import date

import pytest

from audit.binder.appendix import size, with_paper_findings
from audit.binder.attached import AS_FILED, PICTURE, Paper, ShownPage
from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out
from audit.binder.pdf.appendix import attached_pieces, fitted
from audit.binder.pdf.marks import Placed
from audit.binder.pdf.page import sheet
from audit.binder.sections import AttachedPage, Cautions, Paragraph
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Severity
from tests.audit.binder.paper import spaced
from tests.fact_builders import clinic, document, unit

AS_OF = date(2026, 3, 16)


def paper(number=1, **more) -> Paper:
    fact = document("instructions", "2025-01-05")
    known = {
        "row": fact.row, "unit": "", "title": "Instructions", "kind": "instructions", "valid_from": fact.valid_from,
        "valid_to": None, "filename": "a.pdf", "sha256": "ab" * 32, "size": 2048, "media_type": "application/pdf",
        "content": b"%PDF", "total": 3,
        "pages": (
            ShownPage(1, 300, 400, AS_FILED, text="Wrapped loads"), ShownPage(2, 300, 400, PICTURE, "it has layers"),
            ShownPage(3, 300, 400, AS_FILED),
        ),
    }  # fmt: skip
    return Paper(number=number, **(known | more))


def binder(*papers: Paper, **facts):
    made = clinic(unit(), **facts)
    said = evaluate(made, AS_OF)
    return binder_contents(made, said, from_on=date(2025, 1, 1), to_on=AS_OF, papers=papers)


def section(binder, id):
    return next(each for each in binder.sections if each.id == id)


def as_filed(binder, number=1) -> list[str]:
    """What the list says of the file of one paper, line by line."""
    return spaced(section(binder, "appendices").blocks[-1].rows[number - 1][4].text).split("\n")


def small_print(section) -> list[str]:
    return [block.text for block in section.blocks if isinstance(block, Paragraph)]


def test_without_papers_the_appendix_says_so():
    table = section(binder(), "appendices").blocks[-1]
    assert table.rows == () and table.empty == "Attached papers: none on file for these days."


def test_the_list_leads_to_each_paper_and_its_page():
    table = section(binder(paper(), paper(2, title="Report")), "appendices").blocks[-1]
    first, second = table.rows
    assert (first[0].text, first[0].to, first[-1].to, first[-1].page) == ("1. Instructions", "paper-1", "paper-1", "")
    assert second[0].to == "paper-2" and spaced(first[3].text) == "5 Jan 2025 to no end stated" and first[5].proof


def test_the_list_says_all_that_is_known_of_a_file():
    row = replace(paper().row, logged_by="Mei Castellanos")
    assert as_filed(binder(paper(row=row))) == [
        "a.pdf, PDF, 2.0 KiB",
        "filed 5 Jan 2025, logged by Mei Castellanos",
        "embedded in this file as paper-01-a.pdf",
        "shown, pages 1, 3: as filed",
        "page 2: made a picture of, for it has layers",
    ]


def test_its_pages_stand_under_its_title_the_first_with_its_hash():
    of_it = section(binder(paper()), "paper-1")
    assert (of_it.title, of_it.level) == ("1. Instructions", 2)
    told = ["ab" * 32 in block.note for block in of_it.blocks]
    assert told == [True, False, False] and small_print(of_it) == []


def test_a_paper_without_pages_says_why_and_its_hash():
    made = binder(paper(pages=(), total=0, note="A file of this kind has no pages to show."))
    assert small_print(section(made, "paper-1")) == [
        "A file of this kind has no pages to show.", "SHA-256 of the file as filed: " + "ab" * 32,
    ]  # fmt: skip
    assert as_filed(made)[-1] == "no page of it is shown"


def test_each_page_is_read_aloud():
    pages = [block for block in section(binder(paper()), "paper-1").blocks if isinstance(block, AttachedPage)]
    assert [(page.key, page.number, page.of, page.natural) for page in pages] == [
        ("Paper1p1", 1, 3, (300, 400)), ("Paper1p2", 2, 3, (300, 400)), ("Paper1p3", 3, 3, (300, 400)),
    ]  # fmt: skip
    assert pages[0].alt == (
        "Page 1 of 3 of Instructions, filed as a.pdf; the original is embedded in this file. It reads: Wrapped loads"
    )
    assert "A picture of the page." in pages[1].alt and pages[1].alt.endswith("no text that can be read out.")
    assert pages[1].note == "1. Instructions, page 2 of 3, made a picture of, for it has layers"


BAD = {
    "content": b"", "pages": (), "size": None, "rule": "paper-lost", "problem": "It is gone.", "way_out": "Fetch it.",
}  # fmt: skip


def test_a_paper_with_a_problem_says_so_on_its_page_and_among_the_open_items():
    made = binder(paper(**BAD))
    divider = section(made, "paper-1")
    (warning,) = [block for block in divider.blocks if isinstance(block, Cautions)]
    assert warning.lines == ("It is gone.", "Way out: Fetch it.")
    assert as_filed(made)[0] == "a.pdf, PDF, size not known"
    assert as_filed(made)[2:] == ["the original is not embedded", "no page of it is shown"]
    assert small_print(divider) == ["SHA-256 of the file as filed: " + "ab" * 32]
    assert "“Instructions” (instructions, file a.pdf) cannot be shown. It is gone." in str(
        section(made, "open-items")
    )
    assert made.forbidding == binder(paper()).forbidding  # it is to be put right, not a reason to stop


def test_a_finding_is_of_the_unit_that_the_paper_is_about():
    said = evaluate(clinic(unit()), AS_OF)
    with_both = with_paper_findings(said, [paper(**BAD), paper(2, **BAD, unit="unit-1"), paper(3)])
    assert len(with_both.findings) == len(said.findings) + 1
    assert len(with_both.units[0].findings) == len(said.units[0].findings) + 1
    found = with_both.units[0].findings[-1]
    assert (found.rule, found.severity, found.owner) == ("paper-lost", Severity.PUT_RIGHT, "clinic")
    assert found.since == date(2025, 1, 5) and found.way_out == "Fetch it." and found.evidence
    assert with_paper_findings(said, [paper()]) is said


def test_a_finding_about_a_unit_that_is_not_here_is_of_the_place():
    said = evaluate(clinic(unit()), AS_OF)
    assert with_paper_findings(said, [paper(**BAD, unit="gone")]).findings[-1].rule == "paper-lost"


def test_papers_on_file_say_on_which_page_they_are_attached():
    fact, other = document("instructions", "2025-01-05"), document("insurance", "2025-01-06", "2025-01-07")
    made = binder(replace(paper(), row=fact.row), documents=(fact, other))
    table = next(b for b in section(made, "clinic").blocks if getattr(b, "caption", "") == "Papers on file")
    attached, not_attached = (row[-2] for row in table.rows)
    assert (attached.to, attached.page) == ("paper-1", "") and not_attached.text == "not attached"


@pytest.mark.parametrize(
    ("count", "words"),
    [(None, "size not known"), (0, "0 bytes"), (1023, "1023 bytes"), (1024, "1.0 KiB"), (20 * 1024**2, "20.0 MiB")],
)
def test_sizes(count, words):
    assert size(count) == words


@pytest.mark.parametrize("name", ["letter", "a4"])
@pytest.mark.parametrize("natural", [(300, 400), (595, 842), (842, 595), (3000, 200), (200, 3000), (10, 10)])
def test_a_page_fits_its_frame_and_keeps_its_shape(name, natural):
    paper_size = sheet(name)
    block = AttachedPage("Paper1p1", 1, 1, natural, "what it shows", "A long note about the page. " * 20)
    (waiting,) = attached_pieces(block, paper_size)
    piece, rest = waiting.take(paper_size.text_height)
    assert waiting.height <= piece.height <= paper_size.text_height and rest is None
    (figure,) = [run for run in piece.runs if run.element is not None and run.element.role == "Figure"]
    (placed,) = figure.marks
    assert figure.element.alt == "what it shows" and isinstance(placed, Placed)
    assert placed.width / placed.height == pytest.approx(natural[0] / natural[1])
    assert placed.width <= min(natural[0], paper_size.text_width) and placed.height <= natural[1]
    assert placed.x >= 0 and placed.x + placed.width <= paper_size.text_width
    notes = [mark for run in piece.runs if run.element is not None and run.element.role == "P" for mark in run.marks]
    assert len(notes) > 1 and all(placed.y + placed.height < mark.y <= piece.height for mark in notes)


def test_it_is_as_large_as_fits():
    assert fitted((1000, 1000), 501, 901) == (0.5, 500, 500)
    assert fitted((1000, 1000), 901, 501) == (200.5, 500, 500)
    assert fitted((100, 100), 901, 501) == (400.5, 100, 100)


def test_small_pictures_share_a_page_and_large_ones_stand_under_their_title():
    receipts = [paper(n, pages=(ShownPage(1, 300, 150, AS_FILED),), total=1) for n in (1, 2, 3)]
    large = paper(4, pages=tuple(ShownPage(n, 612, 792, AS_FILED) for n in (1, 2)), total=2)
    paper_size, made = sheet("letter"), binder(*receipts, large)
    placed = [
        (number, mark.height)
        for number, page in enumerate(lay_out(made, paper_size), start=1)
        for _, piece in page.placed
        for run in piece.runs
        for mark in run.marks
        if isinstance(mark, Placed)
    ]
    *small, (first, under_title), (second, alone) = placed
    assert len(small) == 3 and len({number for number, _ in small}) < 3
    assert second == first + 1 and first > max(number for number, _ in small)
    assert 0.7 * paper_size.text_height < under_title < alone <= paper_size.text_height
