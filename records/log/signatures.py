"""Signatures: who is signed in signs what names them, and what nobody signed is never shown as signed.

A row that names somebody says what was told. Its person signs it by an entry of their own: a version of the row,
logged under their account after they gave pass phrase or passkey (`records.doors.proof`). So the signature carries
name, moment and meaning (21 CFR 11.50), is bound to its record by the chain (11.70) and is nobody else's (11.100).
What was entered by its person without that, or without a signal, waits for it; what another typed is told.
"""

from __future__ import annotations

import uuid

from records import access
from records.models import Clinic, Fact, FollowUpDone, LoadRelease, PersonText, Signature, UnitEvent
from records.wording import FROM_TABLE

from . import may_be_logged
from .errors import NotYours, Problem, Refused
from .submission import submission

# Why a version was made, and how that is shown: only `sign` writes it.
SIGNED = "Signed by its person with pass phrase."
SIGNED_BY_PASSKEY = "Signed by its person with passkey."
SIGNINGS = {SIGNED: "signed with pass phrase", SIGNED_BY_PASSKEY: "signed with passkey"}
SIGNED_SINCE = 6  # the form of an entry from which on whoever is named could sign
WHO = {Signature: "signed_by", LoadRelease: "decided_by", UnitEvent: "by", FollowUpDone: "done_by"}
RETURN = "return"  # the step after a failure that is signed; the return that goes along has its key made with it
IN_WORDS = {
    "entered": "entered while signed in, not signed",
    "told": "told by {by}, not signed",
    "paper": "copied from paper by {by}",
    "": "",
}


def given(row: Fact) -> str:
    """How the name came into the row: signed, entered, told, paper (a signature on paper is there); "" names nobody.

    What a table kept elsewhere says of who decided is told: no paper with a signature is named.
    No query where the entry with its `logged_by`, and the name, were read along with the row.
    """
    who = getattr(row, WHO[type(row)])
    if not who:
        return ""
    if row.amends_id is not None and row.amend_reason in SIGNINGS:
        return "signed"
    if row.entry.paper and not row.entry.paper.startswith(FROM_TABLE):
        return "paper"
    if _is(who, row.entry.logged_by):
        return "entered"
    if isinstance(row, UnitEvent) and row.amends_id is not None and _is_same_event(row, row.amends):
        before = given(row.amends)
        return "entered" if before == "signed" else before
    return "told"


def _is(who: PersonText | str, logged_by: PersonText) -> bool:
    """Whether who is named entered the row; a name that was typed is compared without case and blanks."""
    if isinstance(who, str):
        return same_name(who, str(logged_by))
    return who.person_id == logged_by.person_id


def same_name(one: str, other: str) -> bool:
    """Whether two names as typed are the same, without case and blanks."""
    return "".join(one.split()).casefold() == "".join(other.split()).casefold()


_SAME_EVENT = ("unit_id", "kind", "ends_id", "happened_on", "happened_at")


def _is_same_event(row: UnitEvent, before: UnitEvent) -> bool:
    """Whether a correction left what happened, when, and which withdrawal it ends: its own person entered that."""
    return all(getattr(row, name) == getattr(before, name) for name in _SAME_EVENT)


def only_told(row: Fact) -> bool:
    """Whether somebody else entered the row in that name, since whoever is named could sign."""
    return row.entry.form >= SIGNED_SINCE and given(row) == "told"


def given_in_words(row: Fact) -> str:
    """As `given`, as it is shown."""
    how = given(row)
    return SIGNINGS[row.amend_reason] if how == "signed" else IN_WORDS[how].format(by=row.entry.logged_by)


def means(row: Fact) -> str:
    """What signing the row says; "" where nobody signs it: of what happened to a unit only its return is signed."""
    if isinstance(row, LoadRelease):
        return f"the load is {row.decision}"
    if isinstance(row, UnitEvent):
        return "the unit is returned to use" if row.kind == "returned" else ""
    if isinstance(row, FollowUpDone):
        return "the unit is returned to use after its failure" if row.followup.action == RETURN else ""
    words = {
        "released": "the work is done and the unit released", "returned to use": "the unit is returned to use",
        "left out of use": "the unit stays out of use", "refused": "the unit is not taken back",
    }  # fmt: skip
    return words.get(row.meaning, "")


