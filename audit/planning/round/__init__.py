"""The round of a service company: what falls due at which clinic in which week, what to do early, what to bring.

Pure: out of facts and judgement of many clinics. A round is a plan, never evidence, and decides nothing: whether a
part is renewed early, on an extra stop or later is decided and recorded at the visit.
"""

from .bring import OUT_OF_DATE, bring
from .lots import Notice, means, with_doubts
from .plan import WEEKS, WINDOW, WINDOWS, plan_round, week_of
from .values import Bring, ClinicWork, Forward, Lot, Need, Round, StatedPart, Stop, UnitJob, Week, WorkItem
from .work import clinic_work

__all__ = [
    "OUT_OF_DATE", "WEEKS", "WINDOW", "WINDOWS", "Bring", "ClinicWork", "Forward", "Lot", "Need", "Notice", "Round",
    "StatedPart", "Stop", "UnitJob", "Week", "WorkItem", "bring", "clinic_work", "means", "plan_round", "week_of",
    "with_doubts",
]  # fmt: skip
