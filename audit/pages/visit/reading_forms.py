"""The page of what is measured before work: each reading with the instrument it was taken with, and while the unit
was hot or not.

A temperature says most before the unit is cooled to work on it; so that is said with it. Common practice, no source.
"""

from __future__ import annotations

from audit.pages.visit.guide.job import INSTRUMENTS, MORE_READINGS, reading_key
from records.forms.fields import Choice, Day, Line, Number, Tick

from .asked import Demand
from .forms import StepForm

FIRST, *OTHERS = INSTRUMENTS
ORDINALS = {"1": "first", "2": "second", "3": "third"}
HOT = "Taken hot, before cool-down"


def reading_words(reading) -> str:
    """What a reading is of, where and in what, for a label."""
    where = f", {reading.point}" if reading.point else ""
    return f"{reading.quantity}{where}, {reading.unit_of_measure}"


def measured(label: str) -> Number:
    """A number as readings are recorded."""
    return Number(label, places=4, digits=14)


def _with() -> Choice:
    words = [(n, f"the {ORDINALS[n]} instrument") for n in OTHERS]
    field = Choice("Measured with", words, required=False, blank="the first instrument")
    field.optional_word = "if another"
    return field


class FoundForm(StepForm):
    def fit(self):
        for n in INSTRUMENTS:
            which = "Measured with" if n == FIRST else f"The {ORDINALS[n]} instrument"
            self.fields[f"instrument{_number(n)}"] = Line(which)
            self.fields[f"calibration_due{_number(n)}"] = Day("Its calibration is due on", required=False)
        for known in self.unit.readings:
            self._add(reading_key(known), measured(reading_words(known)))
        for n in range(MORE_READINGS):
            more = {
                "quantity": Line("What was measured", longest=80),
                "unit_of_measure": Line("Unit of measure", longest=20, help_text="Such as °C, kPa, minutes, Ω."),
                "point": Line("Where", longest=80),
                "as_found": measured("As found"),
                "lower": measured("Lower limit"),
                "upper": measured("Upper limit"),
                "limit_source": Line("Source of the limit", longest=200),
                "hot": Tick(HOT),
                "with": _with(),
            }
            self.fields |= {f"x{n}_{name}": field for name, field in more.items()}

    def _add(self, key: str, field: Number) -> None:
        self.fields |= {key: field, f"{key}_hot": Tick(HOT), f"{key}_with": _with()}

    def instruments(self):
        """(name, last day of its calibration) of each, for the page; the first one by itself."""
        return [(self[f"instrument{_number(n)}"], self[f"calibration_due{_number(n)}"]) for n in INSTRUMENTS]

    def known(self):
        """(reading, value, taken hot, instrument) of what was measured on this unit before."""
        keys = [(reading, reading_key(reading)) for reading in self.unit.readings]
        return [(reading, self[key], self[f"{key}_hot"], self[f"{key}_with"]) for reading, key in keys]

    def more(self):
        prefixes = [f"x{n}_" for n in range(MORE_READINGS)]
        return [[self[name] for name in self.fields if name.startswith(prefix)] for prefix in prefixes]

    def needs(self):
        found = []
        for n in range(MORE_READINGS):
            limits = tuple({f"x{n}_{name}": None} for name in ("lower", "upper"))
            typed = ({f"x{n}_as_found": None}, *limits)
            found += [
                Demand(f"x{n}_quantity", "What was measured? Name it, such as chamber temperature.", typed),
                Demand(f"x{n}_unit_of_measure", "In which unit of measure? Such as °C, kPa, minutes or Ω.", typed),
                Demand(f"x{n}_limit_source", "A limit needs its source: which document and edition says so?", limits),
            ]
        chosen = [name for name in self.fields if name.endswith("_with")]
        for n in OTHERS:
            words = f"A reading was taken with the {ORDINALS[n]} instrument. Enter its name."
            found.append(Demand(f"instrument{n}", words, tuple({name: (n,)} for name in chosen)))
        return found


def _number(n: str) -> str:
    """How the fields of an instrument end: those of the first have no number, as they were called before."""
    return "" if n == FIRST else n
