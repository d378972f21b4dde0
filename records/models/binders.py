"""Binders that were issued, and the links by which an inspector reads one. The program writes these as they happen.

None of them is ever corrected or entered in error: what was handed out was handed out. A binder that says something
wrong is answered by issuing another one, a link by ending it.
"""

from __future__ import annotations

from django.db import models

from .base import ClinicFact, Fact, person_field, text, words

PAGE_SIZES = ("a4", "letter")


class BinderIssue(ClinicFact):
    """A binder was made, signed and kept. `happened_at` is the moment of signing.

    The signed file lies in `records.files.blobs` under `file_sha256`. `body_sha256` is the hash of the same file
    before it was signed: the same facts, days and program make the same body again. `ledger_number` is the last
    entry of the clinic's ledger that was read, which is one before this row's own or earlier;
    `company_ledger_number` that of the service company, of the first by name where several served the clinic.
    """

    from_on = models.DateField("first day")
    to_on = models.DateField("last day, included")
    as_of = models.DateField("answers as of")
    known_at = models.DateTimeField("from what was logged by", null=True, blank=True)
    page = models.CharField("size of paper", max_length=8, choices=words(*PAGE_SIZES))
    pages = models.PositiveIntegerField()
    size = models.PositiveIntegerField("bytes")
    body_sha256 = models.CharField("SHA-256 before signing", max_length=64)
    file_sha256 = models.CharField("SHA-256 of the signed file", max_length=64)
    ledger_number = models.PositiveIntegerField("last entry of the clinic that was read")
    company_ledger_number = models.PositiveIntegerField(
        "last entry of the service company when it was made", null=True, blank=True
    )
    issued_by = person_field("issued by")
    certificate = models.CharField("SHA-256 of the certificate it is signed with", max_length=64)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {
        "known_at": "all that was logged",
        "company_ledger_number": "no company served the clinic",
    }

    class Meta(Fact.Meta):
        verbose_name = "issued binder"

    def __str__(self):
        return f"{self.from_on} to {self.to_on}, as of {self.as_of}"

    @property
    def filename(self) -> str:
        """What the file is called when it is handed out."""
        return f"binder-{self.clinic.slug}-{self.from_on}-to-{self.to_on}-as-of-{self.as_of}.pdf"


class InspectorLink(ClinicFact):
    """Somebody without an account may read one issued binder, up to and including `expires_on` at the clinic.

    `digest` is the SHA-256 of the secret part of the address, which is shown once and kept nowhere.
    """

    issue = models.ForeignKey(BinderIssue, models.PROTECT, related_name="links")
    for_whom = models.CharField("for whom", max_length=200)
    expires_on = models.DateField("last day it opens")
    digest = models.CharField("SHA-256 of its secret part", max_length=64, unique=True)

    class Meta(Fact.Meta):
        verbose_name = "link for an inspector"
        verbose_name_plural = "links for inspectors"

    def __str__(self):
        return f"for {self.for_whom}, until {self.expires_on}"


class InspectorLinkEnd(ClinicFact):
    """The link opens nothing any more, from `happened_at` on."""

    link = models.ForeignKey(InspectorLink, models.PROTECT, related_name="ends")
    reason = models.CharField(max_length=500)

    class Meta(Fact.Meta):
        verbose_name = "end of a link for an inspector"
        verbose_name_plural = "ends of links for inspectors"

    def __str__(self):
        return self.reason


class InspectorLinkOpening(ClinicFact):
    """The link was opened. The entry is signed by the link, not by who made it.

    The first opening of a day is a row without `times`, at `happened_at`. When it was opened again that day, a second
    row says, after the day, how many times in all.
    """

    link = models.ForeignKey(InspectorLink, models.PROTECT, related_name="openings")
    what = models.CharField("what was opened", max_length=8, choices=words("answers", "binder"))
    agent = text(200, verbose_name="what the browser called itself")
    times = models.PositiveIntegerField("times on that day", null=True, blank=True)

    EMPTY_MEANS = Fact.EMPTY_MEANS | {"times": "it was opened once, at that time"}

    class Meta(Fact.Meta):
        verbose_name = "opening of a link for an inspector"
        verbose_name_plural = "openings of links for inspectors"

    def __str__(self):
        times = "" if self.times is None else f" {self.times} times"
        return f"{self.what} opened{times} on {self.happened_on}"


class InspectorLinkCount(models.Model):
    """How often a link was opened on a day at the clinic: working state, until an entry says it."""

    link = models.ForeignKey(InspectorLink, models.CASCADE, related_name="counts")
    day = models.DateField()
    what = models.CharField(max_length=8)
    times = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["link", "day", "what"], name="link_count_once")]
