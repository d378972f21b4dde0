"""The binder on paper, read back."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out, render
from audit.binder.pdf.page import sheet
from audit.binder.sections import Cell, Column, Paragraph, Section, Table, Title
from tests.audit.binder import sample
from tests.audit.binder.paper import even, holds, own_lines, reader, squeezed, texts

ROOT = Path(__file__).resolve().parents[3]
PERIOD = "1 Jun 2025 to 31 May 2026"


@pytest.fixture(scope="module")
def binder():
    return binder_contents(*sample.clinic(), from_on=sample.FROM, to_on=sample.TO)


@pytest.fixture(scope="module", params=["letter", "a4"])
def content(binder, request):
    return render(binder, page_size=request.param)


def with_section(binder, *blocks):
    """The binder with one more chapter."""
    return replace(binder, sections=(*binder.sections, Section("more", "One more chapter", 1, blocks)))


def test_clinic_period_and_page_of_pages_stand_on_every_page(content):
    pages = texts(content)
    for number, text in enumerate(pages, start=1):
        assert sample.CLINIC in text
        assert PERIOD in text
        assert f"{number} of {len(pages)}" in text


def listed(page) -> list[tuple[str, int]]:
    """(chapter, page) as the first page says where to find each, in the order of the columns."""
    found = even(page.extract_text()).split("Where to find it")[1].split("Caution.")[0]
    return [(title.strip(), int(number)) for title, number in re.findall(r"([A-Z][a-z ,]+?) (\d+)(?= |$)", found)]


def test_the_first_page_names_the_page_on_which_each_chapter_begins(binder, content):
    """Read from the paper: the line of the first page, then the page of that number."""
    lines = [own_lines(page) for page in reader(content).pages]
    chapters = dict(listed(reader(content).pages[0]))
    titles = [s.title for s in binder.sections[1:] if s.level == 1 and not s.id.startswith("unit-")]
    assert len(chapters) > 5 and sum(title in chapters for title in titles) >= len(titles) - 2
    for title in titles:
        if title in chapters:
            assert title in lines[chapters[title] - 1], f"{title} is not a line of page {chapters[title]}"


def test_a_file_that_opens_with_a_title_lists_its_contents_on_as_many_pages_as_it_takes(binder):
    head = Section("cover", "Cover", 1, (Title("A file", "Whose", ()),))
    sections = tuple(Section(f"n{n}", f"Chapter number {n}", 1, (Paragraph(f"text {n}"),)) for n in range(90))
    pages = texts(render(replace(binder, sections=(head, *sections))))
    assert "Chapter number 0 5" in pages[1] + pages[2] + pages[3]
    for n in (0, 44, 89):
        assert f"Chapter number {n} text {n}" in pages[4 + n]


def test_every_forbidding_open_item_is_printed(content):
    assert holds(content, "Growth in the spore test of 25 May 2026")
    assert holds(content, "withdraw, then repeat the test")


def test_the_fields_of_a_servicing_record_are_printed(content):
    """21 CFR 820.35(b) (2026): the method says where each stands, and each stands on paper."""
    for text in (
        "fields of 21 CFR 820.35(b) (2026)",
        "Nordlys (invented) Kassett 6 (invented)",
        "(01)00000000000000(21)0091",
        "SN-ÆØÅ-0091",
        "4 Mar 2026",
        "Tomasz Gładyś",
        "B25-118",
        "134.90",
    ):
        assert holds(content, text), text


def test_cautions_stand_short_on_the_first_page_and_in_full_in_the_method(content):
    assert "Steam under pressure, scalding water, mains and infection can hurt or kill" in texts(content)[0]
    assert "the maker's instructions and licensed practice outrank everything here" in texts(content)[0]
    for word in ("Pressure:", "Scald:", "Mains:", "Infection:"):
        assert any(word in text for text in texts(content)[1:]), word


@pytest.mark.parametrize("text", ["Żółć", "Ærø", "Kőszegstraße", "Łódź", "Tomasz Gładyś", "ÆØÅ", "MΩ", "°C", "→"])
def test_letters_come_back_as_they_went_in(content, text):
    assert holds(content, text)


def test_a_decomposed_accent_prints_as_the_composed_letter(binder):
    made = render(with_section(binder, Paragraph("Zo\u0301lc\u0301")))
    assert "Zólć" in texts(made)[-1]


def test_a_letter_the_font_lacks_is_seen_to_be_missing(binder):
    assert "left \ufffd right" in texts(render(with_section(binder, Paragraph("left \u4e2d right"))))[-1]


OURS = re.compile("SourceSans3|DejaVu")


def test_all_text_is_in_the_embedded_font(content):
    fonts = {}
    for page in reader(content).pages:
        fonts.update(
            {font["/BaseFont"]: font for font in (f.get_object() for f in page["/Resources"]["/Font"].values())}
        )
    used = {name: font for name, font in fonts.items() if OURS.search(name)}
    assert used
    for name, font in used.items():
        # A subset has six letters before its name, ISO 32000-1 9.6.4.
        assert re.match(r"/[A-Z]{6}\+(SourceSans3-|DejaVuSansCondensed)", name)
        assert font["/FontDescriptor"].get_object()["/FontFile2"].get_object().get_data()
        assert "/ToUnicode" in font
    code = b"".join(page.get_contents().get_data() for page in reader(content).pages)
    plain = {key for page in reader(content).pages for key, f in page["/Resources"]["/Font"].items()
             if not OURS.search(f.get_object()["/BaseFont"])}  # fmt: skip
    shown = re.findall(rb"(/F[\w+]+) [\d.]+ Tf[^\n]*\n?[^\n]*?Tj", code)
    assert shown and not {each.decode() for each in shown} & plain


def targets(read, number: int) -> list[int]:
    """The page numbers that the links of a page lead to, in the order they were written."""
    numbers = {page.indirect_reference.idnum: n for n, page in enumerate(read.pages, start=1)}
    links = [each.get_object() for each in read.pages[number - 1]["/Annots"]]
    return [numbers[link["/Dest"][0].idnum] for link in links]


def test_links_lead_from_the_first_page_to_the_pages_named(content):
    """The way back is the outline, which is shown on opening."""
    read = reader(content)
    assert read.page_mode == "/UseOutlines"
    led = set(targets(read, 1))
    assert {number for _, number in listed(read.pages[0])} <= led and 1 not in led


def test_open_items_lead_to_the_chapter_of_their_unit(binder, content):
    read = reader(content)
    pages = {title: n for n, page in enumerate(read.pages, start=1) for title in own_lines(page) if n > 1}
    unit = next(n for line, n in pages.items() if line.startswith("Unit S1 Łódź"))
    open_items = pages["Open items"]
    assert targets(read, open_items).count(unit) == 2  # its two open items


def test_outline_names_the_chapters_in_order(binder, content):
    top = [entry.title for entry in reader(content).outline if not isinstance(entry, list)]
    assert top == [s.title for s in binder.sections if s.level == 1]


def test_file_says_its_title_whose_it_is_and_its_language(binder, content):
    read = reader(content)
    assert read.metadata.title == binder.title
    assert read.metadata.author == binder.clinic
    assert read.metadata.creation_date.date() == binder.as_of
    assert read.trailer["/Root"]["/Lang"] == "en"


def test_same_binder_same_bytes(binder):
    assert render(binder) == render(binder_contents(*sample.clinic(), from_on=sample.FROM, to_on=sample.TO))


_HASH = (
    "import hashlib; from tests.audit.binder import sample; from audit.binder.contents import binder_contents; "
    "from audit.binder.pdf import render; "
    "b = binder_contents(*sample.clinic(), from_on=sample.FROM, to_on=sample.TO); "
    "print(hashlib.sha256(render(b)).hexdigest())"
)


@pytest.mark.parametrize(
    ("seed", "zone", "epoch", "locale"),
    [("1", "Pacific/Auckland", "", "C"), ("4242", "America/Los_Angeles", "1700000000", "de_DE.UTF-8")],
)
def test_same_bytes_in_another_process_zone_locale_and_environment(binder, seed, zone, epoch, locale):
    more = {"PYTHONHASHSEED": seed, "TZ": zone, "SOURCE_DATE_EPOCH": epoch, "LC_ALL": locale, "PYTHONUTF8": "1"}
    more["PYTHONPATH"] = str(ROOT)
    made = subprocess.run(
        [sys.executable, "-c", _HASH],
        env={**os.environ, **more},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert made.stdout.strip() == hashlib.sha256(render(binder)).hexdigest()


def long_table(rows: int) -> Table:
    columns = (Column("Number", 10, "right"), Column("Text", 60))
    return Table("A long table", columns, tuple((Cell(str(n)), Cell(f"row number {n}")) for n in range(1, rows + 1)))


def test_a_table_of_200_rows_prints_each_row_once_under_its_head(binder):
    made = with_section(binder, long_table(200))
    first = len(texts(render(binder)))
    pages = texts(render(made))[first:]
    together = " ".join(pages)
    assert len(pages) > 3
    assert [int(n) for n in re.findall(r"row number (\d+)", together)] == list(range(1, 201))
    for page in pages:
        assert "Number Text" in page
    assert all("A long table, continued" in page for page in pages[1:])


def test_a_very_long_word_is_broken_and_whole(binder):
    word = "".join(hashlib.sha256(bytes([n])).hexdigest() for n in range(40))
    table = Table("", (Column("A", 10), Column("B", 90)), ((Cell(word), Cell("short")),))
    made = render(with_section(binder, Paragraph(word), table))
    assert squeezed(made).count(word[:60]) >= 1
    assert word in squeezed(made)


def test_a_row_taller_than_a_page_goes_on_with_a_mark_and_loses_nothing(binder):
    tall = " ".join(f"word{n}" for n in range(4000))
    table = Table(
        "Tall", (Column("A", 10), Column("B", 30)), ((Cell("first"), Cell(tall)), (Cell("next"), Cell("x")))
    )
    made = render(with_section(binder, table))
    found = [int(n) for text in texts(made) for n in re.findall(r"word(\d+)", text)]
    assert found == list(range(4000))
    assert "continues …" in " ".join(texts(made)) and "… continued" in " ".join(texts(made))


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("count", range(0, 40, 3))
def test_nothing_is_set_below_the_frame_and_no_heading_stands_last(binder, size, count):
    """Whatever stands before it, a heading has the first rows of its table on its page."""
    fill = tuple(Paragraph(f"line {n}") for n in range(count))
    sections = (Section("a", "A chapter", 1, fill), Section("b", "A heading", 2, (long_table(30),)))
    paper = sheet(size)
    for page in lay_out(replace(binder, sections=(binder.sections[0], *sections)), paper):
        assert page.filled <= paper.text_height + 0.01
        last = page.placed[-1][1]
        assert not last.keep, f"{last.runs} stands last"


def test_an_empty_clinic_still_gives_a_binder():
    made = render(binder_contents(*sample.empty_clinic(), from_on=sample.FROM, to_on=sample.TO))
    assert holds(made, "No unit on record for this clinic.")
    assert all("Bare Room" in text and PERIOD in text for text in texts(made))


def test_a_clinic_name_longer_than_a_line_leaves_period_and_pages_on_every_page(binder):
    pages = texts(render(replace(binder, clinic="Very long clinic name " * 20)))
    for number, text in enumerate(pages[1:], start=2):
        assert "Very long clinic name" in text and PERIOD in text and f"{number} of {len(pages)}" in text


def test_a_paper_size_nobody_knows_is_refused(binder):
    with pytest.raises(ValueError, match="choose one of letter, a4"):
        render(binder, page_size="quarto")


def test_period_of_one_day():
    made = binder_contents(*sample.clinic(), from_on=date(2026, 3, 4), to_on=date(2026, 3, 4))
    assert "4 Mar 2026 to 4 Mar 2026" in texts(render(made))[0]


def test_fonts_are_the_ones_on_the_list():
    folder = ROOT / "audit" / "binder" / "pdf" / "fonts"
    listed = dict(re.findall(r"`([\w-]+\.ttf)`.*?`([0-9a-f]{64})`", (folder / "FONTS.md").read_text()))
    assert listed == {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.glob("*.ttf")}
    assert "Bitstream" in (folder / "LICENCE.txt").read_text()
