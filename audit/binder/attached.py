"""Papers on file as a binder shows them: values without any drawing or reading."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.facts import Row

AS_FILED = "as filed"
PICTURE = "made a picture of"


@dataclass(frozen=True, slots=True)
class ShownPage:
    """One page of a paper. `number` counts from 1; sizes in points, as a reader sees the page, turned upright.

    `why` says why a page is a picture; `text` is what is written on it, shortened, "" where nothing can be read out.
    """

    number: int
    width: float
    height: float
    way: str  # AS_FILED, PICTURE
    why: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """One document of the clinic or of one of its units.

    `content` is the original as filed, b"" where it is not embedded; `sheets` is a file made from it with one page
    for each of `pages`, ready to be placed. `total` counts the pages of the original, 0 where that is not known;
    `size` is None where the bytes are lost. `problem` with `rule` and `way_out` says why it is not shown at all;
    `note` what else a reader has to know.
    """

    number: int  # in the binder, from 1
    row: Row
    unit: str  # origin, "" for the whole place
    title: str
    kind: str
    valid_from: date
    valid_to: date | None
    filename: str
    sha256: str
    size: int | None
    media_type: str
    content: bytes = b""
    sheets: bytes = b""
    pages: tuple[ShownPage, ...] = ()
    total: int = 0
    rule: str = ""
    problem: str = ""
    way_out: str = ""
    note: str = ""

    @property
    def ref(self) -> str:
        return self.row.ref

    @property
    def origin(self) -> str:
        return self.row.origin

    @property
    def section(self) -> str:
        """The id of its section in the binder."""
        return f"paper-{self.number}"

    @property
    def embedded_as(self) -> str:
        """The name of the original inside the binder; no two papers have the same. "" where it is not embedded."""
        plain = "".join("-" if each in "/\\:" or not each.isprintable() else each for each in self.filename)
        return f"paper-{self.number:02d}-{plain}" if self.content else ""

    def key(self, page: ShownPage) -> str:
        """The name under which a page is placed: letters and digits only."""
        return f"Paper{self.number}p{page.number}"
