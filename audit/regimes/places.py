"""Of which place the text is that a citation names, so that a binder can give the place's own texts first.

A citation names one text or several, parted by "; ". A piece that names none goes on with the one before it
("...; narrative pp. 24-25"). What belongs to no place (common practice, a European or international standard) is of
nowhere. Which text is whose is public knowledge of the trade, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

# The words by which a text is known, the narrower place before the wider one: the first that is found holds.
MARKS = (
    ("Tazewell", "Illinois"), ("Madison County", "Illinois"),
    ("San Benito", "San Benito County"),
    ("Toronto", "Toronto"),
    ("Ontario", "Ontario"), ("O. Reg.", "Ontario"), ("RCDSO", "Ontario"), ("PIDAC", "Ontario"), ("Brant", "Ontario"),
    ("California", "California"), ("16 CCR", "California"), ("22 CCR", "California"), ("San Joaquin", "California"),
    ("410 IAC", "Indiana"), ("ARM 37", "Montana"), ("Florida", "Florida"), ("N.J.A.C.", "New Jersey"),
    ("OAC 4715", "Ohio"), ("Ohio Administrative Code", "Ohio"), ("OAR 818", "Oregon"), ("Louisiana", "Louisiana"),
    ("Massachusetts", "Massachusetts"), ("234 CMR", "Massachusetts"), ("Minn", "Minnesota"), ("Texas", "Texas"),
    ("Colorado", "Colorado"), ("25 DCMR", "District of Columbia"), ("OAC 4731", "Ohio"), ("(Ohio)", "Ohio"),
    ("(Oregon)", "Oregon"), ("Ga. R.", "Georgia"), ("S.C. Reg.", "South Carolina"), ("270-X", "Alabama"),
    ("30 Miss.", "Mississippi"), ("NCAC", "North Carolina"), ("WAC 246", "Washington"), ("Tenn.", "Tennessee"),
    ("COMAR", "Maryland"), ("481 IAC", "Iowa"), ("K.A.R.", "Kansas"), ("(New Hampshire)", "New Hampshire"),
    ("ARSD", "South Dakota"), ("(Maine)", "Maine"), ("SPS 221", "Wisconsin"),
    ("Alberta", "Alberta"), ("British Columbia", "British Columbia"), ("Saskatchewan", "Saskatchewan"),
    ("Canadian Dental Association", "Canada"),
    ("WHTM", "Wales"),
    ("SHTM", "Scotland"), ("Scottish", "Scotland"), ("SDCEP", "Scotland"),
    ("HTM 01-05", "England"), ("Care Quality Commission", "England"),
    ("Department of Health and Infection Prevention Society", "England"),
    ("PSSR", "Great Britain"), ("MHRA", "Great Britain"), ("British Dental Association", "Great Britain"),
    ("Ireland", "Ireland"), ("S.I. 445", "Ireland"),
    ("RACGP", "Australia"), ("Anvisa", "Brazil"), ("(Denmark)", "Denmark"), ("KRINKO", "Germany"),
    ("MPBetreibV", "Germany"), ("French", "France"), ("(Poland)", "Poland"),
    ("Jönköping", "Region Jönköping"), ("(Japan)", "Japan"),
    ("CDC", "United States"), ("MMWR", "United States"), ("CFR", "United States"), ("ST79", "United States"),
    ("NEHA", "United States"), ("CMS", "United States"), ("Joint Commission", "United States"),
    ("Accreditation Association for Ambulatory Health Care", "United States"),
)  # fmt: skip
_NOWHERE = ("common practice", "elsewhere", "rules followed", "EN 13060", "EN 285")
_WITHIN = {"England": "Great Britain", "Scotland": "Great Britain", "Wales": "Great Britain"}
_PARTED = "; "


@dataclass(frozen=True, slots=True)
class CitedText:
    """One text of a citation; `place` is "" where it is of nowhere."""

    text: str
    place: str


def home(place: str) -> tuple[str, ...]:
    """The places whose texts are a place's own, the narrowest first: Toronto, Ontario, Canada."""
    names = tuple(name.strip() for name in place.split(","))
    return (*names, *(_WITHIN[name] for name in names if name in _WITHIN))


def texts_of(citation: str) -> tuple[CitedText, ...]:
    """The texts that a citation names, in its order."""
    found: list[CitedText] = []
    for piece in citation.split(_PARTED):
        place = _place_of(piece)
        if place is None and found:
            before = found.pop()
            found.append(CitedText(f"{before.text}{_PARTED}{piece}", before.place))
        else:
            found.append(CitedText(piece, place or ""))
    return tuple(found)


@lru_cache(maxsize=4096)
def own_texts(citation: str, places: tuple[str, ...]) -> str:
    """Of the citation what is a place's own or of nowhere, the narrowest place first; "" for none of it."""
    kept = [each for each in texts_of(citation) if each.place in ("", *places)]
    return _PARTED.join(each.text for each in sorted(kept, key=lambda each: nearness(each, places)))


def nearness(text: CitedText, places: tuple[str, ...]) -> int:
    """0 for the narrowest place, then the wider ones, then what is of nowhere, then what is of another place."""
    if text.place in places:
        return places.index(text.place)
    return len(places) + bool(text.place)


def _place_of(piece: str) -> str | None:
    """The place of the text that a piece names, "" for nowhere, None where it names no text."""
    found = next((place for mark, place in MARKS if mark in piece), None)
    return "" if found is None and any(word in piece for word in _NOWHERE) else found
