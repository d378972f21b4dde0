"""The appendices as data and as pieces: what is said of each paper, where it is found, how it is read aloud."""

from dataclasses import replace
from datetime import date

import pytest

from audit.binder.appendix import shown_in_words, size, with_paper_findings
from audit.binder.attached import AS_FILED, PICTURE, Paper, ShownPage
from audit.binder.contents import binder_contents
from audit.binder.pdf.appendix import attached_pieces, fitted
from audit.binder.pdf.marks import Placed
from audit.binder.pdf.page import sheet
from audit.binder.sections import AttachedPage, Cautions, KeyValues
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


def pairs(section) -> dict[str, str]:
    return {key: cell.text for block in section.blocks if isinstance(block, KeyValues) for key, cell in block.pairs}


def test_without_papers_the_appendix_says_so():
    table = section(binder(), "appendices").blocks[-1]
    assert table.rows == () and table.empty == "Attached papers: none on file for these days."


def test_the_list_leads_to_each_paper_and_its_page():
    table = section(binder(paper(), paper(2, title="Report")), "appendices").blocks[-1]
    first, second = table.rows
    assert (first[0].text, first[0].to, first[-1].to, first[-1].page) == ("1. Instructions", "paper-1", "paper-1", "")
    assert second[0].to == "paper-2" and "ab" * 32 in first[4].text and "2.0 KiB, shown, 3 pages" in first[4].text
    assert spaced(first[3].text) == "5 Jan 2025 to no end stated" and first[5].proof


def test_a_divider_says_all_that_is_known():
    divider = section(binder(paper()), "paper-1")
    assert (divider.title, divider.level) == ("1. Instructions", 2)
    said = pairs(divider)
    assert said["SHA-256"] == "ab" * 32 and said["Original"] == "embedded in this file as paper-01-a.pdf"
    assert said["Shown"] == "pages 1, 3: as filed\npage 2: made a picture of, for it has layers"
    assert said["File as filed"] == "a.pdf, PDF, 2.0 KiB" and said["Paper"] == "1 of 1"


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
    assert pairs(divider)["Original"] == "not embedded" and "size not known" in pairs(divider)["File as filed"]
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


def test_how_many_pages_are_shown():
    assert shown_in_words(paper(pages=paper().pages[:2])) == "shown, 2 of 3 pages"
    assert shown_in_words(paper(pages=paper().pages[:1], total=1)) == "shown, 1 page"
    assert shown_in_words(paper(pages=(), total=0)) == "listed only"
    assert shown_in_words(paper(**BAD)) == "not shown"


@pytest.mark.parametrize("name", ["letter", "a4"])
@pytest.mark.parametrize("natural", [(300, 400), (595, 842), (842, 595), (3000, 200), (200, 3000), (10, 10)])
def test_a_page_fits_its_frame_and_keeps_its_shape(name, natural):
    paper_size = sheet(name)
    block = AttachedPage("Paper1p1", 1, 1, natural, "what it shows", "A long note about the page. " * 20)
    (piece,) = attached_pieces(block, paper_size)
    assert piece.height == paper_size.text_height
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
