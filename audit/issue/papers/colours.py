"""Gradients, tilings and named inks, which an archive file may hold (ISO 19005-3, 6.2.4.4 and 6.2.4.5).

The checker that judges pages does not look into them and says so. What they rest on is laid before it in a plain
form: the colours as colours that are chosen, the drawing of a tile as a form.
"""

from __future__ import annotations

from hashlib import sha256

_UNCHECKED = frozenset({"pikepdf:shading", "pikepdf:pattern", "pikepdf:colour-space"})
_UNCHECKED_RESOURCES = frozenset({"shadings are not supported", "patterns are not supported"})
_DEVICE = ("/DeviceGray", "/DeviceRGB", "/DeviceCMYK")
_DEEPEST = 8
_MOST_TOLD = 4000  # values in the definition of one ink
_SHOWN = "-shown-"
_SPECIAL = ("/All", "/None")  # ISO 32000-1, 8.6.6.4: not the name of an ink
INKS = "it mixes its colours from several named inks"
EVERY_INK = "it is drawn in every ink of a press at once"
DEEP = "its colours and patterns are nested too deep"


class UnfitColours(Exception):
    """Why the colours of a page cannot be placed as filed."""


def is_laid_before(finding) -> bool:
    """Whether it only says that a gradient, a tiling or a named ink was not looked into."""
    if finding.kind != "unsupported":
        return False
    return finding.rule in _UNCHECKED or (
        finding.rule == "pikepdf:schema-Resources" and finding.message in _UNCHECKED_RESOURCES
    )


class Rests:
    """What the unchecked colours and patterns of a form rest on: colour spaces, states of drawing, tiles."""

    def __init__(self) -> None:
        self.spaces: list = []
        self.states: list = []
        self.tiles: list = []
        self._seen: set = set()

    def of(self, resources, depth: int = 0) -> Rests:
        """Go through resources and those inside of them. Raises UnfitColours for what is never placed."""
        if depth > _DEEPEST:
            raise UnfitColours(DEEP)
        if resources is None:
            return self
        for space in resources.get("/ColorSpace", {}).values():
            self._space(space, depth)
        for shading in resources.get("/Shading", {}).values():
            self._space(shading["/ColorSpace"], depth)
        for pattern in resources.get("/Pattern", {}).values():
            self._pattern(pattern, depth)
        for each in resources.get("/XObject", {}).values():
            self._drawn(each, depth)
        return self

    def _first(self, each) -> bool:
        """Whether it is met for the first time; a loop ends here."""
        if not each.is_indirect:
            return True
        known = each.objgen in self._seen
        self._seen.add(each.objgen)
        return not known

    def _drawn(self, each, depth: int) -> None:
        if not self._first(each):
            return
        if each.get("/Subtype") == "/Image":
            if "/ColorSpace" in each:
                self._space(each["/ColorSpace"], depth)
        elif "/Resources" in each:
            self.of(each["/Resources"], depth + 1)

    def _pattern(self, pattern, depth: int) -> None:
        if not self._first(pattern):
            return
        if int(pattern["/PatternType"]) == 2:
            self._space(pattern["/Shading"]["/ColorSpace"], depth)
            self.states += [pattern["/ExtGState"]] if "/ExtGState" in pattern else []
            return
        self.tiles.append(pattern)
        self.of(pattern.get("/Resources"), depth + 1)

    def _space(self, space, depth: int) -> None:
        """The colours that a space is made of, down to those that the checker knows."""
        import pikepdf

        if depth > _DEEPEST:
            raise UnfitColours(DEEP)
        if not isinstance(space, pikepdf.Array):
            if str(space) in _DEVICE:
                self.spaces.append(space)
            return
        family = str(space[0])
        if family == "/DeviceN":
            raise UnfitColours(INKS)
        if family == "/Separation":
            if str(space[1]) in _SPECIAL:
                raise UnfitColours(EVERY_INK)
            self._space(space[2], depth + 1)
        elif family == "/Indexed":
            self._space(space[1], depth + 1)
        elif family == "/Pattern":
            if len(space) > 1:
                self._space(space[1], depth + 1)
        else:
            self.spaces.append(space)


