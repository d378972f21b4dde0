"""The ledger of a clinic that was taken out elsewhere, put back whole: every entry with its number, hash and refs.

Nothing is judged anew and nothing is numbered anew: what was recorded there is what stands here, and the tamper check
holds it to the hashes that came with it. Only into a place without organisations and log-ins, so nothing that stands
is ever written over.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache

from django.core.exceptions import FieldDoesNotExist
from django.db import DataError, IntegrityError, models, transaction

from records.ledger import tamper_check
from records.ledger.excerpts import Excerpt
from records.models import (
    Account,
    Clinic,
    Entry,
    Fact,
    Ledger,
    Organisation,
    Person,
    PersonText,
    ServiceCompany,
    fact_models,
)

from .submission import _refuse_without_triggers, _save

_NOT_READ = (
    KeyError, ValueError, TypeError, AttributeError, ArithmeticError, DataError, IntegrityError, FieldDoesNotExist,
)  # fmt: skip
_MOMENT = "%Y-%m-%dT%H:%M:%S.%fZ"


class NotPutBack(Exception):
    """Nothing was written: the message says what is wrong with the file, or with the place, and the way out."""


@dataclass(frozen=True, slots=True)
class EntryBrought:
    """An entry as it was hashed: its header, its rows with their kinds, its hash.

    `whose` is the ref of the ledger's organisation.
    """

    whose: str
    entry: dict
    rows: list[dict]
    kinds: list[str]
    hash: str


@cache
def _kinds() -> dict[str, type[Fact]]:
    return {model._meta.model_name: model for model in fact_models()}


def refuse_unless_empty() -> None:
    """Raises NotPutBack where there are people or organisations already."""
    names = list(Organisation.objects.order_by("pk").values_list("name", flat=True)[:3])
    people = list(Account.objects.order_by("pk").values_list("username", flat=True)[:3])
    if names or people:
        held = ", ".join([*(f"“{name}”" for name in names), *(f"the log-in “{name}”" for name in people)])
        raise NotPutBack(
            f"This database holds {held} already. A clinic is brought in whole into an empty place only, so that "
            "nothing on record is written over; nothing was written. Name an empty folder in STANDING_DATA, and with "
            "PostgreSQL an empty database in PGDATABASE."
        )


def put_back(register: dict, entries: Iterable[EntryBrought], clinic: str, head: tuple[int, str]) -> Clinic:
    """Write all of it, or nothing. `entries` come in the order in which they were written; `clinic` is its ref.

    `head` is number and hash of the last entry of the clinic. Raises NotPutBack when the place is not empty, when a
    row cannot be read or points to nothing, and when what then stands does not verify.
    """
    _refuse_without_triggers()
    with transaction.atomic():
        refuse_unless_empty()
        try:
            put = _PutBack(register)
            for each in entries:
                put.entry(each)
            own = put.organisations[clinic]
            heads = put.finish()
        except NotPutBack:
            raise
        except (
            KeyError,
            ValueError,
            TypeError,
            AttributeError,
            ArithmeticError,
            IntegrityError,
            FieldDoesNotExist,
        ) as error:
            where = f"entry {put.now}" if "put" in locals() and put.now else "the register"
            raise NotPutBack(
                f"{where} cannot be put back: {type(error).__name__} {error}. Nothing was written. Take the file "
                "once more from where it was made, and run its check.py."
            ) from None
        if heads.get(clinic, (0, ""))[:2] != head:
            raise NotPutBack("The ledger in the file does not end where the file says. Nothing was written.")
        _verified(put, own)
    return own


def _verified(put: _PutBack, own: Clinic) -> None:
    for ref, organisation in put.organisations.items():
        if ref not in put.numbers:
            continue
        excerpt = None if organisation.pk == own.pk else Excerpt(put.numbers[ref])
        verdict = tamper_check.verify(organisation, excerpt)
        if not verdict.whole:
            raise NotPutBack(f"{verdict.sentence}. Nothing was written: the file does not verify.")


class _PutBack:
    """What was put back so far, by the names that rows use: ref, or digest of a name."""

    def __init__(self, register: dict):
        self.now: int | None = None
        self.facts: dict[type, dict[str, int]] = defaultdict(dict)
        self.numbers: dict[str, dict[int, str]] = defaultdict(dict)
        self.heads: dict[str, tuple[int, str, datetime]] = {}
        self.organisations: dict[str, Organisation] = {}
        for said in register["organisations"]:
            self.organisations[said["ref"]] = _organisation(said)
        self.persons = {said["ref"]: self._person(said) for said in register["persons"]}
        self.names = {said["digest"]: self._name(said) for said in register["names"]}
        self.accounts = {said["ref"]: self._account(said) for said in register["accounts"]}
        self.ledgers: dict[str, Ledger] = {}

    def _person(self, said: dict) -> Person:
        of = self.organisations[said["organisation"]] if said["organisation"] else None
        return Person.objects.create(ref=uuid.UUID(said["ref"]), organisation_id=of.pk if of else None)

    def _name(self, said: dict) -> int:
        erased = date.fromisoformat(said["erased_on"]) if said["erased_on"] else None
        kept = {name: said[name] for name in ("digest", "salt", "value")}
        return PersonText.objects.create(person=self.persons[said["person"]], erased_on=erased, **kept).pk

    def _account(self, said: dict) -> Account:
        account = Account(
            ref=uuid.UUID(said["ref"]), username=said["username"], first_name=said["first_name"],
            last_name=said["last_name"], person=self.persons[said["person"]] if said["person"] else None,
            is_active=bool(said["belongs"]),
        )  # fmt: skip
        account.set_unusable_password()
        account.save(force_insert=True)
        return account

    def entry(self, brought: EntryBrought) -> None:
        """Write one entry with its rows."""
        self.now = brought.entry["number"]
        ledger = self.ledgers.get(brought.whose)
        if ledger is None:
            organisation = self.organisations[brought.whose]
            ledger = self.ledgers[brought.whose] = Ledger.objects.create(organisation_id=organisation.pk)
        if brought.entry["ledger"] != brought.whose:
            raise ValueError("it says that it stands in another ledger")
        entry = Entry(hash=brought.hash, ledger=ledger)
        self._fill(entry, brought.entry, but=("ledger",))
        entry.save()
        rows = [self._row(kind, said) for kind, said in zip(brought.kinds, brought.rows, strict=True)]
        for line, row in enumerate(rows, 1):
            row.line = line
        self._save(rows, entry)
        self.numbers[brought.whose][entry.number] = entry.hash
        self.heads[brought.whose] = entry.number, entry.hash, entry.logged_at

    def _row(self, kind: str, said: dict) -> Fact:
        row = _kinds()[kind]()
        row.ref = uuid.UUID(said["ref"])
        row.said = said
        return row

    def _save(self, rows: list[Fact], entry: Entry) -> None:
        """A row may point to one of the same entry, which is written by then; rows of a kind stay in their order."""
        done: list[Fact] = []

        def write() -> None:
            _save(done, entry)
            for row in done:
                self.facts[type(row)][str(row.ref)] = row.pk
            done.clear()

        here = {str(row.ref) for row in rows}
        for row in rows:
            said = row.__dict__.pop("said")
            if here.intersection(v for k, v in said.items() if isinstance(v, str) and k not in ("ref", "origin")):
                write()
            own_kind = any(field.name == "kind" for field in row._meta.concrete_fields)
            self._fill(row, said, but=() if own_kind else ("kind",))
            done.append(row)
        write()

    def _fill(self, row: models.Model, said: dict, but: tuple[str, ...]) -> None:
        for name, value in said.items():
            if name not in but:
                field = row._meta.get_field(name)
                setattr(row, field.attname, self._value(field, value))

    def _value(self, field: models.Field, value):
        if value is None:
            if not field.null:
                raise ValueError(f"{field.name} is empty")
            return None
        if field.is_relation:
            return self._key(field.related_model, value)
        return _READ.get(field.get_internal_type(), lambda value: value)(value)

    def _key(self, model: type[models.Model], name: str) -> int:
        if model is PersonText:
            return self.names[name]
        if model is Account:
            return self.accounts[name].pk
        if model is Person:
            return self.persons[name].pk
        if issubclass(model, Organisation):
            return self.organisations[name].pk
        return self.facts[model][name]

    def finish(self) -> dict[str, tuple[int, str, datetime]]:
        """The head of each ledger, written into it: number and hash of its last entry, and when that was logged."""
        for whose, (number, digest, logged_at) in self.heads.items():
            Ledger.objects.filter(pk=self.ledgers[whose].pk).update(number=number, hash=digest, logged_at=logged_at)
        return self.heads


_READ = {
    "DateField": date.fromisoformat,
    "DateTimeField": lambda text: datetime.strptime(text, _MOMENT).replace(tzinfo=UTC),
    "DecimalField": Decimal,
    "UUIDField": uuid.UUID,
}


def _organisation(said: dict) -> Organisation:
    model = {"clinic": Clinic, "company": ServiceCompany}[said["kind"]]
    own = "written" if model is Clinic else "time_zone"
    shared = {name: said[name] for name in ("slug", "name", "phone", own)}
    return model.objects.create(ref=uuid.UUID(said["ref"]), **shared)
