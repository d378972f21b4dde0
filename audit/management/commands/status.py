"""May each unit be used? The standing of every unit of one clinic, or of all, with its reason and proof."""

import json

from audit.binder.written_on_paper import first_upper
from audit.exchange import codec
from audit.gather.read import clinic_facts, day_at
from audit.gather.responsible import serving
from audit.judge.evaluate import evaluate
from audit.judge.explain import CAUTION
from audit.judge.next_step import with_company
from audit.management import options as o
from records import clock
from records import models as m


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", nargs="?", help="short name of the clinic; all clinics when left out")
        parser.add_argument("--as-of", help="the day to judge (year-month-day); today when left out")
        parser.add_argument("--known-at", help="only what had been logged by that moment (with its UTC offset)")
        parser.add_argument("--json", action="store_true", help="everything that is said of each unit, as JSON")

    def handle(self, *args, **options):
        try:
            as_of = o.parse_day(options["as_of"], "--as-of")
            known_at = o.parse_moment(options["known_at"], "--known-at")
            chosen = options["clinic"]
            clinics = [o.clinic_by_slug(chosen)] if chosen else m.Clinic.objects.order_by("slug")
        except o.BadInput as error:
            o.refuse(self, error)
        judgements = [self._judge(c, as_of, known_at) for c in clinics]
        if options["json"]:
            self.stdout.write(json.dumps([codec.to_json(j) for j in judgements], indent=1, ensure_ascii=False))
        else:
            for judgement in judgements:
                self._print(judgement)
            if not judgements:
                self.stdout.write("No clinic is on the register yet. `manage.py demo` loads an invented one.")
        forbidden = any(not u.standing.word.may_be_used for j in judgements for u in j.units)
        o.end(self, 1 if forbidden else 0)

    def _judge(self, clinic, as_of, known_at):
        facts = clinic_facts(clinic, known_at=known_at)
        today = day_at(facts, known_at or clock.now())
        if as_of is not None and as_of > today:
            self.stderr.write(f"{clinic.name}: looking ahead to {as_of}, as if nothing were recorded after {today}.")
        day = as_of or today
        return with_company(evaluate(facts, day), serving(clinic, day, known_at))

    def _print(self, judgement):
        self.stdout.write(f"\n{judgement.name}, {judgement.as_of}. Rules: {judgement.regime_title}")
        for unit in judgement.units:
            s = unit.standing
            since = f" since {s.since}" if s.since else ""
            self.stdout.write(f"  {unit.label}: {s.word}{since} [{s.rule}]\n    {unit.short}")
            if unit.next:
                self.stdout.write(f"    Next: {unit.next.words}")
            if s.holds_until:
                self.stdout.write(f"    {first_upper(s.changes)}")
            for evidence in s.proof[:3]:
                self.stdout.write(f"    Proof: {evidence.text} [{evidence.ref[:8]}]")
        if not judgement.units:
            self.stdout.write("  No unit is on the register.")
        self.stdout.write(f"  {CAUTION}")
