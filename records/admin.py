"""The site of whoever looks after the installation: facts to look at, accounts to look after."""

from __future__ import annotations

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, render
from django.urls import path

from records.doors import events, passkeys, reset, second, sessions
from records.models import (
    Account,
    Clinic,
    Entry,
    Ledger,
    Organisation,
    Person,
    PersonText,
    ServiceCompany,
    fact_models,
)


class LookOnly(admin.ModelAdmin):
    """No adding, changing or deleting: facts are logged on their pages and only ever corrected."""

    list_per_page = 50
    show_full_result_count = False

    def has_add_permission(self, request):
        return False

    def has_change_permission(self, request, obj=None):
        return False

    def has_delete_permission(self, request, obj=None):
        return False


class FactAdmin(LookOnly):
    list_display = ("__str__", "happened_on", "short_ref")
    ordering = ("-id",)


class OrganisationAdmin(LookOnly):
    """Opened by the log; what judgement reads of a clinic is in its terms. Only name and phone change here."""

    list_display = ("name", "slug")
    fields = ("slug", "name", "phone")
    readonly_fields = ("slug",)

    def has_change_permission(self, request, obj=None):
        return admin.ModelAdmin.has_change_permission(self, request, obj)


class EntryAdmin(LookOnly):
    list_display = ("number", "ledger", "what", "logged_at", "logged_by")
    ordering = ("-id",)
    list_select_related = ("logged_by",)


def _at_the_door(request, account: Account) -> tuple[str, str]:
    """What was done for the account, in words; and the link that was made, or ""."""
    if request.POST.get("do") == "link":
        events.note("reset link made", request, account=account)
        return f"Hand this to {account.full_name}. It opens once, within four hours:", reset.address_for(account)
    return _taken_from(request, account, request.POST.get("do")), ""


def _taken_from(request, account: Account, do: str | None) -> str:
    if do == "factor" and second.take_all_away(account):
        events.note("second factor taken away", request, account=account)
        return (
            "Time codes, passkeys and recovery codes are taken away. Where a second factor is asked for, the next "
            "signing in sets up a new one."
        )
    if do == "sittings" and sessions.end_all(account):
        events.note("sitting ended", request, account=account)
        return "Every sitting is ended."
    return "There was nothing to end or to take away."


class AccountAdmin(UserAdmin):
    """Accounts are switched off, not deleted: their entries stay theirs."""

    change_form_template = "admin/records/account/change_form.html"

    def get_urls(self):
        door = self.admin_site.admin_view(self.door)
        return [path("<int:pk>/door/", door, name="records_account_door"), *super().get_urls()]

    def door(self, request, pk: int):
        """A link to choose a new pass phrase, a lost second factor, sittings: for who cannot help themselves.

        Whoever does this makes sure first who asks. The link is shown once, to be handed to its person: nobody else
        ever knows the pass phrase.
        """
        account = get_object_or_404(Account, pk=pk)
        if not self.has_change_permission(request, account):
            raise PermissionDenied
        said, link = _at_the_door(request, account) if request.method == "POST" else ("", "")
        context = self.admin_site.each_context(request) | {
            "account": account, "said": said, "link": link, "title": f"{account.full_name}: getting in",
            "codes": second.of(account) is not None, "passkeys": passkeys.of_account(account),
            "sittings": len(sessions.of_account(account)),
        }  # fmt: skip
        answer = render(request, "admin/records/account/door.html", context)
        answer["Cache-Control"] = "no-store"
        return answer

    def has_delete_permission(self, request, obj=None):
        return False


for fact in fact_models():
    admin.site.register(fact, FactAdmin)
admin.site.register(Entry, EntryAdmin)
admin.site.register([Ledger, Person, PersonText, Organisation], LookOnly)
admin.site.register([Clinic, ServiceCompany], OrganisationAdmin)
admin.site.register(Account, AccountAdmin)