def problems(by, row: Fact) -> list[Problem]:
    """Why the account cannot sign the row: what it says, and the way out. [] when it can."""
    who = getattr(row, WHO[type(row)])
    if not who:
        return [Problem("", "Nobody signs that nobody was there.")]
    if not means(row):
        return [Problem("", "This is not signed: a return to use is, a release, or the decision on a load.")]
    if given(row) == "signed":
        return [Problem("", f"{who} signed this already, on {row.entry.logged_at:%Y-%m-%d %H:%M} UTC.")]
    if not same_name(str(who), by.full_name):
        return [
            Problem("", f"This names {who}, and only that person signs it. Let them sign here, with their own log-in "
                        "name and pass phrase; where another one was meant, enter it as entered in error, and log it "
                        "again.")
        ]  # fmt: skip
    return []


def may_sign(by, row: Fact) -> bool:
    """Who returns a unit to use, or refuses to, belongs to the clinic; all else is signed by who may record it."""
    clinic, company = row.entry.ledger.organisation_id, row.entry.logged_for_id
    of_clinic = isinstance(row, FollowUpDone) or (isinstance(row, Signature) and row.meaning != "released")
    where = [clinic] if of_clinic or company is None else [company, clinic]
    return access.memberships(by).filter(organisation_id__in=where, role__in=access.LOGGING_ROLES).exists()


def _refuse_unless_belongs(by, row: Fact) -> None:
    if not may_sign(by, row):
        raise NotYours(f"{by.full_name} does not belong to those who sign this. Ask the coordinator of the clinic.")


def sign(*, by, request_key, row: Fact, passkey: bool = False) -> Fact:
    """The account signs the row, which names it; `by` gave the pass phrase, or a passkey. Returns the signed version.

    Raises Refused and NotYours.
    """
    _refuse_unless_belongs(by, row)
    company = row.entry.logged_for
    mine = company if company and access.may_log_for(by, company) else None
    clinic = Clinic.objects.get(pk=row.entry.ledger.organisation_id)
    with submission(clinic, by, request_key, "signature", {"row": row}, logged_for=mine) as s:
        if s.repeated:
            return s.first(type(row))
        newest = type(row).objects.newest().select_related("entry__logged_by").get(origin=row.origin)
        if newest.pk != row.pk:
            raise Refused([Problem("", "It was corrected or signed meanwhile. Look at it first, then sign.")])
        may_be_logged.stop_on(problems(by, row))
        how = SIGNED_BY_PASSKEY if passkey else SIGNED
        signed = s.add(_as_signed(row, by, how), amends=row)
        for other in _along(row):
            if given(other) == "entered" and not problems(by, other):
                s.add(_as_signed(other, by, how), amends=other)
        return signed


def _as_signed(row: Fact, by, how: str) -> Fact:
    """The next version of the row, the same but for how its name came in."""
    skipped = {"id", "ref", "origin", "entry", "line", "amends", "amend_reason"}
    values = {f.name: getattr(row, f.name) for f in row._meta.concrete_fields if f.name not in skipped}
    if not isinstance(row, FollowUpDone):  # that name is typed, and is the account's own already
        values[WHO[type(row)]] = by.signed()
    return type(row)(**values, amend_reason=how)


def key_of_signature(request_key) -> uuid.UUID:
    """The key under which what was recorded under that key is signed at once."""
    return uuid.uuid5(uuid.UUID(str(request_key)), "signature")


def key_of_return(request_key) -> uuid.UUID:
    """The key under which the return of the unit is logged that goes along with a step after a failure."""
    return uuid.uuid5(uuid.UUID(str(request_key)), RETURN)


def _along(row: Fact) -> list[UnitEvent]:
    """The return of the unit that was logged along with a step after a failure, in its newest version."""
    if not isinstance(row, FollowUpDone):
        return []
    first = row.origin_row().entry
    key = key_of_return(first.request_key)
    made = UnitEvent.objects.filter(entry__account=first.account_id, entry__request_key=key)
    newest = UnitEvent.objects.newest().filter(origin__in=made.values("origin"))
    return list(newest.select_related("entry__logged_by", "by", "amends"))
