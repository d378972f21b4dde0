"""Why may this unit be used, or not: the answer down to the entries, the rules with their sources, and the dates."""

import json
import shutil
import textwrap

from audit.exchange import codec
from audit.gather.read import clinic_facts, day_at
from audit.judge.evaluate import evaluate
from audit.judge.explain import explain
from audit.management import options as o
from records import clock


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", help="short name of the clinic")
        parser.add_argument("unit", help="number or name on the unit, its serial, or the beginning of its ref")
        parser.add_argument("--as-of", help="the day to judge (year-month-day); today when left out")
        parser.add_argument("--known-at", help="only what had been logged by that moment (with its UTC offset)")
        parser.add_argument("--json", action="store_true", help="each line with its entries and source, as JSON")

    def handle(self, *args, **options):
        try:
            as_of = o.parse_day(options["as_of"], "--as-of")
            known_at = o.parse_moment(options["known_at"], "--known-at")
            facts = clinic_facts(o.clinic_by_slug(options["clinic"]), known_at=known_at)
            unit = unit_named(facts, options["unit"])
        except o.BadInput as error:
            o.refuse(self, error)
        judgement = evaluate(facts, as_of or day_at(facts, known_at or clock.now()))
        judged = next(j for j in judgement.units if j.unit == unit.ref)
        lines = explain(judged, f"{judgement.regime_title}, {judgement.regime_edition}", facts)
        if options["json"]:
            self.stdout.write(json.dumps(codec.to_json(lines), indent=1, ensure_ascii=False))
        else:
            self._print(lines, judged.as_of)
        o.end(self, 0 if judged.standing.word.may_be_used else 1)

    def _print(self, lines, day):
        for line in lines:
            refs = f" [{', '.join(e.ref[:8] for e in line.evidence)}]" if line.evidence else ""
            self._fill(line.text + refs, line.depth)
            if line.source is not None:
                known = line.source.checked_by(day)
                checked = f"; checked {known}" if known else ""
                self._fill(f"source: {line.source}{checked}", line.depth + 2)

    def _fill(self, text: str, depth: int):
        width, pad = shutil.get_terminal_size((100, 20)).columns, "  " * depth
        self.stdout.write(textwrap.fill(text, width, initial_indent=pad, subsequent_indent=pad + "  "))


def unit_named(facts, text: str):
    """The one unit meant. Raises BadInput naming the units where none or several are."""
    wanted = text.casefold()
    found = [u for u in facts.units if wanted in (u.label.casefold(), u.serial.casefold())]
    found = found or [u for u in facts.units if len(wanted) >= 4 and u.ref.startswith(wanted)]
    if len(found) == 1:
        return found[0]
    known = ", ".join(f"{u.label} (serial {u.serial}, ref {u.ref[:8]})" for u in found or facts.units)
    problem = f"“{text}” means {len(found)} units" if found else f"There is no unit “{text}”"
    raise o.BadInput(f"{problem} at {facts.slug}. " + (f"Name one of: {known}." if known else "It has no unit yet."))
