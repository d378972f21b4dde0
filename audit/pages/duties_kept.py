"""How coverage reads on the pages: the same words as in the binder."""

from __future__ import annotations

from audit.binder import duties_kept as paper
from audit.judge.judgement import Coverage


def longest_gap(coverage: Coverage) -> str:
    """14 days, 15 Dec 2025 to 29 Dec 2025."""
    return paper.longest_gap(coverage).replace("\n", ", ")


def exempt_words(coverage: Coverage) -> str:
    """2: closed; 1: no patients."""
    return paper.exempt_words(coverage).replace("\n", "; ")


def bound_words(coverage: Coverage) -> str:
    return paper.bound_words(coverage)


def lapse_runs(coverage: Coverage) -> list[dict]:
    """Lapses of which the same is known together, the newest first."""
    runs = reversed(paper.runs_of(coverage.lapses))
    return [{"first": run[0], "last": run[-1], "many": paper.how_many(run)} for run in runs]
