"""Begin an empty database with its first person, and a service company, a clinic, or both.

What is not given as an option is asked for where somebody can type. With a company the person is its dispatcher, and
a clinic beside it is one that the company serves: its own coordinator comes by invitation, and alone changes the
rules from then on. With a clinic alone the person is its coordinator. All of it is written, or nothing.
"""

from __future__ import annotations

import getpass
import os
import sys

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import DatabaseError, IntegrityError, connection

from audit.management import beginning as b
from audit.management import options as o
from audit.regimes import all_regimes, load_regime
from audit.regimes.in_words import CAUTION
from audit.upkeep import place
from records import beginning, log

PASS_PHRASE = "STANDING_PASSPHRASE"
PROPOSES = "In another window, `manage.py regimes --country COUNTRY --region REGION --kind KIND` proposes them."
HELP = {
    "username": "log-in name of the first person",
    "first_name": "first name of that person, as it is signed",
    "last_name": "last name of that person, as it is signed",
    "company": "name of the service company",
    "clinic": "name of the first clinic",
    "company_slug": "short name of the company in addresses; made of its name when left out",
    "clinic_slug": "short name of the clinic in addresses; made of its name when left out",
    "programme": f"kind of clinic: {', '.join(b.PROGRAMMES)}",
    "address": "address of the clinic",
    "time_zone": "time zone of the clinic, such as America/Chicago",
    "week_start": "first day of the clinic's week, such as Monday",
    "regime": "rules that the clinic follows: an id that `manage.py regimes` lists",
    "since": "first day of all of it, year-month-day; today when left out, earlier where old paper is to be entered",
}


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser):
        for question in b.QUESTIONS:
            parser.add_argument(question.option, default="", metavar="TEXT", help=HELP[question.field])
        parser.add_argument(
            "--staff", action="store_true",
            help="the person may also look at all records on the administrator's site, and change nothing there",
        )  # fmt: skip
        parser.add_argument(
            "--pass-phrase-stdin", action="store_true",
            help=f"the pass phrase is the first line of standard input; else it is asked for, or in {PASS_PHRASE}",
        )  # fmt: skip

    def handle(self, *args, **options):
        try:
            wanted, phrase = self._wanted(options)
            self._set_up()
            begun = beginning.begin(wanted, phrase)
        except beginning.NotEmpty as error:
            o.refuse(self, o.BadInput(str(error)))
        except o.BadInput as error:
            o.refuse(self, error)
        except IntegrityError:
            o.refuse(self, o.BadInput("Somebody else began this database at the same moment. Nothing was written."))
        except log.Refused as refusal:
            o.refuse(self, o.BadInput(f"Nothing was written. {' '.join(p.message for p in refusal.problems)}"))
        except (KeyboardInterrupt, EOFError):
            o.refuse(self, o.BadInput("\nStopped. Nothing was written; run the command again."))
        self._say(wanted, begun)
        o.end(self, 0)

    def _refuse_unless_empty(self, wanted=None) -> None:
        """Where there is no database yet none is made by looking. Raises NotEmpty and BadInput."""
        if place.unfinished():
            raise o.BadInput("A backup is being put back here and is not whole. Run `manage.py restore` again first.")
        if beginning.is_there():
            self._reach()
            beginning.refuse_unless_empty(wanted)

    def _reach(self) -> None:
        try:
            connection.ensure_connection()
        except DatabaseError as error:
            raise o.BadInput(
                f"The database cannot be opened: {str(error).strip()}. Look at STANDING_DATA (a folder that you may "
                "write to), or STANDING_DATABASE and the PG… variables."
            ) from None

    def _set_up(self) -> None:
        self._reach()
        if not beginning.is_set_up():
            self.stdout.write("Setting up the database …")
            call_command("migrate", verbosity=0, interactive=False)

    def _wanted(self, options) -> tuple[beginning.Beginning, str]:
        """Raises NotEmpty; and BadInput with everything that is wrong, where nobody can be asked."""
        answers = {field: options[field].strip() for field in b.BY_FIELD}
        answers["looks"] = "yes" if options["staff"] else ""
        if not sys.stdin.isatty():
            wanted, wrong = b.check(answers, phrase := _given_phrase(options["pass_phrase_stdin"]))
            self._refuse_unless_empty(wanted)
            if wrong:
                raise o.BadInput(_all_wrong(wrong, answers))
            return wanted, phrase
        self._refuse_unless_empty()
        self.asked: set[str] = set()
        self.listed = False
        self._ask_missing(answers)
        phrase = os.environ.get(PASS_PHRASE) or _asked_phrase()
        while True:
            wanted, wrong = b.check(answers, phrase)
            if not wrong:
                return wanted, phrase
            self.stdout.write(_all_wrong(wrong, answers))
            for field in [*wrong]:
                if field == b.PHRASE:
                    phrase = _asked_phrase()
                else:
                    self._ask(b.BY_FIELD[field], answers)
            self._ask_missing(answers)  # a company or clinic named only now has questions of its own

    def _ask_missing(self, answers: dict) -> None:
        """Every question that no option has answered; of company and clinic only when neither is named."""
        named = bool(answers["company"] or answers["clinic"])
        for question in b.QUESTIONS:
            skipped = question.of == "place" and named
            if skipped or question.field in self.asked or question not in b.asked_of(answers):
                continue
            self.asked.add(question.field)
            if not answers[question.field]:
                self._ask(question, answers)

    def _ask(self, question: b.BeginningQuestion, answers: dict) -> None:
        if question.field == "regime" and not self.listed:
            self._list_rules()
        kind = question.field.removesuffix("_slug")
        standing = answers[question.field] or (b.slug_of(answers, kind) if kind != question.field else "")
        typed = input(f"{question.asks}{f' [{standing}]' if standing else ''}: ").strip()
        answers[question.field] = typed or standing

    def _list_rules(self) -> None:
        self.listed = True
        for one in sorted(all_regimes().values(), key=lambda regime: regime.id):
            self.stdout.write(f"  {one.id}: {one.title}")
        self.stdout.write("  Choose those of the place and the kind of clinic; ask the authority when in doubt.")
        self.stdout.write(f"  {PROPOSES}")

    def _say(self, wanted: beginning.Beginning, begun: beginning.Begun) -> None:
        role = "dispatcher" if begun.company else "coordinator"
        self.stdout.write(f"\nBegun, from {wanted.since} on. What is recorded is corrected, never changed.")
        self.stdout.write(f"  log-in  {wanted.username}: {begun.account.full_name}, {role}")
        if begun.company:
            self.stdout.write(f"  company {begun.company.name} ({begun.company.slug})")
        if begun.clinic:
            served = f", served by {begun.company.name}" if begun.company else ""
            rules = load_regime(wanted.terms["regime"]).title
            self.stdout.write(f"  clinic  {begun.clinic.name} ({begun.clinic.slug}){served}")
            self.stdout.write(f"          {wanted.terms['programme']}, {wanted.terms['time_zone']}; rules: {rules}")
        self.stdout.write(f"  data folder {settings.DATA_DIR}: give every later command the same STANDING_DATA")
        self.stdout.write("\nWhere to go on:")
        for n, step in enumerate(_steps(wanted, begun), 1):
            self.stdout.write(f"  {n}. {step}")
        self.stdout.write(CAUTION)


