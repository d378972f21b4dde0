"""Templates: lines short enough that a change in one can be read."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings

LONGEST = 140


def _long_lines(folder: Path) -> list[str]:
    found = []
    for path in sorted(folder.rglob("*.html")):
        for n, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if len(line) > LONGEST:
                found.append(f"{path.relative_to(folder)}:{n}: {len(line)} characters")
    return found


def test_no_line_of_a_template_is_longer_than_can_be_read():
    """White space is broken where it is folded: between words, between attributes, beside blocks."""
    folders = [Path(folder) for each in settings.TEMPLATES for folder in each["DIRS"]]
    assert folders and all(any(folder.rglob("*.html")) for folder in folders)
    assert [line for folder in folders for line in _long_lines(folder)] == []


def test_a_line_that_is_too_long_is_found(tmp_path):
    (tmp_path / "page.html").write_text(
        "<p>\n" + "x" * LONGEST + "\n" + "x" * (LONGEST + 1) + "\n</p>\n", encoding="utf-8"
    )
    assert _long_lines(tmp_path) == ["page.html:3: 141 characters"]


# Of these judgement makes a sentence (`changes`, `words`, `when`, `progress`, `counted`): a template that names one
# would word the fact a second time. What a template shows as it is (a title, a day in a table) is no sentence.
WORDED = re.compile(
    r"\{\{[^}]*\.(?:holds_until|becomes|overdue_on|days_overdue|days_late|passes_needed|next_step\.(?:title|due_on)|visits\.0)\b"
)


def test_no_template_words_what_judgement_has_worded():
    folders = [Path(folder) for each in settings.TEMPLATES for folder in each["DIRS"]]
    pages = [page for folder in folders for page in sorted(folder.rglob("*.html"))]
    found = {page.name: WORDED.findall(page.read_text(encoding="utf-8")) for page in pages}
    assert len(pages) > 100 and {name: names for name, names in found.items() if names} == {}


def test_a_template_that_words_a_fact_itself_is_found():
    assert WORDED.findall("{% if standing.holds_until %}until {{ standing.holds_until|day }}{% endif %}")
    assert not WORDED.findall("{{ standing.changes|mid }}")
