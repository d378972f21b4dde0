"""What must be replaced while its part is not at hand: out of service, but for a use that somebody allowed.

| concluded, since it was found | may be used |
| --- | --- |
| released, pending, not released, or not concluded | no |
| limited, without the limitation or without who accepts it | no |
| limited, with both, its last day not passed | as limited |
| limited, and released by a later visit that fitted nothing | no |
| another fitted by a later visit, tested and released | yes |
"""

from dataclasses import replace

import pytest

from audit.judge.judgement import Severity, Word
from tests.audit.unsafe.table import PERMITS, history, holds
from tests.fact_builders import conclude, job, outcome, part, position, seen, sign

DAY, LATER, AS_OF = "2025-06-23", "2025-06-24", "2025-06-27"
NEVER = (*PERMITS, Word.LIMITED)


def awaited(where="strainer", grade=2, **more):
    finding = seen(DAY, where, grade, "part awaited", **more)
    return {"findings": (replace(finding, part_needed="Strainer insert", part_needed_number="S-7"),)}


def limited(limitation="unwrapped loads only", acceptor="Ana Coordinator", deadline=None):
    return {"conclusion": conclude(DAY, "limited", limitation, acceptor, deadline)}


def told(words, *jobs, word=Word.OUT, **more):
    never = NEVER if word is Word.OUT else ()
    places = (position("strainer"), position("latch"), position("seal"))
    return history(words, as_of=AS_OF, never=never, word=word, positions=places, jobs=jobs, **more)


ACCEPTED_BY_ANOTHER = replace(limited()["conclusion"], accepted_given="told")
LEFT = job(DAY, tests=(), end="not released", signed=False, **awaited())
ROWS = [
    told("a strainer to be replaced, released at once", job(DAY, **awaited()), opens=("part-awaited",),
         says=("must be replaced", "strainer: as seen")),
    told("a strainer to be replaced, pending", job(DAY, conclusion=conclude(DAY, "pending", acceptor="Ana",
         deadline="2025-07-30"), **awaited())),
    told("a strainer to be replaced, not concluded", job(DAY, end="", **awaited())),
    told("a strainer to be replaced, left out of use", LEFT, opens=("part-awaited",)),
    told("limited, nobody says to what", job(DAY, **awaited(), **limited("")), opens=("part-awaited",)),
    told("limited, nobody accepts it", job(DAY, **awaited(), **limited(acceptor=" "))),
    told("limited to what, accepted by whom", job(DAY, **awaited(), **limited()), word=Word.LIMITED,
         opens=("part-awaited",),
         says=("unwrapped loads only", "Strainer insert S-7", "accepted by Ana Coordinator")),
    told("limited, who accepts it only told, and so is the return to use",
         job(DAY, **awaited(), conclusion=ACCEPTED_BY_ANOTHER, signed=False,
             signatures=(sign(DAY), replace(sign(DAY, "returned to use"), given="told"))), opens=("part-awaited",)),
    told("limited, who accepts it told, and the clinic signs that it takes it back",
         job(DAY, **awaited(), conclusion=ACCEPTED_BY_ANOTHER), word=Word.LIMITED),
    told("limited until the day itself", job(DAY, **awaited(), **limited(deadline=AS_OF)), word=Word.LIMITED),
    told("limited until the day before", job(DAY, **awaited(), **limited(deadline="2025-06-26"))),
    told("limited, then released by a visit that fitted nothing", job(DAY, **awaited(), **limited()),
         job(LATER, outcomes=(outcome(LATER, "look", "strainer", "inspect"),))),
    told("limited, a second part of which nobody says anything",
         job(DAY, **limited(), findings=(*awaited()["findings"], *awaited("seal")["findings"])), word=Word.LIMITED),
    told("another part fitted later", LEFT, job(LATER, parts=(part(LATER, "seal"),))),
    told("its task ticked as done later, no part on record", LEFT,
         job(LATER, outcomes=(outcome(LATER, "replace-strainer", "strainer"),))),
    told("cleaned instead, in a later visit", LEFT, job(LATER, findings=(seen(LATER, "strainer", 1, "clean"),))),
    told("none fitted of a kit later", LEFT, job(LATER, parts=(part(LATER, "strainer", quantity=0),))),
    told("fitted later, its tests missing", LEFT, job(LATER, tests=(), parts=(part(LATER, "strainer"),)),
         word=Word.WAITING),
    told("fitted later, tested and released", LEFT, job(LATER, tests=("V1", "V2", "V4"),
         parts=(part(LATER, "strainer", name="strainer"),)), word=Word.IN_SERVICE),
    told("“fitted” in the visit that says it was not at hand", job(DAY, parts=(part(DAY, "strainer"),), **awaited())),
    told("a latch to be replaced, limited and accepted: it keeps people safe",
         job(DAY, **awaited("latch"), **limited()), opens=("safety-finding-open",)),
    told("what nobody knows to be replaced, limited and accepted",
         job(DAY, findings=(replace(awaited()["findings"][0], position="", component="thing"),), **limited())),
    told("a latch fitted later with its tests", job(DAY, tests=(), end="not released", **awaited("latch")),
         job(LATER, tests=("V1", "V4", "V6"), parts=(part(LATER, "latch", name="latch"),)), word=Word.IN_SERVICE),
    told("released, and the clinic signs that it stays out of use",
         job(DAY, outcomes=(outcome(DAY, "look", "strainer", "inspect"),),
             signatures=(sign(DAY), sign(DAY, "left out of use")),
             signed=False), word=Word.WAITING, opens=("return-refused",)),
    told("the same, taken back the day after",
         job(DAY, outcomes=(outcome(DAY, "look", "strainer", "inspect"),), signed=False,
             signatures=(sign(DAY), sign(DAY, "left out of use"), sign(LATER, "returned to use"))),
         word=Word.IN_SERVICE),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_a_part_that_is_awaited(row):
    holds(row)


def test_the_open_item_names_the_part_and_weighs_by_the_use_that_is_allowed():
    held = {
        name: next(f for f in told(name, job(DAY, **awaited(), **more)).values[0].judged().findings
                   if f.rule == "part-awaited")
        for name, more in (("left", {"end": "not released"}), ("limited", limited()))
    }  # fmt: skip
    assert {name: f.severity for name, f in held.items()} == {"left": Severity.FORBIDS, "limited": Severity.PUT_RIGHT}
    assert all("bring Strainer insert S-7" in f.way_out for f in held.values())
    assert "do not use it until then" in held["left"].message
    assert "allowed: unwrapped loads only, accepted by Ana Coordinator" in held["limited"].message
