"""Defects by name, each put into a good file alone, with the checks that have to notice it and no others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO

import pikepdf
from pikepdf import Pdf


@dataclass(frozen=True, slots=True)
class Defect:
    """`put` may give how the file is to be saved; `noticed` are the names of all the checks that complain."""

    name: str
    put: Callable[[Pdf], dict | None]
    noticed: frozenset[str]


DEFECTS: dict[str, Defect] = {}


def defect(*noticed: str):
    def register(put: Callable[[Pdf], dict | None]):
        DEFECTS[put.__name__] = Defect(put.__name__, put, frozenset(noticed))
        return put

    return register


def spoilt(good: bytes, name: str) -> bytes:
    """The file with the defect of that name."""
    out = BytesIO()
    with pikepdf.open(BytesIO(good)) as pdf:
        save = DEFECTS[name].put(pdf) or {}
        pdf.save(out, min_version="1.7", object_stream_mode=pikepdf.ObjectStreamMode.generate, **save)
    return out.getvalue()
