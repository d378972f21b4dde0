"""Correcting a fact, and saying that one did not happen. What stood before stays visible.

Only the author or the author's organisation corrects. A correction is a new row of the same origin: the newest in
the line holds, and two people correcting one version are told of each other.
"""

from __future__ import annotations

from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db import models

from records import access
from records.models import (
    AirRemovalTest,
    BioReading,
    BioTest,
    ChemicalResult,
    Clinic,
    ConditionFinding,
    CounterReading,
    Fact,
    FailureCase,
    FittedPart,
    IndicatorLot,
    LeakTest,
    Load,
    LoadRelease,
    PartLot,
    PlanLine,
    Position,
    StockMove,
    StockPlace,
    TaskOutcome,
    Unit,
    UserCheck,
    Voiding,
    fact_models,
)

from . import may_be_logged, row_rules
from .bad_news import refuse_with_bad_news
from .errors import NotYours, Problem, Refused
from .indicators import kind_of_chemical, open_case, open_cases_of_cycle
from .leak_rate import KPA, leak_rate, leak_result
from .loads import about_decision
from .programs import about_exposure, open_case_of_exposure
from .signatures import SIGNINGS
from .submission import answered, submission

# Whose a row is and which row it is; these never change by correcting: void it and log it again.
FIXED = frozenset({
    "id", "ref", "origin", "entry", "line", "amends", "amend_reason", "clinic", "unit", "owner", "zone",
    "inspection", "instrument", "point", "visit", "job", "bio_test", "case", "followup", "load", "opened_by",
    "sha256", "size", "rate", "fault", "withdrawal", "agreed", "instead_of",
})  # fmt: skip


# What decides who may see and do what, and which rules hold: only who manages the organisation corrects these.
MANAGED = frozenset({
    "membership", "membershipend", "agreement", "agreementend", "clinicterms", "localduty", "closure", "knowngap",
})  # fmt: skip
# What holds at the place is the place's own, also when the company that opened the clinic wrote it down.
OF_THE_PLACE = MANAGED - {"agreementend"}


# By kind of row, what else makes it the row that it is: by the code of a line its outcomes and due items are found,
# and an agreement is one with its company. The result of a leak test is computed from what was read.
FIXED_OF = {
    "planline": frozenset({"code"}),
    "program": frozenset({"name"}),
    "agreement": frozenset({"company"}),
    "leaktest": frozenset({"result"}),
    "visitagreed": frozenset({"company"}),
    "stockmove": frozenset({"lot", "kind", "fitted"}),
    "recalltold": frozenset({"recall"}),
    # What the file says of itself stands in it, its day too; brought in wrongly it was entered in error.
    "cyclerecording": frozenset(
        {
            "how",
            "serial",
            "cycle_number",
            "program",
            "started",
            "logger",
            "ambient",
            "profile",
            "happened_on",
            "happened_at",
        }
    ),
    "unitfromtemplate": frozenset({"template", "company", "name", "edition", "kept"}),
    "loanerhere": frozenset({"loan", "company"}),
}


def changeable(row: Fact) -> list[models.Field]:
    """The fields of a row that a correction may change."""
    fixed = FIXED | FIXED_OF.get(row._meta.model_name, frozenset())
    return [f for f in row._meta.concrete_fields if f.name not in fixed and not _is_person(f)]


# What the program writes as it happens. A link is ended, a binder that says something wrong is followed by another.
# What a unit is and what is due on it: who may enter these corrects them.
SET_UP = frozenset({
    "unit", "placement", "position", "fit", "planline", "program", "unitfromtemplate", "unitpart", "unitreading",
})  # fmt: skip
PERMANENT = frozenset({
    "binderissue", "inspectorlink", "inspectorlinkend", "inspectorlinkopening", "nameerasure",
})  # fmt: skip


def _refuse_what_the_program_wrote(row: Fact) -> None:
    if row._meta.model_name in PERMANENT:
        raise Refused(
            [Problem("", f"This {row._meta.verbose_name} was written by the program as it happened, so it stands. "
                         "Issue another binder, or end the link; a name that was erased is gone.")]
        )  # fmt: skip


