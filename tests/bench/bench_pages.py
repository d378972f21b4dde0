"""A thousand pages of tables: how many pages a second the binder's own layout and drawing reach, tagged.

Beside it, each in a process of its own: a bare canvas of the drawing library given the same strings at the same
places with the same structure, and an HTML-to-PDF printer given the same rows. All use the same fonts.

python -m tests.bench.bench_pages [--rows 31000] [--runs 5] [--html-rows 2000] [--full] [--growth] [--profile]

Times are processor time, which other work on the machine disturbs least; `--html-rows 0` leaves the printer out. The
printer slows down with length, so a slice makes it look faster than it is on the whole; `--full` gives it all rows.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import pstats
import resource
import statistics
import subprocess
import sys
import time
from datetime import date, timedelta
from pathlib import Path

import audit.binder.pdf
from audit.binder.pdf import lay_out
from audit.binder.pdf.draw import draw
from audit.binder.pdf.finish import finished
from audit.binder.pdf.page import sheet
from audit.binder.sections import Binder, Cell, Column, Section, Table, Title
from tests.bench import bare_pages

PAPER = "letter"
_IN_A_TABLE = 250
_DAY = date(2026, 5, 31)
_COLUMNS = (
    Column("Day", 12),
    Column("Cycle", 7, "right"),
    Column("Programme", 15.5),
    Column("Result", 10),
    Column("Released by", 15),
    Column("Contents and remarks", 43),
    Column("Row", 15),
)
_PEOPLE = ("Ida Lund", "Ilse Brandt", "Tomasz Gładyś")
_REMARKS = (
    "hand instruments, wrapped",
    "two cassettes, wrapped; each indicator changed colour",
    "probes",
    "mixed load: forceps, mirrors, retractors; printout kept",
)


def rows(count: int) -> list[tuple[str, ...]]:
    """That many loads of an invented unit, as text; every other one has a remark of two lines."""
    made = []
    for n in range(count):
        day = _DAY - timedelta(days=count // 8 - n // 8)
        remark = _REMARKS[n % 4] + (f", {n % 17} packages" if n % 3 else "")
        result = "rejected" if n % 211 == 5 else "released"
        name = f"{n * 7919:08x} #{n}"
        made.append((f"{day:%d %b %Y}", str(1000 + n), "134 °C wrapped", result, _PEOPLE[n % 3], remark, name))
    return made


def binder(count: int) -> Binder:
    """One chapter of tables with those rows."""
    lines = [
        tuple(Cell(text, proof=n == 6) for n, text in enumerate(row))
        for row in rows(count)
    ]  # fmt: skip
    tables = tuple(
        Table(f"Loads from number {start + 1}", _COLUMNS, tuple(lines[start : start + _IN_A_TABLE]))
        for start in range(0, count, _IN_A_TABLE)
    )  # fmt: skip
    cover = Section("cover", "Cover", 1, (Title("Sterilizer record", "Invented clinic", ("all loads",)),))
    sections = (cover, Section("loads", "Loads", 1, tables))
    return Binder("Loads", "Invented clinic", "all loads", _DAY, _DAY, _DAY, None, 0, sections)


class Clock:
    """Processor seconds since it was made."""

    def __init__(self) -> None:
        self.start = time.process_time()

    def seconds(self) -> float:
        return time.process_time() - self.start


def own(count: int) -> dict:
    """Layout, drawing, structure tree; then, apart, the last pass that packs objects."""
    given = binder(count)
    paper = sheet(PAPER)
    clock = Clock()
    pages = lay_out(given, paper)
    laid, held = clock.seconds(), _peak()
    number = len(pages)
    content = draw(given, pages, paper).content
    drawn = clock.seconds()
    peak = _peak()
    packed = finished(content)
    done = clock.seconds()
    return {
        "pages": number, "seconds": drawn, "layout": laid, "drawing": drawn - laid, "packing": done - drawn,
        "peak": peak, "peak laid out": held, "bytes": len(content), "packed": len(packed), "peak packed": _peak(),
    }  # fmt: skip


def bare(count: int) -> dict:
    """The same strings, places and structure through the drawing library alone; what to draw is known beforehand."""
    given = binder(count)
    paper = sheet(PAPER)
    pages = lay_out(given, paper)
    plan = bare_pages.plan(given, pages, paper)
    del pages
    clock = Clock()
    content = bare_pages.drawn(plan, paper)
    return {"pages": len(plan.pages), "seconds": clock.seconds(), "peak": _peak(), "bytes": len(content)}


def html(count: int) -> dict:
    """The rows as tables of a page in HTML, printed."""
    from weasyprint import HTML
    from weasyprint.text.fonts import FontConfiguration

    source = _html(count)
    clock = Clock()
    document = HTML(string=source).render(font_config=FontConfiguration())
    content = document.write_pdf()
    return {"pages": len(document.pages), "seconds": clock.seconds(), "peak": _peak(), "bytes": len(content)}


def _html(count: int) -> str:
    from html import escape

    folder = Path(audit.binder.pdf.__file__).parent / "fonts"
    faces = "".join(
        f"@font-face{{font-family:Own;font-weight:{weight};src:url({(folder / name).as_uri()})}}"
        for name, weight in (("SourceSans3-Regular.ttf", 400), ("SourceSans3-SemiBold.ttf", 700))
    )
    style = (
        f"{faces}@page{{size:letter;margin:22mm 17mm 19mm 25mm}}body{{font:7.2pt/9.8pt Own;margin:0}}"
        "table{width:100%;border-collapse:collapse;table-layout:fixed;margin-bottom:11pt}"
        "td,th{border-bottom:.35pt solid #b8b8b8;padding:2.6pt 3pt;text-align:left;vertical-align:top}"
    )
    total = sum(column.weight for column in _COLUMNS)
    wide = "".join(f"<col style='width:{column.weight / total:.2%}'>" for column in _COLUMNS)
    head = "".join(f"<th>{column.title}</th>" for column in _COLUMNS)
    made, lines = [], rows(count)
    for start in range(0, count, _IN_A_TABLE):
        body = "".join(
            "<tr>" + "".join(f"<td>{escape(text)}</td>" for text in row) + "</tr>"
            for row in lines[start : start + _IN_A_TABLE]
        )
        made.append(f"<table>{wide}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>")
    return f"<!doctype html><html lang=en><title>Loads</title><style>{style}</style>{''.join(made)}"


def _peak() -> float:
    """The most memory that this process has held so far, in MiB (Linux counts it in KiB)."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


