"""What `begin` asks for: every question with its option, and everything that is wrong with the answers at once.

Answers are text by field, as typed; "" is none. Nothing here asks the database.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.text import slugify

from audit.regimes import all_regimes, regime_ids
from records import clock, log
from records.beginning import Beginning, Named
from records.log.may_be_logged import EARLIEST_YEAR
from records.log.organisations import name_problems, terms_problems
from records.log.submission import unseen_in
from records.models import Account, ClinicTerms
from records.nearest import meant

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
PROGRAMMES = tuple(code for code, _ in ClinicTerms._meta.get_field("programme").choices)
PHRASE = "phrase"  # what is wrong with the pass phrase stands under this name; it is never among the answers
LONGEST_NAME = 200


@dataclass(frozen=True, slots=True)
class BeginningQuestion:
    """`of` is "person", "place" (asked unless one was named), "company", "clinic" or "all"."""

    field: str
    of: str
    asks: str
    why: str
    needed: bool = True

    @property
    def option(self) -> str:
        return "--" + self.field.replace("_", "-")


QUESTIONS = (
    BeginningQuestion("username", "person", "Log-in name", "the first person signs in with it"),
    BeginningQuestion("first_name", "person", "First name", "it stands under what the person records"),
    BeginningQuestion("last_name", "person", "Last name", "it stands under what the person records", needed=False),
    BeginningQuestion("company", "place", "Name of the service company (leave blank for none)", "", needed=False),
    BeginningQuestion("clinic", "place", "Name of the first clinic (leave blank for none)", "", needed=False),
    BeginningQuestion("company_slug", "company", "Short name of the company in addresses", "", needed=False),
    BeginningQuestion("clinic_slug", "clinic", "Short name of the clinic in addresses", "", needed=False),
    BeginningQuestion("programme", "clinic", f"Kind of clinic ({', '.join(PROGRAMMES)})", "the rules differ by it"),
    BeginningQuestion("address", "clinic", "Address", "", needed=False),
    BeginningQuestion("time_zone", "clinic", "Time zone, such as America/Chicago", "its days begin and end by it"),
    BeginningQuestion(
        "week_start", "clinic", "First day of the week, such as Monday", "weekly tests are counted by it"
    ),
    BeginningQuestion("regime", "clinic", "Rules followed, by their short name", "they decide what is due"),
    BeginningQuestion("since", "all", "First day, year-month-day (leave blank for today)", "", needed=False),
)
BY_FIELD = {question.field: question for question in QUESTIONS}


def asked_of(answers: Mapping[str, str]) -> list[BeginningQuestion]:
    """The questions that matter, given which of company and clinic are named."""
    there = {"person", "place", "all"} | {kind for kind in ("company", "clinic") if answers.get(kind)}
    return [question for question in QUESTIONS if question.of in there]


def slug_of(answers: Mapping[str, str], kind: str) -> str:
    """The short name, as given or made of the name; "" where that gives none."""
    return answers.get(f"{kind}_slug") or slugify(answers.get(kind, ""))[:50].strip("-")


def check(answers: Mapping[str, str], phrase: str) -> tuple[Beginning | None, dict[str, str]]:
    """(what is to be begun, {}) or (None, what is wrong by field, in the order of the questions)."""
    wrong: dict[str, str] = {}
    for question in asked_of(answers):
        value = answers.get(question.field, "")
        if question.needed and not value:
            wrong[question.field] = f"is missing: {question.why}."
        elif words := unseen_in(value):
            wrong[question.field] = words
    _check_person(answers, wrong)
    _check_phrase(answers, phrase, wrong)
    _check_places(answers, wrong)
    terms = _terms(answers, wrong) if answers.get("clinic") else None
    since = _since(answers, terms, wrong)
    if wrong:
        order = [*BY_FIELD, PHRASE]
        return None, dict(sorted(wrong.items(), key=lambda item: order.index(item[0])))
    named = {
        kind: Named(answers[kind], slug_of(answers, kind)) if answers.get(kind) else None
        for kind in ("company", "clinic")
    }
    person = {name: answers.get(name, "") for name in ("username", "first_name", "last_name")}
    return Beginning(**person, **named, terms=terms, since=since, looks=bool(answers.get("looks"))), {}


def said(field: str, message: str, answers: Mapping[str, str]) -> str:
    """One line of what is wrong, with what was typed."""
    if field == PHRASE:
        return f"pass phrase: {message}"
    typed = answers.get(field, "")
    if message.startswith(f"“{typed}”"):
        return f"{BY_FIELD[field].option}: {message}"
    return f"{BY_FIELD[field].option}{f' “{typed}”' if typed else ''}: {message}"


def _check_person(answers, wrong) -> None:
    username = answers.get("username", "")
    if username and "username" not in wrong:
        try:
            Account._meta.get_field("username").clean(username, None)
        except ValidationError:
            wrong["username"] = "has other characters, or is too long. Use at most 150 letters, digits and @ . + - _."
    for name in ("first_name", "last_name"):
        if len(answers.get(name, "")) > 150:
            wrong.setdefault(name, "is too long. Write it in at most 150 characters.")
    if len(_full_name(answers)) > LONGEST_NAME:
        wrong.setdefault("last_name", f"makes a full name of more than {LONGEST_NAME} characters. Shorten it.")


def _full_name(answers) -> str:
    return f"{answers.get('first_name', '')} {answers.get('last_name', '')}".strip()


def _check_phrase(answers, phrase: str, wrong) -> None:
    if not phrase:
        wrong[PHRASE] = (
            "is missing. It is asked for where somebody can type; elsewhere set STANDING_PASSPHRASE in the "
            "environment, or give it as the first line of standard input with --pass-phrase-stdin."
        )
        return
    person = {name: answers.get(name, "") for name in ("username", "first_name", "last_name")}
    try:
        validate_password(phrase, Account(**person))
    except ValidationError as refused:
        wrong[PHRASE] = f"{' '.join(refused.messages)} A few words in a row are easily remembered."


def _check_places(answers, wrong) -> None:
    if not answers.get("company") and not answers.get("clinic"):
        wrong["company"] = (
            "neither a company nor a clinic is named. Give --company NAME for a service company, --clinic NAME for a "
            "clinic that keeps its own record, or both for a company and the first clinic that it serves."
        )
        return
    for kind in ("company", "clinic"):
        if not answers.get(kind):
            continue
        slug = slug_of(answers, kind)
        for problem in name_problems(slug, answers[kind]):
            field = kind if problem.field == "name" else f"{kind}_slug"
            wrong.setdefault(field, problem.message)
    if answers.get("company") and answers.get("clinic") and slug_of(answers, "company") == slug_of(answers, "clinic"):
        wrong.setdefault("clinic_slug", "company and clinic would share one short name. Give one of them another.")


def _terms(answers, wrong) -> dict:
    """The clinic's terms as the writer takes them; of no use while something is wrong."""
    terms = {name: answers.get(name, "") for name in ("programme", "address", "time_zone", "regime")}
    terms["week_start"] = _weekday(answers.get("week_start", ""))
    if terms["programme"] and terms["programme"] not in PROGRAMMES:
        wrong.setdefault("programme", f"is none of these: {', '.join(PROGRAMMES)}. Choose one.")
    if len(terms["address"]) > ClinicTerms._meta.get_field("address").max_length:
        wrong.setdefault("address", "is too long. Write it in at most 500 characters.")
    if terms["regime"] and terms["regime"] not in regime_ids():
        wrong.setdefault("regime", f"There are no such rules on file. {_rules_near(terms['regime'])}")
    if answers.get("week_start") and terms["week_start"] is None:
        wrong.setdefault("week_start", f"is no day of the week. Choose one of {', '.join(WEEKDAYS)}.")
    for problem in terms_problems(terms):
        wrong.setdefault(problem.field, problem.message)
    return terms


