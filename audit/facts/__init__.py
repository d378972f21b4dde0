"""Facts: plain frozen copies of rows, the only thing that judgement reads. Nothing here computes a verdict.

A fact that happened on a day carries a `Row`: which row it is, who logged it, when, and in which entry of the
ledger. Days are the clinic's local calendar days; moments are UTC and None where the time of day is not known.
`unit_by_day` cuts a unit's facts to what had happened by a day; what had been *logged* by a moment, and
what was corrected or entered in error, is settled before (see `audit.gather.read`).
"""

from .clinic import (
    CalibrationFact,
    ClosureFact,
    CredentialFact,
    DocumentFact,
    GapFact,
    InspectionFact,
    InspectionPointFact,
    InstrumentFact,
    IssuedFact,
    LocalDutyFact,
    PartRecallFact,
    PointMetFact,
    TermsFact,
)
from .cut import agreed_by_day, had_happened, inspections_by_day, unit_by_day
from .monitoring import (
    AirRemovalFact,
    BioReadingFact,
    BioTestFact,
    CaseFact,
    ChemicalFact,
    FollowUpFact,
    LeakFact,
    LoadFact,
    LotFact,
    UserCheckFact,
)
from .recordings import CycleRecordingFact
from .row import Ordered, Row, happened_on, in_order, newest, within
from .service import (
    ConclusionFact,
    FindingFact,
    JobFact,
    OutcomeFact,
    PartFact,
    ReadingFact,
    SignatureFact,
    VerificationFact,
)
from .unit import CounterFact, FitFact, PlacementFact, PlanLineFact, PositionFact, ProgramFact, UnitEventFact
from .walk import walk
from .whole import ClinicFacts, CorrectionFact, LedgerHead, UnitFacts
from .work import FaultFact, FaultSettledFact, VisitAgreedFact, VisitCalledOffFact

__all__ = [
    "AirRemovalFact",
    "BioReadingFact",
    "BioTestFact",
    "CalibrationFact",
    "CaseFact",
    "ChemicalFact",
    "ClinicFacts",
    "ClosureFact",
    "ConclusionFact",
    "CorrectionFact",
    "CounterFact",
    "CredentialFact",
    "CycleRecordingFact",
    "DocumentFact",
    "FaultFact",
    "FaultSettledFact",
    "FindingFact",
    "FitFact",
    "FollowUpFact",
    "GapFact",
    "InspectionFact",
    "InspectionPointFact",
    "InstrumentFact",
    "IssuedFact",
    "JobFact",
    "LeakFact",
    "LedgerHead",
    "LoadFact",
    "LocalDutyFact",
    "LotFact",
    "Ordered",
    "OutcomeFact",
    "PartFact",
    "PartRecallFact",
    "PlacementFact",
    "PlanLineFact",
    "PointMetFact",
    "PositionFact",
    "ProgramFact",
    "ReadingFact",
    "Row",
    "SignatureFact",
    "TermsFact",
    "UnitEventFact",
    "UnitFacts",
    "UserCheckFact",
    "VerificationFact",
    "VisitAgreedFact",
    "VisitCalledOffFact",
    "agreed_by_day",
    "had_happened",
    "happened_on",
    "in_order",
    "inspections_by_day",
    "newest",
    "unit_by_day",
    "walk",
    "within",
]
