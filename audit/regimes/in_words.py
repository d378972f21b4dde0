"""A set of rules in words: sections of lines, so that the page and the command say the same.

Each line is one rule: what it asks, what its source leaves open, where it stands, when that was checked, and how well
it is known. Pure: an edition in, words out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from audit.facts.dates import ONE_DAY
from audit.facts.names import repair_class, test_title
from audit.regimes.source import CAUTIOUS, MEMORY, PRACTICE, Source

from .model import (
    GRADES,
    ComponentTests,
    Duty,
    EditionEnd,
    FailurePath,
    LookBackRule,
    NoticeRule,
    Regime,
    ReleaseRule,
    Requalification,
    Retention,
    Validity,
    VerificationSet,
)

CAUTION = "Local codes, the maker’s instructions and licensed practice outrank these rules."
GRADE_WORDS = {
    "read": "read in the source",
    "quoted": "quoted: taken from a faithful quotation, not from the source itself",
    PRACTICE: "common practice of the trade: no text asks it",
    CAUTIOUS: "cautious reading: the text was read and is silent here",
    MEMORY: "FROM MEMORY: not checked against the source; confirm it before you rely on it",
}
WHEN_WORDS = {"always": "", "repeat failed": "once the repeat has failed too"}
RECALL_WORDS = {
    "at once": "Recall at once",
    "repeat failed": "Recall once the repeat has failed too",
    "none stated": "No recall stated",
}
SCOPE_WORDS = {"since last pass": "everything since the last pass", "the load": "the whole load"}
NOTHING = "Nothing on file."


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule: `head` is short, `text` what it asks, `note` what is left open, `decisive` the source's own words."""

    head: str
    text: str
    note: str
    source: Source
    decisive: str = ""  # "", as `note` and `unread` are, where there is nothing
    unread: str = ""  # why no text could be read

    @property
    def from_memory(self) -> bool:
        """Whether nobody checked it against its source: the lowest grade, to be confirmed before it is relied on."""
        return self.source.grade == MEMORY

    @property
    def grade(self) -> str:
        """How well it is known, in words."""
        return GRADE_WORDS[self.source.grade]


@dataclass(frozen=True, slots=True)
class RuleSection:
    """Lines of one kind. One without lines says `NOTHING`."""

    title: str
    lines: tuple[RuleLine, ...]


def sections(regime: Regime) -> tuple[RuleSection, ...]:
    """Every rule of one edition: duties, each failure path, work, validity, look-back, retention."""
    return tuple(
        RuleSection(
            each.title,
            tuple(
                replace(line, decisive=regime.decisive_words(line.source), unread=regime.why_unread(line.source))
                for line in each.lines
            ),
        )
        for each in _sections(regime)
    )


def _sections(regime: Regime) -> tuple[RuleSection, ...]:
    return (
        RuleSection("What is to be done, and how often", tuple(_duty(d) for d in regime.duties)),
        *(RuleSection(f"After a failure: {path.kind}", _path(path)) for path in regime.failure),
        RuleSection("After installation, relocation or a major repair", (_requalification(regime.requalification),)),
        RuleSection(
            "Tests after work, by repair class and component",
            (*(_verification(v) for v in regime.verification), *(_component(c) for c in regime.components)),
        ),
        RuleSection("When a spore test counts", (_validity(regime.validity),)),
        *([RuleSection("Before a load is released", (_release(regime.release),))] if regime.release else ()),
        RuleSection(
            "Loads affected (look-back)", tuple(RuleLine(r.trigger, r.words, "", r.source) for r in regime.look_back)
        ),
        RuleSection("How long records are kept", tuple(_retention(r) for r in regime.retention)),
        *([RuleSection("How long this edition holds", (_ended(regime.ended),))] if regime.ended else ()),
    )


def lines(regime: Regime) -> tuple[RuleLine, ...]:
    """Every rule of one edition, without sections."""
    return tuple(line for section in sections(regime) for line in section.lines)


def memory_count(regime: Regime) -> int:
    """How many rules of the edition are from memory."""
    return sum(line.from_memory for line in lines(regime))


