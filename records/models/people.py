"""Organisations and people. Accounts, names and contact data may change; who belonged where, and when, are facts."""

from __future__ import annotations

import hashlib
import secrets

from django.contrib.auth.models import AbstractUser
from django.db import models

from .base import ClinicFact, Fact, new_ref, text, words
from .prepared import prepared


class Organisation(models.Model):
    """A clinic or a service company. Reference: the slug and contact data; what judgement reads is ClinicTerms."""

    ref = models.UUIDField(unique=True, default=new_ref, editable=False)
    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=200)
    phone = text(50)

    def __str__(self):
        return self.name


class Clinic(Organisation):
    """A place where sterilizers are used.

    `written` is how its pages write days and units (`records.writing.preferences`).
    """

    written = models.CharField("as it writes days and units", max_length=20, blank=True, default="", db_default="")


class ServiceCompany(Organisation):
    """A company whose people keep clinics' sterilizers.

    `time_zone` says by which zone its own day is reckoned, that of its books and of its stops: an IANA name, "" for
    UTC. It is reference and no fact: each fact keeps the zone that it was recorded by.
    """

    time_zone = models.CharField(max_length=64, blank=True, default="", db_default="")

    class Meta:
        verbose_name_plural = "service companies"


class Person(models.Model):
    """Somebody who is named in records, with or without an account."""

    ref = models.UUIDField(unique=True, default=new_ref, editable=False)
    organisation = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True)


class PersonText(models.Model):
    """A name as it was signed. Facts hash the digest, never the value, so an erasure leaves the chain whole.

    The digest covers the person too. That of a name from before it did covers salt and value alone.
    """

    person = models.ForeignKey(Person, models.PROTECT, related_name="texts")
    value = models.CharField(max_length=200)
    salt = models.CharField(max_length=64)
    digest = models.CharField(max_length=64, unique=True)
    erased_on = models.DateField(null=True, blank=True)

    def __str__(self):
        return self.value if self.erased_on is None else f"(name erased on {self.erased_on})"

    @staticmethod
    def digest_of(salt: str, value: str, person_ref=None) -> str:
        """SHA-256 in hexadecimal, over whose name it is as well; without `person_ref` as it once was."""
        whose = () if person_ref is None else (str(person_ref),)
        return hashlib.sha256("\x00".join((salt, value, *whose)).encode()).hexdigest()

    @classmethod
    def named(cls, person: Person, value: str, salt: str = "") -> PersonText:
        """The text of this name for this person, made once. `salt` is given only by the demo."""
        for found in _text_of(person.pk, value):
            return found
        salt = salt or secrets.token_hex(16)
        digest = cls.digest_of(salt, value, person.ref)
        return cls.objects.create(person=person, value=value, salt=salt, digest=digest)


class NameErasure(Fact):
    """A name was erased on demand: whose, who asked for it, and why. The name itself is in no column."""

    name = models.ForeignKey(PersonText, models.PROTECT, related_name="erasures")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    asked_by = text(120, verbose_name="who asked for it")
    reason = models.CharField(max_length=500)

    class Meta(Fact.Meta):
        verbose_name = "erasure of a name"
        verbose_name_plural = "erasures of names"

    def __str__(self):
        return f"name erased: {self.reason}"


@prepared
def _text_of(person: int, value: str) -> models.QuerySet[PersonText]:
    return PersonText.objects.filter(person=person, value=value, erased_on=None).order_by("pk")[:1]


class Account(AbstractUser):
    """A log-in. Leaving ends access, not authorship."""

    ref = models.UUIDField(unique=True, default=new_ref, editable=False)
    person = models.OneToOneField(Person, models.PROTECT, null=True, blank=True)

    @property
    def full_name(self) -> str:
        return self.get_full_name() or self.username

    def signed(self) -> PersonText:
        """The account's name as it goes into facts."""
        if self.person is None:
            self.person = Person.objects.create()
            self.save(update_fields=["person"])
        return PersonText.named(self.person, self.full_name)


ROLES = ("technician", "dispatcher", "stores", "coordinator", "operator", "viewer")


class Membership(Fact):
    """A person belongs to an organisation in a role, from a day on. Its end is a row of its own."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="memberships")
    person = models.ForeignKey(Person, models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=words(*ROLES))
    effective_on = models.DateField()


class MembershipEnd(Fact):
    """The first day on which a membership no longer holds."""

    membership = models.ForeignKey(Membership, models.PROTECT, related_name="ends")
    effective_on = models.DateField()
    reason = text(500)


class Agreement(ClinicFact):
    """A company serves a clinic, from a day on."""

    company = models.ForeignKey(ServiceCompany, models.PROTECT, related_name="agreements")
    effective_on = models.DateField()
    scope = text(500)


class AgreementEnd(ClinicFact):
    """The first day on which an agreement no longer holds."""

    agreement = models.ForeignKey(Agreement, models.PROTECT, related_name="ends")
    effective_on = models.DateField()
    reason = text(500)


class ClinicTerms(ClinicFact):
    """What the clinic is and which rules it follows, from a day on; a later row supersedes it."""

    effective_on = models.DateField()
    name = models.CharField(max_length=200)
    programme = models.CharField(max_length=20, choices=words("dental", "medical", "veterinary", "body art"))
    address = text(500)
    time_zone = models.CharField(max_length=64)
    week_start = models.PositiveSmallIntegerField(help_text="First day of the week: 0 Monday … 6 Sunday.")
    regime = models.CharField("rules followed", max_length=60)

    class Meta(Fact.Meta):
        verbose_name = "clinic terms"
        verbose_name_plural = "clinic terms"


DUTIES = (
    "biological-test", "air-removal-test", "air-leak-test", "automatic-control-test", "safety-check",
    "thermometer-comparison", "water", "validation-report", "pressure-examination", "servicing", "training",
)  # fmt: skip
EVERY = (
    "calendar-week", "calendar-week-with-patients", "calendar-month", "calendar-quarter", "calendar-year",
    "rolling-days", "rolling-months", "day-of-use", "day-of-use-and-cycle-type", "stated-date",
)  # fmt: skip


class LocalDuty(ClinicFact):
    """A duty that the clinic sets itself, beside the rules it follows, with its own source."""

    effective_on = models.DateField()
    duty = models.CharField(max_length=40, choices=words(*DUTIES))
    every = models.CharField(
        max_length=40,
        choices=words(*EVERY),
    )
    count = models.PositiveSmallIntegerField(default=1)
    source = models.CharField(max_length=300)

    class Meta(Fact.Meta):
        verbose_name = "duty of our own"
        verbose_name_plural = "duties of our own"


class Closure(ClinicFact):
    """Days without patients, both ends inclusive, for the whole place or one unit."""

    unit = models.ForeignKey("records.Unit", models.PROTECT, null=True, blank=True, related_name="+")
    from_on = models.DateField()
    to_on = models.DateField()
    why = models.CharField(max_length=300)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"unit": "the whole place"}


class KnownGap(ClinicFact):
    """Evidence that is known to be missing, both ends inclusive, with who accepted that."""

    unit = models.ForeignKey("records.Unit", models.PROTECT, null=True, blank=True, related_name="+")
    from_on = models.DateField()
    to_on = models.DateField()
    what = models.CharField(max_length=300)
    why = models.CharField(max_length=500)
    accepted_by = models.ForeignKey("records.PersonText", models.PROTECT, related_name="+")

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"unit": "the whole place"}
