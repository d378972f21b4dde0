"""The recorded cycles of a load: each with its verdict, its criteria and its picture; and files brought to it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from pathlib import PurePath

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_safe

from audit.facts import CycleRecordingFact, LoadFact, UnitFacts
from audit.facts.recordings import NOT_MET
from audit.gather.recordings import file_read, needed
from audit.issue.cycle_files import RECORDED, TOO_LARGE, FileNotTaken, take_in
from audit.judge.recorded import contradicted, failed, mechanical_of, told_of
from records.doors import often
from records.doors.uploads import DayIsFull
from records.files import blobs
from records.forms import EntryContext
from records.log.recordings import DIFFERS, LARGEST
from records.models import CycleRecording, Load
from records.views.base import at_clinic, one_or_404
from records.views.own import visible_rows
from records.views.room import room_for

from .opened import opened
from .svg import FailedMark, cycle_svg

MOST_FILES = 50


@dataclass(frozen=True, slots=True)
class AnsweredFile:
    """What became of one file that was sent: its name, a word and words. `asks`: it may be confirmed."""

    name: str
    word: str
    words: str
    asks: bool = False


@at_clinic("look")
@require_safe
def load_cycles(request, ground: EntryContext, ref):
    """What recorders say of the cycle of the load."""
    return _page(request, ground, _load_or_404(ground, ref))


@often.at_most(120, "cycles")
@at_clinic("log")
@require_http_methods(["GET", "HEAD", "POST"])
def add_cycles(request, ground: EntryContext, ref):
    """Files of recorded cycles, each answered by itself; those that are refused write nothing."""
    load = _load_or_404(ground, ref)
    if request.method != "POST":
        return _page(request, ground, load)
    sent = request.FILES.getlist("files")
    if not sent or len(sent) > MOST_FILES:
        problem = "No file was chosen. Choose the files of the recorder."
        problem = f"{len(sent)} files are too many at once. Choose {MOST_FILES} at most." if sent else problem
        return _page(request, ground, load, problem=problem, status=422)
    confirmed = (DIFFERS,) if request.POST.get("confirmed") == DIFFERS else ()
    answers = [_answered(request, ground, load, file, _key(request), confirmed) for file in sent]
    status = 422 if any(each.word == "not recorded" for each in answers) else 200
    return _page(request, ground, load, answers=answers, status=status)


def _key(request) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get("request_key", ""))
    except ValueError:
        return uuid.uuid4()


def _answered(request, ground: EntryContext, load: Load, file, key: uuid.UUID, confirmed) -> AnsweredFile:
    name = PurePath(file.name.replace("\\", "/")).name
    try:
        if file.size > LARGEST:
            raise FileNotTaken(TOO_LARGE)
        content = file.read()
        with room_for(ground, content):
            taken = take_in(
                by=request.user, request_key=key, clinic=ground.clinic, content=content, filename=name, how="upload",
                load=load, confirmed=confirmed,
            )  # fmt: skip
    except FileNotTaken as refused:
        return AnsweredFile(name, "not recorded", refused.message, bool(refused.confirm))
    except DayIsFull as full:
        return AnsweredFile(name, "not recorded", str(full))
    entry = taken.row.entry.number
    if taken.word == RECORDED:
        return AnsweredFile(name, taken.word, f"entry {entry}: {taken.verdict}. {taken.words}")
    other = "" if taken.row.load.origin == load.origin else f", with the load of cycle {taken.row.load.cycle_number}"
    return AnsweredFile(name, taken.word, f"as entry {entry}{other}; nothing was written twice")


def _load_or_404(ground: EntryContext, ref) -> Load:
    return one_or_404(Load.objects.origins().filter(clinic=ground.clinic).select_related("unit"), ref=ref)


def _page(request, ground: EntryContext, row: Load, *, answers=(), problem="", status=200):
    page = opened(request, ground, str(row.unit.origin))
    unit = page.facts.units[0]
    load = next((x for x in unit.loads if x.row.origin == str(row.origin)), None)
    if load is None:
        raise Http404("This load was entered in error.")
    own = [each for each in unit.recordings if each.load == load.row.origin]
    context = page.context() | {
        "unit": unit,
        "load": load,
        "result": mechanical_of(unit, load, own) or "not recorded",
        "cycles": [_shown(page.clinic, unit, load, each, n) for n, each in enumerate(own, start=1)],
        "answers": answers,
        "asks": any(each.asks for each in answers),
        "confirm": DIFFERS,
        "problem_of_files": problem,
        "most": MOST_FILES,
        "largest": LARGEST // 1024 // 1024,
        "key": uuid.uuid4(),
        "record": reverse("record", args=[ground.clinic.slug, "load", load.row.origin]),
    }
    return render(request, "audit/load_cycles.html", context, status=status)


def _shown(clinic, unit: UnitFacts, load: LoadFact, recording: CycleRecordingFact, n: int) -> dict:
    """One recorded cycle for the page. What is told of it is the fact's; the file is read anew for what it shows."""
    read = file_read(clinic, recording.sha256, needed(unit, load), whole=True)
    shown = {
        "fact": recording, "told": told_of(unit, load, recording), "whole": read.whole, "lost": read.refused,
        "failed": failed(unit, load, recording), "differs": contradicted(unit, load, recording),
    }  # fmt: skip
    if read.whole is None:
        return shown
    judged, drawn = read.whole["judged"], read.whole["picture"]
    marks = [
        FailedMark(c["id"], None if c["at_s"] is None else c["at_s"] - drawn["begins"])
        for c in judged["criteria"]
        if c["verdict"] == NOT_MET
    ]
    svg = cycle_svg(drawn, marks, _alt(recording, judged), f"cycle-{n}")
    return shown | {
        "criteria": [_criterion(c, read.whole["sources"]) for c in judged["criteria"]],
        "problems": judged["problems"],
        "f0": judged["f0_min"],
        "svg": mark_safe(svg),  # noqa: S308 (every word and attribute is escaped where it is drawn)
    }


def _criterion(criterion: dict, sources: dict) -> dict:
    """With numbers as they are written, "" where there is none."""
    told = {
        name: "" if criterion[name] is None else f"{criterion[name]:.3f}".rstrip("0").rstrip(".")
        for name in ("measured", "limit", "margin", "at_s")
    }
    return criterion | told | {"source": sources.get(criterion["id"], "")}


def _alt(recording: CycleRecordingFact, judged: dict) -> str:
    """What the picture shows, for who cannot see it: the verdict and the numbers of the hold."""
    said = {c["id"]: c["words"] for c in judged["criteria"]}
    told = [f"Recorded cycle, {judged['verdict']} under {recording.profile}."]
    return " ".join([*told, *(said[id] for id in ("holding-time", "band-low", "band-high", "theory-difference"))])


@at_clinic("own")
@require_safe
def cycle_file(request, ground: EntryContext, ref):
    """The file of a recorded cycle as it came in."""
    row = visible_rows(ground, CycleRecording.objects.filter(ref=ref)).first()
    if row is None:
        raise Http404("no such recorded cycle here")
    try:
        content = blobs.read(ground.clinic, row.sha256)
    except (OSError, ValueError):
        raise Http404("the file is not in the store as it was recorded") from None
    headers = {
        "Content-Disposition": content_disposition_header(True, row.filename),
        "X-Content-Type-Options": "nosniff",
    }
    return HttpResponse(content, content_type="text/plain; charset=utf-8", headers=headers)
