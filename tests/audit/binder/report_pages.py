"""What the pages of a binder are like, counted: how full, how small, what stands alone, what is told again and again.

python -m tests.audit.binder.report_pages     # of the made-up clinics of these tests
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out
from audit.binder.pdf.marks import Text
from audit.binder.pdf.page import sheet
from audit.binder.pdf.paginate import Page
from audit.binder.sections import Beside, Binder, Cautions, KeyValues, Paragraph, StandingBox, Table
from tests.audit.binder import full, sample

_SENTENCE = re.compile(r"(?<=[.;:])\s+|\n")
_LEAST = 30  # letters of what counts as a statement
_OFTEN = 2
_SMALL = 9.0  # points
_QUARTER = 0.25


@dataclass(frozen=True, slots=True)
class PageReport:
    """`blank` is the share of all room for text that is empty; pages are numbered from 1.

    `thin` are pages under a quarter full that the next chapter does not end; `lonely` those with a heading at their
    foot. `small` is the share of letters under 9 points, `least` the smallest size. `again` are statements told more
    than twice, with how often, the most told first.
    """

    pages: int
    blank: float
    thin: tuple[int, ...]
    lonely: tuple[int, ...]
    small: float
    least: float
    again: tuple[tuple[str, int], ...]

    def __str__(self) -> str:
        most = f", most often ({self.again[0][1]}) “{self.again[0][0][:60]}”" if self.again else ""
        return (
            f"{self.pages} pages, {self.blank:.0%} blank, under a quarter full: {_listed(self.thin)}, "
            f"heading at the foot: {_listed(self.lonely)}, "
            f"{self.small:.0%} of letters under 9 pt, none under {self.least:g} pt, "
            f"{len(self.again)} statements told more than twice{most}"
        )


def _listed(pages: tuple[int, ...]) -> str:
    return ", ".join(map(str, pages)) or "none"


def _texts(page: Page) -> list[Text]:
    return [mark for _, piece in page.placed for run in piece.runs for mark in run.marks if isinstance(mark, Text)]


def _ends_in_a_heading(page: Page) -> bool:
    """Whether the last that is read on the page is a heading."""
    elements = [run.element for _, piece in page.placed for run in piece.runs if run.element]
    return bool(elements) and re.fullmatch(r"H\d", elements[-1].role) is not None


def statements(binder: Binder) -> Counter:
    """Each sentence of the contents that is long enough to be one, with how often it is told."""
    return Counter(
        part.strip()
        for section in binder.sections
        for text in _told(section.blocks)
        for part in _SENTENCE.split(text)
        if len(part.strip()) >= _LEAST
    )


def _told(blocks):
    for block in blocks:
        if isinstance(block, Beside):
            yield from _told((*block.left, *block.right))
        elif isinstance(block, Paragraph):
            yield block.text
        elif isinstance(block, Table):
            yield from (cell.text for row in block.rows for cell in row)
        elif isinstance(block, KeyValues):
            yield from (cell.text for _, cell in block.pairs)
        elif isinstance(block, StandingBox):
            yield from (block.reason, *(cell.text for _, cell in block.pairs))
        elif isinstance(block, Cautions):
            yield from block.lines


def report(binder: Binder, page_size: str = "letter") -> PageReport:
    paper = sheet(page_size)
    pages = list(lay_out(binder, paper))
    sizes: Counter = Counter()
    for page in pages:
        for mark in _texts(page):
            sizes[mark.style.size] += len(mark.text)
    thin = tuple(
        n
        for n, page in enumerate(pages, start=1)
        if page.filled < _QUARTER * paper.text_height and n < len(pages) and not pages[n].placed[0][1].fresh
    )
    lonely = tuple(n for n, page in enumerate(pages, start=1) if _ends_in_a_heading(page))
    letters = sum(sizes.values())
    blank = sum(max(paper.text_height - page.filled, 0) for page in pages) / (len(pages) * paper.text_height)
    small = sum(count for size, count in sizes.items() if size < _SMALL) / letters
    again = tuple((text, count) for text, count in statements(binder).most_common() if count > _OFTEN)
    return PageReport(len(pages), blank, thin, lonely, small, min(sizes), again)


def clinics() -> dict[str, Binder]:
    sources = {"sample": sample.clinic, "full": full.clinic, "empty": sample.empty_clinic}
    return {
        name: binder_contents(*source(), from_on=sample.FROM, to_on=sample.TO) for name, source in sources.items()
    }


if __name__ == "__main__":
    for name, binder in clinics().items():
        print(f"{name}: {report(binder)}")
