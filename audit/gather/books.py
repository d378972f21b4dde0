"""The books of the clinic and of the companies that serve it: credentials, instruments, part recall notices."""

from __future__ import annotations

from collections import defaultdict

from audit import facts as f
from records import models as m


class Books:
    """The tables of the books, each read once. `read` is what `gather` reads a clinic with."""

    TABLES = (m.Credential, m.Instrument, m.Calibration, m.PartRecall)

    def __init__(self, read):
        self.read = read
        self.every = {model: read.among(model, "owner_id", read.owners) for model in self.TABLES}
        self.force = {model: read.resolve(found) for model, found in self.every.items()}

    def own(self) -> list[list]:
        """Every version of the clinic's own rows, a list a table: their corrections are the clinic's."""
        return [[r for r in found if r.owner_id == self.read.clinic.pk] for found in self.every.values()]

    def _holder(self, row) -> str:
        return "clinic" if row.owner_id == self.read.clinic.pk else "service company"

    def credentials(self) -> f.Ordered:
        """Credentials in force, of the clinic's people and of its companies', in order of their day."""
        return f.in_order(
            f.CredentialFact(
                self.read.row(r), person=str(r.person), holder=self._holder(r), kind=r.kind, title=r.title,
                valid_from=r.valid_from, valid_to=r.valid_to,
            )
            for r in self.force[m.Credential]
        )  # fmt: skip

    def instruments(self) -> f.Ordered:
        """Instruments in force, each with its calibrations; both in order of their day.

        A calibration is found by any version of its instrument, so correcting an instrument loses none.
        """
        calibrations = defaultdict(list)
        for r in self.force[m.Calibration]:
            calibrations[r.instrument_id].append(
                f.CalibrationFact(
                    self.read.row(r), certificate=r.certificate, result=r.result, as_found=r.as_found,
                    valid_to=r.valid_to,
                )
            )  # fmt: skip
        first_ids = {r.origin: r.pk for r in self.every[m.Instrument] if r.ref == r.origin}
        return f.in_order(
            f.InstrumentFact(
                self.read.row(r), name=r.name, kind=r.kind, serial=r.serial, holder=self._holder(r),
                calibrations=f.in_order(calibrations.get(first_ids[r.origin], ())),
            )
            for r in self.force[m.Instrument]
        )  # fmt: skip

    def part_recalls(self) -> f.Ordered:
        """Notices in force, in order of the day on which each was received."""
        return f.in_order(
            f.PartRecallFact(
                self.read.row(r), part=r.part, number=r.number, lot=r.lot, made_from=r.made_from,
                made_to=r.made_to, issued_by=r.issued_by, reason=r.reason, action=r.action,
            )
            for r in self.force[m.PartRecall]
        )  # fmt: skip
