"""The words that people read of a state: each has one meaning, in whichever list it stands."""

from __future__ import annotations

from audit.binder.written_on_paper import first_upper
from audit.judge.answers.asked import ANSWERS
from audit.judge.judgement import Severity, State, Word
from audit.judge.response.said import DONE, LATE, NOT_NEEDED, OPEN
from audit.judge.words import WORDS

# Each list as the judgement has it.
LISTS = [
    [word.value for word in Word],
    [state.words for state in State],
    [severity.value for severity in Severity],
    [DONE, OPEN, LATE, NOT_NEEDED],
    list(ANSWERS),
]


def test_every_word_of_judgement_stands_in_the_list_and_no_other():
    assert [sorted(words) for words in WORDS.values()] == [sorted(words) for words in LISTS]


def test_a_word_stands_in_one_list_and_for_one_state():
    where: dict[str, list[str]] = {}
    for about, words in WORDS.items():
        for word in words:
            where.setdefault(word.casefold(), []).append(about)
    assert {word: places for word, places in where.items() if len(places) > 1} == {}
    assert len(where) > 20


def test_each_has_a_meaning_of_its_own_in_a_sentence_that_does_not_only_repeat_it():
    meanings = [(word, meaning) for words in WORDS.values() for word, meaning in words.items()]
    assert len({meaning.casefold() for _, meaning in meanings}) == len(meanings)
    for word, meaning in meanings:
        assert meaning.endswith(".") and meaning[:1].isupper() and len(meaning.split()) >= 6, word
        assert not meaning.casefold().startswith(word.casefold()), word


def test_no_word_is_a_code():
    """Nothing that only this program knows: no single letters, no signs, nothing in pieces."""
    for words in WORDS.values():
        for word in words:
            assert len(word) > 1 and not any(sign in word for sign in "_-:/"), word
            assert first_upper(word).isprintable() and not word.isupper(), word
    assert State.OK.words == "in order", "as people say it"
