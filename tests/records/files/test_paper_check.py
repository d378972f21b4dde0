"""What may be filed as a paper and what is refused, file by file."""

import resource
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pikepdf import Array, Dictionary, Name

from records.files import paper_check
from records.files.paper_check import JPEG, PDF, PLAIN, PNG, examine
from tests import paper_files as made
from tests.examples import examples

SCRIPT = Dictionary(S=Name.JavaScript, JS="app.alert(1)")

GOOD = {
    "a PDF": (made.drawn, "a.pdf", PDF, 1),
    "three pages": (lambda: made.drawn(pages=3), "a.pdf", PDF, 3),
    "a PDF under another name": (made.drawn, "a.txt", PDF, 1),
    "nulls and empty arrays": (
        lambda: made.changed(lambda pdf: setattr(pdf.Root, "Odd", Array([None, Array([]), Dictionary()]))),
        "a.pdf", PDF, 1,
    ),
    "opens at its first page": (
        lambda: made.on_opening(Dictionary(S=Name.GoTo, D=Array([0, Name.Fit]))), "a.pdf", PDF, 1,
    ),
    "opens at a place": (lambda: made.on_opening(Array([0, Name.Fit])), "a.pdf", PDF, 1),
    "a link to a page of the web": (
        lambda: made.acting(Dictionary(S=Name.URI, URI="https://example.org/a:b")), "a.pdf", PDF, 1,
    ),
    "a link to a mail address": (
        lambda: made.acting(Dictionary(S=Name.URI, URI="mailto:a@example.org")), "a.pdf", PDF, 1,
    ),
    "a link inside": (lambda: made.acting(Dictionary(S=Name.GoTo, D=Array([0, Name.Fit]))), "a.pdf", PDF, 1),
    "a note": (lambda: made.annotated("/Text", Contents="see page 2"), "a.pdf", PDF, 1),
    "a form without scripts": (made.with_form, "a.pdf", PDF, 1),
    "a PNG": (made.picture, "a.png", PNG, 1),
    "a JPEG called PNG": (lambda: made.picture("JPEG"), "a.png", JPEG, 1),
    "text": (lambda: "Drain plan, 21 °C".encode(), "a.txt", "text/plain", 0),
    "a table": (lambda: b"a,b\n1,2\n", "a.csv", "text/csv", 0),
    "not text": (lambda: b"a\0b", "a.txt", PLAIN, 0),
    "anything else": (lambda: b"<script>", "a.html", PLAIN, 0),
}  # fmt: skip


@pytest.mark.parametrize("case", GOOD)
def test_what_is_filed(case):
    build, name, kind, pages = GOOD[case]
    said = examine(build(), name)
    assert (said.media_type, said.pages, said.fault) == (kind, pages, "")


