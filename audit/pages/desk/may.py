"""Is it all right to use? The answer for one unit on one screen, and a record of what was advised on it.

The answer and its reason are never typed: they are copied from the judgement that stood on the page, which the page
carries under the site's own signature, so that what is recorded is what was seen.
"""

from __future__ import annotations

from functools import partial
from zoneinfo import ZoneInfo

from django import forms
from django.core import signing
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from audit.facts import UnitFacts
from audit.judge.judgement import UnitJudgement
from records import clock, log
from records.forms import EntryContext
from records.forms.fields import Line, Lines
from records.models import Advice, Unit
from records.models.field import HOW_ASKED
from records.scan.gs1 import read
from records.scan.scanned import matches
from records.views.base import at_clinic

from ..opened import OpenedClinic, opened
from .entry import record
from .forms import DeskForm, Pick

_SALT = "the answer that was shown"
LONGEST_REASON, LONGEST_TOLD = 960, 1000  # the moment it was shown is added to the reason
LOST = "The answer that stood on the page cannot be read any more. Look at it again as it stands now, then send."


class AdviceForm(DeskForm):
    """What was asked of the unit and what was advised. `shown` is the answer that stood on the page, signed.

    An answer that has changed since is told once; sent again, what was advised on the old one is recorded with the
    time at which that stood on the page.
    """

    button = "Record the advice"
    upfront_names = ("asked_by", "how", "question", "told_as", "told")
    NOT_WRITTEN = (*DeskForm.NOT_WRITTEN, "shown", "told_as", "seen_change")

    asked_by = Line("Who asked")
    how = Pick("How", HOW_ASKED)
    question = Line("What was asked", longest=500, required=True, initial="May it be used?")
    told_as = Pick("What was advised", (("shown", "the answer above"), ("other", "something else, or more")))
    told = Lines("In your own words", longest=600, help_text="Needed for something else, or more.")
    shown = forms.CharField(widget=forms.HiddenInput, error_messages={"required": LOST})
    seen_change = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args, unit: str, now: str, fresh: str, **kwargs):
        super().__init__(*args, **kwargs)
        self.unit, self.now, self.fresh = unit, now, fresh

    def clean_shown(self) -> dict:
        try:
            shown = signing.loads(self.cleaned_data["shown"], salt=_SALT)
        except signing.BadSignature:
            raise forms.ValidationError(LOST) from None
        if shown["unit"] != self.unit:
            raise forms.ValidationError("That answer was another unit’s. Look at this unit’s, then send.")
        return shown

    def clean(self):
        values = super().clean()
        if values.get("told_as") == "other" and not values.get("told"):
            self.add_error("told", "What did you advise? Say it in a few words.")
        shown, on = values.get("shown"), values.get("on")
        if shown and on and on.isoformat() != shown["day"]:
            self.add_error("on", f"The answer above is of {shown['day']}: advice on it was given on that day.")
        elif shown and shown["answer"] != self.now and not values.get("seen_change") and not self._known(values):
            self.add_error(
                None,
                f"The answer has changed since this page was opened at {shown['at']}: it was “{shown['answer']}”, it "
                f"is “{self.now}” now. Whoever asked must be told. If you advised on the answer of {shown['at']}, "
                "send it again unchanged: it is recorded with that time.",
            )
        return values

    def seen_once(self) -> None:
        super().seen_once()
        shown = self.cleaned_data.get("shown")
        if shown and shown["answer"] != self.now:
            self.data["seen_change"] = "1"
        else:
            # The page shows the answer as it stands: that is the one that is recorded when it is sent again.
            self.data["shown"] = self.fresh

    def values(self) -> dict:
        values, shown = super().values(), self.cleaned_data["shown"]
        answer = f"{shown['answer']}: {shown['reason']}" if self.cleaned_data["told_as"] == "shown" else ""
        told = ". ".join(filter(None, (answer, values["told"])))
        reason = f"{shown['reason']} (shown at {shown['at']})"
        return values | {"told": told[:LONGEST_TOLD], "answer": shown["answer"], "reason": reason}


@at_clinic("look")
@require_safe
def may_be_used(request, ground: EntryContext):
    """Choose or scan a unit (`?unit=`, `?code=`) and see the answer."""
    page = opened(request, ground)
    code = request.GET.get("code", "").strip()
    found = units_by_code(ground, page, code) if code else []
    if len(found) == 1:
        return redirect(address_of_answer(ground, found[0].ref))
    chosen = _chosen(request, page)
    if chosen is None:
        context = page.context() | {"units": _answers(page), "code": code, "found": found, "unit": None}
        return render(request, "audit/desk/may.html", context)
    return _show(request, ground, page, chosen, _form(ground, *chosen, page))


