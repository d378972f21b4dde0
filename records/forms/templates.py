"""Forms of templates of units: an edition with its rows, a unit registered from one, a later edition taken over."""

from __future__ import annotations

from django import forms
from django.forms import formset_factory

from records.log.errors import InputPlace
from records.log.kit_rules import kits_of
from records.log.submission import answered
from records.log.template_content import TemplateContent
from records.models import Part
from records.models.units import EQUIPMENT_TYPES, Fit

from .base import EntryForm, standing_rows
from .fields import Choice, Day, Line, Lines, Number, OneOf, Tick, Whole
from .units import PlanRow, PositionRow
from .visit import HeadWithRows, RowFormSet, RowGroup
from .visit_rows import RowForm


class TemplateForm(EntryForm):
    """The head of an edition; `edition` is the one that it follows, None for a first one."""

    legend = (
        "What belongs to a type of unit, out of the maker’s instructions: a unit registered from it has all of it at "
        "once. Of months and cycles what comes first. A later edition changes no unit until somebody takes it over."
    )

    name = Line("Name", longest=120, required=True, help_text="As your people call this type of unit.")
    maker = Line("Maker, as on the plate", required=True, help_text="Letter by letter: by it a unit is found.")
    model = Line("Model, as on the plate", required=True, help_text="Letter by letter: by it a unit is found.")
    equipment_type = Choice("Type of sterilizer", EQUIPMENT_TYPES, help_text="As its instructions say.")
    chamber_litres = Number("Chamber in litres", digits=6, required=True, help_text="As its instructions say.")
    source = Line("The maker’s document", longest=200, required=True, help_text="Which document says all this.")
    source_edition = Line("Edition of that document", longest=60, help_text="Instructions change: which one it is.")
    changed = Lines(
        "What is different from the edition before", required=True, help_text="Who services one reads it."
    )
    retired = Tick("Not offered any more", help_text="No unit is registered from it; those that follow it stay.")

    def __init__(self, *args, edition=None, content: TemplateContent | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        self.kits = kits_of(self.ground.books)
        held = {row.kit.origin for row in content.kits} if content else set()
        for n, kit in enumerate(self.kits):
            self.fields[f"kit_{n}"] = Tick(f"Kit: {kit.name}", help_text="Tick it where it is for such units.")
            self.initial[f"kit_{n}"] = kit.origin in held
        if edition is None:
            del self.fields["changed"], self.fields["retired"]
            return
        for name in ("name", "maker", "model", "equipment_type", "chamber_litres", "source", "source_edition"):
            self.initial[name] = getattr(edition, name)

    def values(self) -> dict:
        values = super().values()
        values["kits"] = [kit for n, kit in enumerate(self.kits) if values.pop(f"kit_{n}")]
        return values


class OfTemplateRow(RowForm):
    """A row that counts as none where nothing is left in it but what stands there beforehand."""

    def has_changed(self) -> bool:
        said = ((self.data.get(self.add_prefix(name)), field.initial) for name, field in self.fields.items())
        return any(typed and typed != str(start) for typed, start in said)


class TemplatePositionRow(OfTemplateRow, PositionRow):
    fit = note = None
    optional = Tick("Not on every unit of this type", help_text="Then it is asked when a unit is registered.")

    def values(self) -> dict:
        data = self.cleaned_data
        return {name: data[name] for name in ("code", "name", "component")} | {"always": not data["optional"]}


class TemplatePlanRow(OfTemplateRow, PlanRow):
    source = Line("Source, if another", longest=200, help_text="Blank: the document above.")
    lead_days = Whole("Shown as due soon … days before", largest=3650, help_text="Blank: 60 days.")
    grace_days = Whole("Overdue only … days after the due day", largest=3650, help_text="Blank: at once.")

    def values(self) -> dict:
        return {name: value for name, value in self.cleaned_data.items() if value is not None}


class TemplatePartRow(OfTemplateRow):
    part = OneOf("Part", unknown="That part is not in your books. Add it first.",
                 name=lambda p: f"{p.name} {p.number}".strip(), help_text="One of those in your books.")  # fmt: skip
    quantity = Whole("How many belong there", largest=999, initial=1, required=True)
    position = Line("Position code", longest=60, help_text="Blank for the whole unit.")

    def __init__(self, *args, parts=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["part"].take(parts)

    def values(self) -> dict:
        return dict(self.cleaned_data)


class TemplateReadingRow(OfTemplateRow):
    quantity = Line("What is measured", longest=80, required=True, help_text="Such as chamber temperature.")
    unit_of_measure = Line("Unit of measure", longest=20, required=True, help_text="Such as °C, kPa, minutes, Ω.")
    point = Line("Where", longest=80, help_text="Where it is measured, if it is said.")
    lower = Number("Lower limit", places=4, digits=14, help_text="The limit itself is inside.")
    upper = Number("Upper limit", places=4, digits=14, help_text="The limit itself is inside.")
    limit_source = Line("Source of the limit", longest=200)

    def values(self) -> dict:
        return dict(self.cleaned_data)


class _TemplateRows(RowFormSet):
    """A row that is blanked is left out, also one that stood there before."""

    def initial_form_count(self):
        return 0 if self.is_bound else super().initial_form_count()


KINDS = (
    ("positions", TemplatePositionRow, "Positions", "position"),
    ("plan", TemplatePlanRow, "Maintenance plan", "plan line"),
    ("parts", TemplatePartRow, "Parts that belong to it", "part"),
    ("readings", TemplateReadingRow, "Readings with their limits", "reading"),
)
EXTRA = 3


class TemplateForms(HeadWithRows):
    """The head with all rows of an edition."""

    def __init__(self, data=None, *, ground, edition=None, content=None, initial=None):
        self.head = TemplateForm(data, ground=ground, edition=edition, content=content, initial=initial)
        self.parts = standing_rows(Part.objects.filter(owner=ground.books.pk).order_by("name", "id"))
        held = _held(content) if content and data is None else {}
        self.groups = {
            name: RowGroup(name, title, word, self._formset(data, name, form, held.get(name, [])))
            for name, form, title, word in KINDS
        }

    def _formset(self, data, name, form, held):
        more = {"form_kwargs": {"parts": self.parts}} if name == "parts" else {}
        kind = formset_factory(form, formset=_TemplateRows, extra=EXTRA, max_num=200, absolute_max=200)
        return kind(data, prefix=name, initial=held or None, **more)

    def is_valid(self) -> bool:
        return all([self.head.is_valid(), *(g.formset.is_valid() for g in self.groups.values())])

    def values(self) -> dict:
        rows = {name: [f.values() for f in g.formset.filled()] for name, g in self.groups.items()}
        return self.head.values() | rows

    def take(self, problems) -> None:
        """Show what the writer refused, at its row where it names one."""
        for problem in problems:
            match problem.place.parts:
                case (str(kind), int(n), *_) if kind in self.groups:
                    self.groups[kind].formset.filled()[n].refuse(problem.place, problem.message)
                case _:
                    self.head.refuse(problem.place, problem.message, problem.confirm)

    def refuse(self, place: InputPlace | str, message: str) -> None:
        """Above the form."""
        self.head.refuse(place, message)


def _held(content: TemplateContent) -> dict[str, list[dict]]:
    """The rows of the edition that is amended, as forms start with them."""
    line = [name for name in TemplatePlanRow.base_fields if name != "position"]
    reading = list(TemplateReadingRow.base_fields)
    return {
        "positions": [
            {"code": p.code, "name": p.name, "component": p.component, "optional": not p.always}
            for p in content.positions
        ],
        "plan": [
            {name: getattr(x, name) for name in line} | {"position": x.position.code if x.position else ""}
            for x in content.lines
        ],
        "parts": [
            {"part": str(p.part.origin), "quantity": p.quantity, "position": p.position.code if p.position else ""}
            for p in content.parts
        ],
        "readings": [{name: getattr(r, name) for name in reading} for r in content.readings],
    }


FITS = Fit._meta.get_field("state").choices


class FromTemplateForm(EntryForm):
    """One unit of a type that the template describes: what only this unit has."""

    label = Line("Number or name on the unit", longest=60, required=True, help_text="What people there call it.")
    serial = Line("Serial number", longest=60, required=True, help_text="Off the plate, letter by letter.")
    room = Line("Room", required=True, help_text="So that somebody from outside finds it.")
    cycles = Whole("Cycle counter now", help_text="As the display shows it: cycles count from here.")
    udi = Line("UDI (unique device identifier)", longest=120, help_text="If the unit carries one.")
    on = Day("Stands here since", help_text="The plan counts from this day.")
    installed = Tick("Log it as installed on that day", help_text="Without this, duties have no day to count from.")

    FIELD_OF = EntryForm.FIELD_OF | {"name": "label"}

    def __init__(self, *args, content: TemplateContent, **kwargs):
        self.content = content
        super().__init__(*args, initial={"installed": True} | (kwargs.pop("initial", None) or {}), **kwargs)
        for position in content.positions:
            name = f"fit_{position.code}"
            told = "Look: on every unit of this type it belongs there." if position.always else "Not on every unit."
            self.fields[name] = Choice(f"{position.name}: fitted", FITS, help_text=told)
            if position.always:
                self.initial[name] = "yes"
        asked = [f"fit_{p.code}" for p in content.positions if not p.always]
        first = ["request_key", "next", "label", "serial", "room", "cycles", *asked]
        self.order_fields([*first, *(n for n in self.fields if n not in first)])

    def values(self) -> dict:
        values = super().values()
        cycles = values.pop("cycles")
        values["counters"] = [] if cycles is None else [{"counter": "cycles", "shown": cycles}]
        values["fits"] = {p.code: values.pop(f"fit_{p.code}") for p in self.content.positions}
        return values


class TakeEditionForm(EntryForm):
    """Which differences of an edition are taken over: one tick each, by the number of the difference."""

    legend = (
        "What is ticked changes this unit’s plan, parts and readings from today on; what stood before stays on "
        "record. What is left as it is stays named with the edition."
    )

    def __init__(self, *args, differences, **kwargs):
        super().__init__(*args, **kwargs)
        self.differences = list(differences)
        # The key of each goes along, so that a page that is out of date takes nothing else.
        self.fields["keys"] = forms.CharField(widget=forms.HiddenInput, required=False)
        self.initial["keys"] = "\n".join(each.key for each in self.differences)
        for n, each in enumerate(self.differences):
            words = f"{each.title}: {each.kind}"
            told = " ".join(filter(None, (each.now and f"Now: {each.now}.", each.then and f"Then: {each.then}.")))
            own = " It was changed on this unit itself." if each.own else ""
            self.fields[f"take_{n}"] = Tick(words, help_text=(told + own).strip() or "A place on the unit.")
            self.initial[f"take_{n}"] = not each.own and each.kind != "not done any more"

    def clean(self):
        values = super().clean()
        # What was recorded already changed what is different; it is answered, not refused.
        known = [each.key for each in self.differences]
        if self._keys() != known and not answered(self.ground.account, values.get("request_key")):
            words = "What is different was changed meanwhile. Nothing was taken over: look at it as it is now."
            self.add_error(None, words)
        return values

    def _keys(self) -> list[str]:
        return [key for key in (self.cleaned_data.get("keys") or "").splitlines() if key]

    def values(self) -> dict:
        return {"take": [key for n, key in enumerate(self._keys()) if self.data.get(f"take_{n}")]}
