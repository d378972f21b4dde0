"""The app of what happened."""

from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.models.signals import post_migrate, pre_migrate


class RecordsConfig(AppConfig):
    name = "records"

    def ready(self):
        from .doors import checks
        from .ledger import in_turn, triggers

        pre_migrate.connect(triggers.before_migrate, sender=self)
        post_migrate.connect(triggers.after_migrate, sender=self)
        in_turn.install()
        register(triggers.check_installed, Tags.database)
        register(checks.check_modes, Tags.security, deploy=True)