def _is_person(field) -> bool:
    return field.is_relation and field.related_model._meta.model_name == "persontext"


def _ledger_of(row: Fact):
    return row.entry.ledger.organisation


def _written_for(row: Fact):
    """The company whose row it is, None for a row of the ledger's own organisation."""
    return None if row._meta.model_name in OF_THE_PLACE else row.entry.logged_for


def _refuse_unless_author(by, row: Fact) -> None:
    entry, logged_for = row.entry, _written_for(row)
    name = row._meta.model_name
    author = logged_for.pk if logged_for else entry.ledger.organisation_id
    set_up = access.VISIT_ROLES if name in SET_UP else access.LOGGING_ROLES
    roles = access.MANAGING_ROLES if name in MANAGED else set_up
    if not access.memberships(by).filter(organisation_id=author, role__in=roles).exists():
        if logged_for != entry.logged_for:
            place = entry.ledger.organisation.name
            raise NotYours(f"Only the coordinator of {place} corrects this, whoever recorded it. Ask them to.")
        name = logged_for.name if logged_for else entry.ledger.organisation.name
        raise NotYours(f"This was recorded by {name}; only they may correct it. Ask them to.")


def may_change(by, row: Fact) -> bool:
    """Whether the account may correct the row or say that it was entered in error. A voiding itself stands."""
    try:
        _refuse_unless_author(by, row)
    except NotYours:
        return False
    return not isinstance(row, Voiding) and row._meta.model_name not in PERMANENT


def newest(row: Fact) -> Fact:
    """The version in force of the line that the row belongs to."""
    return type(row).objects.newest().get(origin=row.origin)


def _clean(row: Fact, changes: dict) -> list[Problem]:
    problems = []
    allowed = {f.name for f in changeable(row)}
    for name, value in changes.items():
        if name not in allowed:
            problems.append(
                Problem(name, "This cannot be corrected: enter the row as entered in error and log it again.")
            )
            continue
        field = row._meta.get_field(name)
        try:
            if field.is_relation:
                problems += _foreign(row, name, value)
            else:
                changes[name] = field.clean(value, row)
        except (ValidationError, FieldDoesNotExist) as error:
            problems.append(Problem(name, " ".join(getattr(error, "messages", [str(error)]))))
    return problems


def _foreign(row: Fact, name: str, target):
    """What a corrected row may not point to: another unit's rows, another clinic's, lots that are not known here."""
    if not isinstance(target, Fact):
        return
    if isinstance(target, IndicatorLot):
        kind = "biological" if isinstance(row, BioTest) else "chemical"
        yield from may_be_logged.indicator_lot(name, target, row.clinic, kind, row.happened_on)
        return
    for owner, words in (("unit_id", "unit"), ("clinic_id", "clinic")):
        mine, its = getattr(row, owner, None), getattr(target, owner, None)
        if mine is not None and its is not None and mine != its:
            yield Problem(name, f"That belongs to another {words}. Choose one of its own.")
            return
    books = {row.entry.ledger.organisation_id, row.entry.logged_for_id}
    if getattr(target, "owner_id", None) not in {None, *books}:
        yield Problem(name, "That is not in your books. Choose one that is.")


def correct(*, by, request_key, row: Fact, changes: dict, reason: str, confirmed=()) -> Fact:
    """Correct a row: it was always so. `row` must be the newest version; the other one is shown otherwise.

    What a first entry is asked about, the corrected row is asked about too, unless it said so before.
    """
    _refuse_unless_author(by, row)
    _refuse_what_the_program_wrote(row)
    changes = dict(changes)
    problems = _clean(row, changes)
    if not reason.strip():
        problems.append(Problem("reason", "Say why it is corrected: the reader sees both and this reason."))
    if reason.strip() in SIGNINGS:
        problems.append(Problem("reason", "Only signing says so. Sign it on its page, or say why it is corrected."))
    organisation = _owner(row)
    if not [p for p in problems if not p.confirm]:
        problems += _whole_problems(row, changes)
    if all(getattr(row, k) == v for k, v in changes.items()) and not problems:
        problems.append(Problem("", "Nothing was changed. Change what was wrong, or leave the entry as it is."))
    may_be_logged.stop_on(problems, confirmed)
    inputs = {"row": row, "changes": changes, "reason": reason}
    with submission(organisation, by, request_key, "correction", inputs, logged_for=_written_for(row)) as s:
        if s.repeated:
            return s.first(type(row))
        _refuse_if_changed_meanwhile(row)
        new = _corrected(row, changes)
        new.amend_reason = reason
        s.add(new, amends=row)
        _reopen(s, new)
        return new