def _given_phrase(from_stdin: bool) -> str:
    """What the environment or the first line of standard input says, "" for nothing."""
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    return os.environ.get(PASS_PHRASE, "")


def _asked_phrase() -> str:
    while True:
        phrase = getpass.getpass("Pass phrase, at least twelve characters (not shown): ")
        if phrase == getpass.getpass("Pass phrase once more: "):
            return phrase
        sys.stderr.write("The two differ. Type the pass phrase again.\n")


def _all_wrong(wrong: dict[str, str], answers: dict) -> str:
    lines = [f"  {b.said(field, message, answers)}" for field, message in wrong.items()]
    return "\n".join(["Nothing was written yet. What is to be put right:", *lines])


def _steps(wanted: beginning.Beginning, begun: beginning.Begun) -> list[str]:
    first = (begun.company or begun.clinic).name
    steps = [
        f'manage.py make_seal_key --name "{first}", so that binders are signed',
        "manage.py serve, and open http://localhost:8000/ on this machine; a server: audit/site/operating.md",
        f"sign in as {wanted.username}; with “People and agreements” invite who works with you",
    ]
    if begun.company and begun.clinic:
        steps.append(f"on the page of {begun.clinic.name} invite its coordinator, who alone changes its rules now")
    elif begun.company:
        steps.append("on the company's page choose “Open a clinic”")
    if begun.clinic:
        steps.append(f"on the page of {begun.clinic.name} register its first unit, then log the first visit")
    return steps
