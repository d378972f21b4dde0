"""Names of people in a ledger: each is what was signed, belongs to who signed, and is erased only by an entry.

A fact hashes the digest of a name, not the name. So a name is checked against its digest, which covers whose it is
as well; one from before it did is bound to its person only where an account signed with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from records.ledger import stored
from records.models import Account, Entry, NameErasure, Person, PersonText

ALTERED = "a name in it is not the one that was signed"


@dataclass
class NamesOnRecord:
    """`wrong` by key of a name: column of the name and what is wrong; `person_of` names and accounts their person."""

    wrong: dict[int, list[tuple[str, str]]] = field(default_factory=dict)
    person_of: dict[int, int | None] = field(default_factory=dict)
    account_person: dict[int, int | None] = field(default_factory=dict)

    def faults_of(self, row) -> Iterator[tuple[str, str]]:
        """Column of the row and what is wrong with the name that it points to."""
        for name in _name_fields(type(row)):
            for column, what in self.wrong.get(getattr(row, name.attname), ()):
                yield f"{name.column}.{column}", what
        if isinstance(row, Entry) and row.account_id in self.account_person and row.logged_by_id in self.person_of:
            if self.account_person[row.account_id] != self.person_of[row.logged_by_id]:
                yield "logged_by_id.person_id", "the name it is signed with is not one of its account's person"


def _name_fields(model):
    return [f for f in model._meta.concrete_fields if f.related_model is PersonText]


def read(texts: set[int], accounts: set[int]) -> NamesOnRecord:
    """What is wrong with these names, and whose they are."""
    found, named = NamesOnRecord(), list(_stored(PersonText, texts))
    people = {p.pk: p.ref for p, _ in _stored(Person, {text.person_id for text, _ in named} - {None})}
    erased = {erasure.name_id: erasure for erasure, _ in _stored(NameErasure, texts, by="name_id")}
    for text, bad in named:
        found.person_of[text.pk] = text.person_id
        wrong = [(each.column, each.what) for each in bad]
        wrong = wrong or list(_wrong(text, people.get(text.person_id), erased.get(text.pk)))
        if wrong:
            found.wrong[text.pk] = wrong
    for account, bad in _stored(Account, accounts):
        if not any(each.column == "person_id" for each in bad):
            found.account_person[account.pk] = account.person_id
    return found


def _stored(model, keys: set[int], by: str = ""):
    ordered, table = sorted(keys), model._meta.db_table
    for at in range(0, len(ordered), stored.AT_A_TIME):
        some = ordered[at : at + stored.AT_A_TIME]
        places = ", ".join(["%s"] * len(some))
        where = f'"{table}"."{by or model._meta.pk.column}" IN ({places})'
        sql = f'SELECT {stored.columns_of(model)} FROM "{table}" WHERE {where}'
        yield from stored.rows_of(model, stored.raw_rows(sql, some))


def _wrong(text: PersonText, person_ref, erasure: NameErasure | None) -> Iterator[tuple[str, str]]:
    if text.erased_on is not None:
        yield from _wrongly_erased(text, erasure)
    elif erasure is not None:
        yield "erased_on", "an entry says that this name was erased, yet it is there"
    elif "\0" in text.salt + text.value or text.digest not in (
        PersonText.digest_of(text.salt, text.value, person_ref),
        PersonText.digest_of(text.salt, text.value),  # as it once was, when it did not say whose
    ):
        yield "value", ALTERED


def _wrongly_erased(text: PersonText, erasure: NameErasure | None) -> Iterator[tuple[str, str]]:
    if text.value or text.salt:
        yield "value", "it is said to be erased, yet it is there"
    if erasure is None:
        yield "erased_on", "the name was erased, and no entry says by whom and why (`manage.py erase_name` enters it)"
        return
    if erasure.happened_on != text.erased_on:
        yield "erased_on", f"the entry of its erasure says {erasure.happened_on}"
    if erasure.person_id != text.person_id:
        yield "person_id", "the entry of its erasure says that it was another person's"
