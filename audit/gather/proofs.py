"""Which record a row is: from the ref in a piece of evidence to the kind and ref that the record page takes."""

from __future__ import annotations

from dataclasses import dataclass

from audit import facts as f
from audit.facts import Row, walk

# The kind of record (the lower-case name of its model) behind each fact.
KINDS = {
    f.TermsFact: "clinicterms",
    f.LocalDutyFact: "localduty",
    f.ClosureFact: "closure",
    f.GapFact: "knowngap",
    f.DocumentFact: "document",
    f.PlacementFact: "placement",
    f.PositionFact: "position",
    f.FitFact: "fit",
    f.PlanLineFact: "planline",
    f.UnitEventFact: "unitevent",
    f.CounterFact: "counterreading",
    f.OutcomeFact: "taskoutcome",
    f.FindingFact: "conditionfinding",
    f.ReadingFact: "reading",
    f.PartFact: "fittedpart",
    f.VerificationFact: "verificationtest",
    f.SignatureFact: "signature",
    f.ConclusionFact: "jobconclusion",
    f.JobFact: "job",
    f.BioReadingFact: "bioreading",
    f.BioTestFact: "biotest",
    f.ChemicalFact: "chemicalresult",
    f.AirRemovalFact: "airremovaltest",
    f.LeakFact: "leaktest",
    f.LoadFact: "load",
    f.UserCheckFact: "usercheck",
    f.FollowUpFact: "followup",
    f.CaseFact: "failurecase",
    f.FaultFact: "faultreport",
    f.FaultSettledFact: "faultsettled",
    f.VisitAgreedFact: "visitagreed",
    f.VisitCalledOffFact: "visitcalledoff",
    f.CycleRecordingFact: "cyclerecording",
    f.UnitFacts: "unit",
}


@dataclass(frozen=True, slots=True)
class Proofs:
    """The rows of one clinic by ref, of the version in force and of the first."""

    slug: str
    places: dict[str, tuple[str, str]]

    def place(self, ref: str) -> tuple[str, str] | None:
        """(kind, origin) of the row, None where it is not one of these."""
        return self.places.get(ref)


def proofs_of(slug: str, *trees) -> Proofs:
    """Every row in the trees of facts."""
    places: dict[str, tuple[str, str]] = {}
    for fact in walk(trees):
        kind = KINDS.get(type(fact))
        if kind:
            _add(fact.row, kind, places)
        if isinstance(fact, f.FollowUpFact) and fact.done_row is not None:
            _add(fact.done_row, "followupdone", places)
    return Proofs(slug, places)


def _add(row: Row, kind: str, places: dict) -> None:
    places[row.ref] = places[row.origin] = (kind, row.origin)
