"""What all entry forms share: whose form it is, its request key, and taking back what a writer refused."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cached_property
from zoneinfo import ZoneInfo

from django import forms
from django.db.models import Exists, OuterRef, Q

from records import access, clock
from records.forms import help
from records.log import recalls
from records.log.errors import InputPlace
from records.models import IndicatorLot, Instrument, PartLot, PlanLine, Position, Voiding

from .fields import Day, Line, TimeOfDay

CONFIRMED_WORDS = {
    "expired-lot": "the lot had expired",
    "expired-part": "the part had expired",
    "no-lot": "the part has neither a printed lot nor a receipt lot",
    "unsigned": "nobody signed the check",
    "read-early": "it was read before the label’s hours were over",
    "control-unseen": "nobody looked at the control",
    "before-register": "it happened before the unit was put on the register",
    "lot-type": "it was read on an indicator of another type",
    "leak-limit": "the maker’s instructions state that limit",
    "leak-start": "the test began at that pressure",
    "unit-out": "the load was run in a unit that was not to be used",
    "cycle-repeated": "the unit gave a cycle number twice",
    "cycle-leap": "cycles were run that are not on record",
    "cycle-back": "the cycle number lies before one on record",
    "failed-release": "the load was released although something failed",
    "implant-unread": "the implant was released without its spore result",
    "no-results": "the load was released without its results recorded",
    "released-against": "the load was released although something speaks against it",
    "ends-none": "the return ends no withdrawal",
    "return-early": "it was returned before it was proven",
    "not-made-safe": "the work was done without these steps",
    "recalled-part": "the part is under a notice",
    "many-held": "the load held so many",
    "odd-exposure": "the exposure was read so",
    "below-program": "it was called a pass below what the program needs",
    "outside-program": "the exposure was outside the band of the program",
    "lot-alone": "receipt number and last day are those of the corrected lot",
    "recording-differs": "file and record contradict each other",
    "damaged-packs": "the load was released with damaged wrapping",
}


@dataclass(frozen=True)
class EntryContext:
    """Where a form stands: the clinic, who fills it in, with which rights, in which time zone."""

    clinic: object
    account: object
    rights: access.Rights
    zone: str

    @property
    def organisation(self):
        """In whose ledger it is entered."""
        return self.clinic

    @property
    def shown(self) -> dict:
        """What its pages are drawn with."""
        return {"clinic": self.clinic}

    @property
    def today(self) -> date:
        return clock.today(self.zone)

    def moment(self, on: date | None, at: time | None) -> datetime | None:
        """The instant of that clinic's day and time, None when either is not known."""
        if on is None or at is None:
            return None
        return datetime.combine(on, at, ZoneInfo(self.zone)).astimezone(UTC)

    def units(self) -> list:
        return access.as_corrected(access.units_of_clinic(self.clinic))

    def lot_owners(self):
        serving = access.agreements().filter(clinic=self.clinic).values("company_id")
        return Q(owner=self.clinic.pk) | Q(owner__in=serving)

    @cached_property
    def _boxes(self) -> list:
        """The boxes of indicators of the clinic and of those who serve it, the newest first. One query."""
        gone = Exists(Voiding.objects.filter(target=OuterRef("origin")))
        first, newest = {}, {}
        for row in IndicatorLot.objects.filter(self.lot_owners()).exclude(gone).order_by("id"):
            first.setdefault(row.origin, row)
            newest[row.origin] = row
        boxes = [_as_its_newest(row, newest[origin]) for origin, row in first.items()]
        return sorted(boxes, key=lambda box: (box.happened_on, box.pk), reverse=True)

    def indicator_lots(self, kind: str) -> list:
        """The boxes of that kind, "biological" or "chemical", as corrected. Read once, however many forms ask."""
        return [box for box in self._boxes if box.kind == kind]

    @property
    def books(self):
        """Whose books the account enters: its company's, or the clinic's own."""
        return self.rights.company or self.clinic

    def instruments(self) -> list:
        return standing_rows(Instrument.objects.filter(owner=self.books.pk).order_by("name", "id"))

    def part_lots(self) -> list:
        """The lots that may be fitted, each with its `doubt`: a recall notice or its last day; those at the end."""
        owners = {self.clinic.pk} | ({self.rights.company.pk} if self.rights.company else set())
        lots = PartLot.objects.filter(owner__in=owners).select_related("part")
        found = standing_rows(lots.order_by("part__name", "-happened_on"))
        notices = recalls.notices_for(self.clinic) if found else []
        for lot in found:
            late = lot.expiry is not None and lot.expiry < self.today
            lot.doubt = recalls.doubt_of(notices, lot, self.today) or ("out of date" if late else "")
        return sorted(found, key=lambda lot: bool(lot.doubt))


