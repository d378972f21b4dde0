"""Putting prepared pages where the binder's pages name them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from io import BytesIO

from audit.binder.attached import Paper

from .prepare import NAME


def fill(pdf, papers: Iterable[Paper], keys: Mapping[int, Iterable[str]]) -> None:
    """Give pages of the open file `pdf` the forms that they draw.

    `keys` names by page, counted from 0, what the page draws: the `Paper.key` of a shown page. Objects are added in
    the order of pages and keys, so the same binder gets the same objects. Raises KeyError for a key of no paper.
    """
    import pikepdf

    place = {paper.key(shown): (paper, n) for paper in papers for n, shown in enumerate(paper.pages)}
    opened: dict[int, pikepdf.Pdf] = {}
    made: dict[str, pikepdf.Object] = {}
    try:
        for number in sorted(keys):
            for key in keys[number]:
                if key not in made:
                    paper, n = place[key]
                    made[key] = pdf.copy_foreign(_form(opened, paper, n))
                pdf.pages[number].add_resource(made[key], pikepdf.Name.XObject, pikepdf.Name(f"/{key}"))
    finally:
        # Copied streams are read from their file when `pdf` is saved, which pikepdf keeps alive by itself.
        opened.clear()


def _form(opened: dict, paper: Paper, n: int):
    import pikepdf

    if paper.number not in opened:
        opened[paper.number] = pikepdf.open(BytesIO(paper.sheets))
    return opened[paper.number].pages[n].Resources.XObject[NAME]
