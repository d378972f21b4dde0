"""A reader in a process of its own: what brings it down costs one paper and nothing more."""

import sys
import threading

import pytest

from audit.issue.papers.apart import Apart
from audit.issue.papers.limits import MOST_SHOWN
from audit.issue.papers.prepare import prepared
from tests import paper_files as made

# Stands in for the reader: says what it is told by the first byte of the file.
FAKE = """
import sys, time
from audit.issue.papers import apart
while True:
    name, content, most = apart._received(sys.stdin.buffer)
    if content[:1] == b"d":
        import os; os._exit(9)
    if content[:1] == b"s":
        time.sleep(60)
    if content[:1] == b"n":
        apart._send(sys.stdout.buffer, b"no words", b"", 0)
    else:
        said = apart.json.dumps({"examined": {"media_type": "text/plain"}, "pages": [], "unshown": ""})
        apart._send(sys.stdout.buffer, said.encode(), content, 0)
"""


@pytest.fixture
def fake(monkeypatch):
    monkeypatch.setattr(Apart, "command", (sys.executable, "-c", FAKE))


@pytest.mark.parametrize(
    ("content", "name"),
    [
        (made.drawn(pages=2), "a.pdf"),
        (made.drawn(font="Helvetica"), "ä 1.pdf"),
        (made.picture("JPEG"), "a.jpg"),
        (b"text", "a.txt"),
        (made.with_file(), "a.pdf"),
        (b"", ""),
    ],
)
def test_it_says_the_same_as_in_this_process(content, name):
    with Apart() as reader:
        assert reader.prepared(content, name, MOST_SHOWN) == prepared(content, name)


def test_one_process_for_several_papers():
    with Apart() as reader:
        reader.prepared(made.drawn(), "a.pdf", 1)
        first = reader.process.pid
        assert reader.prepared(made.drawn(pages=3), "b.pdf", 2) == prepared(made.drawn(pages=3), "b.pdf", 2)
        assert reader.process.pid == first
    assert reader.process is None


@pytest.mark.parametrize("bad", [b"dies", b"sleeps", b"nonsense"])
def test_a_paper_that_ends_it_costs_only_that_paper(fake, bad):
    with Apart(seconds=3) as reader:
        said = reader.prepared(bad, "a.pdf", 1)
        assert "cannot be opened in 3 s" in said.examined.fault and said.examined.way_out and not said.pages
        assert reader.prepared(b"a good one", "a.txt", 1).sheets == b"a good one"


def test_a_reader_that_can_not_be_started_is_a_fault_of_each_paper(monkeypatch):
    monkeypatch.setattr(Apart, "command", ("/no/such/program",))
    with Apart() as reader:
        assert "cannot be opened" in reader.prepared(made.drawn(), "a.pdf", 1).examined.fault


def test_several_threads_each_with_their_own():
    contents = [made.drawn(pages=n, font=font) for n in (1, 2) for font in ("PaperFont", "Helvetica")]
    said: dict[int, object] = {}

    def read(n):
        with Apart() as reader:
            said[n] = reader.prepared(contents[n], "a.pdf", 5)

    threads = [threading.Thread(target=read, args=(n,)) for n in range(len(contents))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [said[n] for n in range(len(contents))] == [prepared(content, "a.pdf", 5) for content in contents]