BAD = {
    "a password": (lambda: made.locked("secret"), "with a password only"),
    "protected without one": (lambda: made.locked(""), "protected by encryption"),
    "cut off": (lambda: made.drawn()[:300], "cannot be opened"),
    "no PDF at all": (lambda: b"hello", "its content is not"),
    "no page": (lambda: made.changed(lambda pdf: pdf.pages.__delitem__(0)), "has no page"),
    "a script on opening": (lambda: made.on_opening(SCRIPT), "JavaScript"),
    "a script on a link": (lambda: made.acting(SCRIPT), "JavaScript"),
    "a script behind another action": (
        lambda: made.acting(Dictionary(S=Name.GoTo, D=Array([0, Name.Fit]), Next=Array([SCRIPT]))), "JavaScript",
    ),
    "a script among the names": (
        lambda: made.changed(
            lambda pdf: setattr(pdf.Root, "Names", Dictionary(JavaScript=Dictionary(Names=Array(["a", SCRIPT]))))
        ),
        "JavaScript",
    ),
    "prints on opening": (lambda: made.on_opening(Dictionary(S=Name.Named, N=Name.Print)), "an action on opening"),
    "starts a program": (lambda: made.acting(Dictionary(S=Name.Launch, F="a.exe")), "starts a program"),
    "sends what is typed": (
        lambda: made.acting(Dictionary(S=Name.SubmitForm, F="https://example.org")), "sends what is typed",
    ),
    "reads other files": (lambda: made.acting(Dictionary(S=Name.ImportData, F="a.fdf")), "reads other files"),
    "leaves the file": (
        lambda: made.acting(Dictionary(S=Name.GoToR, F="b.pdf", D=Array([0, Name.Fit]))), "jump into another file",
    ),
    "a link to a file": (
        lambda: made.acting(Dictionary(S=Name.URI, URI="file:///etc/passwd")), "other than a web or mail address",
    ),
    "a link that is a script": (
        lambda: made.acting(Dictionary(S=Name.URI, URI=" JavaScript:alert(1)")), "other than a web or mail address",
    ),
    "a link to a program": (
        lambda: made.acting(Dictionary(S=Name.URI, URI="x-thing+do:1")), "other than a web or mail address",
    ),
    "files inside": (made.with_file, "files inside it"),
    "a pinned file": (lambda: made.annotated("/FileAttachment"), "files inside it"),
    "film": (lambda: made.annotated("/Screen"), "sound or film"),
    "rich media": (lambda: made.annotated("/RichMedia"), "rich media"),
    "an XFA form": (lambda: made.with_form(xfa=True), "an XFA form"),
    "too many pages": (lambda: made.drawn(pages=201), "201 pages; 200 are the most"),
    "a very large page": (lambda: made.drawn(size=(3401, 500)), "Page 1"),
    "a page large by its unit": (
        lambda: made.changed(lambda pdf: pdf.pages[0].__setattr__("UserUnit", 20)), "A0 is the largest",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_what_is_refused_and_the_way_out(case):
    build, words = BAD[case]
    said = examine(build(), "a.pdf")
    assert words in said.fault
    assert said.way_out and said.message == f"{said.fault} {said.way_out}"


def test_all_that_a_file_does_is_listed():
    def add(pdf):
        pdf.attachments["a.txt"] = b"a"
        pdf.Root.OpenAction = SCRIPT

    said = examine(made.changed(add), "a.pdf")
    assert said.active and "JavaScript, files inside it" in said.fault


def test_a_name_written_in_codes_is_the_same_name():
    """ISO 32000-1, 7.3.5: #4A in a name is the letter J."""
    content = made.on_opening(SCRIPT).replace(b"/JavaScript", b"/#4AavaScript")
    assert b"/#4A" in content and "JavaScript" in examine(content, "a.pdf").fault


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: made.picture()[:200], "damaged"),
        (lambda: made.picture("JPEG")[:400], "damaged"),
        (made.huge_png, "far too large"),
        (lambda: made.picture(mode="1", size=(8000, 7000)), "8000 × 7000 pixels; 50 million are the most"),
        (lambda: b"\xff\xd8\xff\xe0", "damaged"),
    ],
    ids=("PNG cut off", "JPEG cut off", "said to be huge", "many pixels", "a head alone"),
)
def test_pictures_that_are_refused(build, words):
    said = examine(build(), "a.png")
    assert words in said.fault and said.way_out.startswith("Scan ")


def test_a_bomb_is_refused_by_its_size_and_not_by_chance():
    small, large = made.bomb(1), made.bomb(260)
    assert examine(small, "a.pdf").fault == "" and len(large) < paper_check.LIMIT_BYTES
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert "cannot be opened" in examine(large, "a.pdf").fault
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - peak < 500 * 1024  # KiB


def test_the_limits_are_said_before_a_file_is_chosen():
    for number in (paper_check.LIMIT_MIB, paper_check.MOST_PAGES, paper_check.MOST_PIXELS // 1_000_000):
        assert str(number) in paper_check.LIMITS


@cache
def seeds() -> tuple[bytes, ...]:
    return made.drawn(pages=2), made.on_opening(SCRIPT), made.picture(), made.picture("JPEG"), made.locked("x")


@settings(max_examples=examples(150), deadline=None)
@given(st.integers(0, 4), st.integers(0, 10**6), st.lists(st.tuples(st.integers(0, 10**6), st.binary(max_size=9))))
def test_no_bytes_ever_raise(seed, end, changes):
    content = seeds()[seed]
    mutated = bytearray(content[: end % (2 * len(content))])
    for at, piece in changes:
        place = at % (len(mutated) + 1)
        mutated[place : place + len(piece)] = piece
    said = examine(bytes(mutated), "a.pdf")
    assert bool(said.fault) == bool(said.way_out)