def marked(lot: PartLot) -> str:
    """A lot that may be fitted, with why it is in doubt."""
    doubt = getattr(lot, "doubt", "")
    return f"{lot}, {doubt}" if doubt else str(lot)


def _as_its_newest(row: IndicatorLot, version: IndicatorLot) -> IndicatorLot:
    """The first version, to which others point, with what the label says by its newest. Never saved."""
    for name in LABEL_OF_BOX:
        setattr(row, name, getattr(version, name))
    return row


LABEL_OF_BOX = (
    "kind", "name", "lot", "expiry", "happened_on", "incubation_hours", "incubation_low", "incubation_high",
    "chemical_type",
)  # fmt: skip


def standing_rows(rows) -> list:
    """First versions, as corrected, of the rows that were not entered in error."""
    kept = rows.model.objects.in_force().values("origin")
    return access.as_corrected(rows.filter(amends__isnull=True, origin__in=kept))


def positions_of(*units) -> list:
    """The positions of the units, by name; one query for all of them."""
    return standing_rows(Position.objects.filter(unit__in=units).order_by("name"))


def plan_lines_of(unit, on: date) -> list:
    """The plan of the unit: the newest version in effect of each code, those retired left out."""
    return plans_of([unit], on)[unit.pk]


def plans_of(units, on: date) -> dict[int, list]:
    """The plan of each of the units, by its id; one query for all of them."""
    lines = PlanLine.objects.filter(unit__in=units, effective_on__lte=on).select_related("position")
    lines = lines.order_by("effective_on", "id")
    newest: dict[int, dict] = {unit.pk: {} for unit in units}
    for line in standing_rows(lines):
        newest[line.unit_id][line.code] = line
    return {pk: [line for line in codes.values() if not line.retired] for pk, codes in newest.items()}


class Refusable(forms.Form):
    """A form that can show beside each field what a writer said of it."""

    # Where a writer's name for an input differs from the name of the field here.
    FIELD_OF: dict[str, str] = {"happened_on": "on", "happened_at": "at"}

    # Fields that are asked of few: folded away as long as nothing stands in them.
    seldom: tuple[str, ...] = ()
    # Fields that stand on one line where there is room.
    beside: tuple[tuple[str, ...], ...] = ()

    use_required_attribute = False

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if not (field.help_text or field.widget.is_hidden):
                field.help_text = help.of(type(self), name)
            if not field.required and help.demanded_at_times(type(self), name, field.help_text):
                field.optional_word = getattr(field, "optional_word", "if it applies")

    @property
    def upfront(self) -> list[list]:
        """What is asked at once, in its order: a list a line, of the fields that stand side by side on it."""
        asked = self._asked_at_once()
        line_of = {name: line for line in self.beside for name in line}
        lines = dict.fromkeys(line_of.get(name, (name,)) for name in asked)
        return [[self[name] for name in line if name in asked] for line in lines]

    def _asked_at_once(self) -> list[str]:
        return [bf.name for bf in self.visible_fields() if bf.name not in self.seldom]

    @property
    def more(self) -> list:
        """What is asked of few."""
        asked = self._asked_at_once()
        return [bf for bf in self.visible_fields() if bf.name not in asked]

    @property
    def more_open(self) -> bool:
        """Whether something stands in what is folded, or is wrong there."""
        return any(bf.errors or bf.value() not in (None, "", False, bf.field.initial) for bf in self.more)

    @property
    def more_words(self) -> str:
        return ", ".join(bf.label[:1].lower() + bf.label[1:] for bf in self.more)

    def refuse(self, place: InputPlace | str, message: str, confirm: str = "") -> None:
        """Show the message at the field, or above the form when the form has no such field.

        `place` may be the name of one of the form's fields.
        """
        place = InputPlace.named(place) if isinstance(place, str) else place
        name, inside = place.field, len(place.parts) > 1
        if name in self.fields or not inside:
            name = self.FIELD_OF.get(name, name)
        self.add_error(name if name in self.fields else None, message)
        if confirm:
            shown = self[name] if name in self.fields else self
            shown.confirms = [*getattr(shown, "confirms", []), confirm]

    def problems(self) -> list[tuple[str, str, str]]:
        """(label, message, id to jump to) of everything that is wrong."""
        found = [("", m, "") for m in self.non_field_errors()]
        for bound in self:
            found += [(bound.label, m, bound.auto_id) for m in bound.errors]
        return found


