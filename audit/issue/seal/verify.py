"""Check a file: is it a binder of ours, unaltered, by whom and when, and do today's records bear it out?"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

from records.models import BinderIssue, Organisation

from . import today
from .in_use import SealUse, use_of
from .keys import fingerprint, known_certificates, name_in
from .look import Look, look
from .manifest import MANIFEST, is_whole
from .signature import FoundSignature, signatures

LARGEST = 50 * 1024 * 1024
IN_OUR_NAME = "It carries a signature in the name of this installation, which does not fit"
UNALTERED, ALTERED, NOT_OURS = "unaltered", "altered", "not ours"
TOO_LATE = (
    "It says that it was signed after another seal had taken the place of this one, and it is not on record as "
    "issued. Whoever kept the old key can have signed it: ask the organisation by a way you trust whether it is "
    "theirs."
)
SELF_SIGNED = (
    "The certificate is this installation's own, vouched for by nobody else. It proves that the file is unchanged "
    "since this installation signed it. It does not prove to a stranger who runs the installation: for that, ask the "
    "organisation by a way you trust (by telephone, say) for the fingerprint of its certificate, and compare."
)
ISSUED = (
    "The certificate was issued to the organisation by somebody else. It proves that the file is unchanged since it "
    "was signed. Whether the issuer is to be trusted, and whether the certificate was revoked, was not asked here: "
    "a reader of PDF files that trusts the issuer tells you."
)


@dataclass(frozen=True, slots=True)
class Certificate:
    """Both days inclusive. `own` says that nobody else vouches for it."""

    name: str
    issuer: str
    fingerprint: str
    first: datetime
    last: datetime
    own: bool

    @property
    def proves(self) -> str:
        return SELF_SIGNED if self.own else ISSUED


@dataclass(frozen=True, slots=True)
class SignedBy:
    """What the signature says: who issued the file, why, and when by the clock of whoever signed."""

    by: str
    reason: str
    at: datetime | None


@dataclass(frozen=True, slots=True)
class FileVerdict:
    """`word` is unaltered, altered or not ours; `why` says it in a sentence; `changes` what is seen to differ.

    `signed`, `manifest`, `records`, `seal_use` and `issued_at` (when it was recorded as issued) are given only of an
    unaltered file: what an altered one says of itself proves nothing.
    """

    word: str
    why: str
    sha256: str
    size: int
    changes: tuple[str, ...] = ()
    signed: SignedBy | None = None
    certificate: Certificate | None = None
    manifest: dict | None = None
    issued_at: datetime | None = None
    records: today.Records | None = None
    seal_use: SealUse | None = None

    @property
    def too_late(self) -> str:
        """What is to be asked of a file signed after its seal was replaced, and not on record as issued; "" else."""
        at = self.signed.at if self.signed is not None else None
        if self.issued_at is not None or self.seal_use is None or not self.seal_use.is_over(at):
            return ""
        return TOO_LATE

    @property
    def good(self) -> bool:
        """Unaltered, today's records still contain what it states, and its seal was in use when it was signed."""
        held = self.records is not None and self.records.hold
        return self.word == UNALTERED and held and not self.too_late


def nobody(organisation: Organisation) -> bool:
    """What an unknown reader may know of an organisation beyond the file itself: nothing."""
    return False


def check(content: bytes, *, sees: Callable[[Organisation], bool] = nobody, fresh: bool = False) -> FileVerdict:
    """Never raises for what is in the file. `sees` and `fresh` as in `today.compare`."""
    return _Check(content, sees, fresh).verdict()


