"""Forms of what is set up once and changed seldom: a plan line, a duty of our own, where a unit stands, parts."""

from __future__ import annotations

from django import forms

from records.models import Part
from records.models.people import DUTIES, EVERY
from records.models.units import ACTIONS, REPAIR_CLASSES, Placement

from .base import Dated, EntryForm, positions_of, standing_rows
from .fields import Choice, Day, Line, Lines, Number, OneOf, Tick, Whole
from .stock import PIECES_AT_MOST, places_to_choose

# Duties of which a paper states the next day; of anything else no day is stated anywhere.
STATED = ("validation-report", "pressure-examination", "training")
CODE_HELP = "Short, with hyphens, such as replace-door-seal. The same code later is the next version of the line."


class PlanLineForm(EntryForm):
    """A line of a unit's plan; for the next version of one the code is given."""

    legend = (
        "What is to be done, how often, and which document says so: as a rule the maker’s instructions. Whichever "
        "limit comes first holds. An earlier version stays on record."
    )

    code = forms.SlugField(
        label="Code",
        max_length=60,
        help_text=CODE_HELP,
        error_messages={
            "required": "The plan line needs a short code. Enter one, such as replace-seal.",
            "invalid": "A code has letters, digits and hyphens only, such as replace-seal.",
        },
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    title = Line("What is to be done", longest=160, required=True)
    position = OneOf("Position", required=False, blank="the whole unit", name=lambda p: p.name)
    action = Choice("Action", ACTIONS)
    months = Whole("Every … months", largest=600)
    cycles = Whole("Every … cycles")
    hours = Whole("Every … hours")
    lead_days = Whole("Shown as due soon … days before", required=True, largest=3650)
    grace_days = Whole("Overdue only … days after the due day", required=True, largest=3650)
    source = Line("Source", longest=200, required=True, help_text="Which document says so.")
    edition = Line("Edition", longest=60)
    rule = Lines("Rule for leaving or replacing", help_text="In words: “if the lip is cut, then replace”.")
    repair_class = Choice("Repair class of this work", REPAIR_CLASSES)
    effective_on = Day("Holds from which day on")
    retired = Tick("From that day on this is not done any more")

    def __init__(self, *args, unit, line=None, used=(), **kwargs):
        initial = {"lead_days": 60, "grace_days": 0, "repair_class": "A"} | (kwargs.pop("initial", None) or {})
        super().__init__(*args, initial=initial, **kwargs)
        self.line, self.used = line, frozenset(used)
        self.fields["position"].take(positions_of(unit))
        self.initial["effective_on"] = self.ground.today
        if line is not None:
            for name in self.fields:
                if name not in ("request_key", "next", "effective_on"):
                    self.initial[name] = getattr(line, name)
            del self.fields["code"]
        else:
            del self.fields["retired"]

    def clean_code(self):
        code = self.cleaned_data["code"]
        if code in self.used:
            words = "A line of this unit has this code. Open that line and change it, or give this one another code."
            raise forms.ValidationError(words)
        return code

    def clean(self):
        values = super().clean()
        limits = [values.get(name) for name in ("months", "cycles", "hours")]
        if 0 in limits:
            self.add_error(None, "A limit of 0 would be due always. Leave it blank, or write 1 or more.")
        elif not any(limits) and not values.get("rule") and not values.get("retired") and not self.errors:
            self.add_error(
                "months", "Nothing says when this is due. Enter months, cycles or hours, or the rule in words."
            )
        return values

    def values(self):
        values = super().values()
        if self.line is not None:
            values["code"] = self.line.code
        return values


class PlaceForm(EntryForm):
    legend = "Where the unit stands from a day on. What was logged before keeps the place of its day."

    room = Line("Room", required=True)
    use = Choice("Use", Placement._meta.get_field("use").choices)
    effective_on = Day("From which day on")

    def __init__(self, *args, placed=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.initial["effective_on"] = self.ground.today
        if placed is not None:
            self.initial |= {"room": placed.room, "use": placed.use}


class HandOverForm(EntryForm):
    legend = (
        "Its record here ends with that day and stays with this clinic. At the other clinic it begins anew, with its "
        "plate, its positions and its plan, and is out of service until somebody there has installed and proved it "
        "and returns it to use. Tests, visits and parts fitted are not carried along, but for a part that a recall "
        "notice means: that goes along with the notice. Neither record names the other clinic. The label on the unit "
        "names the record here: print another one there."
    )

    to = OneOf("To which clinic", name=lambda c: c.name, help_text="Those that you manage, other than this one.")
    on = Day("On which day")
    label = Line(
        "Number or name on the unit there", longest=60, required=True,
        help_text="What people there will call it. No other unit of theirs should have the same.",
    )  # fmt: skip
    room = Line("Room there", required=True, help_text="Where it stands from that day on.")
    reason = Lines("Why", required=True)

    def __init__(self, *args, clinics, label, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["to"].take(clinics)
        self.initial |= {"on": self.ground.today, "label": label}


class CounterForm(Dated):
    legend = "What the counter shows, read outside a visit."

    counter = Choice("Counter", ("cycles", "hours"))
    shown = Number("Value shown", required=True)
    offset = Number("Add for the life total", help_text="Only after the counter began anew: the last of the old one.")
    offset_reason = Line("Why something is to be added", longest=300)


class LocalDutyForm(EntryForm):
    legend = (
        "A duty that the clinic sets itself, with its own source. It stands beside the rules followed and takes the "
        "place of none of them, nor of a duty set before: each is due by itself."
    )

    duty = Choice("Duty", [(each, each.replace("-", " ")) for each in DUTIES])
    every = Choice("How often", [(each, each.replace("-", " ")) for each in EVERY])
    count = Whole(
        "How many days or months", required=True, largest=3660, help_text="Of rolling days or months, else 1."
    )
    source = Line("Source", longest=300, required=True, help_text="Which document of the clinic says so.")
    effective_on = Day("From which day on")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.initial |= {"effective_on": self.ground.today, "count": 1}

    def clean_count(self):
        if self.cleaned_data["count"] == 0:
            raise forms.ValidationError("0 would be due always. Write 1 or more.")
        return self.cleaned_data["count"]

    def clean(self):
        values = super().clean()
        if values.get("every") == "stated-date" and values.get("duty") not in (*STATED, None, ""):
            words = "Only a paper states the next day, such as the report of an examination. Choose how often."
            self.add_error("every", words)
        return values


class PartForm(EntryForm):
    legend = "A kind of spare part. Its lots are entered when they arrive."

    name = Line("Name", longest=160, required=True)
    number = Line("Part number as printed", longest=80)
    component = Line(
        "Component", longest=60, required=True, help_text="What it is on the unit, as positions name it: door seal."
    )


class PartLotForm(EntryForm):
    legend = "A receipt. It always has your own number, the printed lot where there is one."

    part = OneOf(
        "Part",
        unknown="That part is not in your books. Add it first.",
        name=lambda p: f"{p.name} {p.number}".strip(),
    )
    on = Day("Received on")
    receipt_lot = Line("Own receipt number", longest=80, required=True)
    lot = Line(
        "Lot as printed", longest=80,
        widget=forms.TextInput(attrs={"autocomplete": "off", "data-scan": "lot"}),
    )  # fmt: skip
    expiry = Day("To be fitted by", required=False, help_text="Leave blank when none is printed.")
    expiry.widget.attrs["data-scan-fill"] = "expiry"
    quantity = Whole("How many came", largest=PIECES_AT_MOST)
    place = OneOf(
        "Put where", required=False, blank="not said",
        unknown="That is no place of yours. Choose one of the list, or add it first.",
        help_text="With how many came. Without both, how many there are is not known until they are counted.",
    )  # fmt: skip

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["place"].take(places_to_choose(self.ground))
        parts = standing_rows(Part.objects.filter(owner=self.ground.books.pk).order_by("name", "id"))
        self.fields["part"].take(parts)
