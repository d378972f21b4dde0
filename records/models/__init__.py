"""Models by subject. `fact_models()` names every append-only table of facts."""

from django.apps import apps

from .base import ClinicFact, Fact, FactIsPermanent, UnitFact
from .binders import BinderIssue, InspectorLink, InspectorLinkCount, InspectorLinkEnd, InspectorLinkOpening
from .books import Calibration, Credential, Instrument
from .documents import Document
from .doors import DoorEvent, Passkey, RecoveryCode, SecondFactor, Sitting, Taken
from .field import Advice, Photo
from .indicators import (
    AirRemovalTest,
    BioReading,
    BioTest,
    ChemicalResult,
    IndicatorLot,
    LeakTest,
    Load,
    LoadRelease,
    UserCheck,
)
from .inspections import Inspection, InspectionPoint, PointMet
from .invitations import Invitation
from .kits import Kit, KitComponent
from .ledger import Entry, Ledger, Voiding
from .loaners import Loan, LoanEnd, LoanerHere, PoolUnit, PoolUnitEnd
from .parts import Part, PartLot, PartRecall
from .people import (
    Account,
    Agreement,
    AgreementEnd,
    Clinic,
    ClinicTerms,
    Closure,
    KnownGap,
    LocalDuty,
    Membership,
    MembershipEnd,
    NameErasure,
    Organisation,
    Person,
    PersonText,
    ServiceCompany,
)
from .recordings import CycleRecording
from .response import FailureCase, FollowUp, FollowUpDone
from .stock import RecallTold, StockMove, StockPlace
from .templates import (
    TemplateKit,
    TemplateLine,
    TemplatePart,
    TemplatePosition,
    TemplateReading,
    UnitFromTemplate,
    UnitPart,
    UnitReading,
    UnitTemplate,
)
from .units import CounterReading, Fit, Placement, PlanLine, Position, Program, Unit, UnitEvent, UnitModel
from .visits import (
    ConditionFinding,
    FittedPart,
    Job,
    JobConclusion,
    Reading,
    Signature,
    TaskOutcome,
    VerificationTest,
    Visit,
    VisitEnd,
)
from .work import FaultReport, FaultSettled, SiteAccess, VisitAgreed, VisitCalledOff


def fact_models() -> list[type[Fact]]:
    """Every concrete fact model of the installed apps, sorted by name."""
    found = [m for m in apps.get_app_config("records").get_models() if issubclass(m, Fact)]
    return sorted(found, key=lambda m: m._meta.model_name)


def fact_model(kind: str) -> type[Fact]:
    """The fact model of that kind (its lower-case name). Raises LookupError."""
    model = apps.get_model("records", kind)
    if not issubclass(model, Fact):
        raise LookupError(f"{kind} is not a kind of fact")
    return model


__all__ = [
    "Account", "Advice", "Agreement", "AgreementEnd", "AirRemovalTest", "BinderIssue", "BioReading", "BioTest",
    "Calibration", "ChemicalResult", "Clinic", "ClinicFact", "ClinicTerms", "Closure", "ConditionFinding",
    "CounterReading", "Credential", "CycleRecording", "Document",
    "DoorEvent", "Entry", "Fact", "FactIsPermanent", "FailureCase",
    "FaultReport", "FaultSettled", "Fit", "FittedPart", "FollowUp", "FollowUpDone", "IndicatorLot", "Inspection",
    "InspectionPoint", "InspectorLink", "InspectorLinkCount", "InspectorLinkEnd", "InspectorLinkOpening",
    "Instrument", "Invitation", "Job", "JobConclusion", "Kit", "KitComponent", "KnownGap", "LeakTest", "Ledger",
    "Load", "LoadRelease", "Loan", "LoanEnd", "LoanerHere", "LocalDuty", "Membership", "MembershipEnd",
    "NameErasure", "Organisation", "Part", "PartLot", "PartRecall", "Passkey", "Person", "PersonText", "Photo",
    "Placement", "PlanLine", "PointMet", "PoolUnit", "PoolUnitEnd", "Position", "Program", "Reading", "RecallTold",
    "RecoveryCode", "SecondFactor", "ServiceCompany", "Signature", "SiteAccess", "Sitting", "StockMove",
    "StockPlace", "Taken", "TaskOutcome", "TemplateKit", "TemplateLine", "TemplatePart", "TemplatePosition",
    "TemplateReading", "Unit", "UnitEvent", "UnitFact", "UnitFromTemplate", "UnitModel", "UnitPart", "UnitReading",
    "UnitTemplate", "UserCheck", "VerificationTest", "Visit", "VisitAgreed", "VisitCalledOff", "VisitEnd", "Voiding",
    "fact_model", "fact_models",
]  # fmt: skip