def _rules_near(typed: str) -> str:
    titles = {f"{one.id} {one.title} {one.place}": one.id for one in all_regimes().values()}
    near = meant(typed, regime_ids(), most=8) or meant(typed, titles, most=8)
    for words, id in titles.items():
        near = near.replace(words, id)
    return near or (
        f"Choose one of: {', '.join(regime_ids())}. `manage.py regimes` says what each is, and with --country and "
        "--kind it proposes those of a place."
    )


def _weekday(typed: str) -> int | None:
    """0 Monday … 6 Sunday, by its English name, the beginning of it (three letters at least), or the number."""
    plain = typed.strip().casefold()
    if plain.isdecimal() and int(plain) < 7:
        return int(plain)
    found = [n for n, day in enumerate(WEEKDAYS) if len(plain) >= 3 and day.casefold().startswith(plain)]
    return found[0] if found else None


def _since(answers, terms, wrong) -> date | None:
    latest = log.first_day(terms["time_zone"] if terms else "UTC")
    typed = answers.get("since", "")
    if not typed:
        return latest
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        wrong.setdefault("since", f"is not a day. Write it as year-month-day, such as {clock.today()}.")
        return None
    if day > latest:
        wrong.setdefault("since", f"has not come yet: it is {latest}. Choose that day or an earlier one.")
    elif day.year < EARLIEST_YEAR:
        wrong.setdefault("since", f"lies before {EARLIEST_YEAR}. Check the year.")
    return day
