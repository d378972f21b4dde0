"""Checkers made by others: what each finds wrong. None of them knows PDF/A-3a and PDF/UA-1 in full."""

from __future__ import annotations

import re
import subprocess
import tempfile
from io import BytesIO
from pathlib import Path

from tests import programs
from tests.audit.binder.standards.opened import Opened

# The allow-list below knows levels 1b, 2b and 3b only: a file of level A that also claims PDF/UA always gets these.
_XMP, _LEVEL = "ISO_19005_3:6.6.2.3.1-1", "ISO_19005_3:6.6.4-3"
_LEVEL_A = frozenset({
    (_XMP, "XMP namespace pdfaExtension=http://www.aiim.org/pdfa/ns/extension/ is not permitted"),
    (_XMP, "XMP namespace pdfaSchema=http://www.aiim.org/pdfa/ns/schema# is not permitted"),
    (_XMP, "XMP namespace pdfaProperty=http://www.aiim.org/pdfa/ns/property# is not permitted"),
    (_XMP, "XMP property pdfuaid:part is not permitted"),
    (_XMP, "XMP property pdfaExtension:schemas is not permitted"),
    (_LEVEL, "pdfaid:conformance is 'A', expected 'B'"),
})  # fmt: skip


def pdfa_allow_list(opened: Opened) -> list[str]:
    """pikepdf's PDF/A-3b validator, which approves only what it knows to conform."""
    from pikepdf.pdfa import validate_written

    report = validate_written(BytesIO(opened.bytes), "3b")
    return [str(each) for each in report.findings if (each.rule, each.message) not in _LEVEL_A]


def pdfua_rules(opened: Opened) -> list[str]:
    """The rules of PDF/UA-1 that the package `pdfua` decides from the file alone; one it skips is a finding too.

    But for its rule on empty headings, which it cannot read where a heading has several pieces of content:
    `structure.nothing_is_empty` looks at those.
    """
    from pdfua import validate

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "binder.pdf"
        path.write_bytes(opened.bytes)
        report = validate(str(path))
    found = [f"{each.rule_id}: {each.message}" for each in report.findings]
    return found + [
        f"{each.rule_id} not decided: {each.skipped_reason}" for each in report.skipped if not _unreadable(each)
    ]


def _unreadable(outcome) -> bool:
    return outcome.rule_id == "UA-14-001" and "is_integer" in outcome.skipped_reason


def syntax(opened: Opened) -> list[str]:
    """qpdf's reading of every object and stream; by its own program as well where that is installed."""
    found = [*map(str, opened.pdf.get_warnings()), *opened.pdf.check_pdf_syntax()]
    program = programs.find("qpdf")
    if program:
        done = _run([program, "--check"], opened.bytes)
        found += [] if done.returncode == 0 else [done.stderr.decode(errors="replace")]
    return found


def poppler_reads_the_same(opened: Opened) -> list[str]:
    """Another reader walks the structure tree and meets the same elements in the same order."""
    done = _run([programs.wanted("poppler-utils"), "-struct"], opened.bytes)
    if done.returncode or done.stderr.strip():
        return [f"pdfinfo: {done.stderr.decode(errors='replace').strip()}"]
    read = _roles(done.stdout.decode(errors="replace"))  # summaries of tables come as they stand in the file
    own = [node.role for node in opened.nodes]
    if read == own:
        return []
    where = next((n for n, (a, b) in enumerate(zip(read, own, strict=False)) if a != b), min(len(read), len(own)))
    return [f"pdfinfo reads {len(read)} elements, not {len(own)}; they part at number {where}: {read[where:][:1]}"]


def _roles(printed: str) -> list[str]:
    """Lines such as "  TR" and "    P (block)"; attributes begin with a slash, objects are two words."""
    return re.findall(r"^ *([A-Z][A-Za-z]*[0-9]?)(?: \((?:block|inline|grouping)\))?(?:: *| \".*)?$", printed, re.M)


def _run(command: list[str], content: bytes) -> subprocess.CompletedProcess:
    """The program, with the content as a file: not every version reads its standard input."""
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(content)
        file.flush()
        return subprocess.run([*command, file.name], capture_output=True, timeout=300, check=False)
