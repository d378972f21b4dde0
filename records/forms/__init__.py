"""The entry forms. They say what was typed; whether it may be recorded is for `records.log` to say."""

from .base import CONFIRMED_WORDS, EntryContext, EntryForm
from .books import CalibrationForm, CredentialForm, InstrumentForm, PartRecallForm
from .changes import CorrectionForm, VoidForm
from .follow_up import FollowUpDoneForm, FollowUpForm
from .inspections import InspectionForm, InspectionPointForm, PointMetForm
from .monitoring import (
    AirRemovalForm,
    BioTestForm,
    ChemicalForm,
    IndicatorLotForm,
    LeakForm,
    LoadForm,
    LoadReleaseForm,
    ReadBioForm,
    UserCheckForm,
)
from .papers import ClosureForm, DocumentForm, GapForm
from .units import FitForm, PlanRow, PositionRow, ProgramForm, UnitEventForm, UnitForm
from .visit import VisitForms, with_more_rows
from .work import FaultForm, FaultSettledForm, SiteAccessForm, VisitAgreedForm, VisitCalledOffForm

__all__ = [
    "AirRemovalForm", "BioTestForm", "CalibrationForm", "CONFIRMED_WORDS",
    "ChemicalForm", "ClosureForm", "CorrectionForm",
    "CredentialForm", "InstrumentForm", "PartRecallForm", "UserCheckForm",
    "DocumentForm", "EntryForm", "FitForm", "FollowUpDoneForm", "FollowUpForm", "GapForm", "EntryContext",
    "FaultForm", "FaultSettledForm", "SiteAccessForm", "VisitAgreedForm", "VisitCalledOffForm",
    "IndicatorLotForm", "InspectionForm", "InspectionPointForm",
    "LeakForm", "LoadForm", "LoadReleaseForm", "PlanRow",
    "PointMetForm", "PositionRow", "ProgramForm", "ReadBioForm",
    "UnitEventForm", "UnitForm", "VisitForms", "VoidForm", "with_more_rows",
]  # fmt: skip
