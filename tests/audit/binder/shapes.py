"""An invented binder in which each shape that a binder is made of stands at least once."""

from __future__ import annotations

from datetime import date

from audit.binder.sections import (
    Beside,
    Binder,
    CaseTimeline,
    Cautions,
    Cell,
    Column,
    CycleBar,
    CycleMark,
    KeyValues,
    Links,
    Masthead,
    MonthCalendar,
    Paragraph,
    Section,
    Signed,
    StandingBox,
    Table,
    TimelineStep,
)
from audit.facts.heads import LedgerHead

DAY = date(2026, 5, 31)
MONTHS = ("Nov 2025", "Dec 2025", "Jan 2026", "Feb 2026", "Mar 2026")
NB = "\u00a0"


def _first() -> Section:
    columns = (
        Column("Unit, room", 70, names=True), Column("May it be used?", 100), Column("Last spore test", 200),
        Column("Page", 30, "right"), Column("Record", 38, small=True),
    )  # fmt: skip
    answers = (
        ("Unit 1", "□ Yes\nin service"),
        ("Unit 2", "◩ Not yet\nsince 15 May"),
        ("Unit 3", "■ No\nsince 10 May"),
    )
    rows = tuple(
        (
            Cell(f"{unit}\nSterilization"), Cell(answer, strong=True), Cell(f"passed at 135{NB}°C", bold=("passed",)),
            Cell("", to="unit", page=""), Cell("486.13, s16", proof=True),
        )
        for unit, answer in answers
    )  # fmt: skip
    left = (
        KeyValues("Who is responsible", (("Infection control", Cell("Inês Szabó")), ("Telephone", Cell("555 0100")))),
    )
    where = Table("Where to find it", (Column("Chapter", 100), Column("Page", 30, "right")), ((
        Cell("Unit 1"), Cell("", to="unit", page="")),))  # fmt: skip
    box = (("As of", "31 May 2026"), ("Sealed", "1 June 2026, by Bjørn"), ("Check", "page 3"))
    blocks = (
        Masthead("Bjørn Inês Szabó Dental", ("14 Nowhere Row (invented)", "Rules followed: invented"), box),
        Paragraph("One of three sterilizers may be used today.", "lead"),
        Table("The sterilizers", columns, rows),
        Beside(left, (where,)),
        Cautions(
            "Caution", ("Local codes, the maker's instructions and licensed practice outrank everything here.",)
        ),
    )
    return Section("first", "First page", 1, blocks)


def _unit() -> Section:
    days = tuple(
        (
            f"{week}. week",
            tuple(
                Cell(str(7 * week - 4 + month), frame={(2, 1): "framed", (3, 2): "black"}.get((week, month), ""))
                for month in range(5)
            ),
        )
        for week in (1, 2, 3)
    )
    questions = Table(
        "Questions",
        (Column("No.", 17), Column("Question", 170, names=True), Column("Unit 1", 28, "center"),
         Column("Unit 2", 28, "center"), Column("What the record shows", 220)),
        (
            (Cell("The units", strong=True, span=5),),
            (Cell("1"), Cell("May it be used?"), Cell("yes"), Cell("none", frame="framed"), Cell("all of it")),
            (Cell("2"), Cell("Is it tested?"), Cell("yes", span=2), Cell("each week")),
        ),
    )  # fmt: skip
    steps = (
        TimelineStep("done", "1 May", "Last good proof", ("Spore test passed.",), "", "899"),
        TimelineStep("failed", "9 May", "Spore test failed", ("Cycle 5742.", "Growth."), "", "920"),
        TimelineStep("open", "by 17 May", "Find the cause", (), "inspect, repair", "933"),
        TimelineStep("late", "by 12 May", "Recall", ("Not done yet.",), "recall the packs", ""),
    )
    cycles = (CycleMark(5724, "passed", "1 May 2026"), CycleMark(5730, "load", "3 May 2026"),
              CycleMark(5733, "load", "4 May 2026"), CycleMark(5745, "failed", "9 May 2026"))  # fmt: skip
    pairs = (("Place", Cell("Sterilization room")), ("Papers", Cell("none on record", strong=True)))
    blocks = (
        StandingBox("■ May not be used\nsince 10 May 2026", "Two spore tests in a row failed.", pairs, "Outranked."),
        MonthCalendar("Weekly spore tests", MONTHS, days, (("F", "failed"), ("M", "missed"))),
        questions,
        CaseTimeline("What happened", steps),
        CycleBar(cycles, "A bar of the cycles 5724 to 5745: one passed, one failed, two loads."),
        Links("Answers that rest on this", (Cell("3", to="list"), Cell("17", to="list"))),
        Signed(
            (
                ("Released after work", ("Ola Nordmann, technician", "30 May 2026")),
                ("Returned to use", ("nobody yet",)),
            )
        ),
        Paragraph("A note under it.", "small"),
    )
    return Section("unit", "Unit 1", 1, blocks, aside="Ottermoss Teacup 5 (invented), serial T5-20417")


def _list() -> Section:
    columns = (
        Column("Run", 44, names=True), Column("Cycle", 32), Column("°C", 30, "right"), Column("Result", 34),
        Column("Record", 38, small=True),
    )  # fmt: skip
    rows = []
    for n in range(150):
        if n % 60 == 0:
            rows.append((Cell(f"Year {2020 + n // 60}", strong=True, span=5),))
        rows.append(
            (
                Cell(f"{n % 28 + 1} May"),
                Cell(str(5000 + n)),
                Cell("56.5"),
                Cell("passed"),
                Cell(str(100 + n), proof=True),
            )
        )
    heads = Paragraph("What holds unless a line says otherwise", "strong")
    listed = Table("Each spore test", columns, tuple(rows), ruled=tuple(range(0, 153, 5)), halves=True)
    log = Table("Loads", columns, tuple(rows[1:20]), ruled=(4, 8), tight=True)
    return Section("list", "Spore tests", 2, (heads, Paragraph("Read after 24 hours."), listed, log))


def every_shape() -> Binder:
    flowing = Section("people", "People", 1, (Paragraph("Nobody else is named here."),), flows=True)
    heads = (LedgerHead("c1", "Bjørn Inês Szabó Dental", 936, "c1e7c144" * 8),)
    return Binder(
        "Record of Bjørn Inês Szabó Dental", "Bjørn Inês Szabó Dental", "1 Jun 2025 to 31 May 2026", date(2025, 6, 1),
        DAY, DAY, None, 0, (_first(), _unit(), _list(), flowing), heads,
    )  # fmt: skip
