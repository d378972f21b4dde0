"""What a binder says of itself: complete, plain, the same bytes from the same facts."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from audit.binder import sections
from audit.binder.attached import Paper, ShownPage
from audit.facts import Row
from audit.issue.seal import manifest as m
from tests.audit.issue.seal import files

ROOT = Path(__file__).resolve().parents[4]


def paper(number=1, content=b"scan", filename="report.pdf", pages=()) -> Paper:
    row = Row(ref="r", origin="r", number=1, line=1, happened_on=date(2026, 1, 1), happened_at=None,
              logged_at=files.AT, logged_by="Ana")  # fmt: skip
    return Paper(
        number=number, row=row, unit="", title="Laboratory report", kind="report", valid_from=date(2026, 1, 1),
        valid_to=None, filename=filename, sha256=hashlib.sha256(content).hexdigest(), size=len(content),
        media_type="application/pdf", content=content, pages=pages,
    )  # fmt: skip


def made(binder, papers=(), **more):
    contents = m.contents_json(binder)
    return m.manifest(
        binder, binder.heads, binder.rules, papers, {"name": "p", "version": "1"}, contents=contents, **more
    )


def test_it_names_ledgers_days_rules_program_and_every_attached_file():
    binder = files.binder()
    said = made(binder, [paper()], pages=3)
    contents = m.contents_json(binder)
    assert said == {
        "kind": "binder manifest",
        "edition": 1,
        "title": "Sterilizer binder",
        "clinic": "First Clinic",
        "from": "2025-03-16",
        "to": "2026-03-16",
        "as_of": "2026-03-16",
        "known_at": None,
        "pages": 3, "extent": "inspector",
        "ledgers": [
            {"organisation": files.HEAD.organisation, "name": "First Clinic", "number": 12, "hash": "a" * 64}
        ],
        "rules": [
            {"id": "us-dental-cdc-2003", "title": "Dental rules", "edition": "2003", "valid_from": "2003-12-19",
             "first": "2025-03-16", "last": "2026-03-16"}
        ],
        "program": {"name": "p", "version": "1"},
        "attachments": [
            {"name": "contents.json", "sha256": hashlib.sha256(contents).hexdigest(), "size": len(contents),
             "says": m.SAYS_CONTENTS},
            {"name": "paper-01-report.pdf", "sha256": hashlib.sha256(b"scan").hexdigest(), "size": 4,
             "says": "Laboratory report"},
        ],
    }  # fmt: skip
    assert m.is_whole(said)
    assert json.loads(m.to_bytes(said)) == said


def test_a_paper_that_is_not_embedded_is_not_listed():
    assert [each["name"] for each in made(files.binder(), [paper(content=b"")])["attachments"]] == ["contents.json"]


def test_two_files_of_one_name_are_refused():
    with pytest.raises(ValueError, match="names of their own"):
        made(files.binder(), [paper(), paper()])


@pytest.mark.parametrize("name", ["../up.pdf", "a\\b.pdf", "c:d.pdf", "e\u202ef.pdf", "g\nh.pdf"])
def test_a_name_cannot_lead_out_of_a_folder_or_hide_something(name):
    assert not set(paper(filename=name).embedded_as) & set("/\\:\u202e\n")


def test_the_contents_are_those_of_the_binder_as_json():
    binder = files.binder(rows=[("7", "1a2b3c4d")])
    assert json.loads(m.contents_json(binder)) == sections.to_json(binder)


def test_what_is_no_plain_value_is_refused():
    with pytest.raises(TypeError, match="plain values only"):
        m.contents_json(files.binder(heads=(object(),)))


def test_the_rows_it_names_are_read_back():
    names = [("7.2", "1a2b3c4d"), ("1", "00000000"), ("s4711", "deadbeef")]
    found = m.row_names(m.contents_json(files.binder(rows=names)))
    assert found == {("1a2b3c4d", 7), ("00000000", 1), ("deadbeef", 4711)}
    assert m.row_names(b'["7.2","xyz12345"] ["3","1a2b3c4"] ["0","1a2b3c4d"]') == frozenset()


def test_the_rows_of_a_binder_of_earlier_days_are_read_as_it_named_them():
    assert m.row_names(b"1a2b3c4d #7\n00000000 #1") == {("1a2b3c4d", 7), ("00000000", 1)}
    assert m.row_names(b"1a2b3c4d#7 xyz12345 #3 1a2b3c4 #1") == frozenset()


@pytest.mark.parametrize(
    "broken",
    [
        {"ledgers": None}, {"ledgers": [{"organisation": "x", "number": 1, "hash": "", "name": ""}]},
        {"ledgers": ["x"]}, {"from": "soon"}, {"to": None}, {"title": 3}, {"clinic": None},
        {"ledgers": [{"organisation": files.HEAD.organisation, "number": "1", "hash": "", "name": ""}]},
    ],
)  # fmt: skip
def test_a_manifest_with_a_part_missing_is_not_whole(broken):
    assert not m.is_whole(made(files.binder()) | broken)


def test_the_same_facts_give_the_same_bytes_in_another_process_zone_and_locale():
    code = (
        "import hashlib; from tests.audit.issue.seal import files, test_manifest as t;"
        "b = files.body(files.binder(rows=[('7','1a2b3c4d')]), papers=[t.paper(filename='Prüfbericht.pdf')]);"
        "print(hashlib.sha256(b).hexdigest())"
    )

    def run(seed: str, zone: str, lang: str) -> str:
        env = os.environ | {
            "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": lang, "DJANGO_SETTINGS_MODULE": "audit.site.settings",
        }  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env=env, capture_output=True, text=True, check=True
        )
        return done.stdout

    first = run("1", "UTC", "C.UTF-8")
    assert len(first.strip()) == 64
    assert first == run("2", "Pacific/Kiritimati", "C")


def test_a_paper_whose_pages_are_shown_is_their_source():
    from audit.issue.seal import embed

    shown = paper(pages=(ShownPage(1, 10, 10, "as filed"),))
    plain = paper(number=2)
    relations = {f.name: f.relation for f in embed.files({}, b"{}", [shown, plain])}
    assert relations == {
        "contents.json": "Data", "manifest.json": "Data", "paper-01-report.pdf": "Source",
        "paper-02-report.pdf": "Supplement",
    }  # fmt: skip