@at_clinic()
def log_advice(request, ground: EntryContext, ref):
    """Record the advice that was given on the answer for one unit; opened without sending it shows that answer."""
    page = opened(request, ground, str(ref))
    unit, judged = _answers(page)[0]
    if request.method != "POST":
        return _show(request, ground, page, (unit, judged), _form(ground, unit, judged, page))
    form = _form(ground, unit, judged, page, request.POST)
    if form.is_valid():
        common = {"by": request.user, "request_key": form.cleaned_data["request_key"], "clinic": ground.clinic}
        common["unit"] = Unit.objects.get(ref=unit.ref)
        write = partial(_write, form, **common)
        answer = record(request, ground, form, write, "Record advice on a unit", address_of_answer(ground, unit.ref))
        if answer:
            return answer
    form.seen_once()
    return _show(request, ground, page, (unit, judged), form, 422)


def _write(form: AdviceForm, **common) -> list:
    return [log.log_advice(**common, **form.values())]


def _show(request, ground: EntryContext, page: OpenedClinic, chosen, form: AdviceForm, status: int = 200):
    unit, judged = chosen
    may = ground.rights.may_log and page.as_of == page.today
    context = page.context() | {"units": _answers(page), "unit": unit, "judged": judged, "may": may, "form": form}
    context["past_advice"] = advice_of(page, unit.ref)[:5]
    return render(request, "audit/desk/may.html", context, status=status)


def _answers(page: OpenedClinic) -> list[tuple[UnitFacts, UnitJudgement]]:
    return list(zip(page.facts.units, page.judgement.units, strict=True))


def _chosen(request, page: OpenedClinic) -> tuple[UnitFacts, UnitJudgement] | None:
    """The unit asked for; of a single one nobody needs to choose. Raises Http404 for a unit that is not here."""
    every = _answers(page)
    asked = request.GET.get("unit", "")
    if asked:
        mine = [pair for pair in every if pair[0].ref == asked]
        if not mine:
            raise Http404("No such unit at this clinic.")
        return mine[0]
    return every[0] if len(every) == 1 and not request.GET.get("code") else None


def units_by_code(ground: EntryContext, page: OpenedClinic, code: str) -> list[UnitFacts]:
    """The units that a scanned or typed code names, each by a whole field: a label of ours or the address on it, a
    serial, a UDI, a label. Never by a part of one: an answer about another unit would be the worst of answers."""
    named = {m.ref for m in matches(ground, read(code, ground.today)) if m.kind == "unit"}
    word = code.casefold()
    return [u for u in page.facts.units if u.ref in named or word in {u.ref, u.udi.casefold(), u.label.casefold()}]


def _form(ground: EntryContext, unit: UnitFacts, judged: UnitJudgement, page: OpenedClinic, data=None) -> AdviceForm:
    standing = judged.standing
    now = clock.now().astimezone(ZoneInfo(ground.zone))
    shown = {"unit": unit.ref, "answer": standing.word.value, "reason": standing.reason[:LONGEST_REASON]}
    signed = signing.dumps(shown | {"day": page.as_of.isoformat(), "at": f"{now:%H:%M}"}, salt=_SALT)
    about = {"unit": unit.ref, "now": standing.word.value, "fresh": signed}
    form = AdviceForm(data, ground=ground, initial={"shown": signed}, **about)
    form.address = reverse("log-advice", args=[ground.clinic.slug, unit.ref])
    form.outbox = f"Advice, {unit.label}"
    return form


def address_of_answer(ground: EntryContext, unit_ref: str) -> str:
    """The page with the answer for that unit."""
    return f"{reverse('may-be-used', args=[ground.clinic.slug])}?unit={unit_ref}"


def advice_of(page: OpenedClinic, unit_ref: str) -> list[Advice]:
    """Advice given on the unit by the day of the page, the newest first. One query."""
    rows = Advice.objects.in_force().filter(unit__ref=unit_ref, clinic=page.clinic, happened_on__lte=page.as_of)
    if page.known_at is not None:
        rows = rows.filter(entry__logged_at__lte=page.known_at)
    return list(rows.select_related("entry__logged_by").order_by("-happened_on", "-id")[:50])