def named_apart(resources) -> None:
    """Each ink gets a name that says how it is shown, for in one file two of a name must be shown alike (6.2.4.4).

    Papers of different origin stand in one binder. No press prints it, so the look stays. Raises UnfitColours.
    """
    seen: set = set()
    waiting = [resources]
    while waiting:
        inside = waiting.pop()
        if inside is None:
            continue
        for space in _spaces(inside):
            _name_apart(space)
        for kind in ("/Pattern", "/XObject"):
            for each in inside.get(kind, {}).values():
                if "/Resources" in each and each.objgen not in seen:
                    seen.add(each.objgen)
                    waiting.append(each["/Resources"])


def _spaces(resources):
    yield from resources.get("/ColorSpace", {}).values()
    shadings = [*resources.get("/Shading", {}).values()]
    shadings += [each["/Shading"] for each in resources.get("/Pattern", {}).values() if "/Shading" in each]
    yield from (each["/ColorSpace"] for each in shadings)
    yield from (each["/ColorSpace"] for each in resources.get("/XObject", {}).values() if "/ColorSpace" in each)


def _name_apart(space, depth: int = 0) -> None:
    import pikepdf

    if not isinstance(space, pikepdf.Array) or depth > _DEEPEST:
        return
    if str(space[0]) == "/Separation" and _SHOWN not in str(space[1]) and str(space[1]) not in _SPECIAL:
        shown = sha256(b"".join((_told(space[2]), _told(space[3])))).hexdigest()[:16]
        space[1] = pikepdf.Name(f"{space[1]}{_SHOWN}{shown}")
    elif str(space[0]) in ("/Indexed", "/Pattern") and len(space) > 1:
        _name_apart(space[1], depth + 1)


def _told(whole) -> bytes:
    """What a value holds, whatever its number in the file. Raises UnfitColours when that is very much."""
    import pikepdf

    parts: list[bytes] = []
    waiting: list = [whole]
    while waiting:
        each = waiting.pop()
        if len(parts) > _MOST_TOLD:
            raise UnfitColours(DEEP)
        if isinstance(each, bytes):
            parts.append(each)
        elif isinstance(each, pikepdf.Array):
            waiting += [b"]", *reversed([*each]), b"["]
        elif isinstance(each, pikepdf.Dictionary | pikepdf.Stream):
            waiting.append(each.read_raw_bytes() if isinstance(each, pikepdf.Stream) else b">>")
            for key in sorted(each.keys(), reverse=True):
                waiting += [each[key], key.encode()] if key != "/Length" else []
        else:
            parts.append(each.unparse() if isinstance(each, pikepdf.Object) else repr(each).encode())
    return b" ".join(parts)


def laid_before(trial, page, rests: Rests) -> None:
    """Let a page of the trial choose each colour and state and draw each tile, so that the checker judges them.

    `rests` is of forms of the same file.
    """
    import pikepdf

    content = []
    page.Resources.ColorSpace, page.Resources.ExtGState = pikepdf.Dictionary(), pikepdf.Dictionary()
    for n, space in enumerate(rests.spaces):
        if isinstance(space, pikepdf.Name):
            content.append(f"q {space} cs Q")
            continue
        page.Resources.ColorSpace[f"/Rest{n}"] = space
        content.append(f"q /Rest{n} cs Q")
    for n, state in enumerate(rests.states):
        page.Resources.ExtGState[f"/State{n}"] = state
        content.append(f"q /State{n} gs Q")
    for n, tile in enumerate(rests.tiles):
        form = pikepdf.Stream(trial, tile.read_bytes())
        form.Type, form.Subtype, form.BBox = pikepdf.Name.XObject, pikepdf.Name.Form, tile["/BBox"]
        form.Resources = tile.get("/Resources", pikepdf.Dictionary())
        page.Resources.XObject[f"/Tile{n}"] = trial.make_indirect(form)
        content.append(f"q /Tile{n} Do Q")
    if content:
        page.contents_add("\n".join(content).encode(), prepend=False)
