"""Bring in a whole clinic out of the file that holds everything of it (ZIP, see `export --everything`), into an empty
place; or the rows of a table (CSV or XLSX): judged as the forms judge them, and all recorded or none.

A clinic keeps every entry with its number, hash and refs; `--by` is the log-in of somebody of the clinic, and gets
the pass phrase that is asked for (or stands in STANDING_PASSPHRASE). The other options are of tables.

The columns are those that the clinic last chose for such heads on the page “Bring in a table”, else what the heads
say. Exit status 1: rows have a fault, each is told; nothing was written. `--aside FILE` writes these rows to a file
to be mended, and records the others. What is on record already is not written again.
"""

from __future__ import annotations

import getpass
import os
import sys
from dataclasses import replace
from pathlib import Path

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management import call_command

from audit.issue.files import NotWritten, write_whole
from audit.issue.jobs import tables
from audit.issue.jobs.aside import csv_of_aside
from audit.issue.whole import load as whole
from audit.management import options as o
from audit.models import BroughtTable
from records import access, beginning, clock
from records.brought.cells import DAY_FIRST, DECIMALS, MONTH_FIRST
from records.brought.kinds import KINDS
from records.brought.mapping import best_sheet, missing, unclear
from records.files import apart, table_file
from records.forms import CONFIRMED_WORDS
from records.log import put_back
from records.models import Account

TOLD = 200
PASS_PHRASE = "STANDING_PASSPHRASE"


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("file", help="the table, or everything of a clinic")
        parser.add_argument("--clinic", default="", help="the short name of the clinic that a table is of")
        parser.add_argument("--by", required=True, help="log-in name of who brings it in")
        parser.add_argument("--kind", default="", help=f"what its rows hold: {', '.join(KINDS)}")
        parser.add_argument("--who", default="", help="who wrote the rows; stands where a row names nobody")
        parser.add_argument("--paper", default="", help="the paper it was copied from, and where that lies")
        parser.add_argument("--sheet", default="", help="of a workbook; else the one that is most like such a table")
        parser.add_argument("--day-first", action="store_true", help="03/04/2025 is 3 April")
        parser.add_argument("--month-first", action="store_true", help="03/04/2025 is March 4")
        parser.add_argument("--decimal", choices=DECIMALS, default="", help="the sign of decimals")
        parser.add_argument("--same", action="append", default=[], metavar="FIELD=TEXT", help="the same in all rows")
        parser.add_argument("--confirm", action="append", default=[], metavar="CODE",
                            help="what really happened so, in all rows: a code that a fault names")  # fmt: skip
        parser.add_argument("--aside", default="", help="a file for the rows with a fault; the others are recorded")
        parser.add_argument("--check", action="store_true", help="only say what would be done")

    def handle(self, *args, **options):
        if whole.is_whole(Path(options["file"])):
            self._whole(Path(options["file"]), options["by"])
            return
        try:
            _refuse_history(Path(options["file"]))
            table = self._table(options)
        except (o.BadInput, table_file.Unreadable) as error:
            o.refuse(self, error)
        try:
            status = self._brought(table, options)
        except (o.BadInput, NotWritten) as error:
            table.delete()
            o.refuse(self, error)
        if table.state != BroughtTable.State.DONE:
            table.delete()
        o.end(self, status)

    def _whole(self, path: Path, by: str) -> None:
        """Everything of a clinic, into an empty place. What is asked for is asked before anything is read."""
        phrase = os.environ.get(PASS_PHRASE, "")
        if not phrase and sys.stdin.isatty():
            phrase = getpass.getpass(f"Pass phrase for {by}, at least twelve characters (not shown): ")
        try:
            _refuse_phrase(phrase, by)
            if not beginning.is_set_up():
                self.stdout.write("Setting up the database …")
                call_command("migrate", verbosity=0, interactive=False)
            found = whole.bring(path, by=by, phrase=phrase, at=clock.now())
        except (o.BadInput, whole.NotBrought, put_back.NotPutBack, OSError) as error:
            o.refuse(self, error)
        lost = f", {found.lost} were lost before" if found.lost else ""
        self.stdout.write(
            f"{found.clinic.name}: {found.entries} entries and {found.files} files{lost}, as they were."
        )
        for each in found.others:
            self.stdout.write(f"Of the books of {each.name} only the entries on which the record rests stand here.")
        self.stdout.write(
            f"{found.account.username} signs in with the pass phrase given; everybody else asks for a new one. Go on "
            "in one place only: two that both go on become two records."
        )
        o.end(self, 0)

    def _table(self, options) -> BroughtTable:
        missing_options = [f"--{name}" for name in ("clinic", "kind", "who") if not options[name]]
        if missing_options:
            raise o.BadInput(f"Of a table say {', '.join(missing_options)} too; see `manage.py help load`.")
        clinic = o.clinic_by_slug(options["clinic"])
        by = Account.objects.filter(username=options["by"], is_active=True).first()
        rights = access.rights(by, clinic) if by else None
        if rights is None or not rights.may_log:
            raise o.BadInput(f"“{options['by']}” may not record at {clinic.name}. Name somebody of it with --by.")
        kind = KINDS.get(options["kind"])
        if kind is None:
            raise o.BadInput(f"--kind “{options['kind']}” is not known. Choose one of: {', '.join(KINDS)}.")
        file = Path(options["file"])
        try:
            content = file.read_bytes()
        except OSError as error:
            raise o.BadInput(f"{file} cannot be read: {error.strerror}. Name a file that is there.") from None
        packed = apart.table_read(content, file.name)
        sheets = table_file.unpacked(packed)
        named = [sheet for sheet in sheets if sheet.name == options["sheet"]] if options["sheet"] else sheets
        if not named:
            raise o.BadInput(
                f"There is no sheet “{options['sheet']}”. There are: {', '.join(s.name for s in sheets)}."
            )
        sheet = best_sheet(kind, named)
        table = tables.take_in(clinic, by, kind.code, file.name, packed, len(sheet.rows))
        try:
            self._named(table, sheet, options)
        except o.BadInput:
            table.delete()
            raise
        return table

    def _named(self, table: BroughtTable, sheet: table_file.TableSheet, options) -> None:
        """Keep which column holds what. Raises BadInput while something is left to be said."""
        mapping = _as_told(tables.proposal(table, sheet), options)
        if problems := [*missing(mapping), *unclear(mapping, sheet)]:
            raise o.BadInput(
                "\n".join(problems) + "\nSay it with the options, or bring the table in on the page, which asks for "
                "each; the next table with such heads is then understood here too."
            )
        table.mapping, table.confirmed = mapping.to_json(), _confirmed(options)
        table.source = {"who": options["who"].strip(), "paper": options["paper"].strip()}
        table.save()

    def _brought(self, table: BroughtTable, options) -> int:
        tables.want(table, "judge", at_once=True)
        if table.found.get("wrong") and options["aside"] and not options["check"]:
            found = table.found
            table.aside = {str(row): why for row, why in tables.why_wrong(found).items()}
            write_whole(Path(options["aside"]), csv_of_aside(table), o.OUT_NOT_WRITTEN)
            self.stdout.write(f"{len(found['wrong'])} rows with a fault are in {options['aside']}.")
            tables.want(table, "judge", at_once=True)
        if table.state == BroughtTable.State.FAILED:
            raise o.BadInput(table.problem)
        found = table.found
        for number, why, said in found["left_out"]:
            self.stdout.write(f"row {number} is left out, {why}: {said}")
        for fault in found["faults"][:TOLD]:
            confirm = f" (--confirm {fault['confirm']})" if fault["confirm"] else ""
            where = " ".join(part for part in (fault["column"], fault["head"]) if part)
            self.stderr.write(f"row {fault['row']}, {where or 'the row'}: {fault['message']}{confirm}")
        self.stdout.write(f"{found['right']} rows can be recorded, {found['known']} are on record already.")
        if found["wrong"]:
            self.stderr.write(f"{len(found['wrong'])} rows have a fault. Nothing was written.")
            return 1
        if options["check"] or not found["right"]:
            return 0
        tables.want(table, "record", at_once=True)
        if table.state != BroughtTable.State.DONE:
            raise o.BadInput(table.problem or "The record changed meanwhile. Nothing was written; bring it in again.")
        self.stdout.write(f"Recorded as entries {', '.join(map(str, table.entries))}.")
        return 0


