"""Who belongs to a clinic or a company, who serves whom, and inviting to either."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import wraps

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Exists, OuterRef
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from records import access, clock, inviting, log
from records.doors import often
from records.forms.people import WHAT_ROLES_DO, EndForm, InviteForm, OfferForm
from records.log import may_be_logged
from records.models import (
    Agreement,
    AgreementEnd,
    Invitation,
    Membership,
    MembershipEnd,
    PersonText,
)
from records.views.base import one_or_404


@dataclass(frozen=True)
class PeoplePlace:
    """A clinic or a company as somebody looks at it.

    `manages`: may say who belongs to it. `hands_over`: belongs to the company that opened the clinic, and may invite
    its first coordinator, nobody else.
    """

    kind: str  # "clinic" or "company"
    organisation: object
    account: object
    zone: str
    manages: bool
    hands_over: bool = False

    @property
    def may_invite(self) -> bool:
        return self.manages or self.hands_over

    @property
    def roles(self) -> tuple[str, ...]:
        """To which roles the account may invite."""
        return inviting.ROLES_OF[self.kind] if self.manages else (inviting.FIRST,)

    @property
    def today(self) -> date:
        return clock.today(self.zone)

    def address(self, name: str, *args) -> str:
        return reverse(f"{self.kind}-{name}", args=[self.organisation.slug, *args])

    @property
    def context(self) -> dict:
        return {
            "place": self,
            "organisation": self.organisation,
            "kind": self.kind,
            "home": reverse(self.kind, args=[self.organisation.slug]),
            "people": self.address("people"),
        }


def _place(kind: str, account, slug: str) -> PeoplePlace:
    """Raises Http404 when it does not exist for the account."""
    if kind == "clinic":
        found = may_be_logged.clinic_with_zone(slug)
        rights = access.rights(account, found) if found else None
        if rights is None:
            raise Http404("no such clinic")
        zone = may_be_logged.zone_today(found)
        if rights.company is not None:
            hands_over = rights.may_manage and access.handing_over(account, found) is not None
            return PeoplePlace(kind, found, account, zone, False, hands_over)
    else:
        found, zone = access.companies_of(account).filter(slug=slug).first(), "UTC"
        if found is None:
            raise Http404("no such company")
    return PeoplePlace(kind, found, account, zone, access.manages(account, found))


def at_place(manage: bool = False, invite: bool = False):
    """A view of one organisation: 404 when it does not exist for the account, 403 for who does not manage it.

    `invite` also lets in who may invite the first coordinator of a clinic.
    """

    def decorate(view):
        @wraps(view)
        @login_required
        def wrapped(request, slug, kind, **kwargs):
            place = _place(kind, request.user, slug)
            if (manage and not place.manages) or (invite and not place.may_invite):
                raise PermissionDenied(
                    f"Only the coordinator or dispatcher of {place.organisation.name} says who belongs to it."
                )
            return view(request, place, **kwargs)

        return wrapped

    return decorate


def names_of(person_ids) -> dict[int, str]:
    """The newest name of each person, as it was signed; one query."""
    texts = PersonText.objects.filter(person__in=person_ids).order_by("id")
    return {text.person_id: str(text) for text in texts}


def _members(place: PeoplePlace) -> tuple[list[dict], list[dict]]:
    """Who belongs there, and who did; by role and name."""
    held = Exists(access.members(place.organisation).filter(origin=OuterRef("origin")))
    every = Membership.objects.in_force().filter(organisation=place.organisation).annotate(held=held)
    rows = list(every.order_by("effective_on", "id"))
    ends = MembershipEnd.objects.in_force().filter(membership__organisation=place.organisation)
    ended = {end.membership.origin: end for end in ends.select_related("membership").order_by("-effective_on")}
    names = names_of({row.person_id for row in rows})
    lines = [
        {"row": row, "name": names.get(row.person_id, "name not on record"), "end": ended.get(row.origin)}
        for row in rows
    ]
    lines.sort(key=lambda line: (line["row"].role, line["name"], line["row"].pk))
    now = [line for line in lines if line["row"].held]
    return now, [line for line in lines if not line["row"].held and line["end"]]


def _agreements(place: PeoplePlace) -> tuple[list[dict], list[dict]]:
    """Agreements in force and ended ones, each with the other side."""
    mine = {place.kind: place.organisation}
    held = Exists(access.agreements().filter(**mine, origin=OuterRef("origin")))
    every = Agreement.objects.in_force().filter(**mine).annotate(held=held)
    rows = every.select_related("clinic", "company").order_by("effective_on")
    ends = AgreementEnd.objects.in_force().filter(**{f"agreement__{k}": v for k, v in mine.items()})
    ended = {end.agreement.origin: end for end in ends.select_related("agreement")}
    lines = [
        {"row": row, "other": row.company if place.kind == "clinic" else row.clinic, "end": ended.get(row.origin)}
        for row in rows
    ]
    now = [line for line in lines if line["row"].held]
    return now, [line for line in lines if not line["row"].held and line["end"]]


@at_place()
@require_safe
def people(request, place):
    members, former = _members(place)
    agreements, past = _agreements(place)
    context = place.context | {
        "members": members,
        "former": former,
        "agreements": agreements,
        "past": past,
        "roles": WHAT_ROLES_DO,
        "invitations": list(inviting.open_invitations(place.organisation)) if place.may_invite else [],
        "agreement_role": inviting.AGREEMENT,
    }
    return render(request, "records/people.html", context)


def _form_page(request, place, form, title, *, button, about="", status=200):
    context = place.context | {
        "form": form,
        "title": title,
        "button": button,
        "about": about,
        "back": place.address("people"),
    }
    return render(request, "records/people_form.html", context, status=status)


def _invite(request, place, form_class, title, role_of):
    if request.method != "POST":
        return _form_page(request, place, form_class(ground=place), title, button="Make the link")
    form = form_class(request.POST, ground=place)
    if form.is_valid():
        values = form.cleaned_data
        try:
            made, token = inviting.invite(
                by=request.user, ref=values["request_key"], organisation=place.organisation, role=role_of(values),
                name=values["name"], email=values["email"],
            )  # fmt: skip
        except log.Refused as refusal:
            form.take(refusal.problems)
        else:
            return _show_once(request, place, made, token)
    return _form_page(request, place, form, title, button="Make the link", status=422)


def _show_once(request, place, made: Invitation, token: str):
    """The link; without it when the form was sent a second time."""
    address = request.build_absolute_uri(reverse("invitation", args=[token])) if token else ""
    context = place.context | {"invitation": made, "link": address, "agreement": made.role == inviting.AGREEMENT}
    answer = render(request, "records/invitation_made.html", context)
    answer["Cache-Control"] = "no-store"
    return answer


@often.at_most(60, "invitations")
@at_place(invite=True)
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def invite(request, place):
    return _invite(request, place, InviteForm, f"Invite somebody to {place.organisation.name}", lambda v: v["role"])


@often.at_most(60, "offers of an agreement")
@at_place(manage=True)
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def offer(request, place):
    title = "Invite a service company" if place.kind == "clinic" else "Offer a clinic an agreement"
    return _invite(request, place, OfferForm, title, lambda v: inviting.AGREEMENT)


@at_place(invite=True)
@require_http_methods(["GET", "HEAD", "POST"])
def withdraw(request, place, ref):
    made = one_or_404(Invitation.objects.filter(organisation=place.organisation), ref=ref)
    if request.method == "POST":
        inviting.withdraw(made)
        messages.success(request, f"The invitation for {made.name} opens no more.")
        return redirect(place.address("people"))
    return render(request, "records/withdraw.html", place.context | {"invitation": made})


def _end(request, place, write, *, title, about):
    form, status = EndForm(ground=place), 200
    if request.method == "POST":
        form, status = EndForm(request.POST, ground=place), 422
        if form.is_valid():
            try:
                row = write(by=request.user, request_key=form.cleaned_data["request_key"], **form.values())
            except log.SubmissionConflict as conflict:
                form.refuse("", str(conflict))
            except log.Refused as refusal:
                form.take(refusal.problems)
            else:
                messages.success(request, f"Recorded as entry {row.entry.number}.")
                return redirect(place.address("people"))
    return _form_page(request, place, form, title, button="Record", about=about, status=status)


@at_place(manage=True)
@require_http_methods(["GET", "HEAD", "POST"])
def end_membership(request, place, ref):
    """Ends access, not authorship."""
    row = one_or_404(access.members(place.organisation), ref=ref)
    name = names_of({row.person_id}).get(row.person_id, "")
    about = f"{name}, {row.role} since {row.effective_on}. What was logged stays, under the same name."

    def write(**values):
        return inviting.end_membership(membership=row, **values)

    return _end(request, place, write, title="Somebody belongs here no more", about=about)


@at_place(manage=True)
@require_http_methods(["GET", "HEAD", "POST"])
def end_agreement(request, place, ref):
    """Either side ends it; the records stay the clinic's."""
    mine = access.agreements().filter(**{place.kind: place.organisation.pk})
    row = one_or_404(mine.select_related("clinic", "company"), ref=ref)
    about = (
        f"{row.company.name} has served {row.clinic.name} since {row.effective_on}. From the day on the people of "
        f"{row.company.name} see only what they logged themselves, and the units leave its board and its round. "
        "What is on record stays with the clinic."
    )

    def write(**values):
        if values["effective_on"] < row.effective_on:
            words = f"It began on {row.effective_on}. Choose that day or a later one."
            raise log.Refused([log.Problem("effective_on", words)])
        return log.end_agreement(agreement=row, **values)

    return _end(request, place, write, title="End an agreement", about=about)