def _corrected(row: Fact, changes: dict) -> Fact:
    """The corrected row, unsaved, with what is computed from its fields computed again."""
    new = type(row)(**_copied(row) | changes)
    if isinstance(new, LeakTest) and new.minutes and new.unit_of_measure in KPA and None not in (new.rise, new.limit):
        new.rate = leak_rate(new.rise, new.unit_of_measure, new.minutes)
        new.result = leak_result(new.rate, new.limit)
    return new


def _whole_problems(row: Fact, changes: dict) -> list[Problem]:
    """What the corrected row as a whole may not say: the same as when it was first written."""
    new = _corrected(row, changes)
    said_before = {p.confirm for p in row_rules.of_row(row) if p.confirm}
    problems = [p for p in row_rules.of_row(new) if p.confirm not in said_before]
    if isinstance(new, CounterReading):
        problems += may_be_logged.counter_forward(
            "shown", new.unit, new.counter, new.shown, new.offset, new.offset_reason, new.happened_on,
            but=row.origin,
        )  # fmt: skip
    problems += _lot_alone(row, new)
    if isinstance(new, Load):
        said_before |= {p.confirm for p in about_exposure(row)}
        problems += [p for p in about_exposure(new) if p.confirm not in said_before]
    if isinstance(new, LoadRelease):
        load = Load.objects.newest().select_related("unit").get(origin=new.load.origin)
        problems += may_be_logged.after("happened_on", new.happened_on, load.happened_on, "the day of the load")
        problems += [p for p in about_decision(load, new.decision, new.reason) if p not in problems]
    return problems


def _lot_alone(row: Fact, new: Fact) -> list[Problem]:
    """Another lot came with its own receipt number and its own last day: both are asked for with it."""
    if not isinstance(new, FittedPart | PartLot):
        return []
    before, after = (_lot_named(each) for each in (row, new))
    if before == after or (new.receipt_lot, new.expiry) != (row.receipt_lot, row.expiry):
        return []
    kept = f"receipt number {new.receipt_lot or 'none'}, to be fitted by {new.expiry or 'no day'}"
    told = ""
    if getattr(new, "part_lot", None) is not None and new.part_lot != row.part_lot:
        theirs = access.as_corrected([new.part_lot.origin_row()])[0]
        told = f" Of the lot that you chose the books say: receipt number {theirs.receipt_lot}, lot "
        told += f"{theirs.lot or 'none printed'}, to be fitted by {theirs.expiry or 'no day'}."
    words = (
        f"The lot is another one, but what goes with it stayed: {kept}. Correct these too.{told} If they were right "
    )
    return [Problem("lot", words + "all the same, confirm it.", confirm="lot-alone")]


def _lot_named(row: Fact) -> tuple:
    return row.lot, getattr(row, "part_lot_id", None)


def _owner(row: Fact):
    """The organisation in whose ledger the correction goes: that of the row itself."""
    organisation = _ledger_of(row)
    return Clinic.objects.filter(pk=organisation.pk).first() or organisation


def _copied(row: Fact) -> dict:
    skipped = {"id", "ref", "origin", "entry", "line", "amends", "amend_reason"}
    return {f.name: getattr(row, f.name) for f in row._meta.concrete_fields if f.name not in skipped}


def _refuse_if_changed_meanwhile(row: Fact) -> None:
    later = type(row).objects.filter(amends=row).select_related("entry__logged_by").first()
    if later is not None:
        who, when = later.entry.logged_by, later.entry.logged_at
        raise Refused(
            [Problem("", f"{who} corrected this meanwhile ({when:%Y-%m-%d %H:%M} UTC). Look at that version first, "
                         "and correct it if it is still wrong. What you typed is below.")]
        )  # fmt: skip
    if Voiding.objects.filter(target=row.origin).exists():
        raise Refused(
            [Problem("", "This was entered in error and does not count. Log what happened as a new entry.")]
        )


