"""The rules on file: all of them, or one with every rule, its source, the day it was checked and its grade."""

import json
from dataclasses import asdict
from datetime import date

from audit.management import options as o
from audit.regimes import Regime, load_regime, regime_ids
from audit.regimes.in_words import CAUTION, NOTHING, editions, memory_count, notes, sections


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("id", nargs="?", help="the rules to print; a list of all when left out")
        parser.add_argument(
            "--on", help="the edition in force on that day (year-month-day); the newest when left out"
        )
        parser.add_argument("--json", action="store_true", help="everything on file, as JSON")

    def handle(self, *args, **options):
        try:
            on = o.parse_day(options["on"], "--on")
            chosen = [edition(options["id"], on)] if options["id"] else [edition(i, on) for i in regime_ids()]
        except o.BadInput as error:
            o.refuse(self, error)
        if options["json"]:
            found = [as_json(one) for one in chosen]
            self.stdout.write(json.dumps(found[0] if options["id"] else found, indent=1, ensure_ascii=False))
        elif options["id"]:
            self._print(chosen[0])
        else:
            self._list(chosen)
        o.end(self, 0)

    def _list(self, chosen: list[Regime]):
        for one in chosen:
            self.stdout.write(
                f"{one.id}: {one.title}. {one.place}; {one.programme}. {one.edition}; valid from {one.valid_from}. "
                f"Rules from memory: {memory_count(one)}."
            )
        self.stdout.write(CAUTION)

    def _print(self, one: Regime):
        self.stdout.write(f"{one.title} ({one.id})\n{one.place}; {one.programme}\n{one.edition}")
        self.stdout.write(f"Valid from {one.valid_from}. Rules from memory: {memory_count(one)}.")
        for note in notes(one):
            self.stdout.write(f"  Note: {note}")
        for section in sections(one):
            self.stdout.write(f"\n{section.title}")
            for line in section.lines:
                self.stdout.write(f"  {line.head}: {line.text}" if line.text else f"  {line.head}")
                if line.note:
                    self.stdout.write(f"    {line.note}")
                self.stdout.write(f"    {line.source.citation}. Checked {line.source.checked_on}; {line.grade}.")
            if not section.lines:
                self.stdout.write(f"  {NOTHING}")
        self.stdout.write("\nEditions on file")
        for each in editions(load_regime(one.id)):
            self.stdout.write(f"  valid from {each.valid_from}: {each.edition}")
        self.stdout.write(f"\n{CAUTION}")


def edition(id: str, on: date | None) -> Regime:
    """The rules with that id: the newest edition, or the one in force on a day. Raises BadInput."""
    if id not in regime_ids():
        raise o.BadInput(f"There are no rules “{id}”. Known: {', '.join(regime_ids())}.")
    newest = load_regime(id)
    return newest.on(on) if on else newest


def as_json(one: Regime) -> dict:
    """The edition as plain values; of other editions only their day and name."""
    out = {key: value for key, value in asdict(one).items() if key != "earlier"}
    out["valid_from"] = one.valid_from.isoformat()
    out["rules_from_memory"] = memory_count(one)
    held = editions(load_regime(one.id))
    out["editions"] = [{"valid_from": e.valid_from.isoformat(), "edition": e.edition} for e in held]
    out["caution"] = CAUTION
    return out
