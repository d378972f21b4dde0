"""Judge a history file under named rules on a day. No database is touched."""

import json
import sys
from pathlib import Path

from django.core.management.base import BaseCommand

from audit import codec
from audit.evaluate import evaluate_unit
from audit.judgement import Severity, UnitJudgement
from audit.management import options as o
from audit.regimes import RegimeError, load_regime, regime_ids


class Command(BaseCommand):
    help = __doc__
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("history", help="a unit history or a clinic export, as JSON")
        parser.add_argument("--regime", required=True, help=f"the rules: {', '.join(regime_ids())}")
        parser.add_argument("--as-of", required=True, help="the day to judge (year-month-day), inclusive")
        parser.add_argument("--json", action="store_true", help="everything that is said of each unit, as JSON")

    def handle(self, *args, **options):
        try:
            day = o.parse_day(options["as_of"], "--as-of")
            regime = rules(options["regime"])
            clinic = read_file(Path(options["history"]))
        except o.BadInput as error:
            o.refuse(self, error)
        judged = [evaluate_unit(unit, clinic, regime, day) for unit in clinic.units]
        if options["json"]:
            self.stdout.write(json.dumps([codec.to_json(j) for j in judged], indent=1, ensure_ascii=False))
        else:
            self.stdout.write(f"Rules: {regime.title} ({regime.edition}), judged on {day}")
            for judgement in judged:
                self.stdout.write("\n".join(lines(judgement)))
            self.stdout.write("Local codes, the maker's instructions and licensed practice outrank this.")
        forbidden = any(f.severity is Severity.FORBIDS for j in judged for f in j.findings)
        self.stdout.flush()
        sys.exit(1 if forbidden else 0)


def rules(id: str):
    """The rules with that id. Raises BadInput."""
    try:
        return load_regime(id)
    except RegimeError as error:
        raise o.BadInput(str(error)) from None


def read_file(path: Path):
    """The facts in a file. Raises BadInput: what, why, the way out."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise o.BadInput(f"{path} cannot be read: {error.strerror}. Name a file that exists.") from None
    except ValueError as error:
        raise o.BadInput(f"{path} is not JSON: {error}. Give a unit history or an export of a clinic.") from None
    try:
        return codec.read_history(data)
    except codec.BadFile as error:
        faults = "\n".join(f"  {at}: {why}" for at, why in error.faults)
        raise o.BadInput(f"{path} cannot be used, nothing was judged:\n{faults}\nMend these places.") from None


def lines(judgement: UnitJudgement) -> list[str]:
    """The answer for one unit in plain lines."""
    s = judgement.standing
    out = [f"\n{judgement.label}: {s.word} [{s.rule}]", f"  why: {s.reason}"]
    out.append(f"  since: {s.since or 'before the first record'}")
    out.append(f"  until: {s.holds_until or 'a new entry changes it'}")
    out += [f"  proof: {e.text} [{e.ref}]" for e in s.proof]
    out.append(f"  lifted by: {s.lifted_by}")
    for clock in judgement.clocks:
        due = f", due {clock.due_on}" if clock.due_on else ""
        note = f" ({clock.note})" if clock.note else ""
        out.append(f"  due item: {clock.title}: {clock.state}{due}{note}; source: {clock.source}")
    for finding in judgement.findings:
        out.append(f"  open item ({finding.severity}): {finding.message}. Way out: {finding.way_out}")
        if finding.source:
            out.append(f"    source: {finding.source}")
    return out
