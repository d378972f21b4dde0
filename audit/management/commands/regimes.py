"""The rules on file: all of them, or one with every rule, its source, the day it was checked and its grade.

With --stale only what has not been compared with its text for longer than so many days, the longest first.
"""

import json
from dataclasses import asdict
from datetime import date

from audit.management import options as o
from audit.regimes import Regime, load_regime, regime_ids
from audit.regimes.by_subject import SUBJECT_COLUMNS, by_subject
from audit.regimes.in_words import CAUTION, GRADE_WORDS, NOTHING, editions, grade_line, memory_count, notes, sections
from audit.regimes.source import Source
from records import clock


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("id", nargs="?", help="the rules to print; a list of all when left out")
        parser.add_argument(
            "--on", help="the edition in force on that day (year-month-day); the newest when left out"
        )
        parser.add_argument(
            "--stale",
            type=int,
            metavar="DAYS",
            help="only rules whose text was last checked more than so many days ago",
        )
        parser.add_argument("--json", action="store_true", help="everything on file, as JSON")

    def handle(self, *args, **options):
        try:
            on = o.parse_day(options["on"], "--on")
            chosen = [edition(options["id"], on)] if options["id"] else [edition(i, on) for i in regime_ids()]
            if options["stale"] is not None:
                self._stale(chosen, options["stale"], on or clock.today())
                o.end(self, 0)
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

    def _stale(self, chosen: list[Regime], days: int, today: date):
        """Each citation once in the set of rules that brings it; of one set alone all. Raises BadInput below 0."""
        if days < 0:
            raise o.BadInput(f"--stale {days} is below 0. Write a number of days, such as 365.")
        rows = [(day, one.id, source) for one in chosen for day, source in unchecked(one, days, today)]
        if len(chosen) > 1:
            rows = [row for row in rows if row[2] not in inherited(row[1])]
        for day, id, source in sorted(rows, key=lambda row: (row[0], row[1], row[2].citation)):
            age = (today - day).days
            self.stdout.write(f"{id}: {source.citation}. Checked {day}, {age} days ago; {GRADE_WORDS[source.grade]}.")
        self.stdout.write(f"{len(rows)} to be compared with their texts again (more than {days} days on {today}).")

    def _print(self, one: Regime):
        self.stdout.write(f"{one.title} ({one.id})\n{one.place}; {one.programme}\n{one.edition}")
        self.stdout.write(f"Valid from {one.valid_from}. Rules from memory: {memory_count(one)}. {grade_line(one)}.")
        for note in notes(one):
            self.stdout.write(f"  Note: {note}")
        self.stdout.write("\nBy subject")
        for row in by_subject(one):
            self.stdout.write(f"  {row.subject}")
            for title, told in zip(SUBJECT_COLUMNS[1:], row.cells, strict=True):
                self.stdout.write(f"    {title}: {told}")
        for section in sections(one):
            self.stdout.write(f"\n{section.title}")
            for line in section.lines:
                self.stdout.write(f"  {line.head}: {line.text}" if line.text else f"  {line.head}")
                if line.note:
                    self.stdout.write(f"    {line.note}")
                self.stdout.write(f"    {line.source.citation}. Checked {line.source.checked_on}; {line.grade}.")
                if line.unread:
                    self.stdout.write(f"    Why no text was read: {line.unread}")
                if line.decisive:
                    self.stdout.write(f"    Its words: {line.decisive}")
            if not section.lines:
                self.stdout.write(f"  {NOTHING}")
        self.stdout.write("\nEditions on file")
        for each in editions(load_regime(one.id)):
            self.stdout.write(f"  valid from {each.valid_from}: {each.edition}")
        self.stdout.write(f"\n{CAUTION}")


def unchecked(one: Regime, days: int, today: date) -> list[tuple[date, Source]]:
    """The sources of an edition that were checked more than `days` days before `today`, with the day of each."""
    held = [(date.fromisoformat(source.checked_on), source) for source in one.sources]
    return [(day, source) for day, source in held if (today - day).days > days]


def inherited(id: str) -> frozenset[Source]:
    """The sources of the rules that those of `id` inherit, in their newest edition."""
    parent = load_regime(id).inherits
    return frozenset(load_regime(parent).sources) if parent else frozenset()


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
