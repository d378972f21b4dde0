"""Pages of what is done after a failure."""

from __future__ import annotations

from functools import partial

from django.db import transaction

from records import forms, log
from records.forms.follow_up import RETURN
from records.log.errors import Problem
from records.log.signatures import key_of_return, same_name
from records.models import FailureCase, FollowUp

from .base import at_clinic, entry_page, one_or_404
from .returned import sign_return
from .units import write_unit_event


@at_clinic()
def log_follow_up(request, ground, ref):
    case = one_or_404(FailureCase.objects.origins().filter(clinic=ground.clinic), ref=ref)
    one_or_404(FailureCase.objects.in_force(), origin=case.origin)
    write = partial(_with_return, ground, case.unit, partial(log.log_follow_up, clinic=ground.clinic, case=case))
    about = f"Failure ({case.kind}) of {case.unit}, of {case.happened_on}"
    return entry_page(
        request, ground, forms.FollowUpForm, write, title="Log a follow-up", context={"about": about},
        then=sign_return, unit=case.unit,
    )  # fmt: skip


@at_clinic()
def follow_up_done(request, ground, ref):
    followup = one_or_404(FollowUp.objects.origins().filter(clinic=ground.clinic), ref=ref)
    newest = one_or_404(FollowUp.objects.in_force(), origin=followup.origin)
    done = partial(log.complete_follow_up, clinic=ground.clinic, followup=newest)
    write = partial(_with_return, ground, newest.unit, done)
    about = f"{newest.unit}: {newest.get_action_display()}. {newest.what}"
    return entry_page(
        request, ground, forms.FollowUpDoneForm, write, title="The follow-up is done", context={"about": about},
        then=sign_return, unit=newest.unit if newest.action == RETURN else None,
    )  # fmt: skip


def _with_return(ground, unit, write, *, by, request_key, ends=None, confirmed=(), **values):
    """The follow-up, and the return of the unit that ends the withdrawal named with it: both or none."""
    with transaction.atomic():
        row = write(by=by, request_key=request_key, **values)
        if ends is not None:
            when = {"on": values.get("done_on") or values["on"], "at": None if "done_on" in values else values["at"]}
            _refuse_for_another(by, values.get("done_by", ""))
            key = key_of_return(request_key)
            _return(ground, unit, ends, by=by, request_key=key, confirmed=confirmed, reason=values["outcome"], **when)
    return row


def _refuse_for_another(by, name: str) -> None:
    """What one person tells of another's return ends no withdrawal (21 CFR 11.100(a), 11.200(a)(2))."""
    if name and not same_name(name, by.full_name):
        words = (
            f"Only {name} ends a withdrawal by that return. Choose none here, and let {name} enter it with an own "
        )
        words += "log-in; or leave “Done by” blank if you return it yourself."
        raise log.Refused([Problem("ends", words)])


def _return(ground, unit, ends, *, reason: str, **values) -> None:
    """Raises Refused with its problems at the withdrawal, where this page has its field."""
    try:
        write_unit_event(ground, unit, kind="returned", ends=ends, reason=reason, **values)
    except log.NotYours:
        raise
    except log.Refused as refusal:
        raise log.Refused([Problem("ends", p.message, p.confirm) for p in refusal.problems]) from None
