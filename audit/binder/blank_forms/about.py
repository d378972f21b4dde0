"""What one form is asked about, and what every form says: which unit, first steps at a failure, whose page it is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.binder.blank_forms.values import Boxes, FormBlock, FormEntry
from audit.binder.sections import Cautions, Paragraph
from audit.binder.written_on_paper import NO_RECORD, OUTRANKED, dated, day, number, unit_title
from audit.facts import ClinicFacts, UnitFacts, in_order, newest
from audit.judge.clocks.duties import duties_on
from audit.judge.judgement import ClinicJudgement, Clock, DueKind, State, UnitJudgement
from audit.regimes.model import NoticeRule, Regime

LINE = "____________"  # a place to write in a name

# Nothing is used when a result points to a failure, and a unit with a positive test is taken out of service: CDC 2003
# (MMWR 52 RR-17) VI.F. The rest is common practice, no source.
# In short what the cover of a binder says at length; sources there.
CAUTION = (
    "Caution: pressure, scald, mains, infection. Nothing is opened before the gauge is at zero and the chamber has "
    "cooled; open slowly, face aside, with gloves and eye protection; plug out and in sight before a cover comes "
    "off; chamber, drain and waste water count as contaminated; mind sharps."
)
FAILED = (
    "Stop: start no further load in this unit. Release nothing of the failed load; keep it and every load since the "
    "last good test where they are, marked “do not use”.",
    "Tag: switch the unit off, leave the door shut while there is pressure, and hang a tag on it: out of service, "
    "day, time, reason, name.",
    "Tell: the clinic's coordinator and the service company at once, by telephone; write down whom and when below.",
)


@dataclass(frozen=True, slots=True)
class FormSubject:
    """A unit on the day of the answer, and the day the form is for (None: the day is left blank)."""

    facts: ClinicFacts  # the place's own facts cut to the day of the answer
    judgement: ClinicJudgement
    unit: UnitFacts  # cut to the day of the answer
    judged: UnitJudgement
    regime: Regime
    on: date | None
    getting_in: tuple[tuple[str, str], ...] = ()  # address, telephone and the like, each with its name

    @property
    def as_of(self) -> date:
        return self.judgement.as_of

    @property
    def asked_on(self) -> date:
        """The day the form is for, that of the answer where it is left blank."""
        return self.on or self.as_of

    def duties(self):
        """The duties of the rules, and the clinic's own beside them, on the day of the form."""
        return duties_on(self.regime, self.facts, self.unit, self.asked_on)

    def clock_of(self, duty) -> Clock | None:
        return next((c for c in self.judged.clocks if c.kind is DueKind.DUTY and c.code == duty.id), None)

    def due_by(self, clock: Clock | None, last: date) -> bool:
        """Whether it falls due by that day, inclusive, or has no day to count from."""
        if clock is None or clock.state is State.NOT_APPLICABLE:
            return False
        return clock.state is State.NO_EVIDENCE or (clock.due_on is not None and clock.due_on <= last)


def room_of(about: FormSubject) -> str:
    placed = newest(about.unit.placements, lambda p: p.effective_on)
    return placed.room if placed and placed.room else NO_RECORD


def chamber(about: FormSubject) -> str:
    unit = about.unit
    return f"{unit.equipment_type or 'type not stated'}, {number(unit.chamber_litres)} litres"


def page_name(kind: str, about: FormSubject, on: str) -> str:
    """How an entry names this form as the page it was copied from."""
    return f"{kind}, {unit_title(about.unit.label)}, {on}"


def head(about: FormSubject, *right: FormEntry) -> Boxes:
    """Which unit this is, what was said of it when the form was printed, and the entries of the caller."""
    unit = about.unit
    return Boxes(
        "",
        (
            (
                FormEntry("Unit", unit.label, strong=True, weight=20),
                FormEntry("Serial number", unit.serial or NO_RECORD, weight=22),
                FormEntry("Maker, model", maker_model(about), weight=28),
                FormEntry("Type, chamber", chamber(about), weight=30),
            ),
            (
                FormEntry("Room", room_of(about), weight=20),
                standing(about, 80 - sum(e.weight for e in right)),
                *right,
            ),
        ),
        tall=8.0,
    )


def standing(about: FormSubject, weight: float) -> FormEntry:
    """The answer to "may it be used?" on the day the records were read."""
    held = about.judged.standing
    text = f"{held.word.value}: {dated(held.reason)}"
    return FormEntry(f"May it be used? As of {day(about.as_of)}", text, weight=weight)


def maker_model(about: FormSubject) -> str:
    return f"{about.unit.maker or NO_RECORD}, {about.unit.model or NO_RECORD}"


def outranked(about: FormSubject) -> Paragraph:
    return Paragraph(
        f"The answer is that of {day(about.as_of)}, the day the records were read; look at the unit and its tag "
        f"first. Rules: {about.judgement.regime_title}. {OUTRANKED}",
        "small",
    )


def _notice(rule: NoticeRule) -> str:
    if rule.within == 0:
        return f"{rule.who}: on the same day"
    unit = rule.measure if rule.within != 1 else rule.measure.removesuffix("s")
    return f"{rule.who}: within {rule.within} {unit}"


def notices(about: FormSubject) -> str:
    """Who else must be told of a failed spore test under the rules, in a sentence; "" for nobody."""
    path = about.regime.path("biological")
    told = [_notice(rule) for rule in path.notices] if path else []
    return f"These rules also ask to tell: {'; '.join(told)} ({path.notices[0].source})." if told else ""


def when_it_fails(about: FormSubject) -> tuple[FormBlock, ...]:
    """The first steps, at the foot of every sheet of the place's own people."""
    more = notices(about)
    servicer = next((job.servicer for job in reversed(in_order(about.unit.jobs)) if job.servicer), "")
    told = (
        FormEntry("Coordinator, telephone"),
        FormEntry("Service company, telephone", hint=f"last serviced by {servicer}" if servicer else ""),
        FormEntry("Told whom, when"),
    )
    lines = (*FAILED, more) if more else FAILED
    return (Cautions("When anything fails: stop, tag, tell", (*lines, CAUTION)), Boxes("", (told,)))


def copied(about: FormSubject, page: str) -> tuple[FormBlock, ...]:
    """What becomes of the sheet: it is copied into the records, which name it."""
    text = (
        "Afterwards: this sheet is no entry yet. When there is power again, enter every line in the records; at "
        f"“Copied from paper: which page” write “{page}”. Then keep this sheet with the papers: it is the original. "
        "Correct a slip with one line through it, the right word beside it, and initials."
    )
    entered = (FormEntry("Entered by"), FormEntry("Entered on, at"), FormEntry("Compared with the sheet by"))
    return (Boxes("", (entered,)), Paragraph(text, "small"))