def grade_line(regime: Regime) -> str:
    """How many rules of the edition there are of each grade, the best known first: "31 rules: 12 read, 19 quoted"."""
    held = [line.source.grade for line in lines(regime)]
    return f"{len(held)} rules: " + ", ".join(f"{held.count(grade)} {grade}" for grade in GRADES if grade in held)


def notes(regime: Regime) -> tuple[str, ...]:
    """What the rules leave open; without the caution, which stands by itself wherever they are shown."""
    return tuple(note for note in regime.notes if note != CAUTION)


def editions(regime: Regime) -> tuple[Regime, ...]:
    """The newest edition and the earlier ones on file, newest first."""
    return (regime, *regime.earlier)


# ------------------------------------------------------------------------------------------------ one rule each


def _sentence(parts) -> str:
    said = [p for p in parts if p]
    return "; ".join(said)[:1].upper() + "; ".join(said)[1:] if said else ""


def _passes(count: int, what: str) -> str:
    return f"{count} {what} in a row" if count > 1 else f"{count} {what}"


def _chamber(chamber: str) -> str:
    return "" if chamber == "any" else f"in {'an' if chamber == 'empty' else 'a'} {chamber} chamber"


def _duty(duty: Duty) -> RuleLine:
    after = duty.every == "after-event"
    text = _sentence(
        (
            duty.words,
            _passes(duty.passes, "passing result" + "s" * (duty.passes > 1)) if after and duty.passes > 1 else "",
            _chamber(duty.chamber),
            duty.place,
            "read by a laboratory, or it doesn’t count" if duty.site == "laboratory" else "",
            "for each cycle type in use" if duty.each_cycle_type else "",
            f"units with {' or '.join(duty.equipment)} only" if duty.equipment else "",
            "signed, or it doesn’t count" if duty.signed else "",
            "the unit may not be used while it is not met" if duty.forbids else "",
            f"shown as due soon from {duty.lead_days} days before" if duty.lead_days else "",
        )
    )
    return RuleLine(duty.title, text, duty.note, duty.source)


def _path(path: FailurePath) -> tuple[RuleLine, ...]:
    whole = RuleLine("What the unit must pass", _walk(path), _recall(path), path.source)
    steps = [RuleLine(s.title, _sentence((WHEN_WORDS[s.when],)), "", s.source) for s in path.steps]
    return (whole, *steps, *(_notice(n) for n in path.notices))


def _walk(path: FailurePath) -> str:
    repeats = [
        _passes(path.repeats, "passing repeat" + "s" * (path.repeats > 1)) if path.repeats else "no repeat asked",
        _chamber(path.repeat_chamber),
        "in the same cycle type" if path.same_cycle_type else "",
        "mechanical and chemical results recorded as passing" if path.needs_normal else "",
        f"after {_cause(path)}" if path.cause_before_repeat else "",
    ]
    back = [
        f"after a failed repeat {_cause(path)}, then "
        f"{_passes(path.return_passes, 'passing test' + 's' * (path.return_passes > 1))}"
        if path.return_passes
        else "",
        _chamber(path.return_chamber) if path.return_passes else "",
        "for each cycle type in use" if path.return_each_cycle_type else "",
        f"{_passes(path.return_air_removal, 'air-removal tests')} with dynamic air removal"
        if path.return_air_removal
        else "",
        f"{path.return_order}, else a warning" if path.return_order else "",
    ]
    out = "out of service until it is passed" if path.withdraws else "the unit is not stopped by this alone"
    if path.withdraws_from:
        out += f", but from {path.withdraws_from} failed cycles on before one is proven again (common practice)"
    if path.withdraws_outside:
        out += ", and by one whose reading lies below what is needed (common practice)"
    return _sentence((out, ", ".join(p for p in repeats if p), ", ".join(p for p in back if p)))


def _cause(path: FailurePath) -> str:
    return "the repair and the cause found" if path.cause_asks == "both" else "an inspection, a repair or the cause"


