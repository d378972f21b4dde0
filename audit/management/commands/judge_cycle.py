"""Did this recorded cycle meet its profile? Judges one file without the database.

Exit status: 0 met, 1 not met, incomplete or cannot be judged, 2 the file cannot be read or no profile is known.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

from audit.judge.cycle import JudgedCycle, NotInForm, RecordedCycle, judge, read_cycle
from audit.judge.cycle.judging import NoProfile, profile_of
from audit.judge.cycle.profile import Profile
from audit.judge.cycle.reading import LARGEST
from audit.judge.cycle.verdict import MET, shown
from audit.management import options as o

ZERO = Fraction(0)


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, help="the recorded cycle (text, first line “# cycle 1”)")
        parser.add_argument("--profile", metavar="ID", help="what it is held against, before what the file names")
        parser.add_argument("--json", action="store_true", help="the verdict with every criterion, as JSON")

    def handle(self, *args, **options):
        path, as_json = options["file"], options["json"]
        try:
            cycle = read_cycle(_content(path))
            profile, problems = profile_of(cycle, options["profile"])
        except NotInForm as error:
            self._refused(as_json, error.line, error.words, f"{path}, {_place(error.line)}: {error.words}.")
        except (NoProfile, o.BadInput) as error:
            self._refused(as_json, 0, str(error), str(error))
        judged = judge(cycle, profile, problems)
        if as_json:
            said = json.dumps(judged.as_json(), ensure_ascii=False, indent=1, allow_nan=False)
        else:
            said = in_words(path.name, cycle, profile, judged)
        self.stdout.write(said)
        o.end(self, 0 if judged.verdict == MET else 1)

    def _refused(self, as_json: bool, line: int, words: str, whole: str):
        """Say why on standard error, and as data where data was asked for: there is no verdict."""
        if as_json:
            none = {"verdict": None, "criteria": [], "f0_min": None, "f0_least_min": None}
            said = none | {"problems": [{"line": line, "words": words}]}
            self.stdout.write(json.dumps(said, ensure_ascii=False, indent=1))
        self.stderr.write(whole)
        o.end(self, 2)


def _place(line: int) -> str:
    return f"line {line}" if line else "the whole file"


def _content(path: Path) -> bytes:
    """The bytes, of a file too large no more than show it. Raises BadInput."""
    try:
        with path.open("rb") as file:
            return file.read(LARGEST + 1)
    except OSError as error:
        why = error.strerror or error
        raise o.BadInput(f"{path} cannot be read: {why}. Name a file that is there and that you may read.") from None
    except ValueError:
        raise o.BadInput(f"{path} is no name of a file. Name a file that is there and that you may read.") from None


def in_words(name: str, cycle: RecordedCycle, profile: Profile, judged: JudgedCycle) -> str:
    """The verdict, what the file says of itself, each criterion with its source, lethality and problems."""
    lines = [f"{name}: {judged.verdict.upper()}", f"Profile {profile.id}: {profile.title}; {profile.edition}"]
    lines += [f"  {key}: {value}" for key, value in cycle.keys.items()]
    for criterion in judged.criteria:
        lines.append(f"{criterion.id}: {criterion.verdict}. {criterion.words}")
        if criterion.margin is not None:
            lines.append(f"  margin {shown(criterion.margin, ZERO)} {criterion.unit}")
        source = profile.band_source if criterion.id.startswith("band") else None
        source = profile.limits[criterion.id].source if criterion.id in profile.limits else source
        if source is not None:
            lines.append(f"  source: {source}")
    if judged.f0 is not None:
        least = "" if judged.f0_least is None else f"; least of all sensors {judged.f0_least:.1f} min"
        lines.append(f"F0 {judged.f0:.1f} min at the reference{least} (shown; it decides nothing)")
    lines += [f"{_place(p.line).capitalize()}: {p.words}" for p in judged.problems]
    return "\n".join(lines)
