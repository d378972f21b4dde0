"""Facts of a clinic as bytes, and back, without loss: the form in which they are kept as a cache.

The open format of `audit.exchange.codec` is for people and other programs: every value is checked there as what a
stranger sent, which takes longer than asking the database. Here nobody but this program writes, and
`audit.gather.kept_facts` keeps the bytes beside a digest of the code. Bytes that are not those that were written
raise Damaged; they never give other facts silently, as their digest is compared before anything is read.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator

import msgspec

from audit.facts import ClinicFacts, Ordered
from audit.facts.walk import holding

FORM = "facts-2"
# Above it the packing takes longer than it saves: measured on the demo's largest clinic.
LEVEL = 1
# Text, not a binary form: a moment keeps its offset from UTC there, and a number its zeros.
_WRITER = msgspec.json.Encoder()
_READER = msgspec.json.Decoder(tuple[tuple[int, ...], ClinicFacts])


class Damaged(ValueError):
    """What was kept is not what was written."""


def written(facts: ClinicFacts) -> str:
    """The facts as text: the same only for the same facts in the same order, number for number as written."""
    return _text(facts).decode()


def packed(facts: ClinicFacts) -> bytes:
    """The facts as bytes, for `unpacked`."""
    body = zlib.compress(_text(facts), LEVEL)
    return f"{FORM} {_digest(body)}\n".encode() + body


def unpacked(kept: bytes) -> ClinicFacts:
    """The facts out of what `packed` made. Raises Damaged."""
    head, _, body = bytes(kept).partition(b"\n")
    form, _, digest = head.partition(b" ")
    if form != FORM.encode():
        raise Damaged(f"the form is {form[:20]!r}, not {FORM!r}")
    if digest != _digest(body).encode():
        raise Damaged("its digest is another one")
    try:
        unsorted, facts = _READER.decode(zlib.decompress(body))
    except (zlib.error, msgspec.MsgspecError) as fault:
        raise Damaged(f"it cannot be read: {fault}") from fault
    _sort_again(facts, frozenset(unsorted))
    return facts


def _text(facts: ClinicFacts) -> bytes:
    unsorted = [n for n, (fact, name) in enumerate(_series(facts)) if type(getattr(fact, name)) is not Ordered]
    return _WRITER.encode((unsorted, facts))


def _digest(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()


def _series(fact) -> Iterator[tuple[object, str]]:
    """Every place in a tree of facts where several stand, as the fact and its field, in the order of the fields."""
    for name in holding(type(fact)):
        inner = getattr(fact, name)
        if not isinstance(inner, tuple):
            yield from _series(inner)
            continue
        yield fact, name
        if inner and holding(type(inner[0])):
            for each in inner:
                yield from _series(each)


def _sort_again(facts: ClinicFacts, unsorted: frozenset[int]) -> None:
    """Say of what was in order that it is, so that it is not sorted again. These facts are nobody else's yet."""
    for n, (fact, name) in enumerate(_series(facts)):
        if n not in unsorted:
            object.__setattr__(fact, name, Ordered(getattr(fact, name)))