def _recall(path: FailurePath) -> str:
    said = RECALL_WORDS[path.recall]
    if path.recall != "none stated":
        said += f": {path.recall_words or SCOPE_WORDS[path.recall_scope]}"
    elif path.recall_words:
        said += f"; {path.recall_words}"
    confined = "not where the cause is known at once and confined to one load" if path.unless_confined else ""
    return _sentence((said, confined, path.implant_words))


def _notice(notice: NoticeRule) -> RuleLine:
    unit = notice.measure if notice.within != 1 else notice.measure.removesuffix("s")
    text = f"within {notice.within} {unit} of the failure being known" if notice.within else "on the day it is known"
    less = f"public holidays of {notice.holidays} are not business days" if notice.holidays else ""
    return RuleLine(
        f"Tell {notice.who}", _sentence((text, WHEN_WORDS[notice.when], less)), notice.note, notice.source
    )


def _requalification(asked: Requalification) -> RuleLine:
    tests = [
        _passes(asked.biological, "passing spore test" + "s" * (asked.biological > 1)) if asked.biological else "",
        f"{_passes(asked.air_removal, 'air-removal tests')} with dynamic air removal" if asked.air_removal else "",
    ]
    each = "for each cycle type in use" if asked.each_cycle_type else ""
    order = f"{asked.order}, else a warning" if asked.order else ""
    return RuleLine("Tests in a row", _sentence((*tests, _chamber(asked.chamber), each, order)), "", asked.source)


def _verification(asked: VerificationSet) -> RuleLine:
    text = _sentence(
        (
            f"must pass: {_tests(asked.tests)}" if asked.tests else "",
            f"with dynamic air removal also: {_tests(asked.dynamic)}" if asked.dynamic else "",
            f"prove nothing without a value: {_tests(asked.values)}" if asked.values else "",
            f"recommended: {_tests(asked.recommended)}" if asked.recommended else "",
            "and the tests in a row above" if asked.requalify else "",
        )
    )
    return RuleLine(f"Repair class {repair_class(asked.repair_class)}", text, "", asked.source)


def _component(asked: ComponentTests) -> RuleLine:
    text = _sentence(
        (
            f"must pass too: {_tests(asked.tests)}" if asked.tests else "",
            f"with dynamic air removal also: {_tests(asked.dynamic)}" if asked.dynamic else "",
        )
    )
    return RuleLine(f"Work on a component: {asked.component}", text, "", asked.source)


def _tests(codes: tuple[str, ...]) -> str:
    return ", ".join(test_title(code) for code in codes)


def _validity(asked: Validity) -> RuleLine:
    text = _sentence(
        (
            "a control of the same product and lot must have grown",
            "a control that is not stated counts as grown"
            if asked.control_not_stated_counts
            else "without a stated control it doesn’t count",
            f"a result is awaited {asked.awaited_days_clinic} days after the end of incubation in the clinic, "
            f"{asked.awaited_days_laboratory} days after the run from a laboratory",
        )
    )
    return RuleLine("Spore test", text, "", asked.source)


def _release(asked: ReleaseRule) -> RuleLine:
    return RuleLine("Each load", asked.words, "", asked.source)


def _retention(asked: Retention) -> RuleLine:
    starts = {
        "last entry": "counted from the last record of its kind",
        "end of life": "from the end of the unit’s life",
    }
    return RuleLine(asked.what, _sentence((asked.words, starts.get(asked.starts, ""))), "", asked.source)


def _ended(end: EditionEnd) -> RuleLine:
    return RuleLine(f"Not after {(end.on - ONE_DAY).isoformat()}", end.words, "", end.source)


_LINES = {
    Duty: _duty,
    FailurePath: lambda path: RuleLine(
        f"After a failure: {path.kind}", ". ".join(filter(None, (_walk(path), _recall(path)))), "", path.source
    ),
    NoticeRule: _notice,
    Requalification: _requalification,
    VerificationSet: _verification,
    ComponentTests: _component,
    Validity: _validity,
    ReleaseRule: _release,
    LookBackRule: lambda rule: RuleLine(rule.trigger, rule.words, "", rule.source),
    Retention: _retention,
}


def line_of(rule: object) -> RuleLine:
    """The line of one rule of whatever kind; of a failure path that of what the unit must pass."""
    return _LINES[type(rule)](rule)
