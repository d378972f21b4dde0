"""The log of loads: a line a cycle, what is out of the ordinary in a second one, what is left out is told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.load_lines import initials
from audit.binder.loads import WIDE
from audit.binder.pdf import lay_out
from audit.binder.pdf.page import sheet
from audit.binder.sections import EVERYTHING, INSPECTOR, Section, Table
from audit.judge.evaluate import evaluate
from tests.fact_builders import bio, clinic, installed, row, unit, weekly

FIRST = date(2025, 6, 2)
NAMES = ("Mei Castellanos", "Danladi Frost", "Oda Quill")
PLAIN = {"mechanical": "pass", "chemical": "pass", "packs": "dry", "pack_condition": "intact"}


def load(on: date, number: int, *, hour=14, apart=False, ref="", **more) -> f.LoadFact:
    """A load of which all is known and passed, started by Mei and released by Danladi, but for what is said."""
    at = datetime(on.year, on.month, on.day, hour, number % 60, tzinfo=UTC)
    own = row(on, number=2 * number, ref=ref or f"load-{number}")
    own = replace(own, happened_at=at, logged_at=at + timedelta(minutes=50))
    decided = replace(own, ref=f"decided-{number}", number=2 * number + 1, happened_at=at + timedelta(minutes=55))
    said = {
        "contents": "", "implant": False, "released": "released", "minutes": D(48), "held_packs": number % 4,
        "held_pouches": 10 + number % 7, "exposure_minutes": D("4.0"), "exposure_temperature": D("134.6"),
        "exposure_pressure": D(212), "run_by": NAMES[0], "loaded_by": NAMES[number % 3], "decided_by": NAMES[1],
        "released_row": decided if apart else None, "program": "wrapped",
    } | PLAIN  # fmt: skip
    return f.LoadFact(own, str(number), **said | more)


def a_year(count: int = 1150, odd_every: int = 20) -> tuple[f.LoadFact, ...]:
    """So many loads on working days, four or five a day; one in so many came out wet and was rejected."""
    made, day, number = [], FIRST, 4000
    while len(made) < count:
        if day.weekday() < 5:
            for n in range(5 if day.weekday() == 2 else 4):
                number += 1
                wet = {"packs": "wet", "released": "rejected", "reason": "dried and run again"}
                odd = wet if number % odd_every == 0 else {}
                made.append(load(day, number, hour=13 + 2 * n, apart=number % 3 == 0, **odd))
        day += timedelta(days=1)
    return tuple(made[:count])


def program(name="wrapped", minutes="3.5", heat="134") -> f.ProgramFact:
    limits = (D(minutes), D(heat), D(138), D(200), None)
    return f.ProgramFact(
        row("2025-01-01"), name, *limits, "invented instructions, section 4", date(2025, 1, 1), False
    )


def contents(loads, *, to: date | None = None, extent=EVERYTHING, **more):
    held = {"events": (installed("2025-01-01"),), "programs": (program(),), "loads": tuple(loads)} | more
    place = clinic(unit(**held))
    to = to or max((x.row.happened_on for x in loads), default=FIRST)
    return binder_contents(place, evaluate(place, to), from_on=FIRST, to_on=to, extent=extent)


def log_of(binder) -> Section:
    return next(s for s in binder.sections if s.id.endswith("-loads"))


def table_of(binder) -> Table:
    return next(b for b in log_of(binder).blocks if isinstance(b, Table))


def lines(binder) -> list[list[str]]:
    """The texts of each row, evened out."""
    return [[" ".join(c.text.split()) for c in cells] for cells in table_of(binder).rows]


def told(binder) -> str:
    return " ".join(" ".join(b.text.split()) for b in log_of(binder).blocks if hasattr(b, "text"))


def test_a_line_says_everything_of_a_plain_cycle():
    binder = contents([load(FIRST, 812, contents="hygiene kits", apart=True)], bio_tests=weekly("2025-01-01", FIRST))
    year, line = lines(binder)
    assert year == ["2025"]
    assert line == [
        "812", "2 Jun 10:32", "A", "", "4.0", "134.6", "212", "✓", "✓", "0/10/–", "", "", "OQ", "DF 11:27", "1625",
        "1624",
    ]  # fmt: skip
    assert "A = wrapped, at least 3.5 min, 134 °C to 138 °C, from 200 kPa (invented instructions, section 4)" in told(
        binder
    )
    assert "DF = Danladi Frost" in told(binder) and "unless said: hygiene kits." in told(binder)


ODD = [
    ({"mechanical": "fail"}, "gauges and printout failed"),
    ({"chemical": "fail"}, "a chemical indicator failed"),
    ({"packs": "wet"}, "packs came out wet"),
    ({"pack_condition": "damaged"}, "wrapping was damaged"),
    ({"exposure_minutes": D("3.4")}, "counts as failed: 3.4 minutes of exposure, 3.5 are needed"),
    ({"exposure_temperature": D("133.9")}, "counts as failed: 133.9 °C, at least 134 °C is needed"),
    ({"mechanical": ""}, "no mechanical result is recorded"),
    ({"chemical": "not recorded"}, "no chemical result is recorded"),
    ({"implant": True}, "it held an implant and has no spore test on record"),
    ({"released": "", "decided_by": ""}, "no decision is recorded"),
    ({"released": "rejected", "reason": "dropped"}, "rejected: dropped"),
    ({"reason": "emergency"}, "released: emergency"),
]


@pytest.mark.parametrize(("changes", "words"), ODD, ids=lambda v: v if isinstance(v, str) else "")
@pytest.mark.parametrize("extent", [EVERYTHING, INSPECTOR])
def test_what_is_out_of_the_ordinary_is_told_in_a_second_line_whatever_is_printed(changes, words, extent):
    old = [load(FIRST, 811), load(FIRST, 812, **changes), load(FIRST, 813)]
    recent = load(FIRST + timedelta(weeks=30), 814)
    binder = contents([*old, recent], extent=extent)
    told_ = [line for line in lines(binder) if len(line) == 2]
    assert told_ == [["", told_[0][1]]] and told_[0][1].startswith("Cycle 812: ") and words in told_[0][1]
    numbers = [line[0] for line in lines(binder) if len(line) > 2]
    # A failed mechanical result puts the loads since the last good proof in doubt: here those before and after it.
    in_doubt = words.startswith(("gauges", "counts as failed"))
    whole = extent == EVERYTHING or in_doubt
    assert numbers == (["811", "812", "813", "814"] if whole else ["812", "814"])


def test_a_spore_test_of_the_cycle_stands_in_its_line():
    loads = [load(FIRST + timedelta(days=n), 811 + n) for n in range(4)]
    results = ("pass", "growth", "invalid", "")
    tests = tuple(bio(x.row.happened_on, result=r, cycle=x.cycle_number) for x, r in zip(loads, results, strict=True))
    binder = contents(loads, bio_tests=tests, to=FIRST + timedelta(days=4))
    assert [line[11] for line in lines(binder) if len(line) > 2] == ["✓", "F", "x", "–"]
    black = [c.text for cells in table_of(binder).rows for c in cells if c.frame == "black"]
    assert black == ["F"]


def test_cycles_that_are_not_on_record_stand_in_their_place_in_bold():
    loads = [load(FIRST, 811), load(FIRST, 812), load(FIRST, 816), load(FIRST, 990)]
    tests = (bio(FIRST, result="pass", cycle="814"),)
    binder = contents(loads, bio_tests=tests)
    assert [line[0] for line in lines(binder)] == [
        "2025",
        "811",
        "812",
        "Not on record: cycles 813, 815.",
        "816",
        "990",
    ]
    (gap,) = [cells[0] for cells in table_of(binder).rows if cells[0].text.startswith("Not on record")]
    assert gap.strong and gap.span == WIDE
    assert "2 cycle numbers between them not on record" in told(binder)


def test_what_an_inspector_does_not_get_is_counted_with_its_records_and_nothing_vanishes():
    loads = [load(FIRST + timedelta(days=n), 811 + n) for n in range(100)]
    last = loads[-1].row.happened_on
    binder = contents(loads, extent=INSPECTOR)
    printed = [line[0] for line in lines(binder) if len(line) > 2]
    assert printed == [x.cycle_number for x in loads if x.row.happened_on > last - timedelta(weeks=8)]
    assert lines(binder)[1] == [
        "44 loads not printed, 2 Jun 2025 to 15 Jul 2025: passed and released; records 1622 to 1708."
    ]
    assert "Not printed here: 44 loads older than eight weeks" in told(binder)
    assert "in the binder of everything on record" in told(binder)
    whole = contents(loads, extent=EVERYTHING)
    assert len([line for line in lines(whole) if len(line) > 2]) == 100 and "Not printed" not in told(whole)


def test_a_window_in_doubt_is_printed_however_old():
    loads = [load(FIRST + timedelta(days=n), 811 + n) for n in range(120)]
    bad = FIRST + timedelta(days=10)
    tests = (
        bio(FIRST + timedelta(days=5), result="pass", cycle="816"),
        bio(bad, result="growth", cycle="821"),
        *weekly(str(FIRST + timedelta(days=14)), str(FIRST + timedelta(days=119))),
    )
    printed = [line[0] for line in lines(contents(loads, bio_tests=tests, extent=INSPECTOR)) if len(line) > 2]
    assert {str(n) for n in range(816, 822)} <= set(printed)


def test_no_load_on_record_says_so_and_who_fills_it():
    assert "Loads in the period: none on record. Who runs a cycle with goods in it logs it." in told(contents([]))


def test_a_line_is_drawn_where_a_day_begins():
    binder = contents([load(FIRST, 811), load(FIRST, 812), load(FIRST + timedelta(days=1), 813)])
    assert table_of(binder).ruled == (0, 1, 3) and table_of(binder).tight


def test_signs_for_names_are_told_apart():
    signs = initials(["Mei Castellanos", "Max Carter", "", "Oda Quill"])
    assert signs == {"Max Carter": "MC", "Mei Castellanos": "MC2", "Oda Quill": "OQ"}


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_year_of_1150_cycles_takes_at_most_20_pages(paper):
    """Counted as they are laid out; one load in twenty has a second line."""
    whole = contents(a_year())
    sections = [s for s in whole.sections if s.id == "loads" or s.id.endswith("-loads")]
    assert len([line for line in lines(whole) if len(line) > 2]) == 1150
    rest = replace(whole, sections=whole.sections[:1])
    log = replace(whole, sections=(whole.sections[0], *sections))
    assert lay_out(log, sheet(paper)).count - lay_out(rest, sheet(paper)).count <= 20
