"""One file in, its pages ready to be placed out: as filed where the binder's standards allow it, else as pictures.

Knows nothing of the database, so that it can run in a process of its own, see `apart`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from io import BytesIO

from audit.binder.attached import AS_FILED, PICTURE, ShownPage
from records.files.paper_check import PDF, PRINT_ANEW, SHOWN, Examined, examine, open_pdf

from . import pictures
from .as_filed import Unfit, form_of
from .colours import Rests, UnfitColours, is_laid_before, laid_before
from .limits import MOST_SHOWN, MOST_WORDS, SHEETS_BYTES

NAME = "/Paper"  # of the form on each prepared page

# Clauses of ISO 19005-3 as a reader without the standard understands them; the longest that fits counts.
_CLAUSES = {
    "6.1": "it is built in a way that an archive file (PDF/A) may not be",
    "6.2.4": "its colours are for a printing press or not defined",
    "6.2.5": "it says how a printing press is to draw its tones",
    "6.2.8": "a picture on it is packed in a way that not every reader opens",
    "6.2.10": "it is see-through in a way that not every reader draws alike",
    "6.2.11": "one of its fonts is incomplete",
}
_OTHER = "it uses what an archive file (PDF/A) may not hold"
_UNCHECKED = "it is built in a way that is not checked here against what an archive file (PDF/A) may hold"
_CLAUSE = re.compile(r":(6(?:\.\d+)+)-\d+$")


@dataclass(frozen=True, slots=True)
class Prepared:
    """`examined` says whether the file could be shown at all; `unshown` why fewer pages than asked for."""

    examined: Examined
    sheets: bytes = b""
    pages: tuple[ShownPage, ...] = ()
    unshown: str = ""


def prepared(content: bytes, filename: str, most: int = MOST_SHOWN) -> Prepared:
    """At most `most` pages. Never raises: what cannot be shown comes back with its fault."""
    examined = examine(content, filename)
    if examined.fault or examined.media_type not in SHOWN or most < 1:
        return Prepared(examined)
    try:
        made = _of_pdf(content, most) if examined.media_type == PDF else _of_picture(content, examined.media_type)
    except Exception as error:  # whatever a reader makes of foreign bytes
        fault = f"Its pages cannot be drawn ({type(error).__name__})."
        return Prepared(replace(examined, fault=fault, way_out=PRINT_ANEW))
    return replace(made, examined=examined)


def _of_picture(content: bytes, kind: str) -> Prepared:
    import pikepdf

    with pikepdf.new() as out:
        form, wide, high, why = pictures.form_of_picture(out, content, kind.split("/")[1])
        _add(out, form, wide, high)
        shown = ShownPage(1, round(wide, 4), round(high, 4), PICTURE if why else AS_FILED, why)
        return Prepared(Examined(kind), _saved(out), (shown,))


def _of_pdf(content: bytes, most: int) -> Prepared:
    import pikepdf
    import pypdfium2

    with pypdfium2.PdfDocument(content) as drawn, open_pdf(content) as filed, pikepdf.new() as out:
        drawn.init_forms()
        forms = _fitting(filed, min(len(filed.pages), most))
        pages, size, unshown = [], 0, ""
        for number, (form, why) in enumerate(forms, start=1):
            page = drawn[number - 1]
            made = (*form, AS_FILED) if form else (*pictures.form_of_page(out, page), PICTURE)
            placed, wide, high, way = made
            placed = out.copy_foreign(placed) if form else placed
            size += _weight(placed)
            if size > SHEETS_BYTES:
                unshown = "the rest would make this file too large"
                break
            _add(out, placed, wide, high)
            pages.append(ShownPage(number, round(wide, 4), round(high, 4), way, why, _words(page)))
            page.close()
        return Prepared(Examined(PDF), _saved(out), tuple(pages), unshown)


def _fitting(filed, count: int) -> list[tuple]:
    """For each page ((form, width, height), "") when it can be placed as filed, else (None, why)."""
    found = [_fit(filed, filed.pages[n]) for n in range(count)]
    several = [form for form, _ in found if form]
    if not several or not _breaks(several):
        return found
    return [(form, why) if not form else _judged(form) for form, why in found]


def _fit(filed, page) -> tuple:
    try:
        return form_of(filed, page), ""
    except Unfit as why:
        return None, str(why)
    except Exception:  # damaged in a way that a viewer may still draw
        return None, "it is damaged in places"


def _judged(form) -> tuple:
    broken = _breaks([form])
    return (None, broken) if broken else (form, "")


def _breaks(forms) -> str:
    """Why pages with these forms would not pass as PDF/A-3, in words; "" when they would."""
    import pikepdf
    from pikepdf import pdfa

    with pikepdf.new() as trial:
        try:
            for form, wide, high in forms:
                copied = trial.copy_foreign(form)
                page = _add(trial, copied, wide, high)
                laid_before(trial, page, Rests().of(copied.Resources))
        except UnfitColours as why:
            return str(why)
        pdfa.prepare(trial, "3b")
        report = pdfa.check(trial, "3b")
    found = [each for each in report.findings if not is_laid_before(each)]
    if not found:
        return ""
    broken = next((each for each in found if each.kind == "violation"), None)
    return _in_words(broken.rule) if broken else _UNCHECKED


def _in_words(rule: str) -> str:
    found = _CLAUSE.search(rule)
    clause = found.group(1) if found else ""
    fitting = [words for start, words in _CLAUSES.items() if f"{clause}.".startswith(f"{start}.")]
    return fitting[-1] if fitting else _OTHER


def _add(pdf, form, wide: float, high: float):
    """A page that shows the form and nothing else."""
    import pikepdf

    page = pdf.add_blank_page(page_size=(max(wide, 3), max(high, 3)))
    page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary({NAME: form}))
    page.Contents = pikepdf.Stream(pdf, f"{NAME} Do".encode())
    return page


def _weight(form) -> int:
    """Bytes of the form and of the pictures directly in it, near enough for a limit."""
    inside = form.get("/Resources", {}).get("/XObject", {})
    return sum(len(each.read_raw_bytes()) for each in (form, *inside.values()))


def _words(page) -> str:
    """What is written on the page, in one line, cut at a word."""
    text = page.get_textpage().get_text_bounded()
    text = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if len(text) <= MOST_WORDS:
        return text
    return text[:MOST_WORDS].rsplit(" ", 1)[0] + " …"


def _saved(pdf) -> bytes:
    import pikepdf

    out = BytesIO()
    pdf.save(out, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return out.getvalue()
