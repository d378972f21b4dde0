"""Files attached as PDF/A-3 asks. Required keys: ISO 19005-3:2012, 6.8 (from memory)."""

from __future__ import annotations

import io
from datetime import date

import pikepdf
import pytest

from audit.issue.seal.embed import File, embed
from tests.audit.issue.seal import files

ONE = File("contents.json", b'{"a": 1}', "application/json", "Data", "the contents")
TWO = File("Prüfbericht.pdf", b"%PDF-1.4", "application/pdf", "Source", "a report")


def with_files(*attached) -> bytes:
    with pikepdf.open(io.BytesIO(files.pages(1))) as pdf:
        embed(pdf, attached, date(2026, 3, 16))
        return files.saved(pdf)


def test_each_file_is_described_dated_typed_and_related():
    with pikepdf.open(io.BytesIO(with_files(ONE, TWO))) as pdf:
        assert sorted(pdf.attachments) == ["Prüfbericht.pdf", "contents.json"] or len(pdf.attachments) == 2
        for file in (ONE, TWO):
            spec = pdf.attachments[file.name]
            assert spec.get_file().read_bytes() == file.content
            assert spec.get_file().mime_type == file.mime
            assert str(spec.obj.AFRelationship) == f"/{file.relation}"
            assert str(spec.obj.Desc) == file.says
            assert str(spec.obj.F) and str(spec.obj.UF) == file.name
            params = spec.obj.EF.F.Params
            assert str(params.ModDate) == str(params.CreationDate) == "D:20260316000000Z"


def test_the_catalog_names_each_once_in_their_order():
    with pikepdf.open(io.BytesIO(with_files(ONE, TWO))) as pdf:
        assert [str(each.UF) for each in pdf.Root.AF] == [ONE.name, TWO.name]


def test_poppler_takes_them_out_again(tmp_path):
    path = tmp_path / "a.pdf"
    path.write_bytes(with_files(ONE, TWO))
    assert "2 embedded files" in files.poppler("pdfdetach", "-list", path)
    files.poppler("pdfdetach", "-savefile", ONE.name, "-o", tmp_path / "out", path)
    assert (tmp_path / "out").read_bytes() == ONE.content


def test_the_same_files_give_the_same_bytes():
    assert with_files(ONE, TWO) == with_files(ONE, TWO)


@pytest.mark.parametrize(
    ("bad", "told"),
    [
        ((ONE, ONE), "Two attached files"),
        ((File("a", b"", "text/plain", "Friend", ""),), "not a relation"),
        ((File("../a", b"", "text/plain", "Data", ""),), "cannot be the name"),
        ((File(" ", b"", "text/plain", "Data", ""),), "cannot be the name"),
    ],
)
def test_what_a_reader_could_not_find_again_is_refused(bad, told):
    with pytest.raises(ValueError, match=told):
        with_files(*bad)