class _Check:
    def __init__(self, content: bytes, sees, fresh: bool):
        self.content, self.sees, self.fresh = content, sees, fresh
        self.sha256 = hashlib.sha256(content).hexdigest()
        self.known = known_certificates()

    def verdict(self) -> FileVerdict:
        issue = BinderIssue.objects.filter(file_sha256=self.sha256).order_by("pk").first()
        copy = None if issue else BinderIssue.objects.filter(body_sha256=self.sha256).order_by("pk").first()
        if copy is not None:
            return self._unaltered(None, copy, "It is a binder of ours, byte for byte, in an unsigned copy.")
        found = signatures(self.content)
        size = len(self.content)
        whole = next((f for f in found if self._ours(f) and f.end == size), None)
        if issue is not None or whole is not None:
            return self._unaltered(
                whole or (found[0] if found else None), issue, "Not one byte differs from what was signed."
            )
        part = next((f for f in found if self._ours(f)), None)
        if part is not None:
            return self._added_to(part)
        if any(f.named & set(self.known) for f in found):
            return self._broken(found)
        return self._strange(found[0]) if found and found[0].certificate else self._unsigned()

    def _say(self, word: str, why: str, **more) -> FileVerdict:
        return FileVerdict(word, why, self.sha256, len(self.content), **more)

    def _ours(self, found: FoundSignature) -> bool:
        """It fits and every certificate in it is, to the last byte, one that we put there."""
        certificates = self.known.get(hashlib.sha256(found.certificate).hexdigest(), ())
        chain = {fingerprint(each) for each in certificates[1:]}
        beside = [hashlib.sha256(each).hexdigest() for each in found.others]
        return found.fits and bool(certificates) and len(set(beside)) == len(beside) and set(beside) <= chain

    def _unaltered(self, found: FoundSignature | None, issue, why: str) -> FileVerdict:
        seen = look(self.content)
        certificate = described(found.certificate) if found else None
        if seen.problem:
            not_read = (
                f"What it holds could not be read here, so it was not compared with the records: {seen.problem}."
            )
            return self._say(UNALTERED, why, changes=(not_read,), certificate=certificate)
        if seen.manifest is None or not is_whole(seen.manifest):
            why = "It is signed with a key of this installation, but it is not a binder: its manifest is missing."
            return self._say(NOT_OURS, why, certificate=certificate)
        return self._say(
            UNALTERED, why,
            signed=_signed(seen, certificate),
            certificate=certificate,
            manifest=seen.manifest,
            seal_use=use_of(certificate.fingerprint) if certificate else None,
            issued_at=issue.happened_at if issue else None,
            records=today.compare(seen.manifest, seen.rows, self.sees, fresh=self.fresh),
        )  # fmt: skip

    def _added_to(self, part: FoundSignature) -> FileVerdict:
        issued, now = look(self.content[: part.end]), look(self.content)
        added = len(self.content) - part.end
        changes = [f"{added:,} bytes were added after it was signed."]
        if now.problem:
            changes.append(f"With them it cannot be read: {now.problem}.")
        elif issued.pages != now.pages:
            changes.append(f"It had {issued.pages} pages when it was signed and shows {now.pages} now.")
        changes += _files_differ(dict(issued.files), dict(now.files))
        changes.append(f"Its first {part.end:,} bytes are what was signed: cut there, it is unaltered.")
        return self._say(ALTERED, "It was signed here, and something was added afterwards.", changes=tuple(changes))

    def _broken(self, found: list[FoundSignature]) -> FileVerdict:
        changes = []
        missing = max(f.end for f in found) - len(self.content)
        if missing > 0:
            changes.append(f"It is cut off: at least {missing:,} bytes are missing at its end.")
        changes += _differs(look(self.content))
        why = f"{IN_OUR_NAME}: bytes of the file were changed."
        return self._say(ALTERED, why, changes=tuple(changes))

    def _strange(self, found: FoundSignature) -> FileVerdict:
        certificate = described(found.certificate)
        fits = "" if found.fits else " That signature does not fit either, as far as can be told here."
        whose = f", that of “{certificate.name}”" if certificate else ""
        why = f"It is signed with a key this installation never used{whose}.{fits}"
        return self._say(NOT_OURS, why, certificate=certificate)

    def _unsigned(self) -> FileVerdict:
        if b"%PDF-" not in self.content[:1024]:
            return self._say(NOT_OURS, "It is not a PDF file; binders are.")
        seen = look(self.content)
        if any(set(f.certificates) & set(self.known) for f in seen.fields):
            why = f"{IN_OUR_NAME}: the file was written anew."
            return self._say(ALTERED, why, changes=_differs(seen))
        if any(f.filled for f in seen.fields):
            return self._say(NOT_OURS, "It carries a signature, but not one of this installation.")
        if seen.manifest is not None and (seen.repaired or seen.problem or seen.fields):
            why = "It was a binder, but its signature is missing: it was cut off or taken out."
            return self._say(ALTERED, why, changes=_differs(seen))
        return self._say(NOT_OURS, _why_unsigned(seen))


