"""Check a file: is it a binder of this installation, unaltered, by whom, and do today's records bear it out?

Exit status: 0 unaltered and borne out, 1 altered, not ours, or not borne out by the records, 2 bad input, 3 a fault.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

from django.db import DatabaseError

from audit.binder.written_on_paper import counted, plain
from audit.issue.seal.keys import NoKey
from audit.issue.seal.verify import LARGEST, FileVerdict, check
from audit.management import options as o


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, help="the PDF file")
        parser.add_argument("--json", action="store_true", help="as data")

    def handle(self, *args, **options):
        try:
            content = _read(options["file"])
            # Whoever runs commands reads the database anyway: nothing is held back.
            verdict = check(content, sees=lambda organisation: True, fresh=True)
        except o.BadInput as error:
            o.refuse(self, error)
        except NoKey as error:
            self.stderr.write(f"Nothing was checked: {error}")
            o.end(self, 3)
        except DatabaseError as error:
            self.stderr.write(
                f"The records cannot be read, so nothing was checked: {error}. Run `manage.py migrate`."
            )
            o.end(self, 3)
        self.stdout.write(as_json(verdict) if options["json"] else as_words(options["file"].name, verdict))
        o.end(self, 0 if verdict.good else 1)


def _read(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST:
            raise o.BadInput(
                f"{path} has more than {LARGEST // 1024 // 1024} MB. Binders are smaller: name another file."
            )
        content = path.read_bytes()
    except OSError as error:
        raise o.BadInput(
            f"{path} cannot be read: {error.strerror}. Name a file that is there and that you may read."
        ) from None
    if not content:
        raise o.BadInput(f"{path} is empty. Name the file as it was handed out.")
    return content


def as_json(verdict: FileVerdict) -> str:
    said = asdict(verdict) | {"good": verdict.good, "too_late": verdict.too_late}
    return json.dumps(said, ensure_ascii=False, indent=1, default=_plain)


def _plain(value):
    if isinstance(value, datetime):
        return value.isoformat()
    raise TypeError(f"{value!r} has no form as data")


def as_words(name: str, verdict: FileVerdict) -> str:
    lines = [f"{name}: {verdict.word.upper()}. {verdict.why}", *(f"  {each}" for each in verdict.changes)]
    lines += [*_who(verdict), *_states(verdict), *_records(verdict), f"SHA-256 {verdict.sha256}"]
    return "\n".join(lines)


def _who(verdict: FileVerdict):
    if verdict.signed is not None:
        at = verdict.signed.at
        when = f" on {at:%Y-%m-%d at %H:%M} UTC" if at else ""
        yield f"Issued by {verdict.signed.by}{when}: {verdict.signed.reason or 'no reason stated'}"
    if verdict.issued_at is not None:
        yield f"Recorded as issued on {verdict.issued_at:%Y-%m-%d at %H:%M} UTC"
    if verdict.certificate is not None:
        yield f"Certificate of {verdict.certificate.name}, issued by {verdict.certificate.issuer}"
        yield f"  SHA-256 {verdict.certificate.fingerprint}"
        if verdict.seal_use is not None:
            yield f"  {verdict.seal_use.words}"
        if verdict.too_late:
            yield f"  {verdict.too_late}"
        if verdict.signed is not None:
            yield f"  {verdict.certificate.proves}"


def _states(verdict: FileVerdict):
    if verdict.manifest is not None:
        m = verdict.manifest
        known = f", from what was logged by {m['known_at']}" if m.get("known_at") else ""
        yield f"{m['title']}; covers {m['from']} to {m['to']}, answers as of {m['as_of']}{known}"


def _records(verdict: FileVerdict):
    records = verdict.records
    if records is None:
        return
    for each in records.ledgers:
        since = "" if each.since is None else f"; {plain(counted(each.since, 'entry', 'entries'))} logged since"
        state = f"NO: {each.problem}" if each.problem else "the records still contain it"
        yield f"{each.name}, up to entry {each.number}: {state}{since}"
    if records.about:
        yield f"Logged since about the days of this binder: {plain(counted(records.about, 'row'))}."
    if records.changed is not None and not records.changed:
        yield "No row that it names was corrected or entered in error since."
    for each in records.changed or ():
        reason = f": {each.reason}" if each.reason else ""
        yield f"  {each.kind} {each.row} {each.what} on {each.logged_at:%Y-%m-%d} (entry {each.entry}){reason}"
