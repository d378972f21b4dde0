"""The sheets drawn: room for a hand, nothing over an edge, pages counted, read aloud in order, same bytes again."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from audit.binder.blank_forms import Boxes, FormTable
from audit.binder.pdf.blank_forms import HINT, box_pieces, form_pages, form_pieces, form_table_pieces, render_forms
from audit.binder.pdf.marks import Box, Text
from audit.binder.pdf.measure import width
from audit.binder.pdf.page import SIZES, sheet
from tests import fact_builders as b
from tests.audit.binder.blank_forms.told import TODAY, form, forms
from tests.audit.binder.paper import even, texts
from tests.audit.binder.standards.checks import findings

ROOT = Path(__file__).resolve().parents[4]
MM = 72 / 25.4
HAND = 7.0 * MM
REGIMES = ("us-dental-cdc-2003", "gb-eng-dental-htm0105", "ca-on-dental")
# Those that what a sheet draws can break; what the writer of the file does by itself is looked at with the binder.
STANDARDS = (
    "tree_holds_together", "parent_tree_is_complete",
    "content_and_elements_agree", "all_content_is_marked", "marks_are_nested",
    "roles_are_standard", "elements_are_nested", "headings_step_down", "nothing_is_empty", "rows_are_even",
    "heads_have_scope", "language_is_set", "title_is_shown", "file_is_marked", "claims_are_made",
    "fonts_are_embedded",
    "letters_are_known", "outline_leads_through", "pdfa_allow_list", "pdfua_rules", "syntax",
)  # fmt: skip


def unit(**more):
    """A unit with two years of everything that a sheet can show."""
    more = {
        "events": (b.installed("2024-01-01"),),
        "positions": (b.position("seal"), b.position("filter")),
        "plan": (b.line("replace-seal", "seal", months=24), b.line("clean-filter", "filter", "clean", months=12)),
        "fits": (b.fit("seal"), b.fit("filter", "unknown")),
        "counters": (b.counter("2026-02-01", "812"),),
        "jobs": (
            b.job("2025-02-01", parts=(b.part("2025-02-01", "seal"),), readings=(b.measured("2025-02-01", "135"),)),
        ),
        "bio_tests": (b.bio("2026-03-10", result="pass"), b.bio("2026-03-17", cycle="8")),
        "leaks": (b.leak("2026-03-09"),),
        "loads": tuple(
            b.load(f"2026-03-{day:02}", str(day), mechanical="pass", chemical="pass") for day in range(2, 17)
        ),
    } | more
    return b.unit("2024-01-01", type="dynamic air removal", **more)


def pieces_of(made, page):
    return form_pieces(made, sheet(page))


@pytest.mark.parametrize("page", sorted(SIZES))
@pytest.mark.parametrize("regime", REGIMES)
@pytest.mark.parametrize("kind", ["day", "week", "visit"])
class TestEverySheet:
    def test_takes_one_or_two_pages(self, kind, regime, page):
        """A visit with much to do may take one more: each due task is as high as its boxes. So may open items."""
        made = form(kind, unit(), regime=regime)
        pages, most = form_pages(made, sheet(page)), 3 if kind == "visit" else 2
        open_items = "FormTable(caption='Open items'" in repr(made)
        assert 1 <= len(pages) <= most + open_items, [round(p.filled) for p in pages]
        assert all(p.filled <= sheet(page).text_height for p in pages)

    def test_takes_two_pages_where_little_is_due(self, kind, regime, page):
        """Three for a visit: making safe stands one step to a line, and what each component asks in a table."""
        little = unit(plan=(b.line("replace-seal", "seal", months=24),), fits=(b.fit("seal"), b.fit("filter")))
        pages = form_pages(form(kind, little, regime=regime), sheet(page))
        assert len(pages) == (3 if kind == "visit" else 2), [round(p.filled) for p in pages]

    def test_leaves_room_for_a_hand_in_every_blank_place(self, kind, regime, page):
        """Seven millimetres between what is printed above and the hint below, or the edges of the place."""
        gaps = [
            _gap(run, piece)
            for entry, run, piece in _drawn(form(kind, unit(), regime=regime), page)
            if entry.writable
        ]
        assert len(gaps) > 40
        assert min(gaps) >= HAND - 0.01

    def test_writes_no_word_over_the_edge_of_its_place(self, kind, regime, page):
        for piece in pieces_of(form(kind, unit(), regime=regime), page):
            for run in piece.runs:
                for mark in run.marks:
                    if isinstance(mark, Text):
                        assert mark.x >= 0 and mark.x + width(mark.text, mark.style) <= sheet(page).text_width + 0.01
                        assert 0 < mark.y <= piece.height

    def test_keeps_words_and_boxes_of_neighbours_apart(self, kind, regime, page):
        """In one row no two words, and no word and box, lie over one another."""
        for piece in pieces_of(form(kind, unit(), regime=regime), page):
            taken = list(_areas(piece))
            for n, one in enumerate(taken):
                for other in taken[n + 1 :]:
                    assert not _overlap(one, other), (one, other)


def _drawn(made, page):
    """Each place of a sheet with the run of its words and the piece it is in."""
    for block in made.blocks:
        if isinstance(block, FormTable):
            rows, role, pieces = block.rows, "TD", form_table_pieces(block, sheet(page))
        elif isinstance(block, Boxes):
            rows, role, pieces = block.lines, "P", box_pieces(block, sheet(page))[bool(block.caption) :]
        else:
            continue
        with_places = [(piece, [r for r in piece.runs if r.element and r.element.role == role]) for piece in pieces]
        with_places = [(piece, runs) for piece, runs in with_places if runs and piece.runs[0].element is None]
        for entries, (piece, runs) in zip(rows, with_places, strict=True):
            for entry, run in zip(entries, runs, strict=True):
                yield entry, run, piece


def _gap(run, piece) -> float:
    """The height that is free in a place, between the last line above and the first of the hint."""
    hints = [m for m in run.marks if m.style == HINT]
    above = [m for m in run.marks if m.style != HINT]
    top = max((m.y + 0.24 * m.style.size for m in above), default=0.0)  # letters reach a quarter below their line
    foot = min((m.y - 0.76 * m.style.size for m in hints), default=piece.height)
    return foot - top


def _areas(piece):
    """Left, top, right, bottom of each word and each box to tick, and what it says."""
    for run in piece.runs:
        for mark in run.marks:
            if isinstance(mark, Text):
                # Letters reach about three quarters of the size above the line they stand on.
                yield (
                    mark.x,
                    mark.y - 0.7 * mark.style.size,
                    mark.x + width(mark.text, mark.style),
                    mark.y,
                    mark.text,
                )
            elif isinstance(mark, Box) and mark.edge is not None and mark.width < 10:
                yield (mark.x, mark.y, mark.x + mark.width, mark.y + mark.height, "a box")


def _overlap(one, other) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def test_a_full_plan_goes_on_over_pages_with_the_head_again():
    positions = tuple(b.position(f"place-{n}") for n in range(30))
    plan = tuple(b.line(f"replace-{n}", f"place-{n}", months=12) for n in range(30))
    fits = tuple(b.fit(f"place-{n}") for n in range(30))
    made = forms("visit", unit(positions=positions, plan=plan, fits=fits, jobs=()))
    content, pages = render_forms(made, TODAY)
    assert pages > 3
    read = texts(content)
    assert len(read) == pages
    for n in range(30):
        assert sum(even(page).count(f"replace {n} ") for page in read) >= 1
    with_tasks = [page for page in read if "never done since installation" in page]
    assert len(with_tasks) > 1 and all("Decision" in page for page in with_tasks)


def test_loads_fill_the_last_page():
    for page in SIZES:
        pages = form_pages(form("week", unit()), sheet(page))
        assert sheet(page).text_height - pages[-1].filled < 30, "less than one more row"


def test_head_and_foot_name_clinic_sheet_and_page():
    content, pages = render_forms(forms("day", unit(ref="u-1"), unit(ref="u-2")), TODAY)
    read = texts(content)
    assert len(read) == pages == 4
    for number, page in enumerate(read):
        assert "Example Clinic (invented)" in page and "Day sheet, Unit 1, 18 Mar 2026" in page
        assert f"{number % 2 + 1} of 2" in page and "printed from the records as of 18 Mar 2026" in page


@pytest.mark.parametrize("kind", ["day", "week", "visit"])
def test_a_sheet_keeps_the_standards_of_the_binder(kind):
    content, _ = render_forms(forms(kind, unit(), regime="gb-eng-dental-htm0105"), TODAY)
    assert findings(content, STANDARDS) == {}


def test_a_row_with_a_place_too_few_is_refused():
    """Or a reader of the table would be led astray: one place is taken out of the last row of each table."""
    made = forms("day", unit())
    (only,) = made.forms
    broken = [
        replace(x, rows=(*x.rows[:-1], x.rows[-1][:-1]), columns=x.columns)
        for x in only.blocks
        if isinstance(x, FormTable)
    ]
    with pytest.raises(ValueError, match="zip"):
        render_forms(replace(made, forms=(replace(only, blocks=tuple(broken)),)), TODAY)


def test_the_same_facts_make_the_same_bytes_in_another_process_and_zone():
    code = (
        "import hashlib\n"
        "from tests.audit.binder.blank_forms.test_drawn import unit\n"
        "from tests.audit.binder.blank_forms.told import TODAY, forms\n"
        "from audit.binder.pdf.blank_forms import render_forms\n"
        "print(hashlib.sha256(render_forms(forms('week', unit()), TODAY, page_size='a4')[0]).hexdigest())"
    )
    seen = set()
    for zone, seed in (("Pacific/Auckland", "1"), ("America/Los_Angeles", "2")):
        env = {**os.environ, "TZ": zone, "PYTHONHASHSEED": seed, "DJANGO_SETTINGS_MODULE": "audit.site.settings"}
        setup = "import django; django.setup()\n"
        done = subprocess.run(
            [sys.executable, "-c", setup + code], cwd=ROOT, env=env, capture_output=True, text=True, check=True
        )
        seen.add(done.stdout.strip())
    assert len(seen) == 1 and len(next(iter(seen))) == 64


def test_names_of_any_script_and_length_stay_on_the_paper():
    named = replace(unit(), label="Unité à vapeur " + "très " * 12 + "شرقية", serial="S" * 80)
    for page in SIZES:
        content, pages = render_forms(forms("visit", named), TODAY, page_size=page)
        assert pages <= 4 and "Unité à vapeur" in texts(content)[0]  # each page repeats so long a name
    with pytest.raises(ValueError, match="a5"):
        render_forms(forms("day", unit()), TODAY, page_size="a5")
