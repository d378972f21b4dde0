"""The app of what it means."""

from django.apps import AppConfig


class AuditConfig(AppConfig):
    name = "audit"
