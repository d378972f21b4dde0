"""The rules on file: all of them, or one with every rule, its source, the day it was checked and its grade.

With --stale only what has not been compared with its text for longer than so many days, the longest first. With
--country and --kind the rules that may hold for such a place, with reasons and with what they leave open. With
--against what is asked more, less or otherwise; with --clinic also what that clinic would be told today. Nothing is
written.
"""

import json
from dataclasses import asdict
from datetime import date

from audit.gather.read import clinic_facts
from audit.judge.otherwise import if_followed
from audit.management import options as o
from audit.management.rules_told import change_lines, difference_lines, proposal_lines
from audit.regimes import Regime, all_regimes, load_regime, regime_ids
from audit.regimes.by_subject import SUBJECT_COLUMNS, by_subject
from audit.regimes.choosing import EXAMINATION, NOT_KNOWN, PlaceAsked, propose
from audit.regimes.compare import differences
from audit.regimes.gaps import GAPS
from audit.regimes.held import EditionHeld, days_held, in_brackets, why_that_day
from audit.regimes.in_words import CAUTION, GRADE_WORDS, NOTHING, grade_line, memory_count, notes, sections
from audit.regimes.model import KINDS_OF_PLACE
from audit.regimes.read_duty import EQUIPMENT
from audit.regimes.source import Source
from records import clock
from records.log.may_be_logged import zone_of


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
        parser.add_argument("--gaps", action="store_true", help="what texts ask and these rules cannot say")
        parser.add_argument("--country", help="propose the rules of a place: its country")
        parser.add_argument(
            "--region", default="", help="state, province or “County, State”; the whole country without"
        )
        parser.add_argument("--kind", choices=sorted(KINDS_OF_PLACE), help="propose the rules of a place: what it is")
        parser.add_argument("--unit", action="append", choices=EQUIPMENT, help="a type of its units; may be repeated")
        parser.add_argument(
            "--examination",
            choices=sorted(EXAMINATION),
            default=NOT_KNOWN,
            help="whether the law asks one of the vessel",
        )
        parser.add_argument("--against", metavar="ID", help="what changes if these rules are followed instead")
        parser.add_argument("--clinic", metavar="SLUG", help="with --against: what would change there today")
        parser.add_argument("--json", action="store_true", help="everything on file, as JSON")

    def handle(self, *args, **options):
        try:
            on = o.parse_day(options["on"], "--on")
            if options["gaps"]:
                for gap in GAPS:
                    self.stdout.write(f"{gap.asked}: {gap.state}. {gap.how}")
                o.end(self, 0)
            if options["country"] or options["kind"]:
                self._propose(options)
                o.end(self, 0)
            if options["against"] or options["clinic"]:
                self._compare(options, on)
                o.end(self, 0)
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
                f"{one.id}: {one.title}. {one.place}; {one.programme}. {one.edition}; "
                f"valid from {one.valid_from}{in_brackets(one.valid_from_grade)}. "
                f"Rules from memory: {memory_count(one)}."
            )
        self.stdout.write(CAUTION)

    def _propose(self, options):
        """Raises BadInput for one of country and kind without the other."""
        if not (options["country"] and options["kind"]):
            raise o.BadInput("A place needs both --country and --kind: give the one that is missing.")
        asked = PlaceAsked(
            options["country"],
            options["region"],
            options["kind"],
            tuple(options["unit"] or ()),
            options["examination"],
        )
        for line in proposal_lines(propose(asked, all_regimes().values())):
            self.stdout.write(line)

    def _compare(self, options, on: date | None):
        """Raises BadInput without the two sets of rules; those of a clinic are the ones it follows that day."""
        if not options["against"]:
            raise o.BadInput("--clinic goes with --against: name the rules that it would follow.")
        clinic = o.clinic_by_slug(options["clinic"]) if options["clinic"] else None
        facts = clinic_facts(clinic) if clinic else None
        day = on or clock.today(zone_of(clinic) if clinic else "UTC")
        after = edition(options["against"], day)
        terms = facts.terms_on(day) if facts else None
        held = options["id"] or (terms.regime if terms and terms.regime in regime_ids() else "base")
        if not options["id"] and not clinic:
            raise o.BadInput("--against needs the rules followed now: name them first, or a clinic with --clinic.")
        for line in difference_lines(edition(held, day), after, differences(edition(held, day), after)):
            self.stdout.write(line)
        if facts:
            self.stdout.write(f"\n{clinic.name}, judged with these rules from {day} on; nothing is written")
            for line in change_lines(if_followed(facts, load_regime(after.id), day)):
                self.stdout.write(line)

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
        first = f"{one.valid_from}{in_brackets(one.valid_from_grade)}"
        self.stdout.write(f"Valid from {first}. Rules from memory: {memory_count(one)}. {grade_line(one)}.")
        if why_that_day(one):
            self.stdout.write(f"  {why_that_day(one)}")
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
        for held in days_held(load_regime(one.id)):
            self.stdout.write(f"  valid {_days(held)}: {held.regime.edition}")
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
    """The edition as plain values; of all editions on file their days and names."""
    out = {key: value for key, value in asdict(one).items() if key != "earlier"}
    out["valid_from"] = one.valid_from.isoformat()
    if one.ended:
        out["ended"]["on"] = one.ended.on.isoformat()
    out["rules_from_memory"] = memory_count(one)
    out["editions"] = [_edition_as_json(held) for held in days_held(load_regime(one.id))]
    out["caution"] = CAUTION
    return out


def _edition_as_json(held: EditionHeld) -> dict:
    one = held.regime
    return {
        "valid_from": one.valid_from.isoformat(),
        "valid_from_grade": one.valid_from_grade,
        "valid_to": held.valid_to.isoformat() if held.valid_to else None,
        "valid_to_grade": held.valid_to_grade,
        "edition": one.edition,
    }


def _days(held: EditionHeld) -> str:
    """From which day on, and up to which where that is known, each with how well it is known."""
    one = held.regime
    first = f"from {one.valid_from}{in_brackets(one.valid_from_grade)}"
    return f"{first} to {held.valid_to}{in_brackets(held.valid_to_grade)}" if held.valid_to else first
