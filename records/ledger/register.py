"""Who and what a record names besides its facts: organisations, people, their names and log-ins, as plain data.

Pass phrases, second factors and mail addresses are not among it.
"""

from __future__ import annotations

from collections.abc import Collection

from records.models import Account, Clinic, Membership, Organisation, Person, PersonText, ServiceCompany

ELSEWHERE = "elsewhere-"


def register(
    clinic: Clinic, people: Collection[int], accounts: Collection[int], organisations: Collection[int]
) -> dict:
    """Of these keys of persons, log-ins and organisations, and of everybody who ever belonged to the clinic.

    Who belongs there keeps log-in name and name; another place than the clinic and its companies keeps its ref alone.
    """
    own = set(Membership.objects.filter(organisation=clinic.pk).values_list("person_id", flat=True))
    logged = list(Account.objects.filter(pk__in=accounts).order_by("pk"))
    persons = {*people, *own, *(a.person_id for a in logged if a.person_id)}
    found = list(Person.objects.filter(pk__in=persons).select_related("organisation").order_by("pk"))
    entering = Account.objects.filter(person_id__in=own).exclude(pk__in=[a.pk for a in logged]).order_by("pk")
    wanted = {clinic.pk, *organisations, *(p.organisation_id for p in found if p.organisation_id)}
    refs = {p.pk: str(p.ref) for p in found}
    places = Organisation.objects.filter(pk__in=wanted).order_by("ref")
    texts = PersonText.objects.filter(person_id__in=refs).order_by("pk")
    return {
        "organisations": [_organisation(each, clinic) for each in places],
        "persons": [
            {"ref": str(p.ref), "organisation": str(p.organisation.ref) if p.organisation_id else None} for p in found
        ],
        "names": [_name(text, refs[text.person_id]) for text in texts],
        "accounts": [_account(each, refs, own) for each in (*logged, *entering)],
    }  # fmt: skip


def _organisation(each: Organisation, clinic: Clinic) -> dict:
    company = ServiceCompany.objects.filter(pk=each.pk).first()
    said = {"ref": str(each.ref), "kind": "company" if company else "clinic"}
    if company is None and each.pk != clinic.pk:
        return said | {"slug": f"{ELSEWHERE}{each.ref.hex[:8]}", "name": "another place", "phone": "", "written": ""}
    shared = {"slug": each.slug, "name": each.name, "phone": each.phone}
    return said | shared | ({"time_zone": company.time_zone} if company else {"written": clinic.written})


def _name(text: PersonText, person: str) -> dict:
    erased = text.erased_on.isoformat() if text.erased_on else None
    return {"digest": text.digest, "person": person, "salt": text.salt, "value": text.value, "erased_on": erased}


def _account(account: Account, refs: dict[int, str], own: set[int]) -> dict:
    entering = account.person_id in own
    return {
        "ref": str(account.ref),
        "person": refs.get(account.person_id),
        "belongs": entering,
        "username": account.username if entering else f"{ELSEWHERE}{account.ref.hex[:12]}",
        "first_name": account.first_name if entering else "",
        "last_name": account.last_name if entering else "",
    }
