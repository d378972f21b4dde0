"""Names that are typed in an entry, as the texts that facts point to."""

from __future__ import annotations

from records.models import Person, PersonText

from . import gathering


def name_in(organisation, value: str, by=None) -> PersonText:
    """The text of a name that was typed: the account's own, or a person known at that organisation by that name.

    Where it is only tried, whether rows would be taken, nobody is made: the text then stands in no table.
    """
    value = value.strip()
    if gathering.is_trying():
        return PersonText(value=value)
    of = None if by is None else by.pk
    return gathering.once(("name", organisation.pk, value, of), lambda: _named(organisation, value, by))


def _named(organisation, value: str, by) -> PersonText:
    if by is not None and value in ("", by.full_name):
        return by.signed()
    known = PersonText.objects.filter(
        value=value, erased_on=None, person__organisation_id=organisation.pk, person__account=None
    ).first()
    if known:
        return known
    return PersonText.named(Person.objects.create(organisation_id=organisation.pk), value)
