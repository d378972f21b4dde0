"""From the store to the papers of a binder: which, in which order, and what becomes of a bad one."""

import hashlib
from datetime import date, timedelta
from io import BytesIO

import pikepdf
import pytest
from django.conf import settings as project
from pikepdf import Dictionary, Name

from audit.binder.attached import AS_FILED, PICTURE
from audit.gather.read import clinic_facts
from audit.issue.make import contents, make
from audit.issue.papers import gather_papers, of_binder
from audit.issue.seal.embed import files
from audit.issue.wish import Wish
from records import clock, log
from records.files import apart, blobs, paper_check
from tests import paper_files as made
from tests import world as build

pytestmark = pytest.mark.django_db

FROM, TO = date(2026, 1, 1), date(2026, 3, 16)


@pytest.fixture
def world(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        yield build.make()


def file(world, content: bytes, filename="a.pdf", title="A report", **more):
    more = {"kind": "other", "valid_from": date(2026, 2, 2)} | more
    return log.log_document(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, title=title, content=content,
        filename=filename, **more,
    )  # fmt: skip


def file_unseen(monkeypatch, world, content: bytes, filename="a.pdf", **more):
    """File a paper as it was done before files were looked at."""
    with monkeypatch.context() as before:
        before.setattr(apart, "examined", lambda content, name: paper_check.Examined(paper_check.PLAIN))
        return file(world, content, filename, **more)


def gathered(world, from_on=FROM, to_on=TO, as_of=build.TODAY):
    return gather_papers(world.clinic, clinic_facts(world.clinic), from_on=from_on, to_on=to_on, as_of=as_of)


def test_a_clinic_without_papers_has_none_and_starts_no_process(world, monkeypatch):
    monkeypatch.setattr(of_binder.Apart, "command", ("no-such-program",))
    assert gathered(world) == ()


def test_a_paper_is_gathered_with_all_that_is_known_of_it(world):
    content = made.drawn(pages=2)
    filed = file(world, content, "report.pdf", "Yearly report", kind="service report", unit=world.unit)
    (paper,) = gathered(world)
    assert (paper.number, paper.ref, paper.title, paper.kind) == (
        1,
        str(filed.ref),
        "Yearly report",
        "service report",
    )
    assert (paper.filename, paper.size, paper.media_type) == ("report.pdf", len(content), "application/pdf")
    assert paper.content == content and paper.sha256 == hashlib.sha256(content).hexdigest()
    assert paper.unit == str(world.unit.origin) and (paper.total, paper.problem, paper.note) == (2, "", "")
    assert [(page.number, page.way, page.width, page.height) for page in paper.pages] == [
        (1, AS_FILED, 300, 400), (2, AS_FILED, 300, 400),
    ]  # fmt: skip
    assert (paper.embedded_as, paper.key(paper.pages[1])) == ("paper-01-report.pdf", "Paper1p2")


@pytest.mark.parametrize(
    ("valid_from", "valid_to", "filed_on", "attached"),
    [
        ("2025-12-31", "2025-12-31", "2025-12-31", False),  # over before the period
        ("2025-12-01", "2026-01-01", "2025-12-01", True),  # its last day is the first of the period
        ("2025-02-01", None, "2025-02-01", True),  # no end stated
        ("2026-02-01", "2026-02-03", "2026-02-01", True),
        ("2026-02-27", None, "2026-02-27", False),  # begins the day after the period, which ends with the answer
        ("2026-02-26", None, "2026-02-26", True),
        ("2026-02-01", None, "2026-03-01", False),  # filed after the day of the answer
    ],
)
def test_which_papers_belong_in_a_binder(world, valid_from, valid_to, filed_on, attached):
    days = {"valid_from": date.fromisoformat(valid_from), "on": date.fromisoformat(filed_on)}
    file(world, made.drawn(), valid_to=valid_to and date.fromisoformat(valid_to), **days)
    last = date(2026, 2, 26)
    assert bool(gathered(world, to_on=last, as_of=last)) is attached


def test_in_force_on_the_day_of_the_answer_is_enough(world):
    file(world, made.drawn(), valid_from=date(2026, 3, 1))
    assert gathered(world, date(2025, 1, 1), date(2025, 12, 31)) != ()


def test_papers_of_the_place_come_first_then_unit_by_unit(world):
    titles = ["of the unit", "procedure", "older instructions", "newer instructions"]
    file(world, made.drawn(pages=1), title=titles[0], unit=world.unit)
    file(world, made.drawn(pages=2), title=titles[1], kind="procedure")
    file(world, made.drawn(pages=3), title=titles[3], kind="instructions", valid_from=date(2026, 2, 3))
    file(world, made.drawn(pages=4), title=titles[2], kind="instructions")
    papers = gathered(world)
    assert [paper.title for paper in papers] == [titles[2], titles[3], titles[1], titles[0]]
    assert [paper.number for paper in papers] == [1, 2, 3, 4]


def test_a_paper_entered_in_error_is_left_out(world):
    filed = file(world, made.drawn())
    log.void(by=world.people["coordinator"], request_key=build.key(), row=filed, reason="another clinic's")
    assert gathered(world) == ()


def _path(world, paper):
    return project.BLOBS_DIR / str(world.clinic.ref) / paper.sha256


def test_a_lost_file_is_a_paper_that_says_so(world):
    _path(world, file(world, made.drawn())).unlink()
    (paper,) = gathered(world)
    assert (paper.rule, paper.size, paper.content, paper.pages) == ("paper-lost", None, b"", ())
    assert "not in the store" in paper.problem and "from a copy" in paper.way_out


def test_a_changed_file_is_a_paper_that_says_so(world):
    path = _path(world, file(world, made.drawn()))
    path.write_bytes(path.read_bytes().replace(b"%PDF-1.", b"%PDF-2."))
    (paper,) = gathered(world)
    assert paper.rule == "paper-changed" and "SHA-256 differs" in paper.problem and not paper.content


@pytest.mark.parametrize(
    ("content", "embedded", "words"),
    [
        (made.drawn()[:300], True, "damaged"),
        (made.locked("secret"), True, "password"),
        (made.on_opening(Dictionary(S=Name.JavaScript, JS="app.alert(1)")), False, "JavaScript"),
        (made.with_file(), False, "files inside it"),
        (made.huge_png(), True, "too large"),
        (b"no PDF", False, "its content is not"),
    ],
)
def test_a_bad_file_from_before_the_check_is_a_paper_that_says_so(world, monkeypatch, content, embedded, words):
    file_unseen(monkeypatch, world, content)
    good = file(world, made.drawn(), title="Another report")
    bad, beside = gathered(world)
    assert bad.rule == "paper-not-shown" and words in bad.problem and bad.way_out and bad.pages == ()
    assert (bad.content == content) is embedded and ("not embedded" in bad.note) is not embedded
    assert beside.ref == str(good.ref) and beside.pages and not beside.problem


def test_the_same_file_twice_is_embedded_and_shown_once(world):
    file(world, made.drawn(), title="First")
    file(world, made.drawn(), title="Second")
    first, second = gathered(world)
    assert first.content and first.pages and not second.content and not second.pages
    assert "The same file as paper 1, “First”" in second.note and second.size == first.size


def test_text_is_embedded_and_other_kinds_are_not(world):
    file(world, b"pulses,3\n", "cycles.csv")
    file(world, b"<script>", "plan.html")
    table, page = gathered(world)
    assert table.content == b"pulses,3\n" and table.media_type == "text/csv" and "no pages to show" in table.note
    assert page.content == b"" and "not embedded" in page.note and not page.problem


def test_limits_are_kept_and_said(world, monkeypatch):
    monkeypatch.setattr(of_binder, "MOST_SHOWN", 3)
    monkeypatch.setattr(of_binder, "MOST_SHOWN_IN_ALL", 4)
    monkeypatch.setattr(of_binder, "EMBEDDED_BYTES", len(made.drawn(pages=5)) + 10)
    for pages in (5, 3, 1):
        file(world, made.drawn(pages=pages), title=f"of {pages}")
    first, second, third = gathered(world)
    assert [len(paper.pages) for paper in (first, second, third)] == [3, 1, 0]
    assert first.content and first.note == (
        "Pages 4 to 5 are in the embedded original only: 3 pages are the most that are shown of one paper."
    )
    assert not second.content and "this file would become too large" in second.note
    assert "Pages 2 to 3 are in the stored original only: 4 pages are the most that are shown of all" in second.note
    assert "Page 1 is in the stored original only" in third.note and not third.problem


def _is_figure(value) -> bool:
    return isinstance(value, pikepdf.Dictionary) and value.get("/S") == Name.Figure


def test_a_whole_binder_carries_its_papers(world, monkeypatch):
    """Originals byte for byte, pages under the names that are drawn, what is wrong among the open items."""
    filed = {
        "report.pdf": made.drawn(pages=2), "old.pdf": made.drawn(font="Helvetica"), "photo.jpg": made.picture("JPEG"),
        "notes.txt": b"pulses: 3",
    }  # fmt: skip
    for name, content in filed.items():
        file(world, content, name, title=name.split(".")[0].title())
    file_unseen(monkeypatch, world, made.with_file(), "hostile.pdf", title="Hostile", unit=world.unit)
    wish = Wish(FROM, TO, as_of=build.TODAY)
    done = make(world.clinic, wish)
    with pikepdf.open(BytesIO(done.body)) as pdf:
        inside = {name: bytes(spec.get_file().read_bytes()) for name, spec in pdf.attachments.items()}
        placed = [key for page in pdf.pages for key in page.Resources.get("/XObject", {}).keys()]
        figures = {str(each.get("/Alt", "")) for each in pdf.objects if _is_figure(each)}
        actions = [each for each in pdf.objects if isinstance(each, pikepdf.Dictionary) and "/EF" in each]
    assert {k.split("-", 2)[-1]: v for k, v in inside.items() if k.startswith("paper-")} == filed
    assert len(actions) == len(inside)
    assert any(alt.startswith("Page 2 of 2 of Report, filed as report.pdf; the original is embed") for alt in figures)
    assert sorted(placed) == ["/Paper1p1", "/Paper1p2", "/Paper2p1", "/Paper3p1"]
    binder, papers = contents(world.clinic, wish)
    assert [page.way for paper in papers for page in paper.pages] == [AS_FILED, AS_FILED, PICTURE, AS_FILED]
    assert {f.name for f in files({}, b"", papers)} >= {paper.embedded_as for paper in papers if paper.content}
    items = next(section for section in binder.sections if section.id == "open-items")
    assert "“Hostile” (other, file hostile.pdf) cannot be shown" in str(items)
    assert make(world.clinic, wish).body == done.body


def test_a_store_that_can_not_be_read_is_no_crash(world, monkeypatch):
    file(world, made.drawn())

    def refuse(organisation, sha256):
        raise PermissionError("no right")

    monkeypatch.setattr(blobs, "read", refuse)
    (paper,) = gathered(world)
    assert paper.rule == "paper-lost"


def test_a_day_later_nothing_of_it_has_changed(world):
    file(world, made.drawn(font="Helvetica"))
    assert gathered(world) == gathered(world, as_of=build.TODAY + timedelta(days=1))
