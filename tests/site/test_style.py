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


ROOT = STYLE.parents[3]
# Templates and views name a class in an attribute; scripts, and what draws, in any of their texts.
SOURCES = ("templates/**/*.html", "audit/**/*.py", "records/**/*.py")
DRAWN = ("audit/static/audit/*.js", "records/static/records/*.js", "audit/pages/svg/*.py", "audit/pages/tables.py")
IN_TEXT = re.compile(r"""class["']?\s*[=:]\s*(["'])(.*?)\1""", flags=re.S)
ANY_TEXT = re.compile(r"""(["'`])((?:(?!\1)[^\n])*)\1""")


def test_no_rule_is_for_a_class_that_nothing_wears():
    """A class that is put together from what is known ("word--" and a slug) is worn if what it begins with is."""
    whole, begun = worn(_all_of(SOURCES), IN_TEXT)
    more, begun_more = worn(_all_of(DRAWN), ANY_TEXT)
    whole, begun = whole | more, begun | begun_more
    assert {"item", "word"} <= whole and "word--" in begun
    assert not_worn(RULES, whole, begun) == []


def _all_of(sources: tuple[str, ...]) -> str:
    return "\n".join(p.read_text(encoding="utf-8") for each in sources for p in sorted(ROOT.glob(each)))


def worn(text: str, where: re.Pattern) -> tuple[set[str], set[str]]:
    """The classes that a source names whole, and what those begin with that are put together ("word--")."""
    plain = re.sub(r"\{%[^%]*%\}", " ", text)
    named = " ".join(found for _, found in where.findall(plain))
    parts = re.split(r"[\s\\.<>=\"']+", re.sub(r"\$?\{\{?[^}]*\}?\}", "*", named))
    begun = {part.partition("*")[0] for part in parts if "*" in part} | {p for p in parts if p.endswith("-")}
    return {part for part in parts if "*" not in part}, {each for each in begun if each.endswith("-")}


def not_worn(rules: str, whole: set[str], begun: set[str]) -> list[str]:
    """The classes with a rule that are neither named whole nor begin like one that is put together."""
    heads = "".join(re.findall(r"([^{}]*)\{", rules))
    classes = set(re.findall(r"\.([a-zA-Z][\w-]*)", heads))
    return sorted(c for c in classes - whole if not c.startswith(tuple(begun)))


def test_a_rule_that_nothing_wears_is_found():
    whole, begun = worn('<p class="item {% if a == "b" %}late{% endif %} word--{{ slug }}">', IN_TEXT)
    rules = ".item, .late { } .word--out a { } @media print { .gone { } }"
    assert not_worn(rules, whole, begun) == ["gone"]
