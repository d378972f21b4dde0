"""Which column holds what: proposed, shown on the first rows, chosen, and kept for the next table with such heads."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from audit.issue.jobs import tables, workers
from audit.models import BroughtTable
from records.brought import cells
from records.brought.kinds import KINDS, READING, SAME_LOT, KindOfRows, RowColumn
from records.brought.mapping import (
    Mapping,
    body,
    cell_of,
    left_out,
    missing,
    propose,
    unclear,
    units_of,
    with_what_it_shows,
)
from records.brought.rows import RowReader
from records.files import paper_check
from records.files.table_file import TableSheet, letter
from records.forms import EntryContext
from records.views.base import at_clinic

PREVIEW = 5
FAULTS_SHOWN = 6
MOST_NAMES = 30
LONGEST_PAPER_TEXT = 160


@dataclass(frozen=True, slots=True)
class ColumnChoice:
    """One line of the page: a field of the record, and which column or what text fills it."""

    column: RowColumn
    chosen: int | None
    fixed: str
    unit: str
    units: tuple[str, ...]
    words: list[tuple[str, str, str]]  # name of the input, the word, the code chosen for it


@at_clinic("log")
@require_http_methods(["GET", "HEAD", "POST"])
def table_columns(request, ground, ref):
    """The lines of the mapping with a preview. “Look through the rows” goes on once nothing is left to be chosen."""
    table = get_object_or_404(BroughtTable, clinic=ground.clinic, ref=ref)
    if table.state in (BroughtTable.State.DONE, BroughtTable.State.RUNNING, BroughtTable.State.WAITING):
        return redirect("table-in", slug=ground.clinic.slug, ref=ref)
    sheets = tables.sheets_of(table)
    mapping, problems = Mapping.from_json(table.mapping), []
    if request.method == "POST":
        mapping = _sent(request.POST, table, sheets, mapping)
        problems = _source(request, table)
        sheet = _sheet(sheets, mapping)
        table.mapping, table.account = mapping.to_json(), request.user
        table.aside, table.confirmed, table.state = {}, [], BroughtTable.State.MAPPING
        problems += [] if "again" in request.POST else [*missing(mapping), *unclear(mapping, sheet)]
        table.rows = len(sheet.rows)
        table.save()
        if not problems and "again" not in request.POST:
            tables.want(table, "judge")
            workers.call_for_table(table)
            return redirect("table-in", slug=ground.clinic.slug, ref=ref)
    sheet = _sheet(sheets, mapping)
    context = _shown(ground, table, sheets, sheet, mapping) | {"problems": problems}
    return render(request, "audit/brought/columns.html", context, status=422 if problems else 200)


def _sheet(sheets: list[TableSheet], mapping: Mapping) -> TableSheet:
    return next((sheet for sheet in sheets if sheet.name == mapping.sheet), sheets[0])


def _sent(data, table: BroughtTable, sheets: list[TableSheet], before: Mapping) -> Mapping:
    """The mapping as it was sent. Another sheet begins with its own proposal."""
    kind = KINDS[table.kind]
    name = data.get("sheet", before.sheet)
    if name != before.sheet and any(sheet.name == name for sheet in sheets):
        return propose(kind, next(sheet for sheet in sheets if sheet.name == name))
    columns = {n: int(at) for n in kind.columns if (at := data.get(f"column:{n}", "")).isdecimal() and len(at) < 3}
    fixed = {n: text for n in kind.columns if (text := data.get(f"fixed:{n}", "").strip()[:200])}
    order, decimal = data.get("order", ""), data.get("decimal", "")
    mapping = replace(
        before,
        columns=columns,
        fixed={n: text for n, text in fixed.items() if n not in columns},
        order=order if order in cells.ORDERS else "",
        decimal=decimal if decimal in cells.DECIMALS else before.decimal,
        units={n: u for n, c in kind.columns.items() if (u := data.get(f"unit:{n}", "")) in units_of(c)},
        words=_words_sent(data, kind, before),
        names=_names_sent(data, before),
    )
    shown = with_what_it_shows(mapping, _sheet(sheets, mapping))
    # Whoever chose none of the two orders is asked: what the clinic writes is proposed once, not insisted on.
    order = mapping.order or (shown.order if "order" not in data else "")
    units = {n: u for n, u in shown.units.items() if n in columns} | mapping.units
    return replace(shown, order=order, decimal=mapping.decimal, units=units)


def _words_sent(data, kind: KindOfRows, before: Mapping) -> dict[str, dict[str, str]]:
    found = {name: dict(words) for name, words in before.words.items()}
    for name, words in found.items():
        codes = dict(kind.columns[name].choices) if name in kind.columns else {}
        for n, word in enumerate(words):
            if (sent := data.get(f"word:{name}:{n}")) is not None:
                words[word] = sent if sent in codes else ""
    return found


def _names_sent(data, before: Mapping) -> dict[str, dict[str, str]]:
    """Which unit or box a text means: `name:unit:0` beside `said:unit:0`."""
    found = {what: dict(before.names.get(what, {})) for what in ("unit", "lot")}
    for what, names in found.items():
        for n in range(MOST_NAMES):
            said, ref = data.get(f"said:{what}:{n}", ""), data.get(f"name:{what}:{n}", "")
            if said and ref:
                names[said] = ref
            elif said:
                names.pop(said, None)
    return found


def _source(request, table: BroughtTable) -> list[str]:
    """Who wrote the table, where the paper lies, and the picture of the page; what is wrong with them."""
    who, paper = request.POST.get("who", "").strip()[:200], request.POST.get("paper", "").strip()
    table.source = table.source | {"who": who, "paper": paper[:LONGEST_PAPER_TEXT]}
    problems = []
    if not who and "again" not in request.POST:
        problems.append(
            "Who wrote these rows? Enter the full name, or “not known”: it stands where a row names nobody."
        )
    if len(paper) > LONGEST_PAPER_TEXT:
        problems.append(f"Where the paper lies: at most {LONGEST_PAPER_TEXT} characters. Shorten it.")
    if picture := request.FILES.get("picture"):
        if picture.size > paper_check.LIMIT_BYTES:
            problems.append(f"The picture is larger than {paper_check.LIMIT_MIB} MiB. Take it smaller.")
        else:
            table.picture = picture.read()
            table.source["picture"] = picture.name[-100:]
    return problems


# ------------------------------------------------------------------------------------------------ shown


def _shown(
    ground: EntryContext, table: BroughtTable, sheets: list[TableSheet], sheet: TableSheet, mapping: Mapping
) -> dict:
    kind = mapping.table
    width = max(len(row) for _, row in sheet.rows)
    return {
        "clinic": ground.clinic,
        "table": table,
        "kind": kind,
        "sheets": sheets,
        "sheet": sheet,
        "mapping": mapping,
        "options": [(n, _option(mapping, n)) for n in range(width)],
        "lines": [_line(mapping, column) for column in kind.columns.values()],
        "orders": cells.ORDERS,
        "needs_order": _has_days(sheet, mapping),
        "names": _unknown(ground, sheet, mapping),
        "same_lot": SAME_LOT,
        "preview": _preview(ground, sheet, mapping, table.source.get("who", "")),
        "longest": LONGEST_PAPER_TEXT,
    }


def _has_days(sheet: TableSheet, mapping: Mapping) -> bool:
    days = [n for name, n in mapping.columns.items() if mapping.table.columns[name].kind == "day"]
    return cells.order_in(cell_of(row, n) for _, row in body(sheet, mapping) for n in days)[1]


def _option(mapping: Mapping, n: int) -> str:
    head = mapping.heads[n] if n < len(mapping.heads) else ""
    return f"{letter(n)}: {head}" if head else letter(n)


def _line(mapping: Mapping, column: RowColumn) -> ColumnChoice:
    words = mapping.words.get(column.name, {}) if column.name in mapping.columns else {}
    return ColumnChoice(
        column,
        mapping.columns.get(column.name),
        mapping.fixed.get(column.name, ""),
        mapping.units.get(column.name, column.base),
        units_of(column),
        [(f"word:{column.name}:{n}", word, code) for n, (word, code) in enumerate(words.items())],
    )


def _unknown(ground: EntryContext, sheet: TableSheet, mapping: Mapping) -> list[tuple[str, list, list]]:
    """Of units and of boxes: (what, texts that are not known here with what was chosen, what may be chosen)."""
    found, reader = [], RowReader(ground, mapping)
    kind = mapping.table
    for what in ("unit", "lot"):
        of = [n for n, c in kind.columns.items() if c.kind == what]
        boxes = ground.indicator_lots(kind.lots) if what == "lot" and kind.lots else []
        rows = ground.units() if what == "unit" else boxes
        texts: dict[str, None] = {}
        for _, row in body(sheet, mapping):
            for name in of if not left_out(mapping, row) else ():
                text = cell_of(row, mapping.columns.get(name))[1]
                if text and len(text) <= 60 and len(texts) < MOST_NAMES and not reader.knows(what, text):
                    texts.setdefault(text)
        chosen = mapping.names.get(what, {})
        texts |= dict.fromkeys(text for text in chosen if text not in texts)
        if texts:
            found.append((what, [(text, chosen.get(text, "")) for text in texts][:MOST_NAMES], rows))
    return found


def _preview(ground: EntryContext, sheet: TableSheet, mapping: Mapping, who: str) -> dict:
    """The first rows as they are understood: heads, each row with its number, and the first faults."""
    reader = RowReader(ground, mapping, who)
    rows = []
    for told in reader.rows(body(sheet, mapping)):
        rows.append(told)
        if len(rows) == PREVIEW:
            break
    chosen = [name for name in mapping.table.columns if name in mapping.columns]
    names = [name for name in chosen if any(_said(told, name) for told in rows)]
    refs = {
        str(row.ref): str(getattr(row, "label", None) or row.lot)
        for row in (*ground.units(), *_boxes(ground, mapping))
    }
    return {
        "heads": [mapping.table.columns[name].label for name in names],
        "rows": [(told.number, [refs.get(said := _said(told, name), said) for name in names]) for told in rows],
        "faults": [fault for told in rows for fault in told.faults][:FAULTS_SHOWN],
        "left_out": reader.left_out,
    }


def _boxes(ground: EntryContext, mapping: Mapping) -> list:
    return ground.indicator_lots(mapping.table.lots) if mapping.table.lots else []


def _said(told, name: str) -> str:
    data = told.reading if name.startswith(READING) else told.data
    return data.get(name.removeprefix(READING), "")
