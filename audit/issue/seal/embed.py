"""Attach files to a PDF so that PDF/A-3 accepts them: described, dated, typed and related to the document.

ISO 19005-3:2012, 6.8 (from memory) asks of every embedded file: `F` and `UF`, a MIME type, a date of change, an
`AFRelationship`, and that something in the document names it by `AF`; here the catalog does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from audit.binder.attached import Paper

from . import manifest as m

RELATIONS = ("Data", "Supplement", "Source")


@dataclass(frozen=True, slots=True)
class File:
    """A file to attach. `mime` is its type, `relation` one of RELATIONS, `says` a description in a few words."""

    name: str
    content: bytes
    mime: str
    relation: str
    says: str


def files(manifest: dict, contents: bytes, papers: Iterable[Paper]) -> tuple[File, ...]:
    """All that a binder carries: its contents and manifest as data, then the originals of the papers on file."""
    return (
        File(m.CONTENTS, contents, "application/json", "Data", m.SAYS_CONTENTS),
        File(m.MANIFEST, m.to_bytes(manifest), "application/json", "Data", m.SAYS_MANIFEST),
        *(_original(paper) for paper in papers if paper.content),
    )


def _original(paper: Paper) -> File:
    relation = "Source" if paper.pages else "Supplement"  # its pages are shown, or it stands for itself
    return File(paper.embedded_as, paper.content, paper.media_type, relation, paper.title)


def embed(pdf, files: Iterable[File], on: date) -> None:
    """Attach the files to a `pikepdf.Pdf`, in that order, all dated midnight UTC of `on`.

    The same files and day give the same bytes. Raises ValueError for an unknown relation, a name that holds a folder,
    or a name that is taken: a reader finds attached files by their names.
    """
    import pikepdf

    dated = f"D:{on:%Y%m%d}000000Z"
    root = pdf.Root
    if "/AF" not in root:
        root.AF = pikepdf.Array()
    for file in files:
        _refuse_unfit(file, pdf)
        spec = pikepdf.AttachedFileSpec(
            pdf, file.content, description=file.says, filename=file.name, mime_type=file.mime,
            creation_date=dated, mod_date=dated, relationship=pikepdf.Name(f"/{file.relation}"),
        )  # fmt: skip
        pdf.attachments[file.name] = spec
        if spec.obj.objgen not in {each.objgen for each in root.AF}:  # some versions list it by themselves
            root.AF.append(spec.obj)


def _refuse_unfit(file: File, pdf) -> None:
    if file.relation not in RELATIONS:
        raise ValueError(f"{file.name}: “{file.relation}” is not a relation. Known: {', '.join(RELATIONS)}.")
    if not file.name.strip() or set(file.name) & set("/\\:\0"):
        raise ValueError(f"“{file.name}” cannot be the name of an attached file.")
    if file.name in pdf.attachments:
        raise ValueError(f"Two attached files are called “{file.name}”. Number them.")
