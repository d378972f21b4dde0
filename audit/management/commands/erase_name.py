"""Erase a person's name from the record, on demand. An entry of the ledger says who did it, when and why.

Without NAME the names that the ledger of ORGANISATION holds are listed with their keys. The entries that name the
person still add up. Not reached: names typed into free text, papers and photos, binders that were issued, the name of
a log-in (give it another one on /admin/), mails that were sent, backups.
"""

from __future__ import annotations

import uuid

from audit.management import options as o
from records import log
from records import models as m


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("organisation", help="short name of the clinic or company in whose ledger it is entered")
        parser.add_argument("name", nargs="?", help="the name as it was signed, or its key where two are alike")
        parser.add_argument("--by", help="the log-in that erases it; it must manage the organisation")
        parser.add_argument("--reason", default="", help="why, for instance that the person asked for it")
        parser.add_argument("--asked-by", default="", help="who asked for it; not the name itself")

    def handle(self, *args, **options):
        try:
            organisation = _organisation(options["organisation"])
            if not options["name"]:
                for text in _names(organisation):
                    self.stdout.write(f"{text.pk}  {text}")
                o.end(self, 0)
            name, by = _name(organisation, options["name"]), _account(options["by"])
            row = log.erase_name(
                by=by, request_key=uuid.uuid4(), organisation=organisation, name=name,
                reason=options["reason"], asked_by=options["asked_by"],
            )  # fmt: skip
        except o.BadInput as error:
            o.refuse(self, error)
        except log.Refused as error:
            o.refuse(self, error)
        self.stdout.write(f"Name {name.pk} is erased, entry {row.entry.number} of {organisation} says so.")
        others = m.PersonText.objects.filter(person=name.person, erased_on=None).count()
        self.stdout.write(f"{others} other names of the person stand; free text, files and log-ins are not reached.")
        o.end(self, 0)


def _organisation(slug: str) -> m.Organisation:
    found = m.Organisation.objects.filter(slug=slug).first()
    if found is None:
        known = ", ".join(m.Organisation.objects.order_by("slug").values_list("slug", flat=True))
        raise o.BadInput(f"There is no clinic or company “{slug}”. Known: {known}.")
    return m.Clinic.objects.filter(pk=found.pk).first() or found


def _names(organisation) -> list[m.PersonText]:
    keys = set(m.Entry.objects.filter(ledger__organisation=organisation).values_list("logged_by_id", flat=True))
    for model in m.fact_models():
        for field in model._meta.concrete_fields:
            if field.related_model is m.PersonText:
                rows = model.objects.filter(entry__ledger__organisation=organisation)
                keys |= set(rows.values_list(field.attname, flat=True))
    return list(m.PersonText.objects.filter(pk__in=keys - {None}).order_by("pk"))


def _name(organisation, said: str) -> m.PersonText:
    names = _names(organisation)
    found = [n for n in names if n.value == said] or [n for n in names if str(n.pk) == said]
    if len(found) != 1:
        why = f"{len(found)} names are alike" if found else "The ledger holds no such name"
        keys = ", ".join(str(n.pk) for n in found)
        raise o.BadInput(f"{why}: give its key{f' ({keys})' if keys else ''}. Without a name, all are listed.")
    return found[0]


def _account(username: str | None) -> m.Account:
    account = m.Account.objects.filter(username=username).first() if username else None
    if account is None:
        raise o.BadInput("Say with --by which log-in erases it: the entry carries its name.")
    return account
