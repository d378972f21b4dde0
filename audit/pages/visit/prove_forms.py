"""The page of what is measured and tested after work: readings as left, tests V1 to V10, and what runs in a cycle.

A spore test that is run in the visit is read later, like any other; what it showed is no part of this page.
"""

from __future__ import annotations

from audit.facts.names import TESTS
from audit.pages.visit.guide import steps
from audit.pages.visit.guide.job import CHEMICALS, INSTRUMENTS, MORE_READINGS, OF_LEFT, SPORE_TESTS, reading_key
from audit.pages.visit.guide.proof import MEASURED, WITH_VALUES
from records.forms.fields import Choice, Day, Line, Measured, Number, TimeOfDay
from records.forms.monitoring import CHAMBER, CHECKED
from records.forms.visit_rows import TestRow
from records.log.together import VERIFICATION, within_limits
from records.models import BioTest
from records.wording import PURPOSE_WORDS

from .asked import Clash, Demand
from .forms import StepForm, radio
from .reading_forms import FIRST, ORDINALS, measured, reading_words

RESULTS = ("pass", "fail", "not done", "not applicable")
AFTER_WORK = [(code, words) for code, words in PURPOSE_WORDS.items() if code != "repeat"]
LEFT_WITH = [(n, f"the {ORDINALS[n]} instrument") for n in INSTRUMENTS] + [(OF_LEFT, "another one, named below")]
NAMELESS = "This reading has no name yet. Name it on “Readings as found”, with its unit of measure."


