"""The words that people read of a state: each has one meaning, in whichever list it stands."""

from __future__ import annotations

from audit.binder.written_on_paper import first_upper
from audit.judge.answers.asked import ANSWERS
from audit.judge.judgement import Severity, State, Word
from audit.judge.response.said import DONE, LATE, NOT_NEEDED, OPEN

# What each list of words is about; in each, a word is one state and a state one word.
LISTS = {
    "may it be used": [word.value for word in Word],
    "how a day stands to a due item": [state.words for state in State],
    "how much an open item weighs": [severity.value for severity in Severity],
    "how a step after a failure stands": [DONE, OPEN, LATE, NOT_NEEDED],
    "what an inspector is answered": list(ANSWERS),
}


def test_a_word_stands_in_one_list_and_for_one_state():
    where: dict[str, list[str]] = {}
    for about, words in LISTS.items():
        for word in words:
            where.setdefault(word.casefold(), []).append(about)
    assert {word: places for word, places in where.items() if len(places) > 1} == {}
    assert len(where) > 20


def test_no_word_is_a_code():
    """Nothing that only this program knows: no single letters, no signs, nothing in pieces."""
    for words in LISTS.values():
        for word in words:
            assert len(word) > 1 and not any(sign in word for sign in "_-:/"), word
            assert first_upper(word).isprintable() and not word.isupper(), word
    assert State.OK.words == "in order", "as people say it"
