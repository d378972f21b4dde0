"""The questions as data: sources, functions, and errors that name file, key, fault and way out."""

from __future__ import annotations

import pytest

from audit.judge.answers import questions
from audit.judge.answers.asked import GENERAL
from audit.judge.answers.load import FILE, OWNERS
from audit.judge.answers.registry import OF_PLACE, OF_UNIT
from audit.regimes import all_regimes, regime_ids
from audit.regimes.model import GRADES, RegimeError
from records.models import Credential
from records.models.documents import DOCUMENT_KINDS

GOOD = """
[[question]]
id = "one"
question = "Is it so?"
per = "unit"
answers = "last_test"
regimes = ["base"]
owner = "clinic"
gap = "a result; the clinic can supply it"
citation = "an invented rule"
checked_on = 2026-11-25
grade = "quoted"
"""


@pytest.mark.parametrize("one", questions(), ids=lambda q: q.id)
def test_a_question_is_complete(one):
    assert one.question.endswith("?")
    assert one.answers in (OF_UNIT if one.per == "unit" else OF_PLACE)
    assert (
        one.source.citation and one.source.checked_on in ("2026-11-25", "2026-11-28") and one.source.grade in GRADES
    )
    assert one.owner in OWNERS and one.gap
    assert set(one.regimes) <= set(regime_ids())
    assert bool(one.regimes) != bool(one.place)


def test_ids_are_unique_and_every_function_is_asked():
    ids = [q.id for q in questions()]
    assert len(ids) == len(set(ids)) >= 57
    assert {q.answers for q in questions()} == set(OF_UNIT) | set(OF_PLACE)


def test_every_set_of_rules_asks_something_of_its_own():
    asked = {id for q in questions() for id in q.regimes}
    adopting = {id for id, one in all_regimes().items() if one.inherits not in ("", "base")}
    assert set(regime_ids()) - asked <= adopting  # what adopts another text whole asks what that text asks


def test_no_question_is_written_twice():
    texts = [(q.question, q.regimes, q.place) for q in questions()]
    assert len(texts) == len(set(texts))


def read(tmp_path, text: str):
    path = tmp_path / "questions.toml"
    path.write_text(text, encoding="utf-8")
    return questions(path)


def test_a_good_file_is_read(tmp_path):
    (one,) = read(tmp_path, GOOD)
    assert (one.id, one.per, one.regimes, one.months) == ("one", "unit", ("base",), 0)
    assert FILE.name == "questions.toml"


@pytest.mark.parametrize(
    ("old", "new", "key", "what"),
    [
        ('id = "one"', "", "question[0].id", "is missing"),
        ('question = "Is it so?"', 'question = ""', "question[0].question", "is empty"),
        ('per = "unit"', 'per = "room"', "question[0].per", "is 'room'"),
        ('"last_test"', '"on_file"', "question[0].answers", "is 'on_file'"),
        ('["base"]', '["nowhere"]', "question[0].regimes", "names 'nowhere'"),
        ('regimes = ["base"]', "", "question[0].place", "both missing"),
        ('regimes = ["base"]', 'regimes = ["base"]\nplace = "Anywhere"', "question[0].place", "beside rules"),
        ('owner = "clinic"', 'owner = "nobody"', "question[0].owner", "is 'nobody'"),
        ('citation = "an invented rule"', "", "question[0].citation", "is missing"),
        ('grade = "quoted"', 'grade = "sure"', "question[0].grade", "is 'sure'"),
        ('grade = "quoted"', 'grade = "quoted"\ncolour = "red"', "question[0].colour", "not a key known"),
        ('owner = "clinic"', 'owner = "clinic"\nwords = ["Recall"]', "question[0].words", "Recall"),
        (
            'per = "unit"\nanswers = "last_test"',
            'per = "place"\nanswers = "on_file"\nkinds = ["contract"]\nwords = ["service"]',
            "question[0].words",
            "narrows contract by words",
        ),
        ('owner = "clinic"', 'owner = "clinic"\nprogrammes = ["zoo"]', "question[0].programmes", "names 'zoo'"),
        ('owner = "clinic"', 'owner = "clinic"\nmonths = -1', "question[0].months", "is -1"),
        (
            'owner = "clinic"',
            'owner = "clinic"\nkinds = ["other"]',
            "question[0].kinds",
            "is ['other'] for 'last_test'",
        ),
        ('per = "unit"\nanswers = "last_test"', 'per = "place"\nanswers = "on_file"', "question[0].kinds", "is []"),
    ],
)
def test_a_bad_file_is_refused_with_its_key_and_the_way_out(tmp_path, old, new, key, what):
    with pytest.raises(RegimeError) as error:
        read(tmp_path, GOOD.replace(old, new))
    assert (error.value.file, error.value.key) == ("questions.toml", key)
    assert what in error.value.what and error.value.way_out


def test_every_kind_of_paper_that_is_asked_can_be_chosen():
    """A question whose kind nobody can choose could never be answered but by an imported file."""
    papers = {kind for kind, _ in DOCUMENT_KINDS}
    credentials = {kind for kind, _ in Credential._meta.get_field("kind").choices}
    asked = {kind for each in questions() for kind in each.kinds}
    asked |= {each.about for each in questions() if each.answers == "paper_of_unit"}
    assert len(asked) > 8 and asked <= papers | credentials
    assert not [e.id for e in questions() if e.words and set(e.kinds) - GENERAL]


def test_two_questions_of_one_id_are_refused(tmp_path):
    with pytest.raises(RegimeError, match=r"question\[1\]\.id: is 'one', as is question\[0\]"):
        read(tmp_path, GOOD + GOOD)


def test_what_is_not_toml_is_refused(tmp_path):
    with pytest.raises(RegimeError, match=r"questions\.toml: \(whole file\): is not TOML"):
        read(tmp_path, "[[question")