def _why_unsigned(seen: Look) -> str:
    if seen.problem:
        return f"It is not a binder as it was issued: {seen.problem}."
    if seen.manifest is None:
        return "It is not signed, and it is not a binder: it holds no manifest."
    return (
        "It looks like a binder, but it is not signed and no such unsigned file is on record. Nothing can be said of "
        "who made it, or whether it was changed. Ask for the signed file."
    )


def _differs(seen: Look) -> tuple[str, ...]:
    """What differs from the manifest inside; the manifest may be altered too, so this is no more than a hint."""
    if seen.problem:
        return (f"It cannot be read to its end: {seen.problem}.",)
    said = ["It is encrypted; binders never are."] if seen.encrypted else []
    if seen.manifest is None:
        return (*said, "Its manifest is missing or cannot be read.")
    pages = seen.manifest.get("pages")
    if isinstance(pages, int) and pages != seen.pages:
        said.append(f"It has {seen.pages} pages; its manifest says {pages}.")
    return (*said, *_files_differ(_stated_files(seen.manifest), dict(seen.files)))


def _stated_files(manifest: dict) -> dict[str, str]:
    found = manifest.get("attachments")
    each = [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []
    named = {str(one.get("name", ""))[:500]: str(one.get("sha256", "")) for one in each}
    return {"".join(c for c in name if c.isprintable()): sha256 for name, sha256 in named.items()}


def _files_differ(stated: dict[str, str], there: dict[str, str]) -> list[str]:
    said = [f"The attached file {name} is gone." for name in sorted(stated.keys() - there.keys())]
    said += [
        f"The attached file {name} is another one than the manifest names."
        for name in sorted(stated.keys() & there.keys())
        if stated[name] != there[name]
    ]
    return said + [
        f"The attached file {name} was added." for name in sorted(there.keys() - stated.keys() - {MANIFEST})
    ]


def described(der: bytes) -> Certificate | None:
    """A certificate in words, from its DER; None when it cannot be read."""
    from cryptography import x509

    try:
        return of(x509.load_der_x509_certificate(der))
    except ValueError:
        return None


def of(certificate) -> Certificate:
    """A certificate (of `cryptography`) in words."""
    return Certificate(
        name=_seen(name_in(certificate.subject)),
        issuer=_seen(name_in(certificate.issuer)),
        fingerprint=fingerprint(certificate),
        first=certificate.not_valid_before_utc,
        last=certificate.not_valid_after_utc,
        own=certificate.subject == certificate.issuer,
    )


def _seen(text: str) -> str:
    return "".join(c for c in text if c.isprintable())


def _signed(seen: Look, certificate: Certificate | None) -> SignedBy | None:
    if certificate is None:
        return None
    field = next((f for f in seen.fields if certificate.fingerprint in f.certificates), None)
    return SignedBy(field.by, field.reason, moment(field.at)) if field else None


PDF_DATE = re.compile(r"D:(\d{14})(?:Z|([+-])(\d\d)'(\d\d)'?)?")


def moment(text: str) -> datetime | None:
    """A moment as PDF writes it (ISO 32000-1:2008, 7.9.4, from memory), None when it is not one.

    Without an offset it is taken as UTC.
    """
    match = PDF_DATE.match(text)
    if match is None:
        return None
    try:
        at = datetime.strptime(match[1], "%Y%m%d%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return None
    if match[2] is None:
        return at
    offset = timedelta(hours=int(match[3]), minutes=int(match[4])) * (1 if match[2] == "+" else -1)
    return at.replace(tzinfo=timezone(offset)) if abs(offset) < timedelta(days=1) else None
