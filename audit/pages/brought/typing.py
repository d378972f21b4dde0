"""Rows typed or pasted into a table on the page: checked as they are typed, recorded together as one entry."""

from __future__ import annotations

import uuid
from dataclasses import asdict, dataclass, field

from django.contrib import messages
from django.http import Http404, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from records import log
from records.brought.cells import DAY_FIRST, MONTH_FIRST
from records.brought.kinds import KINDS, READING, SAME_LOT, KindOfRows, RowColumn, code_of
from records.brought.mapping import Mapping, propose
from records.brought.record import ROWS_OF_ENTRY, Judge, RefusedNow, judged, record
from records.brought.rows import RowReader
from records.doors import often
from records.files import paper_check, table_file
from records.forms import CONFIRMED_WORDS, EntryContext
from records.models import Entry
from records.views.base import at_clinic
from records.views.room import room_at
from records.views.unit_said import against_use
from records.writing.preferences import current

from .table import groups_of

BLANK_ROWS = 8
# What most logs have; `?all=1` shows every field of the form.
SHOWN: dict[str, tuple[str, ...]] = {
    "spore-tests": ("unit", "on", "cycle_type", "cycle_number", "lot", "control_lot", READING + "on",
                    READING + "test", READING + "control", "run_by"),
    "loads": ("unit", "on", "at", "cycle_number", "program", "held_pouches", "mechanical", "chemical", "decision",
              "run_by"),
    "air-removal-tests": ("unit", "on", "at", "cycle_number", "result", "lot", "run_by"),
    "leak-tests": ("unit", "on", "at", "rise", "unit_of_measure", "minutes", "run_by"),
    "checks": ("unit", "on", "at", "kind", "result", "value", "unit_of_measure", "signed_by", "note"),
    "chemical-indicators": ("unit", "on", "cycle_number", "type", "result", "where", "lot", "read_by"),
}  # fmt: skip
_ORDER = {"mdy": MONTH_FIRST, "Mdy": MONTH_FIRST, "dmy": DAY_FIRST}


@dataclass
class TypedTable:
    """What was typed: `same` holds in every row that leaves the column blank; `rows` are the cells of each row."""

    kind: KindOfRows
    columns: list[RowColumn]
    same: dict[str, str]
    rows: list[list[str]]
    who: str = ""
    paper: str = ""
    key: str = ""
    confirmed: tuple[str, ...] = ()
    faults: dict[int, list] = field(default_factory=dict)

    def filled(self) -> list[tuple[int, list[tuple[str, str]]]]:
        """The rows in which anything stands, numbered as on the page, with what is the same in all filled in."""
        same = [self.same.get(column.name, "") for column in self.columns]
        return [
            (n, [("", cell or usual) for cell, usual in zip(row, same, strict=True)])
            for n, row in enumerate(self.rows, 1)
            if any(row)
        ]

    def judge(self, ground: EntryContext) -> Judge:
        """By the same forms and writers as a file. Days in numbers are read as this device or clinic writes them."""
        at = {column.name: n for n, column in enumerate(self.columns)}
        usual = Mapping(self.kind.code, columns=at, order=_ORDER.get(current().days, ""))
        fixed = {name: text for name, text in _initial(self.kind).items() if name not in at}
        mapping = Mapping(usual.kind, columns=at, fixed=fixed, order=usual.order)
        return Judge(
            ground, RowReader(ground, mapping, self.who), confirmed=self.confirmed, paper=self.paper,
            against=lambda unit, on: against_use(ground, unit, on),
        )  # fmt: skip


def _initial(kind: KindOfRows) -> dict[str, str]:
    fields = kind.form.base_fields
    return {
        name: str(f.initial) for name, f in fields.items() if name in kind.columns and f.initial not in (None, "")
    }


def _kind_or_404(code: str) -> KindOfRows:
    if code not in KINDS:
        raise Http404("no such kind of rows")
    return KINDS[code]


def _columns(kind: KindOfRows, whole: bool) -> list[RowColumn]:
    return [column for name, column in kind.columns.items() if whole or name in SHOWN[kind.code]]


@often.at_most(120, "tables")
@at_clinic("log")
@require_http_methods(["GET", "HEAD", "POST"])
def type_rows(request, ground, kind):
    """The table; `paste` takes over pasted text, `more` adds blank rows, `record` records all of them or none."""
    kind = _kind_or_404(kind)
    whole = request.GET.get("all") == "1"
    columns = _columns(kind, whole)
    typed = TypedTable(kind, columns, {n: t for n, t in _initial(kind).items() if n in SHOWN[kind.code]}, [])
    typed.key, problems, status = str(uuid.uuid4()), [], 200
    if request.method == "POST":
        typed, problems = _sent(request.POST, kind, columns), []
        if "paste" in request.POST:
            problems = _take_over(typed, request.POST.get("pasted", ""))
        elif "more" not in request.POST:
            entry, problems = _recorded(request, ground, typed)
            if entry is not None:
                messages.success(request, f"Recorded as entry {entry.number}.")
                return redirect("entries", slug=ground.clinic.slug)
        status = 422 if problems or typed.faults else 200
    return render(request, "audit/brought/typing.html", _shown(ground, typed, whole, problems), status=status)


def _sent(data, kind: KindOfRows, columns: list[RowColumn]) -> TypedTable:
    try:
        count = min(max(int(data.get("count", "0")), 0), ROWS_OF_ENTRY)
    except ValueError:
        count = 0
    rows = [[data.get(f"{n}:{c.name}", "").strip()[:500] for c in columns] for n in range(1, count + 1)]
    same = {c.name: data.get(f"same:{c.name}", "").strip()[:200] for c in columns}
    try:
        key = str(uuid.UUID(data.get("request_key", "")))
    except ValueError:
        key = str(uuid.uuid4())
    ticked = tuple(code for code in data.getlist("confirmed") if code in CONFIRMED_WORDS)
    who, paper = data.get("who", "").strip()[:200], data.get("paper", "").strip()[:300]
    return TypedTable(kind, columns, same, rows, who, paper, key, ticked)


