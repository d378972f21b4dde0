"""A file is written whole or not at all, and who named it hears how to name another."""

from __future__ import annotations

import pytest

from audit.issue.files import NotWritten, write_whole

WAY_OUT = "Choose another folder on the page."


def test_a_file_is_replaced_whole_and_nothing_is_left_beside_it(tmp_path):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(b"before")
    write_whole(path, b"after", WAY_OUT)
    assert path.read_bytes() == b"after" and list(tmp_path.iterdir()) == [path]


def test_what_cannot_be_written_names_the_file_the_fault_and_the_callers_own_way_out(tmp_path):
    path = tmp_path / "none" / "sheet.pdf"
    with pytest.raises(NotWritten) as error:
        write_whole(path, b"after", WAY_OUT)
    assert str(error.value) == f"“{path}” cannot be written: No such file or directory. {WAY_OUT}"
    assert "--" not in str(error.value), "the words of a command are the command's"


def test_the_file_before_stays_where_the_new_one_cannot_take_its_place(tmp_path):
    path = tmp_path / "sheet.pdf"
    path.mkdir()
    with pytest.raises(NotWritten, match=WAY_OUT):
        write_whole(path, b"after", WAY_OUT)
    assert list(tmp_path.iterdir()) == [path] and path.is_dir()