_WAYS = {"own": own, "bare": bare, "html": html}


def in_a_process(way: str, count: int) -> dict:
    command = [sys.executable, "-m", "tests.bench.bench_pages", "--one", way, "--rows", str(count)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2])
    if done.returncode:
        raise SystemExit(f"{way} failed:\n{done.stderr}")
    return json.loads(done.stdout.splitlines()[-1])


def middle(runs: list[dict]) -> dict:
    """The median of each figure."""
    return {key: statistics.median(run[key] for run in runs) for key in runs[0]}


def told(name: str, count: int, found: dict) -> str:
    rate = found["pages"] / found["seconds"]
    return (
        f"{name:<34}{found['pages']:>6.0f} pages {found['seconds']:>8.2f} s {rate:>8.0f} pages/s "
        f"{count / found['seconds']:>8.0f} rows/s {found['peak']:>6.0f} MiB {found['bytes'] / 1e6:>7.1f} MB"
    )


def compare(options) -> None:
    ways = {"own": [], "bare": []}
    for _ in range(options.runs):
        for way, runs in ways.items():  # in turn, so that a busy minute of the machine falls on both
            runs.append(in_a_process(way, options.rows))
    mine, plain = middle(ways["own"]), middle(ways["bare"])
    print(f"{options.rows} rows of {len(_COLUMNS)} columns, median of {options.runs} runs, processor time")
    print(told("own layout, drawing and tags", options.rows, mine))
    print(told("bare canvas, same strings and tags", options.rows, plain))
    share = plain["seconds"] / mine["seconds"] * mine["pages"] / plain["pages"]
    print(f"own / bare, pages a second: {share:.2f} (wanted: 0.80 or more)")
    print(
        f"  layout {mine['layout']:.2f} s, drawing {mine['drawing']:.2f} s; packing takes {mine['packing']:.2f} s "
        f"more, to {mine['packed'] / 1e6:.1f} MB and {mine['peak packed']:.0f} MiB"
    )
    if options.html_rows or options.full:
        count = options.rows if options.full else options.html_rows
        printed = middle([in_a_process("html", count) for _ in range(1 if options.full else min(options.runs, 3))])
        print(told("HTML printer", count, printed))
        times = (options.rows / mine["seconds"]) / (count / printed["seconds"])
        print(f"own / HTML printer, rows a second: {times:.1f} (wanted: 20 or more)")


def growth(options) -> None:
    """What more pages cost in memory, and how much of it the structure tree is."""
    last = None
    for share in (4, 2, 1):
        count = options.rows // share
        found = in_a_process("own", count)
        each = 0 if last is None else (found["peak"] - last[1]) * 1024 / (found["pages"] - last[0])
        more = f", {each:.0f} KiB for each page more" if last else ""
        laid = f"{found['peak laid out']:.0f} MiB laid out, {found['peak']:.0f} MiB drawn"
        print(f"{found['pages']} pages: {laid}{more}; {found['peak packed']:.0f} MiB in the last pass")
        last = found["pages"], found["peak"]


def profile(count: int) -> None:
    given, paper = binder(count), sheet(PAPER)
    seen = cProfile.Profile()
    seen.enable()
    draw(given, lay_out(given, paper), paper)
    seen.disable()
    pstats.Stats(seen).sort_stats("tottime").print_stats(30)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=31000)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--html-rows", type=int, default=2000)
    parser.add_argument("--full", action="store_true", help="the HTML printer prints all rows (takes minutes)")
    parser.add_argument("--growth", action="store_true", help="memory by the number of pages")
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--one", choices=_WAYS, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        print(json.dumps(_WAYS[options.one](options.rows)))
    elif options.growth:
        growth(options)
    elif options.profile:
        profile(options.rows)
    else:
        compare(options)


if __name__ == "__main__":
    main()
