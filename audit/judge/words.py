"""The words that judgement answers in, each once, with what it means: one list for every page, paper and file.

How far a step, a due item or an answer weighs is said where it is judged; here is only what people read.
"""

from __future__ import annotations

from .answers.asked import IN_PART, NO, NO_RECORD, NOT_ASKED, YES
from .judgement import Severity, State, Word
from .response.said import DONE, LATE, NOT_NEEDED, OPEN

# What a list is about -> word -> what it means.
WORDS: dict[str, dict[str, str]] = {
    "May it be used": {
        Word.IN_SERVICE.value: "It may be used: nothing on record speaks against it.",
        Word.OVERDUE.value: "It may be used; something that the rules or its plan ask is past its last day.",
        Word.LIMITED.value: "It may be used only within the limit, or up to the day, that the reason states.",
        Word.WAITING.value: "It may not be used until a test, a signature or a release that is named has come.",
        Word.OUT.value: "It may not be used: something failed, is unsafe, or somebody took it out.",
        Word.NOT_IN_USE.value: "It is stored, lent or retired: nothing is due, and tests come first when it returns.",
    },
    "How a day stands to a due item": {
        State.NOT_APPLICABLE.words: "The rules do not ask it of this unit.",
        State.OK.words: "It was done, and its next day is not near.",
        State.DUE_SOON.words: "Its day is near: it can be planned.",
        State.DUE.words: "It can be done now and is still in time.",
        State.IN_GRACE.words: "Its day is over; its own days of grace are not.",
        State.OVERDUE.words: "Its last day is over, and it is not on record.",
        State.NO_EVIDENCE.words: "Nothing on record says that it was ever done.",
    },
    "How much an open item weighs": {
        Severity.FORBIDS.value: "As long as it is open the unit may not be used.",
        Severity.PUT_RIGHT.value: "Somebody has to do something about it; alone it forbids nothing.",
        Severity.NOTE.value: "It is to be known, and nothing is to be done.",
    },
    "How a step after a failure stands": {
        DONE: "It is on record that it was done.",
        OPEN: "It is still to be done, and its last day, where it has one, is not over.",
        LATE: "Its last day is over, whether it was done since or not.",
        NOT_NEEDED: "The way that this failure took does not ask it.",
    },
    "What an inspector is answered": {
        YES: "Everything that the question asks is on record.",
        NO: "What is on record says that it was not so.",
        IN_PART: "Some of it is on record, and what is missing is named.",
        NO_RECORD: "Nothing on record says so; that it was not done is not said either.",
        NOT_ASKED: "The rules of this place do not ask it.",
    },
}
