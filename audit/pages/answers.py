"""The questions an inspector asks, answered from the record: each with its proof, its source, or an honest gap."""

from __future__ import annotations

from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.answers import NOT_ASKED, SHORT, WORDS, answer_counts, asked
from audit.binder.known_beside import known_beside
from audit.binder.not_asked import told_words
from audit.binder.written_on_paper import plain
from audit.gather.responsible import responsible
from audit.judge.answers import not_asked_of
from audit.judge.judgement import Answer
from records.forms import EntryContext
from records.views.base import at_clinic

from .opened import OpenedClinic, opened

FEW = 12
# How an answer is signed: as far filled as the answer is full.
SIGNS = {"yes": "in-service", "in part": "limited", "no": "out", "no record found": "waiting"}
SLUGS = {"yes": "ok", "in part": "late", "no": "failed", "no record found": "no-evidence"}


@at_clinic("look")
@require_safe
def answers_page(request, ground: EntryContext):
    """The answers of today, or of `?as_of=` and `?known_at=`."""
    page = opened(request, ground)
    answers = page.judgement.answers
    questions = _questions([_line(page, n, answer) for n, answer in enumerate(asked(answers), start=1)])
    context = page.context() | {
        "questions": questions,
        "missing": [q for q in questions if q["missing"]],
        "unfolded": request.GET.get("open") == "1",
        "not_asked": [answer for answer in answers if answer.answer == NOT_ASKED],
        "counts": answer_counts(asked(answers)),
        "elsewhere": not_asked(page),
    }
    return render(request, "audit/answers.html", context, status=400 if page.problem else 200)


def _questions(lines: list[dict]) -> list[dict]:
    """Each question once, in the order in which it is first asked, with its answers and which units each is of."""
    found: dict[str, list[dict]] = {}
    for line in lines:
        found.setdefault(line["answer"].question, []).append(line)
    return [
        {"number": n, "text": text, "lines": same, "told": _told(same), "missing": any(map(_is_missing, same))}
        for n, (text, same) in enumerate(found.items(), start=1)
    ]


def _is_missing(line: dict) -> bool:
    """Whether nothing or the contrary is on record; what is there in part stands with its gap in the list of all."""
    return line["answer"].answer in WORDS[:2]


def _told(lines: list[dict]) -> list[tuple[str, str, str]]:
    """(sign, answer, of which units) of one question, the worst first; all units together where they agree."""
    by_answer: dict[str, list[str]] = {}
    for word in WORDS:
        about = [line["about"] for line in lines if line["answer"].answer == word]
        if about:
            by_answer[word] = about
    agree = len(by_answer) == 1
    return [
        (SIGNS.get(word, "not-in-use"), word, "" if agree else ", ".join(about)) for word, about in by_answer.items()
    ]


def not_asked(page: OpenedClinic) -> list[dict]:
    """What other texts ask and these rules do not, with what is on record anyway: as the binder says it."""
    told = not_asked_of(page.facts, page.judgement)
    labels = {unit.unit: unit.label for unit in page.judgement.units}
    held = responsible(page.clinic, page.known_at)
    words = told_words(told, labels, lambda id: known_beside(held, page.as_of, id))
    return [{"subject": one.subject, "held": plain(said), "sources": one.sources}
            for one, said in zip(told, words, strict=True)]  # fmt: skip


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
