"""Follow-up actions of a failure case, and that they were done."""

from __future__ import annotations

from records.models import FollowUp, FollowUpDone

from . import may_be_logged
from .errors import Problem
from .submission import answered, submission


def log_follow_up(
    *, by, request_key, clinic, case, action, what, on, at=None, owner="", due_on=None, done_on=None, done_at=None,
    done_by="", outcome="", paper="", written_at=None,
) -> FollowUp:  # fmt: skip
    """An action in a failure case; with `done_on`, that it was done as well."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*_own_case(case, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    if done_on is not None:
        problems += _done_problems(done_on, done_at, on, outcome, zone)
    may_be_logged.stop_on(problems)
    fields = {"case": case, "action": action, "what": what, "owner": owner, "due_on": due_on}
    done = {"done_by": done_by or by.full_name, "outcome": outcome}
    inputs = {"on": on, "at": at, "done_on": done_on, "done_at": done_at, **fields, **done}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "follow-up", inputs, **entry) as s:
        if s.repeated:
            return s.first(FollowUp)
        common = {"clinic": clinic, "unit": case.unit, "zone": zone}
        row = s.add(FollowUp(happened_on=on, happened_at=at, **fields, **common))
        if done_on is not None:
            s.add(FollowUpDone(followup=row, happened_on=done_on, happened_at=done_at, **done, **common))
        return row


def complete_follow_up(
    *, by, request_key, clinic, followup, on, outcome, at=None, done_by="", paper="", written_at=None
) -> FollowUpDone:  # fmt: skip
    """The follow-up was done: on which day, by whom, and what shows it."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = list(_own_case(followup.case if followup else None, clinic))
    if followup is not None:
        problems += _done_problems(on, at, followup.happened_on, outcome, zone)
        done = FollowUpDone.objects.in_force().filter(followup=followup).exists()
        if done and not answered(by, request_key):
            problems.append(Problem("outcome", "This follow-up is done already. Correct that entry if it is wrong."))
    may_be_logged.stop_on(problems)
    fields = {"followup": followup, "outcome": outcome, "done_by": done_by or by.full_name}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "follow-up done", {"on": on, "at": at, **fields}, **entry) as s:
        if s.repeated:
            return s.first(FollowUpDone)
        common = {"clinic": clinic, "unit": followup.unit, "zone": zone}
        return s.add(FollowUpDone(happened_on=on, happened_at=at, **fields, **common))


def _own_case(case, clinic):
    if case is None or case.clinic_id != clinic.pk:
        yield Problem("case", "That failure is not one of this clinic's. Choose one from its list.")


def _done_problems(on, at, earlier, outcome, zone):
    yield from may_be_logged.not_in_future("done_on", on, at, zone)
    yield from may_be_logged.after("done_on", on, earlier, "the day the follow-up was set")
    if not (outcome or "").strip():
        yield Problem("outcome", "Say what came of it and what shows it, in a few words.")
