"""Rules for tables. Sources: ISO 14289-1, 7.5; ISO 32000-1, 14.8.4.3.4 and table 349 (spans and scope)."""

from __future__ import annotations

from tests.audit.binder.standards.opened import Node, Opened

_GROUPS = ("THead", "TBody", "TFoot")


def tables(opened: Opened) -> list[Node]:
    return [node for node in opened.nodes if node.role == "Table"]


def rows(table: Node) -> list[Node]:
    """In order, through heads and bodies."""
    found = []
    for kid in table.nodes:
        found += [row for row in kid.nodes if row.role == "TR"] if kid.role in _GROUPS else []
        if kid.role == "TR":
            found.append(kid)
    return found


def cells(row: Node) -> list[Node]:
    return [kid for kid in row.nodes if kid.role in ("TH", "TD")]


def _span(cell: Node, key: str) -> int:
    return int(cell.attribute("/Table", key) or 1)


def _widths(table: Node) -> tuple[list[int], bool]:
    """How many columns each row fills, and whether two cells lie on one another or hang over the last row."""
    taken: dict[int, set[int]] = {}
    clash = False
    found = rows(table)
    for y, row in enumerate(found):
        x = 0
        for cell in cells(row):
            while x in taken.setdefault(y, set()):
                x += 1
            for down in range(_span(cell, "/RowSpan")):
                fills = set(range(x, x + _span(cell, "/ColSpan")))
                clash |= bool(taken.setdefault(y + down, set()) & fills)
                taken[y + down] |= fills
    return [len(taken.get(y, ())) for y in range(len(found))], clash or max(taken, default=0) >= max(len(found), 1)


def rows_are_even(opened: Opened) -> list[str]:
    """Every row fills as many columns, spans counted."""
    wrong = []
    for table in tables(opened):
        wide, clash = _widths(table)
        if clash or len(set(wide)) != 1:
            wrong.append(f"{table}: its rows fill {sorted(set(wide))} columns" + (", cells collide" if clash else ""))
    return wrong


def heads_have_scope(opened: Opened) -> list[str]:
    """Each head says what it heads, each table has one, and none is blank."""
    wrong = []
    for table in tables(opened):
        heads = [cell for row in rows(table) for cell in cells(row) if cell.role == "TH"]
        if not heads:
            wrong.append(f"{table} has no head")
        for head in heads:
            if str(head.attribute("/Table", "/Scope")) not in ("/Row", "/Column", "/Both"):
                wrong.append(f"{head} {opened.text(head)!r} does not say what it heads")
    return wrong


def head_row(row: Node) -> bool:
    """A row of column heads only."""
    found = cells(row)
    return bool(found) and all(str(cell.attribute("/Table", "/Scope")) == "/Column" for cell in found)


def heads_stand_once(opened: Opened) -> list[str]:
    """Column heads are the first row of their table and not read again on each page."""
    return [
        f"{table} has a row of column heads further down"
        for table in tables(opened)
        if any(head_row(row) for row in rows(table)[1:])
    ]
