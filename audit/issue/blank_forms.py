"""Forms on paper out of the database: reads a clinic, judges it and lays its sheets out as a file.

The command and the pages both come here, so that both print the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.binder.blank_forms import KINDS, NoUnit, paper_forms
from audit.binder.pdf.blank_forms import render_forms
from audit.facts import ClinicFacts
from audit.judge.evaluate import evaluate
from audit.regimes import all_regimes

AHEAD = 366  # days: a stock of sheets may be printed for so many days ahead

__all__ = ["AHEAD", "KINDS", "NoUnit", "Printed", "print_sheets"]


@dataclass(frozen=True, slots=True)
class Printed:
    """`body` is the PDF file; `sheets` counts the forms in it, `pages` its pages."""

    body: bytes
    sheets: int
    pages: int


def print_sheets(
    facts: ClinicFacts, kind: str, *, today: date, on: date | None, unit: str = "", page: str = "letter"
) -> Printed:
    """The sheets of one kind for the day `on` (None: left blank), judged on the earlier of `on` and `today`.

    `unit` is the origin of one unit, "" for all that are in use. The same facts and days give the same bytes. Raises
    NoUnit when there is no unit to print for, KeyError for another kind, ValueError for a paper that is not known.
    """
    judgement = evaluate(facts, min(on, today) if on else today)
    regime = all_regimes()[judgement.regime].on(judgement.as_of)
    forms = paper_forms(facts, judgement, regime, kind, on=on, unit=unit)
    body, pages = render_forms(forms, judgement.as_of, page_size=page)
    return Printed(body, len(forms.forms), pages)
