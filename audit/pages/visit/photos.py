"""Photos of a visit: kept beside the draft until it is recorded, then recorded as photos of their rows.

One that a device sends only after the visit was recorded is recorded at once, about the same row.
"""

from __future__ import annotations

import uuid
from hashlib import sha256 as digest

from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from audit.pages.visit.guide import steps
from records import log
from records.doors.uploads import DayIsFull
from records.files import blobs
from records.files.apart import remade
from records.files.photos import LARGEST_UPLOAD, NotAPhoto
from records.log.visits import LEAVES
from records.models import Job, Photo
from records.models import Visit as VisitRow
from records.views.base import at_clinic
from records.views.own import visible_rows
from records.views.room import room_for

from .drafts import DraftedVisit, Gone, answer_gone, change, draft_or_404, visit_of, wants_data

MOST_PHOTOS = 40


def _remade(sent):
    if sent is None:
        raise NotAPhoto("No photo came with it. Choose one, or take it again.")
    if sent.size > LARGEST_UPLOAD:
        raise NotAPhoto(f"The file has more than {LARGEST_UPLOAD // 2**20} MiB. Choose a smaller size in the camera.")
    return remade(sent.read())


def keep(visit: DraftedVisit, n: int, step: str, sent, caption: str, key: str = "") -> dict:
    """Make the photo again, put it with the clinic's files and name it in the draft.

    `key`: by what a device knows the photo; sent again under it, only its words are taken anew.
    Raises NotAPhoto, Gone; DayIsFull when no more files are kept today, and then the draft is as it was.
    """
    if key and (held := _renamed(visit, n, step, key, caption)):
        return held
    if len(visit.draft.content["photos"]) >= MOST_PHOTOS:
        raise NotAPhoto(f"A visit holds {MOST_PHOTOS} photos. Record it, and begin another one for more.")
    made = _remade(sent)
    sha256 = digest(made.content).hexdigest()
    words = caption.strip()[:300] or visit.units[n].title(step)
    entry = {
        "n": n, "step": step, "caption": words, "sha256": sha256, "width": made.width, "height": made.height,
        "size": len(made.content), "key": key[:40],
    }  # fmt: skip

    def add(content):
        same = [p for p in content["photos"] if (p["n"], p["step"], p["sha256"]) == (n, step, sha256)]
        if not same:
            content["photos"].append(entry)
        elif caption.strip():
            same[0]["caption"] = words

    with room_for(visit.ground, made.content):
        blobs.store(visit.ground.clinic, made.content)
        change(visit.draft, add)
    return entry


def _renamed(visit: DraftedVisit, n: int, step: str, key: str, caption: str) -> dict | None:
    """The photo that is kept under the key already, with these words if there are any; None for none."""

    def of(content):
        return next((p for p in content["photos"] if (p["n"], p["step"], p.get("key")) == (n, step, key[:40])), None)

    def rename(content):
        if (held := of(content)) and caption.strip():
            held["caption"] = caption.strip()[:300]

    if of(visit.draft.content) is not None:
        change(visit.draft, rename)
    return of(visit.draft.content)


@require_POST
@at_clinic("visit")
def visit_photo(request, ground, ref, n, step):
    """Take one photo for a page; or with `drop`, its SHA-256, leave one out again.

    After the visit was recorded, a photo that comes late is recorded too, and none is left out.
    """
    try:
        visit = visit_of(request, ground, ref, n)
        if not steps.is_step(step, visit.units[n].lines.keys()):
            raise Http404("This visit has no such page.")
        if request.POST.get("drop"):
            _drop(visit, n, step, request.POST["drop"])
            return redirect(visit.address(n, step))
        caption, key = (request.POST.get(name, "") for name in ("photo_caption", "photo_key"))
        kept = keep(visit, n, step, request.FILES.get("photo"), caption, key)
        where = visit.address(n, step)
    except Gone:
        draft = draft_or_404(ground, ref)
        if request.POST.get("drop") or not draft.visit or not 1 <= n <= len(draft.units):
            return answer_gone(request, ground, ref)
        return _late(request, ground, draft, n, step)
    except NotAPhoto as problem:
        return _refused(request, [str(problem)])
    except DayIsFull as full:
        return _later(request, full)
    return _taken(request, kept["caption"], kept["size"], where)


def _taken(request, caption: str, size: int, where: str):
    return JsonResponse({"caption": caption, "size": size}) if wants_data(request) else redirect(where)


def _refused(request, problems: list[str]):
    if wants_data(request):
        return JsonResponse({"problem": " ".join(problems)}, status=422)
    return render(request, "audit/visit/photo_refused.html", {"refused": problems}, status=422)


def _later(request, full: DayIsFull):
    """The photo is not kept today: a device keeps it and sends it again by itself. The visit does not wait for it."""
    if wants_data(request):
        answer = JsonResponse({"problem": str(full)}, status=507)
    else:
        answer = render(request, "audit/visit/photo_refused.html", {"refused": [str(full)]}, status=507)
    answer["Retry-After"] = str(full.seconds)
    return answer