def _refuse_phrase(phrase: str, by: str) -> None:
    if not phrase:
        raise o.BadInput(f"The pass phrase for “{by}” is missing: set {PASS_PHRASE} in the environment.")
    try:
        validate_password(phrase, Account(username=by))
    except ValidationError as refused:
        raise o.BadInput(f"Pass phrase: {' '.join(refused.messages)} Nothing was written.") from None


def _refuse_history(path: Path) -> None:
    """A history in the open format is facts without the entries that prove them: judged, never put on record."""
    try:
        with path.open("rb") as file:
            begins = file.read(200).lstrip(b"\xef\xbb\xbf \r\n\t")
    except OSError:
        return  # said where the table is read
    if begins[:1] == b"{":
        raise o.BadInput(
            f"{path.name} is a history in the open format. It holds what happened, not the entries that prove it, "
            "so it is not put on record; `manage.py evaluate` judges it. Bring in the ZIP that holds everything: "
            "`manage.py export CLINIC --everything --out FILE.zip` where it was recorded."
        )


def _as_told(mapping, options):
    """The mapping with what the options say of it. Raises BadInput."""
    if options["day_first"] and options["month_first"]:
        raise o.BadInput("--day-first and --month-first: choose one of them.")
    order = DAY_FIRST if options["day_first"] else MONTH_FIRST if options["month_first"] else mapping.order
    fixed = dict(mapping.fixed)
    for each in options["same"]:
        name, sign, text = each.partition("=")
        if not sign or name not in mapping.table.columns:
            raise o.BadInput(f"--same “{each}”: write FIELD=TEXT with one of {', '.join(mapping.table.columns)}.")
        fixed[name] = text
    columns = {name: n for name, n in mapping.columns.items() if name not in fixed or name in mapping.fixed}
    decimal = options["decimal"] or mapping.decimal
    return replace(mapping, order=order, fixed=fixed, columns=columns, decimal=decimal)


def _confirmed(options) -> list[str]:
    for code in options["confirm"]:
        if code not in CONFIRMED_WORDS:
            raise o.BadInput(f"--confirm “{code}” is no code that a fault names. Leave it out.")
    return options["confirm"]
