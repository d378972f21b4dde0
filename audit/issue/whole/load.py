"""A clinic brought into an empty place out of the file that holds everything of it: the chain restored whole.

Nothing is entered anew. An entry keeps its number, its hash, its moments, its refs and who signed it, so that what
was proved there is proved here: by its `check.py` before anything is written, by the tamper check over the rows as
they then stand in the database, before the transaction ends.
"""

from __future__ import annotations

import hashlib
import heapq
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.db import transaction

from audit.issue.whole import brought, check
from records import access
from records.files import blobs
from records.log import put_back
from records.models import Account, Clinic, Organisation

_TOLD = 12


class NotBrought(Exception):
    """Nothing was written: the message says why and the way out."""


@dataclass(frozen=True, slots=True)
class Brought:
    """`others` are the books of which only some entries were brought; `lost` how many files were lost by then."""

    clinic: Clinic
    account: Account
    entries: int
    files: int
    lost: int
    others: tuple[Organisation, ...]


def is_whole(path: Path) -> bool:
    """Whether a file is, by what it holds, everything of a clinic."""
    try:
        with zipfile.ZipFile(path) as file:
            return check.ABOUT in file.namelist()
    except (OSError, zipfile.BadZipFile):
        return False


def bring(path: Path, *, by: str, phrase: str, at: datetime) -> Brought:
    """Put everything back, or nothing. `by` is the log-in of somebody of the clinic, who gets that pass phrase.

    Raises NotBrought, and `put_back.NotPutBack`.
    """
    put_back.refuse_unless_empty()
    try:
        source = check.Zip(str(path))
        looked = check.WholeCheck(source).run()
    except check.NoSuchFile as error:
        raise NotBrought(str(error)) from None
    if wrong := [fault for fault in looked.faults if fault not in looked.lost]:
        more = f"\n  and {len(wrong) - _TOLD} more" if len(wrong) > _TOLD else ""
        told = "\n".join(f"  {fault}" for fault in wrong[:_TOLD])
        raise NotBrought(
            f"{path.name} is not as it was written:\n{told}{more}\nNothing was written here. Take the file once more "
            "from where it was made."
        )
    with transaction.atomic():
        return _brought(source, looked, by=by, phrase=phrase, at=at)


def _brought(source: check.Zip, looked: check.WholeCheck, *, by: str, phrase: str, at: datetime) -> Brought:
    about = looked.about
    with source.open(check.REGISTER) as file:
        register = json.loads(file.read())
    own, head = about["clinic"]["ref"], (about["ledger"]["entries"], about["ledger"]["head"])
    names = {own: check.OWN} | {said["ref"]: f"{check.OTHERS}{said['ref']}.jsonl" for said in about["others"]}
    clinic = put_back.put_back(register, _entries(looked, names), own, head)
    account = _who_brings(by, clinic)
    account.set_password(phrase)
    account.save(update_fields=["password"])
    with source.open(check.ABOUT) as file:
        digest = hashlib.sha256(file.read()).hexdigest()
    said = {"made_at": about["made_at"][:40], "made_by": about["made_by"][:200], "sha256": digest}
    said |= {"brought_at": at, "brought_by": account.full_name}
    brought.note(clinic, {}, last=head[0], **said)
    others = []
    for other in about["others"]:
        organisation = Organisation.objects.get(ref=other["ref"])
        brought.note(organisation, other["entries"], last=max(map(int, other["entries"])), **said)
        others.append(organisation)
    files = _files(source, about, clinic)
    return Brought(clinic, account, head[0], files, len(about["lost"]), tuple(others))


def _entries(looked: check.WholeCheck, names: dict[str, str]) -> Iterator[put_back.EntryBrought]:
    """The entries of all ledgers in the order in which they were written."""

    def of(ref: str, name: str):
        for entry, rows, kinds, digest, place in looked.lines(name):
            yield place, put_back.EntryBrought(ref, entry, rows, kinds, digest)

    for _, each in heapq.merge(*(of(ref, name) for ref, name in names.items()), key=lambda pair: pair[0]):
        yield each


def _who_brings(by: str, clinic: Clinic) -> Account:
    account = Account.objects.filter(username=by, is_active=True).first()
    if account is None or access.rights(account, clinic) is None:
        here = [a.username for a in Account.objects.filter(is_active=True).order_by("username")]
        may = [name for name in here if access.rights(Account.objects.get(username=name), clinic) is not None]
        whom = f"Those who do: {', '.join(may)}." if may else "Nobody does: open the clinic to somebody there first."
        raise NotBrought(f"“{by}” does not belong to {clinic.name} today. Nothing was written. {whom}")
    return account


def _files(source: check.Zip, about: dict, clinic: Clinic) -> int:
    """Papers, photos, recorded cycles and binders, each under its sum."""
    count = 0
    for name in sorted(about["members"]):
        if name.split("/")[0] in check.FOLDERS:
            with source.open(name) as file:
                content = file.read()
            if blobs.store(clinic, content) != about["members"][name]["sha256"]:
                raise NotBrought(f"{name} was altered while it was read. Nothing was written; try again.")
            count += 1
    return count
