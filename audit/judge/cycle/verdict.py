"""What is said of a cycle: the whole word, each criterion with its number, limit, margin, moment and words."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from .file import FileProblem

MET, NOT_MET, INCOMPLETE, UNKNOWN, NOT_JUDGED = "met", "not met", "incomplete", "cannot be judged", "not judged"
S, C, K, PULSES = "s", "°C", "K", "pulses"
_PLACES, _MOST_PLACES = 3, 40


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion. Numbers are exact: `margin` is positive on the good side, `at` in seconds of the file."""

    id: str
    verdict: str
    measured: Fraction | None
    limit: Fraction | None
    unit: str
    margin: Fraction | None
    at: Fraction | None
    words: str

    def as_json(self) -> dict:
        """As data: numbers whole where they are, else the nearest float."""
        return {
            "id": self.id,
            "verdict": self.verdict,
            "measured": plain(self.measured),
            "limit": plain(self.limit),
            "unit": self.unit,
            "margin": plain(self.margin),
            "at_s": plain(self.at),
            "words": self.words,
        }


@dataclass(frozen=True, slots=True)
class JudgedCycle:
    """The whole: `f0` and `f0_least` in minutes, None where they cannot be said; one sensor has no least."""

    verdict: str
    criteria: tuple[Criterion, ...]
    f0: float | None
    f0_least: float | None
    problems: tuple[FileProblem, ...]
    profile: str

    def as_json(self) -> dict:
        """As data, by the form of the command."""
        return {
            "verdict": self.verdict,
            "criteria": [criterion.as_json() for criterion in self.criteria],
            "f0_min": self.f0,
            "f0_least_min": self.f0_least,
            "problems": [{"line": p.line, "words": p.words} for p in self.problems],
        }


def plain(value: Fraction | None) -> int | float | None:
    """A number for data: whole where it is, else the nearest float."""
    if value is None:
        return None
    return value.numerator if value.denominator == 1 else float(value)


def shown(value: Fraction, beside: Fraction | None = None) -> str:
    """A number for people, at most three decimals; more where it would else look like `beside` and is not."""
    above, below = value.numerator, value.denominator
    if below == 1:
        return str(above)
    for places in range(_PLACES, _MOST_PLACES):
        digits, rest = divmod(above * 10**places, below)
        digits += 2 * rest > below or (2 * rest == below and digits % 2)  # half to even
        if beside is None or digits * beside.denominator != beside.numerator * 10**places or value == beside:
            break
    sign, text = "-" if digits < 0 else "", f"{abs(digits):0{places + 1}d}"
    return f"{sign}{text[:-places]}.{text[-places:]}".rstrip("0").rstrip(".")
