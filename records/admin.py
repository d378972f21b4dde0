"""The site of whoever looks after the installation: facts to look at, accounts to look after."""

from __future__ import annotations

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from records.doors import events, reset, second, sessions
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


class AccountAdmin(UserAdmin):
    """Accounts are switched off, not deleted: their entries stay theirs."""

    actions = ("make_reset_link", "take_second_factor_away", "end_sittings")

    @admin.action(description="Make a link to choose a new pass phrase", permissions=["change"])
    def make_reset_link(self, request, accounts):
        """Shown once, to be handed to its person: nobody but that person ever knows the pass phrase."""
        for account in accounts:
            events.note("reset link made", request, account=account)
            self.message_user(request, f"For {account.full_name}, once: {reset.address_for(account)}")

    @admin.action(description="Take the second factor away", permissions=["change"])
    def take_second_factor_away(self, request, accounts):
        """For who lost it, after whoever does this has made sure who asks."""
        for account in accounts:
            if second.take_away(account):
                events.note("second factor taken away", request, account=account)
        self.message_user(request, "Taken away. Where one is asked for, the next signing in sets up a new one.")

    @admin.action(description="End all sittings", permissions=["change"])
    def end_sittings(self, request, accounts):
        for account in accounts:
            if sessions.end_all(account):
                events.note("sitting ended", request, account=account)
        self.message_user(request, "Ended.")

    def has_delete_permission(self, request, obj=None):
        return False


for fact in fact_models():
    admin.site.register(fact, FactAdmin)
admin.site.register(Entry, EntryAdmin)
admin.site.register([Ledger, Person, PersonText, Organisation], LookOnly)
admin.site.register([Clinic, ServiceCompany], OrganisationAdmin)
admin.site.register(Account, AccountAdmin)
