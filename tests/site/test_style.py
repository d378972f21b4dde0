"""The one style sheet: its sections are those it says, colours are properties, print comes last."""

from __future__ import annotations

import re
from pathlib import Path

STYLE = Path(__file__).resolve().parents[2] / "records" / "static" / "records" / "style.css"
TEXT = STYLE.read_text(encoding="utf-8")
RULES = re.sub(r"/\*.*?\*/", "", TEXT, flags=re.S)
ROOTS = re.findall(r":root \{(.*?)\}", RULES, flags=re.S)


def test_the_contents_at_the_head_are_the_sections_in_their_order():
    said = re.findall(r"^   \d+\. (.+?)(?: \*/)?$", TEXT, flags=re.M)
    assert said == re.findall(r"^/\* -{3,} (.+?) \*/$", TEXT, flags=re.M)
    assert len(said) > 10 and said[-1] == "paper", "a new section is added before the one for paper, and listed"


def test_every_property_that_is_used_is_set():
    used, given = (
        set(re.findall(r"var\((--[\w-]+)", RULES)),
        set(re.findall(r"^\s*(--[\w-]+):", ROOTS[0], flags=re.M)),
    )
    assert used <= given, used - given
    assert given <= used, f"set and never used: {given - used}"


def test_colours_stand_only_among_the_properties():
    outside = re.sub(r":root \{.*?\}", "", RULES, flags=re.S)
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", outside) == []


def test_dark_and_paper_set_every_colour_that_light_sets():
    light, dark, paper = ({name for name, _ in re.findall(r"(--[\w-]+):\s*(#\w+)", each)} for each in ROOTS)
    # What lies behind a camera's picture is black in all schemes, and nothing to press is printed.
    assert light - dark == {"--no-picture"}
    assert light - paper == {"--no-picture", "--focus", "--on-pen"}


def test_all_rules_for_paper_stand_in_one_block_at_the_end():
    before, block = RULES.split("@media print")  # there is one
    depth, ends = 0, []
    for place, sign in enumerate(block.rstrip()):
        depth += {"{": 1, "}": -1}.get(sign, 0)
        if sign == "}" and depth == 0:
            ends.append(place)
    assert ends == [len(block.rstrip()) - 1]
    assert before.count("{") == before.count("}")
