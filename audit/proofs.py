"""Which record a row is: from the ref in a piece of evidence to the kind and ref that the record page takes."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass

from audit import facts as f
from audit.facts import Row

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
    for tree in trees:
        _collect(tree, places)
    return Proofs(slug, places)


def _collect(value, places: dict) -> None:
    if isinstance(value, tuple):
        for each in value:
            _collect(each, places)
        return
    if not is_dataclass(value) or isinstance(value, Row):
        return
    kind = KINDS.get(type(value))
    if kind:
        _add(value.row, kind, places)
    if isinstance(value, f.FollowUpFact) and value.done_row is not None:
        _add(value.done_row, "followupdone", places)
    for field in fields(value):
        _collect(getattr(value, field.name), places)


def _add(row: Row, kind: str, places: dict) -> None:
    places[row.ref] = places[row.origin] = (kind, row.origin)
