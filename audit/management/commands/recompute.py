"""Judge every clinic again that is stale today, or prove with --check that what is stored equals what is fresh.

What is stored: the answers, and the facts as last read. --check reads every table anew.
"""

from django.forms.models import model_to_dict

from audit.gather import kept_facts, standings
from audit.gather.read import clinic_facts
from audit.management import options as o
from audit.models import Standing
from records import clock
from records import models as m
from records.log.may_be_logged import zone_of


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--check", action="store_true", help="change nothing; name each unit that differs")

    def handle(self, *args, **options):
        clinics = m.Clinic.objects.order_by("slug")
        if options["check"]:
            o.end(self, self._check(clinics))
        for clinic in clinics:
            standings.refresh([clinic], clock.today(zone_of(clinic)))
        self.stdout.write(f"{Standing.objects.count()} standings of {len(clinics)} clinics are up to date.")

    def _check(self, clinics) -> int:
        wrong = units = 0
        for clinic in clinics:
            day = clock.today(zone_of(clinic))
            stored = {s.unit_id: s for s in Standing.objects.filter(clinic=clinic)}
            if fault := kept_facts.difference(clinic):
                wrong += 1
                self.stdout.write(f"{clinic.slug}: {fault}")
            for fresh in standings.judged(clinic, day, clinic_facts(clinic)):
                units += 1
                old = stored.get(fresh.unit_id)
                if old is None or _plain(old) != _plain(fresh):
                    wrong += 1
                    said = f"stored “{old.word}: {old.reason}”" if old else "nothing stored"
                    self.stdout.write(f"{clinic.slug} {fresh.label}: {said}, fresh “{fresh.word}: {fresh.reason}”")
        self.stdout.write(f"{units} units checked, {wrong} differ.")
        return 1 if wrong else 0


def _plain(row: Standing) -> dict:
    return {k: str(v) for k, v in model_to_dict(row, exclude=["id"]).items()}