class EntryForm(Refusable):
    """One submission. `request_key` is made when the form is first shown: sent twice, it is recorded once."""

    request_key = forms.UUIDField(
        widget=forms.HiddenInput,
        error_messages={
            "required": "The form lost its key. Open it again from its page.",
            "invalid": "The form lost its key. Open it again from its page.",
        },
    )
    next = forms.CharField(required=False, widget=forms.HiddenInput)

    legend = ""
    confirmable = False

    def __init__(self, *args, ground: EntryContext, **kwargs):
        self.ground = ground
        initial = {"request_key": uuid.uuid4(), "on": ground.today} | (kwargs.pop("initial", None) or {})
        super().__init__(*args, initial=initial, **kwargs)

    @property
    def confirmed_before(self) -> list[tuple[str, str]]:
        """What was confirmed already, as (code, words); stays ticked while other things are put right."""
        codes = self.data.getlist("confirmed") if hasattr(self.data, "getlist") else []
        return [(c, CONFIRMED_WORDS[c]) for c in dict.fromkeys(codes) if c in CONFIRMED_WORDS]

    @property
    def confirmed(self) -> tuple[str, ...]:
        return tuple(code for code, _ in self.confirmed_before)

    def values(self) -> dict:
        """What the writer is to be told. Call when the form is valid."""
        values = {k: v for k, v in self.cleaned_data.items() if k not in ("request_key", "next")}
        if "at" in self.fields:
            values["at"] = self.ground.moment(values.get("on"), values.get("at"))
        if self.confirmable:
            values["confirmed"] = self.confirmed
        return values

    def take(self, problems) -> None:
        """Show what a writer refused."""
        for problem in problems:
            self.refuse(problem.place, problem.message, problem.confirm)

    def all_problems(self):
        return self.problems()

    def typed(self) -> list[tuple[str, str]]:
        """What was typed, as label and value, for a page that cannot show the form again."""
        return typed_in(self)


def typed_in(form) -> list[tuple[str, str]]:
    """Label and typed value of every field that was filled in."""
    found = []
    for bound in form:
        if bound.is_hidden or isinstance(bound.field, forms.FileField):
            continue
        value = bound.value()
        if value not in (None, "", False):
            words = dict(_flat(getattr(bound.field, "choices", ())))
            found.append((bound.label, str(words.get(value, value))))
    return found


def _flat(choices):
    """Choices, those of a group too."""
    for value, words in choices:
        yield from words if isinstance(words, list | tuple) else [(value, words)]


class Dated(EntryForm):
    """An entry form with its day, the time if known, and the paper that it is copied from."""

    on = Day("Day")
    at = TimeOfDay("Time")


class Transcribed(Dated):
    """A dated entry that may be copied from paper."""

    paper = Line(
        "Copied from paper: which page",
        longest=300,
        help_text="Only for history on paper, such as “log book 2, page 14”. Leave blank for what you saw yourself.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.order_fields(["request_key", "next", *[n for n in self.fields if n != "paper"], "paper"])
