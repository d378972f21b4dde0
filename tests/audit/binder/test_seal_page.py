"""The page of the seal: who, when, the fingerprint; what a reader program will say; what it does not show."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from audit.binder.contents import binder_contents
from audit.binder.seal import in_fours
from audit.binder.sealing import Sealing
from audit.binder.sections import EVERYTHING, KeyValues, Signed
from audit.facts.heads import LedgerHead
from tests.audit.binder import full, sample
from tests.audit.binder.paper import spaced
from tests.audit.binder.test_contents import section, table, words

PRINT = "b5ab41550ea6b78649a3210a1f48932801" + "c" * 30
SEALING = Sealing("Example Keepers (invented)", "Ida Lund", datetime(2026, 6, 1, 15, 30, tzinfo=UTC), PRINT, True,
                  "https://standing.example/check")  # fmt: skip


def page(sealing: Sealing | None = SEALING, **more):
    heads = (
        LedgerHead(full.clinic()[0].ref, "Example Clinic", 936, "ab" * 32),
        LedgerHead("co", "Example Keepers", 25, "cd" * 32),
    )
    made = binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO, sealing=sealing, heads=heads, **more)
    return section(made, "seal")


def ways(found) -> dict[str, str]:
    return {key: cell.text for b in found.blocks if isinstance(b, KeyValues) for key, cell in b.pairs}


def test_it_says_who_sealed_for_whom_when_and_who_issued():
    ((title, lines),) = next(b for b in page().blocks if isinstance(b, Signed)).statements
    assert title.startswith("Sealed by Example Keepers (invented) for ")
    said = " ".join(lines).replace("\u00a0", " ")
    assert "on 1 Jun 2026; the time stands in the signature itself" in said and "Issued by Ida Lund." in said


def test_the_fingerprint_is_whole_in_groups_of_four():
    text = in_fours(PRINT)
    assert text.replace("\n", "").replace("\u00a0", "") == PRINT.upper()
    assert all(len(group) == 4 for line in text.split("\n") for group in line.split("\u00a0"))
    assert spaced(text.split("\n")[0]) in words(page())


@pytest.mark.parametrize(("own", "says"), [(True, "the sealing party's own"), (False, "the authority that issued")])
def test_it_says_what_a_reader_program_says_and_that_unknown_is_not_altered(own, says):
    told = ways(page(replace(SEALING, own=own)))["2 By a reader of PDF files"]
    assert "has not been altered since it was signed" in told and says in told
    assert "“Unknown signer” is not “altered”" in told.replace("not “", "not “")


def test_it_names_the_page_the_command_and_what_a_comment_does():
    found = page()
    assert "https://standing.example/check" in ways(found)["1 On the web"]
    assert "manage.py verify_binder FILE.pdf" in ways(found)["3 By the records"]
    assert "entry 936 of the ledger of Example Clinic" in ways(found)["3 By the records"]
    assert "A comment, a highlight or a form filled in changes the file." in words(found)


def test_the_ledgers_stand_there_with_their_hashes_whole_and_their_letters():
    rows = table(page(), "The ledgers that it rests on").rows
    assert [(row[1].text, row[2].text, row[3].text.replace(" ", "")) for row in rows] == [
        ("none", "936", "ab" * 32), ("s", "25", "cd" * 32),
    ]  # fmt: skip


def test_an_unsealed_file_says_so_and_names_no_signature_to_check():
    found = page(None)
    assert "This file is not sealed" in words(found)
    assert list(ways(found)) == ["1 By the records"]


def test_it_says_with_which_extent_it_was_ordered():
    assert "ordered for an inspector" in words(page())
    assert "ordered with everything on record" in words(page(extent=EVERYTHING))