def _take_over(typed: TypedTable, pasted: str) -> list[str]:
    """Put pasted text under the rows that are filled: by its heads where it has some, else column by column."""
    try:
        (sheet,) = table_file.read(pasted.encode(), "pasted")
    except table_file.Unreadable as refused:
        return [str(refused)]
    proposed = propose(typed.kind, sheet)
    named = len(proposed.columns) > 1
    at = proposed.columns if named else {c.name: n for n, c in enumerate(typed.columns)}
    rows = [row for row in typed.rows if any(row)]
    for number, cells in sheet.rows:
        if not named or number > proposed.head:
            said = [
                cells[n][1] if (n := at.get(c.name)) is not None and n < len(cells) else "" for c in typed.columns
            ]
            rows.append([text[:500] for text in said])
    if len(rows) > ROWS_OF_ENTRY:
        return [
            f"These are {len(rows)} rows; at most {ROWS_OF_ENTRY} are typed at a time. Bring them in as a file, or a "
            "part of them first."
        ]
    typed.rows = rows
    return []


def _recorded(request, ground: EntryContext, typed: TypedTable) -> tuple[Entry | None, list[str]]:
    """The entry, None with what speaks against it: in the rows (`typed.faults`) or in the whole."""
    rows = typed.filled()
    if not rows:
        return None, ["No row is filled in. Type at least one, or paste rows."]
    verdict = judged(typed.judge(ground), rows)
    for fault in verdict.faults:
        typed.faults.setdefault(fault.row, []).append(fault)
    left = [
        f"Row {row} is left out, {why}: {said}. Delete it, or give it its day." for row, why, said in verdict.left_out
    ]
    if verdict.known and not verdict.right and not verdict.wrong:
        number, why = verdict.known[0]
        left.append(f"Every row is on record already (row {number}: {why}). Nothing was written twice.")
    if verdict.faults or left:
        return None, left
    picture = request.FILES.get("picture")
    if picture is not None and picture.size > paper_check.LIMIT_BYTES:
        return None, [f"The picture is larger than {paper_check.LIMIT_MIB} MiB. Take it smaller."]
    try:
        content = picture.read() if picture else b""
        with room_at("picture", ground, content):
            also = (lambda: _file_picture(ground, typed, content, picture.name)) if content else None
            entries = record(typed.judge(ground), rows, key=uuid.UUID(typed.key), also=also)
    except RefusedNow as changed:
        for fault in changed.faults:
            typed.faults.setdefault(fault.row, []).append(fault)
        return None, []
    except log.SubmissionConflict as conflict:
        return None, [str(conflict)]
    except log.Refused as refused:
        return None, [problem.message for problem in refused.problems]
    if not entries:
        return None, ["Every row is on record already. Nothing was written twice."]
    return entries[0], []


def _file_picture(ground: EntryContext, typed: TypedTable, content: bytes, name: str):
    title = f"Page that rows were copied from: {typed.paper or typed.kind.title}"[:200]
    return log.log_document(
        by=ground.account, request_key=None, clinic=ground.clinic, kind="other", title=title, valid_from=ground.today,
        content=content, filename=name[-200:],
    )  # fmt: skip


def _cell(column: RowColumn, said: str) -> tuple[RowColumn, str, str]:
    """The column, what stands in its cell, and that once more where it is none of the answers: it is kept."""
    if not column.choices:
        return column, said, ""
    code = code_of(column, said) if said else ""
    return column, code or said, "" if code else said


def _shown(ground: EntryContext, typed: TypedTable, whole: bool, problems: list[str]) -> dict:
    rows = typed.rows + [[""] * len(typed.columns)] * min(BLANK_ROWS, ROWS_OF_ENTRY - len(typed.rows))
    faults = [asdict(fault) for of_row in typed.faults.values() for fault in of_row]
    boxes = ground.indicator_lots(typed.kind.lots) if typed.kind.lots else []
    return {
        "clinic": ground.clinic,
        "kind": typed.kind,
        "typed": typed,
        "columns": [_cell(column, typed.same.get(column.name, "")) for column in typed.columns],
        "rows": [
            (n, [_cell(*each) for each in zip(typed.columns, row, strict=True)], typed.faults.get(n, ()))
            for n, row in enumerate(rows, 1)
        ],
        "blank": [_cell(column, "") for column in typed.columns],
        "groups": groups_of(faults),
        "ticked": [(code, CONFIRMED_WORDS[code]) for code in typed.confirmed],
        "problems": problems,
        "whole": whole,
        "most": ROWS_OF_ENTRY,
        "offered": {
            "unit": [unit.label for unit in ground.units()],
            "lot": [SAME_LOT, *dict.fromkeys(box.lot for box in boxes)] if boxes else [],
        },
    }


@often.at_most(3000, "rows checked")
@at_clinic("log")
@require_POST
def check_row(request, ground, kind):
    """What speaks against one row, as it is typed: the cells as of the form, `row` its number. Nothing is written."""
    kind = _kind_or_404(kind)
    typed = _sent(request.POST, kind, _columns(kind, request.GET.get("all") == "1"))
    rows = typed.filled()[:1]
    verdict = judged(typed.judge(ground), rows)
    return JsonResponse(
        {
            "faults": [
                {"head": fault.head, "message": fault.message, "asked": bool(fault.confirm)}
                for fault in verdict.faults
            ],
            "known": verdict.known[0][1] if verdict.known else "",
        }
    )
