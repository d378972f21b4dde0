"""The questions an inspector asks, answered from the record: each with its proof, its source, or an honest gap."""

from __future__ import annotations

from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.answers import NOT_ASKED, SHORT, answer_counts, asked
from audit.binder.not_asked import held_words
from audit.judge.answers import not_asked_of
from audit.judge.judgement import Answer
from records.forms import EntryContext
from records.views.base import at_clinic

from .opened import OpenedClinic, opened

FEW = 12
SLUGS = {"yes": "ok", "in part": "late", "no": "failed", "no record found": "no-evidence"}


@at_clinic("look")
@require_safe
def answers_page(request, ground: EntryContext):
    """The answers of today, or of `?as_of=` and `?known_at=`."""
    page = opened(request, ground)
    answers = page.judgement.answers
    context = page.context() | {
        "answers": [_line(page, n, answer) for n, answer in enumerate(asked(answers), start=1)],
        "not_asked": [answer for answer in answers if answer.answer == NOT_ASKED],
        "counts": answer_counts(asked(answers)),
        "elsewhere": not_asked(page),
    }
    return render(request, "audit/answers.html", context, status=400 if page.problem else 200)


def not_asked(page: OpenedClinic) -> list[dict]:
    """What other texts ask and these rules do not, with what is on record anyway: as the binder says it."""
    told = not_asked_of(page.facts, page.judgement)
    labels = {unit.unit: unit.label for unit in page.judgement.units}
    held = ([(labels.get(a.unit, a.unit) if a.unit else "", a.answer) for a in one.held] for one in told)
    return [{"subject": one.subject, "held": held_words(said), "sources": one.sources}
            for one, said in zip(told, held, strict=True)]  # fmt: skip


def _line(page: OpenedClinic, n: int, answer: Answer) -> dict:
    """One question: the newest proof first, and apart from it what is more than a few."""
    newest = answer.evidence[::-1]
    return {
        "number": n,
        "answer": answer,
        "short": answer.answer in SHORT,
        "slug": SLUGS.get(answer.answer, "note"),
        "about": _label(page, answer),
        "few": newest[:FEW],
        "more": newest[FEW:],
    }


def _label(page: OpenedClinic, answer: Answer) -> str:
    labels = {unit.unit: unit.label for unit in page.judgement.units}
    return labels.get(answer.unit, answer.unit) if answer.unit else "Whole place"
