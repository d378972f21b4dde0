"""The app of what it means."""

from django.apps import AppConfig


class AuditConfig(AppConfig):
    name = "audit"

    def ready(self):
        from records.signals import logged
        from records.views.unit_said import UnitSaid, ask_with

        logged.connect(judge_again, dispatch_uid="audit.judge_again")
        logged.connect(mail_report, dispatch_uid="audit.mail_report")
        ask_with(UnitSaid(_against_use, _missing_for_return))


def _against_use(*about) -> tuple[str, ...]:
    from .pages import unit_said

    return unit_said.against_use(*about)


def _missing_for_return(*about) -> tuple[str, ...]:
    from .pages import unit_said

    return unit_said.missing_for_return(*about)


def judge_again(sender, clinic=None, **kwargs):
    """Judge the clinic again after an entry. Only a kindness to the next reader: a stale answer is never shown.

    Not while standing at another moment: a demo or an import logs thousands of entries, and nobody is reading.
    """
    from records import clock
    from records.log.may_be_logged import zone_of

    from .gather import standings

    if clinic is None or clock.is_fixed():
        return
    standings.refresh([clinic], clock.today(zone_of(clinic)))


def mail_report(sender, entry, **kwargs):
    """Send the report of a visit to the clinic's people. Not while standing at another moment: see `judge_again`."""
    from records import clock

    from .issue import report_mail

    if not clock.is_fixed():
        report_mail.after_entry(entry)
