"""What a set says of the record in it, so that a place where it was put back can be held against it.

The head of every ledger; whether its chain adds up; a digest of the answer for every unit on one day; and the bytes
of one binder, which rest on the record, on the papers on file and on nothing else.
"""

from __future__ import annotations

import hashlib
import json
import logging
from datetime import date, datetime, timedelta
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from django.apps import apps
from django.conf import settings

from audit.gather import standings
from audit.gather.read import clinic_facts
from audit.issue.seal.manifest import program
from audit.issue.whole.brought import excerpt_of
from audit.issue.wish import Wish
from records import clock
from records import models as m
from records.ledger import tamper_check
from records.log.may_be_logged import zone_of

LOG = logging.getLogger("audit.upkeep")
BINDER_DAYS = 92
# Every column that names a stored file by its SHA-256.
STORED = {"Document": "sha256", "Photo": "sha256", "CycleRecording": "sha256", "BinderIssue": "file_sha256"}
_ROOT = Path(__file__).parents[2]
_DRAWS = ("reportlab", "pikepdf", "pillow", "holidays", "tzdata")


@cache
def program_said() -> dict[str, str]:
    """Name, version and a digest of the program and of what draws its binders: equal digests, equal bytes."""
    parts = hashlib.sha256()
    for path in sorted(p for app in ("audit", "records") for p in (_ROOT / app).rglob("*.*")):
        if path.suffix in (".py", ".toml", ".json", ".ttf", ".icc"):
            parts.update(str(path.relative_to(_ROOT)).encode() + b"\0" + path.read_bytes())
    for package in _DRAWS:
        try:
            parts.update(f"{package} {version(package)}".encode())
        except PackageNotFoundError:
            parts.update(f"{package} none".encode())
    return program() | {"digest": parts.hexdigest()}


def heads() -> dict[str, dict]:
    """By short name of the organisation how many entries its ledger says it has, and the hash of the last."""
    found = m.Ledger.objects.select_related("organisation").order_by("organisation__slug")
    return {each.organisation.slug: {"entries": each.number, "head": each.hash} for each in found}


def chains() -> dict[str, str]:
    """By short name what the tamper check says of each chain that does not add up."""
    verdicts = (
        (each.slug, tamper_check.verify(each, excerpt_of(each))) for each in m.Organisation.objects.order_by("slug")
    )
    return {slug: verdict.sentence for slug, verdict in verdicts if not verdict.whole}


def answers(days: dict[str, str] | None = None) -> dict[str, dict]:
    """By clinic the day judged and a digest of every unit's answer; of the given days, else of the clinics' today."""
    found = {}
    for clinic in m.Clinic.objects.order_by("slug"):
        if days is not None and clinic.slug not in days:
            continue
        day = date.fromisoformat(days[clinic.slug]) if days is not None else clock.today(zone_of(clinic))
        rows = standings.judged(clinic, day, clinic_facts(clinic))
        told = ([r.label, r.word, r.rule, r.reason, r.since, r.holds_until, r.next_due_on] for r in rows)
        said = sorted(told, key=str)
        digest = hashlib.sha256(json.dumps(said, default=str).encode()).hexdigest()
        found[clinic.slug] = {"as_of": day.isoformat(), "units": len(rows), "sha256": digest}
    return found


def binder(wanted: dict | None = None) -> dict | None:
    """Clinic, days and SHA-256 of the unsigned bytes of one binder: the wanted one, else of the longest record."""
    from audit.issue.make import make

    if wanted is None:
        clinic = m.Clinic.objects.filter(ledger__number__gt=0).order_by("-ledger__number", "slug").first()
        if clinic is None:
            return None
        to_on = clock.local_day(min(clinic.ledger.logged_at, clock.now()), zone_of(clinic))
        from_on = to_on - timedelta(days=BINDER_DAYS)
    else:
        clinic = m.Clinic.objects.get(slug=wanted["clinic"])
        from_on, to_on = date.fromisoformat(wanted["from"]), date.fromisoformat(wanted["to"])
    made = make(clinic, Wish(from_on, to_on, as_of=to_on))
    said = {"clinic": clinic.slug, "from": from_on.isoformat(), "to": to_on.isoformat(), "pages": made.pages}
    return said | {"sha256": hashlib.sha256(made.body).hexdigest()}


def stated(at: datetime) -> dict:
    """All of it as plain data, of the record that this thread stands in, with the clock at that moment."""
    with clock.at(at):
        found = {"heads": heads(), "chains": chains(), "answers": answers(), "lost": lost()}
        try:
            return found | {"binder": binder()}
        except Exception as fault:  # a record that no binder can be made of is to be backed up all the same
            LOG.exception("No binder could be made for the proof of a backup.")
            return found | {"binder": None, "no_binder": f"{type(fault).__name__}: {fault}"}


def differences(said: dict, at: datetime) -> tuple[list[str], list[str]]:
    """What is not as the set says: (of the record itself, of answers and binder).

    The second may differ under another program, and is then news; the first never may.
    """
    record, meaning = [], []
    with clock.at(at):
        now = heads()
        for slug in sorted(said["heads"].keys() | now):
            is_now, was = now.get(slug), said["heads"].get(slug)
            if is_now != was:
                record.append(f"the ledger of {slug} stands at {_head(is_now)}, the set says {_head(was)}")
        new = (sentence for slug, sentence in chains().items() if said["chains"].get(slug) != sentence)
        record += [f"the tamper check says now: {sentence}" for sentence in new]
        if gone := set(lost()) - set(said.get("lost", ())):
            record.append(f"{len(gone)} stored files that the record names are not there, such as {min(gone)}")
        if said.get("answers"):
            fresh = answers({slug: each["as_of"] for slug, each in said["answers"].items()})
            meaning += [f"answers of {s} differ" for s, each in said["answers"].items() if fresh.get(s) != each]
        if said.get("binder") and binder(said["binder"]) != said["binder"]:
            meaning.append(f"the binder of {said['binder']['clinic']} has other bytes")
    return record, meaning


def _head(said: dict | None) -> str:
    return f"entry {said['entries']} ({said['head'][:16]}…)" if said else "nothing"


def files_named() -> set[str]:
    """The SHA-256 of every stored file that a row names."""
    named = set()
    for model, column in STORED.items():
        named |= set(apps.get_model("records", model)._base_manager.values_list(column, flat=True))
    return named


def lost() -> list[str]:
    """The SHA-256 of every stored file that a row names and that is not there, in order."""
    return sorted(files_named() - {file.name for file in Path(settings.BLOBS_DIR).glob("*/*")})
