"""Taking an invitation by its link. A link that does not open says no more than that, whatever the reason."""

from __future__ import annotations

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from records import inviting, log
from records.doors import enter, often
from records.forms.people import TAKEN, WHAT_ROLES_DO, AcceptForm, NewAccountForm
from records.log import may_be_logged
from records.models import Account, Clinic
from records.views.people import PeoplePlace


@never_cache
@sensitive_post_parameters("phrase", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def invitation(request, token: str):
    if often.guesses_used_up(request, "invitation"):
        return often.refuse(request, "invitations that do not open")
    found = inviting.find(token)
    if found is None:
        often.guessed_wrong(request, "invitation")
        raise Http404("no such invitation")
    # The address is a secret. The site-wide header keeps it from other sites; a stricter one would take away the
    # Origin by which the form sent from here is told from a foreign one.
    return _agreement(request, found) if found.role == inviting.AGREEMENT else _role(request, found)


def _show(request, found, status=200, **more):
    context = {
        "invitation": found,
        "organisation": found.organisation,
        "role": WHAT_ROLES_DO.get(found.role, found.role),
        "sign_in": f"{reverse('sign-in')}?next={request.path}",
    }
    return render(request, "records/invitation.html", context | more, status=status)


def _today_at(organisation):
    clinic = Clinic.objects.filter(pk=organisation.pk).first()
    return log.first_day(may_be_logged.zone_of(clinic) if clinic else "UTC")


def _role(request, found):
    """With the account that is signed in, or a new one."""
    if request.user.is_authenticated:
        if request.method != "POST":
            return _show(request, found)
        try:
            inviting.take_role(found, request.user, _today_at(found.organisation))
        except log.Refused as refusal:
            return _show(request, found, 422, problem=_words(refusal))
        return _joined(request, found)
    form = NewAccountForm(request.POST or None, initial={"name": found.name})
    if request.method != "POST" or not form.is_valid():
        return _show(request, found, 422 if request.method == "POST" else 200, form=form)
    try:
        account = _new_member(found, form.cleaned_data)
    except IntegrityError:
        # Somebody else took the name since the form looked.
        form.add_error("username", TAKEN)
        return _show(request, found, 422, form=form)
    except log.Refused as refusal:
        return _show(request, found, 422, form=form, problem=_words(refusal))
    step = enter.step_after_phrase(request, account, reverse("home"))
    if step:
        messages.success(request, f"You belong to {found.organisation.name} now, as {found.role}.")
        return redirect("sign-in-second-factor")
    return _joined(request, found)


def _new_member(found, values) -> Account:
    """A log-in that belongs to the organisation at once: without the role it would be of no use, so both or none."""
    with transaction.atomic():
        account = Account.objects.create_user(
            values["username"], password=values["phrase"], first_name=values["name"], email=found.email
        )
        inviting.take_role(found, account, _today_at(found.organisation))
    return account


def _words(refusal) -> str:
    return " ".join(problem.message for problem in refusal.problems)


def _joined(request, found):
    messages.success(request, f"You belong to {found.organisation.name} now, as {found.role}.")
    return redirect(inviting.kind_of(found.organisation), slug=found.organisation.slug)


def _agreement(request, found):
    """Accepted by whoever manages the other side."""
    if not request.user.is_authenticated:
        return _show(request, found, agreement=True)
    sides = inviting.other_side(found, request.user)
    kind = inviting.kind_of(found.organisation)
    ground = PeoplePlace(kind, found.organisation, request.user, "UTC", False)
    shown = {"agreement": True, "sides": sides, "other_kind": "clinic" if kind == "company" else "company"}
    if request.method != "POST" or not sides:
        return _show(request, found, form=AcceptForm(ground=ground, sides=sides), **shown)
    form = AcceptForm(request.POST, ground=ground, sides=sides)
    if form.is_valid():
        values = form.values()
        try:
            inviting.take_agreement(found, request.user, values["side"], values["effective_on"])
        except log.Refused as refusal:
            form.take(refusal.problems)
        else:
            messages.success(request, f"The agreement with {found.organisation.name} is recorded.")
            return redirect(inviting.kind_of(values["side"]), slug=values["side"].slug)
    return _show(request, found, 422, form=form, **shown)