class ProveForm(StepForm):
    def fit(self):
        named = dict(self.unit.more_measured())
        words = {reading_key(known): reading_words(known) for known in self.unit.readings}
        words |= {f"x{n}": named.get(n, f"Other reading {n + 1}") for n in range(MORE_READINGS)}
        for key, label in words.items():
            self.fields |= {key: measured(label), f"{key}_with": _with()}
        self.fields |= {
            f"instrument{OF_LEFT}": Line("Another instrument of as left"),
            f"calibration_due{OF_LEFT}": Day("Its calibration is due on", required=False),
        }
        for code, title in TESTS.items():
            self.fields[code] = radio(title, RESULTS, required=False)
            if code in WITH_VALUES:
                self.fields |= {f"{code}_{name}": _in_its_unit(TestRow.base_fields[name]) for name in MEASURED}
            self.fields[f"{code}_value"] = Line("Value, with its unit of measure", longest=200)
            self.fields[f"{code}_cycle"] = Line("Cycle number", longest=40)
            self.fields[f"{code}_why"] = Line("Why not done, or not applicable", longest=300)
        for n in range(SPORE_TESTS):
            self.fields |= {f"b{n}_{name}": field for name, field in self._spore_test().items()}
        for n in range(CHEMICALS):
            self.fields |= {f"c{n}_{name}": field for name, field in self._chemical().items()}

    def _spore_test(self) -> dict:
        lots = self.unit.box_choices("biological")
        return {
            "lot": Choice("Lot of the test", lots, required=False, blank="no spore test"),
            "control": Choice("Lot of the control", lots, required=False, blank="no control was run"),
            "cycle_type": Line("Cycle", longest=60),
            "cycle": Line("Cycle number", longest=40),
            "at": TimeOfDay("Run at"),
            "purpose": Choice("Why it was run", AFTER_WORK, required=False),
            "chamber": Choice("Chamber", CHAMBER, required=False),
            "place": Line("Place in the chamber"),
            "site": Choice("Read where", BioTest._meta.get_field("site").choices, required=False),
            "mechanical": Choice("Gauges and printout of this cycle", CHECKED, required=False),
            "chemical": Choice("Chemical indicators of this cycle", CHECKED, required=False),
        }

    def _chemical(self) -> dict:
        lots = self.unit.box_choices("chemical")
        return {
            "type": Choice("Type of indicator", [(str(n), f"type {n}") for n in range(1, 7)], required=False,
                           blank="no indicator"),
            "result": Choice("Result", ("pass", "fail", "not read"), required=False),
            "lot": Choice("Lot", lots, required=False, blank="the lot was not noted"),
            "where": Line("Where it lay"),
            "cycle": Line("Cycle number", longest=40),
        }  # fmt: skip

    # ------------------------------------------------------------------------------------- for the page

    def measured(self):
        """(reading, value, instrument) of what is known, then (None, ...) of what was named on the page before."""
        pairs = [(reading, reading_key(reading)) for reading in self.unit.readings]
        pairs += [(None, f"x{n}") for n, _ in self.unit.more_measured()]
        return [(reading, self[key], self[f"{key}_with"]) for reading, key in pairs]

    def unnamed(self):
        """(value, instrument, number) of readings that have no name as far as the server knows; a device may know."""
        named = dict(self.unit.more_measured())
        return [(self[f"x{n}"], self[f"x{n}_with"], n) for n in range(MORE_READINGS) if n not in named]

    def other_instrument(self):
        """(its name, the last day of its calibration) of the instrument that only as left was taken with."""
        return self[f"instrument{OF_LEFT}"], self[f"calibration_due{OF_LEFT}"]

    def in_cycle(self):
        """(what, fields, whether something was answered or is wrong) of each spore test and chemical indicator."""
        kinds = [("Spore test, read later", f"b{n}_") for n in range(SPORE_TESTS)]
        kinds += [("Chemical indicator", f"c{n}_") for n in range(CHEMICALS)]
        found = [(what, [self[name] for name in self.fields if name.startswith(start)]) for what, start in kinds]
        return [(what, fields, any(bf.value() or bf.errors for bf in fields)) for what, fields in found]

    def tests(self, codes):
        return [self._test(code) for code in codes]

    def _test(self, code: str) -> dict:
        values = [self[f"{code}_{name}"] for name in MEASURED if f"{code}_{name}" in self.fields]
        return {
            "code": code,
            "result": self[code],
            "measured": values,
            "measured_open": any(field.value() or field.errors for field in values),
            "more": [self[f"{code}_{name}"] for name in ("value", "cycle", "why")],
        }

    # ------------------------------------------------------------------------------------- what is asked

    def needs(self):
        words = "This needs its reason: an inspector will ask for it."
        found = [Demand(f"{code}_why", words, ({code: ("not done", "not applicable")},)) for code in TESTS]
        other = tuple({name: (OF_LEFT,)} for name in self._withs())
        since = ({f"calibration_due{OF_LEFT}": None},)
        found.append(Demand(f"instrument{OF_LEFT}", "With which instrument? Enter its name.", (*other, *since)))
        for n in range(SPORE_TESTS):
            found += self._needs_of_spores(f"b{n}_")
        for n in range(CHEMICALS):
            said = ({f"c{n}_type": None},)
            any_of = tuple({f"c{n}_{name}": None} for name in ("result", "lot", "where", "cycle"))
            found.append(Demand(f"c{n}_result", "What does the indicator show? “Not read” is an answer too.", said))
            found.append(Demand(f"c{n}_type", "Which type of indicator was it?", any_of))
        return found

    @staticmethod
    def _needs_of_spores(start: str) -> list[Demand]:
        said = ({f"{start}lot": None},)
        any_of = tuple({f"{start}{name}": None} for name in ("control", "cycle_type", "cycle", "place", "purpose"))
        asked = {
            "cycle_type": "In which cycle was it run? The program as the unit names it.",
            "purpose": "Why was it run? Only a test that states that it ran after the work counts for it.",
            "chamber": "Was the chamber empty or full? “Not stated” is an answer too.",
            "site": "Where is it read: at the clinic, or in a laboratory?",
            "mechanical": "A test after work may count only with this. Choose “not recorded” if nobody looked.",
            "chemical": "A test after work may count only with this. Choose “not recorded” if nobody looked.",
        }
        lot = "Which lot was the test of? Choose its box, or add the box at the clinic first."
        return [Demand(f"{start}lot", lot, any_of), *(Demand(f"{start}{n}", w, said) for n, w in asked.items())]

    def clashes(self):
        nameless = [
            Clash(f"x{n}", NAMELESS, ({f"x{n}": None},), (f"{steps.FOUND}.x{n}_quantity",))
            for n in range(MORE_READINGS)
        ]
        return [*nameless, *(self._unnamed(name, n) for name in self._withs() for n in INSTRUMENTS)]

    def _withs(self) -> list[str]:
        return [name for name in self.fields if name.endswith("_with")]

    @staticmethod
    def _unnamed(name: str, n: str) -> Clash:
        """As left was taken with an instrument that is to be named on the page before, and is not."""
        words = (
            f"The {ORDINALS[n]} instrument has no name. Enter it on “Readings as found”, or name another one below."
        )
        named_at = f"{steps.FOUND}.instrument{'' if n == FIRST else n}"
        return Clash(name, words, ({name: (n,)},), (named_at,))

    def beside(self):
        said = self.unit.held.get(steps.FOUND) or {}
        return {f"{steps.FOUND}.{name}": value for name, value in said.items()}

    def orders(self):
        found = []
        for code in WITH_VALUES:
            found += [order.renamed(lambda name, code=code: _name(code, name)) for order in VERIFICATION]
            for known in self.unit.readings:
                key, unit = reading_key(known), known.unit_of_measure
                orders = within_limits(code, known.quantity, unit, known.lower, known.upper)
                found += [o.renamed({"left": key, "result": code}.__getitem__) for o in orders]
        return found


def _name(code: str, name: str) -> str:
    return code if name == "result" else f"{code}_{name}"


def _with() -> Choice:
    field = Choice("As left measured with", LEFT_WITH, required=False, blank="the same as as found")
    field.optional_word = "if another"
    return field


def _in_its_unit(field: Number) -> Number:
    """The number of the same name in a visit's form, in the unit in which it is recorded: a draft keeps no other."""
    label = f"{field.label}, {field.base}" if isinstance(field, Measured) else field.label
    return Number(label, places=field.decimal_places, digits=field.max_digits)
