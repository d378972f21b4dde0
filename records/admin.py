"""The site of whoever looks after the installation: facts to look at, accounts to look after."""

from __future__ import annotations

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

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

    def has_delete_permission(self, request, obj=None):
        return False


for fact in fact_models():
    admin.site.register(fact, FactAdmin)
admin.site.register(Entry, EntryAdmin)
admin.site.register([Ledger, Person, PersonText, Organisation], LookOnly)
admin.site.register([Clinic, ServiceCompany], OrganisationAdmin)
admin.site.register(Account, AccountAdmin)
