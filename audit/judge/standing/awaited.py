"""What must be replaced while the part is not at hand: out of service, but for a use that somebody allowed.

| the newest conclusion since it was found | the answer |
| --- | --- |
| none, released, pending, not released | out of service, R2 |
| limited, without a limitation or without who accepts it | out of service, R2 |
| limited, with both, but told by another and not taken back by signature | out of service, R2 |
| limited, with both, its last day (inclusive) not passed | limited, R7 |

Jobs that are not shown to come after the finding allow nothing. It ends when a later job fits another at that place.
One that keeps people safe, or that nobody knows, is a safety finding (`.safety`): no limitation allows its use.
Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from audit.facts import FindingFact, JobFact, in_order
from audit.judge.judgement import Evidence, UnitStanding, Word
from audit.judge.proof_after_work import LIMITED, NOT_WORKED
from audit.judge.situation import Situation
from audit.judge.work.classes import AWAITED
from audit.judge.work.order import came_after
from audit.judge.work.touched import NamesOnUnit

from .safety import is_of_safety, not_fitted_since
from .tools import say, taken_back


@dataclass(frozen=True, slots=True)
class AwaitedPart:
    """A finding that waits for its part. `allowed` is the job that allows a use meanwhile, None: none does."""

    finding: FindingFact
    allowed: JobFact | None

    @property
    def words(self) -> str:
        """What must be replaced and what was seen: "strainer: torn"."""
        return f"{self.finding.component or 'unit'}: {self.finding.seen}"

    @property
    def part(self) -> str:
        """The part to bring with its number, as far as it is known."""
        named = (self.finding.part_needed or "part not named", self.finding.part_needed_number)
        return " ".join(text for text in named if text)

    @property
    def evidence(self) -> Evidence:
        """The finding in one line."""
        day = self.finding.row.happened_on.isoformat()
        return Evidence(self.finding.row.ref, f"finding of {day}, to be replaced: {self.words}")


def awaited_parts(s: Situation) -> list[AwaitedPart]:
    """What waits for its part on the day, oldest first; without what is a safety finding."""
    jobs = in_order(s.unit.jobs)
    held = [(job, found) for job in jobs for found in job.findings if found.decision == AWAITED]
    if not held:
        return []
    names = NamesOnUnit(s.unit)
    held = [(job, found) for job, found in held if not is_of_safety(found, names)]
    return [AwaitedPart(found, _allowed(s, jobs, job)) for job, found in held if not_fitted_since(s, job, found)]


def _allowed(s: Situation, jobs, job: JobFact) -> JobFact | None:
    """The job that allows a limited use; each conclusion of the newest day since it was found has to."""
    since = [j for j in jobs if j is job or came_after(j, job)]
    since = [j for j in since if j.conclusion is not None and j.conclusion.conclusion != NOT_WORKED]
    newest = [j for j in since if j.row.happened_on == since[-1].row.happened_on]
    return newest[-1] if newest and all(_says_what(s, j) for j in newest) else None


def _says_what(s: Situation, job: JobFact) -> bool:
    own = job.conclusion
    if own.conclusion != LIMITED or not (own.limitation.strip() and own.acceptor.strip()):
        return False
    if own.told and not taken_back(job):
        return False
    return own.deadline is None or s.as_of <= own.deadline


def stopped_by_awaited(s: Situation) -> UnitStanding | None:
    """R2: something must be replaced, its part was not fitted, and nobody allowed a use until then."""
    held = [each for each in awaited_parts(s) if each.allowed is None]
    if not held:
        return None
    more = f" and {len(held) - 1} more" if len(held) > 1 else ""
    words = f"must be replaced, and no other part was fitted: {held[0].words}{more}"
    lifted = f"a technician: fit the part ({held[0].part}), pass the tests it asks, and release"
    return say(Word.OUT, "R2", words, held[0].finding.row.happened_on, [each.evidence for each in held], lifted)
