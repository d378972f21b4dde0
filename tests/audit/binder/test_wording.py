"""The sentences that the forms say too stand in the method of a binder, whole."""

from __future__ import annotations

from audit.binder import method
from records import wording
from records.forms import help

WHOLE = " ".join(text for _, text in method._FIGURES)
SENTENCES = {name: text for name, text in vars(wording).items() if type(text) is str and name.isupper()}
# The first holds two of them, the second is an answer, the third the beginning of a paper's name.
del SENTENCES["KNOWN_GAP"], SENTENCES["NOT_ON_THIS_UNIT"], SENTENCES["FROM_TABLE"]


def test_the_method_holds_each_of_them():
    missing = [name for name, text in SENTENCES.items() if text not in WHOLE]
    assert missing == []
    assert wording.KNOWN_GAP == f"{wording.GAP_IS_MISSING} {wording.GAP_EXCUSES_NOTHING}"


def test_most_of_them_stand_beside_a_field():
    beside = " ".join(text for told in [*help._OF_FORM.values(), help._OF_FIELD] for text in told.values())
    used = [name for name, text in SENTENCES.items() if text in beside]
    assert len(used) >= 8, used