def _reopen(s, row: Fact) -> None:
    """A correction that turns a result into a failing one opens its case like any failing result."""
    if isinstance(row, BioReading) and row.test == "growth":
        open_case(s, "biological", row.bio_test, row.known_on)
    if isinstance(row, BioTest | Load):
        open_cases_of_cycle(s, row)
    if isinstance(row, Load):
        open_case_of_exposure(s, row)
    kind = OPENS.get(row._meta.model_name)
    if isinstance(row, ChemicalResult):
        kind = kind_of_chemical(row.type)
    if isinstance(row, UserCheck) and row.kind in row_rules.OPENS:
        kind = row.kind
    if kind and row.result == "fail":
        open_case(s, kind, row, row.happened_on)


OPENS = {"airremovaltest": "air removal", "leaktest": "air leak"}


def void(*, by, request_key, row: Fact, reason: str) -> Voiding:
    """The row was entered in error: it did not happen. So with every row that points to it, in whatever entry.

    The failure case that it opened goes with it. A unit with bad news on record is refused. Returns the voiding of
    the row itself; `reason` must not be empty.
    """
    _refuse_unless_author(by, row)
    _refuse_what_the_program_wrote(row)
    if not reason.strip():
        may_be_logged.stop_on([Problem("reason", "Say why it was entered in error: the reader sees it.")])
    if not answered(by, request_key):
        _refuse_while_used(row)
        if isinstance(row, Unit):
            refuse_with_bad_news(row)
    inputs = {"row": row, "reason": reason}
    with submission(_owner(row), by, request_key, "entered in error", inputs, logged_for=_written_for(row)) as s:
        if s.repeated:
            return s.first(Voiding)
        _refuse_if_changed_meanwhile(row)
        for target in [row, *_hanging_on(row)]:
            s.add(
                Voiding(
                    kind=target._meta.model_name,
                    target=target.origin,
                    reason=reason,
                    happened_on=target.happened_on,
                    zone=target.zone,
                )
            )
        return s.rows[0]


# What a row of the register or the books is used by: what happened with it happened, whatever the row is called.
USED_BY = {
    IndicatorLot: (BioTest, ChemicalResult, AirRemovalTest),
    PartLot: (FittedPart,),
    Position: (ConditionFinding, FittedPart, TaskOutcome),
    PlanLine: (TaskOutcome,),
    StockPlace: (StockMove,),
}


def _refuse_while_used(row: Fact) -> None:
    """With such a row everything that points to it would go, failed tests and findings among it."""
    origin = type(row).objects.get(ref=row.origin)
    for model in USED_BY.get(type(row), ()):
        pointers = [f for f in model._meta.concrete_fields if f.is_relation and f.related_model is type(row)]
        for field in pointers:
            used = model.objects.in_force().filter(**{field.name: origin}).order_by("-happened_on", "-id").first()
            if used is not None:
                raise Refused(
                    [Problem("", f"This {row._meta.verbose_name} was used: {used}. With it what was found would go. "
                                 "Correct what is wrong in it instead; where another one was meant, correct that in "
                                 "the rows that used it first.")]
                )  # fmt: skip


def _hanging_on(row: Fact) -> list[Fact]:
    """Rows that point to this one, at any depth, and the failure case that it opened."""
    origin = type(row).objects.get(ref=row.origin)
    found: list[Fact] = []
    voided = set(Voiding.objects.values_list("target", flat=True))
    for model in fact_models():
        for field in model._meta.concrete_fields:
            if field.name != "amends" and field.is_relation and field.related_model is type(row):
                found += model.objects.newest().filter(**{field.name: origin})
    found += FailureCase.objects.newest().filter(opened_by=row.origin)
    deeper = [d for f in found for d in _hanging_on(f)]
    unique = {f.origin: f for f in [*found, *deeper] if f.origin not in voided}
    return list(unique.values())
