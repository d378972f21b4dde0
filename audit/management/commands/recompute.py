"""Judge every clinic again that is stale today, or prove with --check that what is stored equals what is fresh.

What is stored: the answers, and the facts as last read. --check reads every table anew. After a change of the rules
on file, or of what judges by them, it names each unit that is answered otherwise, and the clinics; an answer that was
stored under the rules of before and reads the same is counted, and no fault.
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
        wrong = units = alike = 0
        otherwise: list[str] = []
        for clinic in clinics:
            day = clock.today(zone_of(clinic))
            stored = {s.unit_id: s for s in Standing.objects.filter(clinic=clinic)}
            if fault := kept_facts.difference(clinic):
                wrong += 1
                self.stdout.write(f"{clinic.slug}: {fault}")
            for fresh in standings.judged(clinic, day, clinic_facts(clinic)):
                units += 1
                old = stored.get(fresh.unit_id)
                if old and _under_other_rules_alone(old, fresh):
                    alike += 1
                elif old is None or _plain(old) != _plain(fresh):
                    wrong += 1
                    otherwise.append(clinic.slug)
                    said = f"stored {_said(old)}" if old else "nothing stored"
                    self.stdout.write(f"{clinic.slug} {fresh.label}: {said}, fresh {_said(fresh)}")
        if otherwise:
            self.stdout.write(f"Clinics with another answer: {', '.join(dict.fromkeys(otherwise))}.")
        if alike:
            self.stdout.write(f"{alike} were stored under the rules of before, and read the same.")
        self.stdout.write(f"{units} units checked, {wrong} differ.")
        return 1 if wrong else 0


def _said(row: Standing) -> str:
    due = f"; next due {row.next_due_on}, {row.next_due_title}" if row.next_due_on else ""
    return f"“{row.word}: {row.reason}{due}”"


def _under_other_rules_alone(old: Standing, fresh: Standing) -> bool:
    """Whether nothing is another but the rules it was stored under, and with them the mark over the row."""
    held, now = _plain(old), _plain(fresh)
    return old.rules != fresh.rules and {name for name in now if held[name] != now[name]} <= {"rules", "mark"}


def _plain(row: Standing) -> dict:
    return {k: str(v) for k, v in model_to_dict(row, exclude=["id"]).items()}