def _late(request, ground, draft, n: int, step: str):
    """Record a photo of a visit that is on record, about the row that its page became."""
    recorded = VisitRow.objects.get(ref=draft.visit)
    job = recorded.jobs.select_related("unit").filter(unit__ref=draft.units[n - 1]).order_by("id").first()
    if job is None:
        return answer_gone(request, ground, draft.ref)
    try:
        made = _remade(request.FILES.get("photo"))
        about = draft.content.get("rows", {}).get(f"{n}/{step}", job.origin)
        caption = request.POST.get("photo_caption", "").strip()[:300] or steps.TITLES.get(step, "A task of the visit")
        photo = {
            "caption": caption,
            "sha256": digest(made.content).hexdigest(),
            "width": made.width,
            "height": made.height,
        }
        with room_for(ground, made.content):
            _log(ground, draft, recorded, job, photo | {"n": n, "step": step}, about, made.content)
    except NotAPhoto as problem:
        return _refused(request, [str(problem)])
    except DayIsFull as full:
        return _later(request, full)
    except log.SubmissionConflict:
        pass  # the same photo under other words: it is on record
    except log.Refused as refusal:
        return _refused(request, [problem.message for problem in refusal.problems])
    return _taken(request, caption, len(made.content), reverse("visit", args=[ground.clinic.slug, draft.visit]))


def _log(ground, draft, recorded, job, photo: dict, about, content: bytes):
    """Sent twice, a photo is recorded once: its key follows from the draft, its page and its bytes."""
    key = uuid.uuid5(draft.request_key, f"{photo['n']}/{photo['step']}/{photo['sha256']}")
    return log.log_photo(
        by=ground.account, request_key=key, clinic=ground.clinic, unit=job.unit, on=recorded.happened_on,
        caption=photo["caption"], about=about, content=content, width=photo["width"], height=photo["height"],
    )  # fmt: skip


def _drop(visit: DraftedVisit, n: int, step: str, sha256: str) -> None:
    def without(content):
        content["photos"] = [p for p in content["photos"] if (p["n"], p["step"], p["sha256"]) != (n, step, sha256)]

    change(visit.draft, without)


def record_photos(visit: DraftedVisit, recorded) -> tuple[list[str], dict[str, str]]:
    """Record the photos of the draft, each about the row of its page.

    Returns what could not be recorded, in words, and the origin of the row that each page became, by "n/page".
    """
    jobs = {str(job.unit.ref): job for job in Job.objects.filter(visit=recorded).select_related("unit")}
    rows = {n: _rows(visit.units[n], jobs[visit.draft.units[n - 1]]) for n in visit.units}
    failed = []
    for photo in visit.draft.content["photos"]:
        n = photo["n"]
        if n not in rows:
            failed.append(f"{photo['caption']}: its unit was left out of the visit.")
            continue
        job = jobs[visit.draft.units[n - 1]]
        about = rows[n].get(photo["step"], job.origin)
        try:
            content = blobs.read(visit.ground.clinic, photo["sha256"])
            _log(visit.ground, visit.draft, recorded, job, photo, about, content)
        except (log.Refused, log.SubmissionConflict, OSError, ValueError) as problem:
            failed.append(f"{photo['caption']}: {problem}")
    return failed, {f"{n}/{page}": str(origin) for n, pages in rows.items() for page, origin in pages.items()}


def _rows(unit, job) -> dict:
    """The origin of the row that each page became: the finding before the outcome, the first counter."""
    found: dict = {}
    for kind in ("outcomes", "findings", "counters", "readings"):
        places = [(k, page) for (what, k), page in unit.made.places.items() if what == kind]
        if places:
            rows = list(LEAVES[kind].objects.filter(job=job, amends=None).order_by("line"))
            fresh = {page: rows[k].origin for k, page in sorted(places, reverse=True)}
            found |= fresh
    return found


@at_clinic("own")
@require_safe
def photo_file(request, ground, ref):
    """A photo on record."""
    photo = visible_rows(ground, Photo.objects.filter(ref=ref)).first()
    if photo is None:
        raise Http404("No such photo here.")
    return _jpeg(ground.clinic, photo.sha256)


@require_safe
@at_clinic("visit")
def draft_photo(request, ground, ref, sha256):
    """A photo beside a visit that is being typed."""
    draft = draft_or_404(ground, ref)
    if all(p["sha256"] != sha256 for p in draft.content["photos"]):
        raise Http404("No such photo here.")
    return _jpeg(ground.clinic, sha256)


def _jpeg(clinic, sha256: str) -> HttpResponse:
    try:
        content = blobs.read(clinic, sha256)
    except FileNotFoundError:
        raise Http404("The file is not in the store.") from None
    headers = {"X-Content-Type-Options": "nosniff", "Cache-Control": "private, max-age=3600"}
    return HttpResponse(content, content_type="image/jpeg", headers=headers)
