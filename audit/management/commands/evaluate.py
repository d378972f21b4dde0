"""Judge a history file under named rules on a day. No database is touched."""

import json
import sys
from pathlib import Path

from audit.exchange import codec
from audit.judge.answers import not_asked_of
from audit.judge.evaluate import evaluate_under
from audit.judge.explain import CAUTION
from audit.judge.failures_said import in_doubt, window
from audit.judge.judgement import ClinicJudgement, Clock, Finding, Severity, UnitJudgement
from audit.management import options as o
from audit.regimes import RegimeError, load_regime, regime_ids


class Command(o.Command):
    help = __doc__
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("history", help="a unit history or a clinic export, as JSON")
        parser.add_argument("--regime", required=True, help=f"the rules: {', '.join(regime_ids())}")
        parser.add_argument("--as-of", required=True, help="the day to judge (year-month-day), inclusive")
        parser.add_argument("--json", action="store_true", help="everything that is said, as JSON")

    def handle(self, *args, **options):
        try:
            day = o.parse_day(options["as_of"], "--as-of")
            regime = rules(options["regime"])
            clinic = read_file(Path(options["history"]))
        except o.BadInput as error:
            o.refuse(self, error)
        judgement = evaluate_under(clinic, regime, day)
        if options["json"]:
            said = codec.to_json(judgement) | {"not_asked": codec.to_json(not_asked_of(clinic, judgement))}
            self.stdout.write(json.dumps(said, indent=1, ensure_ascii=False))
        else:
            edition = regime.on(day)
            self.stdout.write(f"Rules: {edition.title} ({edition.edition}), judged on {day}")
            self.stdout.write("\n".join(all_lines(judgement)))
            self.stdout.write(CAUTION)
        findings = (*judgement.findings, *(f for j in judgement.units for f in j.findings))
        self.stdout.flush()
        sys.exit(1 if any(f.severity is Severity.FORBIDS for f in findings) else 0)


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


def all_lines(judgement: ClinicJudgement) -> list[str]:
    """Everything that is said, in plain lines."""
    out = [line for unit in judgement.units for line in unit_lines(unit)]
    out.append("\nThe whole place")
    out += [_due(clock) for clock in judgement.clocks]
    out += [line for finding in judgement.findings for line in _finding(finding)]
    labels = {unit.unit: unit.label for unit in judgement.units}
    for answer in judgement.answers:
        where = f" ({labels[answer.unit]})" if answer.unit else ""
        out.append(f"  {answer.question}{where} {answer.answer}: {answer.words}; source: {answer.source}")
        out += [f"    gap: {answer.gap}"] if answer.gap else []
    return out


def unit_lines(judgement: UnitJudgement) -> list[str]:
    """The answer for one unit in plain lines."""
    s = judgement.standing
    out = [f"\n{judgement.label}: {s.word} [{s.rule}]", f"  why: {s.reason}"]
    out.append(f"  since: {s.since or 'before the first record'}")
    out.append(f"  changes: {s.changes}")
    out.append(f"  next: {judgement.next.words if judgement.next else 'nothing is to be done'}")
    out += [f"  proof: {e.text} [{e.ref}]" for e in s.proof]
    out.append(f"  lifted by: {s.lifted_by}")
    out += [_due(clock) for clock in judgement.clocks]
    out += [line for finding in judgement.findings for line in _finding(finding)]
    for back in judgement.look_backs:
        out.append(f"  loads affected: {back.trigger}: {in_doubt(back)}, {window(back)}")
    for kept in judgement.coverage:
        out.append(f"  kept: {kept.title}, {kept.first} to {kept.last}: {kept.words}")
    return out


def _due(clock: Clock) -> str:
    due = f", due {clock.due_on}" if clock.due_on else ""
    note = f" ({clock.note})" if clock.note else ""
    return f"  due item: {clock.title}: {clock.state}{due}{note}; source: {clock.source}"


def _finding(finding: Finding) -> list[str]:
    out = [f"  open item ({finding.severity}): {finding.message}. Way out: {finding.way_out}"]
    return out + ([f"    source: {finding.source}"] if finding.source else [])
