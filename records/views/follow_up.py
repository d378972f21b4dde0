"""Pages of what is done after a failure."""

from __future__ import annotations

from functools import partial

from records import forms, log
from records.models import FailureCase, FollowUp

from .base import at_clinic, entry_page, one_or_404


@at_clinic()
def log_follow_up(request, ground, ref):
    case = one_or_404(FailureCase.objects.origins().filter(clinic=ground.clinic), ref=ref)
    one_or_404(FailureCase.objects.in_force(), origin=case.origin)
    write = partial(log.log_follow_up, clinic=ground.clinic, case=case)
    about = f"Failure ({case.kind}) of {case.unit}, of {case.happened_on}"
    return entry_page(request, ground, forms.FollowUpForm, write, title="Log a follow-up", context={"about": about})


@at_clinic()
def follow_up_done(request, ground, ref):
    followup = one_or_404(FollowUp.objects.origins().filter(clinic=ground.clinic), ref=ref)
    newest = one_or_404(FollowUp.objects.in_force(), origin=followup.origin)
    write = partial(log.complete_follow_up, clinic=ground.clinic, followup=newest)
    about = f"{newest.unit}: {newest.get_action_display()}. {newest.what}"
    return entry_page(
        request, ground, forms.FollowUpDoneForm, write, title="The follow-up is done", context={"about": about}
    )
