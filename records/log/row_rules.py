"""What must hold between the fields of one row, when it is first written and when it is corrected.

Each rule takes `g`, which gives a field's value by name (of a form's dict or of a row), and `at`, the place of the
row in the input.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from functools import partial

from records import clock
from records.models import Fact
from records.models.visits import FITTED

from . import leak_rate, may_be_logged
from .errors import InputPlace, Problem
from .inspection_rules import inspection, inspection_point, point_met
from .load_rules import load, load_release, program
from .together import VERIFICATION, out_of_order
from .work_rules import fault_report, fault_settled, visit_agreed, visit_called_off

EARLIEST = date(may_be_logged.EARLIEST_YEAR, 1, 1)
LONGEST_CLOSURE_DAYS = 366
WHOLE = InputPlace()  # the row is the whole input


def outcome(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A task that was not done says why; a deferral says until when and who decided."""
    kind = g("outcome")
    if kind in ("deferred", "not possible", "not applicable", "not done") and not g("reason"):
        yield Problem(at / "reason", f"“{kind}” needs its reason: an inspector will ask for it.")
    if kind == "deferred" and not g("deferred_until"):
        yield Problem(at / "deferred_until", "Deferred until when? Enter the day, or choose “not done”.")
    if kind == "deferred" and not g("decided_by"):
        yield Problem(at / "decided_by", "Who decided to defer it? Enter the name.")
    if kind != "deferred" and g("deferred_until"):
        yield Problem(at / "deferred_until", f"“{kind}” is no deferral. Leave the day out, or choose “deferred”.")


def part(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A printed lot is entered; without one the part is traced by the own receipt lot."""
    lot, known = g("part_lot"), g("lot")
    if g("lot_state") == "printed" and not (known or lot):
        yield Problem(at / "lot", "Enter the lot as printed, or say that it is not printed or not readable.")
    traced, fate = g("receipt_lot") or lot or known, g("kit_fate") or ""
    if g("lot_state") != "printed" and not traced and g("action") != "found in place" and fate in ("", FITTED):
        yield Problem(
            at / "receipt_lot",
            "Without a printed lot the part is traced by your own receipt lot. Enter its number.",
            confirm="no-lot",
        )
    if g("quantity") == 0 and fate in ("", FITTED):
        yield Problem(at / "quantity", "How many were fitted? At least one, or leave the row out.")
    yield from _piece_of_kit(g, at)


def _piece_of_kit(g: Callable, at: InputPlace) -> Iterator[Problem]:
    """A piece out of a kit: which kit, how many pieces, and of those that were not fitted none is counted as fitted.

    Common practice, no source: what came out of a bag is accounted for piece by piece.
    """
    fate, pieces = g("kit_fate") or "", g("kit_pieces")
    if not fate:
        if pieces is not None:
            yield Problem(at / "kit_fate", "What became of these pieces of the kit? Say it, or leave the number out.")
        return
    if not str(g("kit") or "").strip():
        yield Problem(at / "kit", "Out of which kit is this piece? Name it.")
    if not pieces:
        yield Problem(at / "kit_pieces", "How many pieces of the kit is this about? At least one.")
    fitted = 1 if g("quantity") is None else g("quantity")
    if fate == FITTED and pieces and fitted != pieces:
        yield Problem(at / "quantity", f"{pieces} pieces are said to be fitted, and {fitted} counted. Correct one.")
    if fate != FITTED and fitted != 0:
        yield Problem(at / "quantity", f"“{fate}” fitted none of them: the number fitted is 0.")


AWAITED = "part awaited"  # it must be replaced, and the part was not at hand


def finding(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """What must be replaced with a part that is not at hand names that part, so that it is brought."""
    if g("decision") == AWAITED and not str(g("part_needed") or "").strip():
        yield Problem(at / "part_needed", "Which part is to be brought? Enter its name, and its number if known.")


def ends_awaiting(g: Callable, component: str, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """How a job may end in which something must be replaced and was not: common practice, no source.

    Out of use; or with the use that is allowed until then, and who at the clinic accepts that.
    """
    kind, what = g("conclusion"), component or "something"
    if kind in ("released", "pending"):
        yield Problem(
            at / "conclusion",
            f"{what} must be replaced and the part is not fitted: this cannot end as “{kind}”. Leave the unit out of "
            "use (“not released”), or say which use is allowed until then and who accepts it (“limited”).",
        )
    if kind == "limited" and not g("acceptor"):
        yield Problem(at / "acceptor", f"{what} must be replaced. Who at the clinic accepts its use until then?")


def conclusion(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A limit, a pending result and a refusal each say what is meant."""
    kind = g("conclusion")
    if kind == "limited" and not g("limitation"):
        yield Problem(at / "limitation", "Limited to what? Say which cycles or loads are allowed.")
    if kind == "pending":
        for name, what in (("acceptor", "Who at the clinic accepts that?"), ("deadline", "Until which day?")):
            if not g(name):
                yield Problem(at / name, f"Released while a result is pending. {what}")
    if kind in ("not released", "not worked on") and not g("reason"):
        yield Problem(at / "reason", f"“{kind}” needs its reason.")


def reading(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A number without its unit of measure says nothing; a reading without a number is no reading."""
    if not str(g("unit_of_measure") or "").strip():
        yield Problem(
            at / "unit_of_measure",
            f"{g('quantity') or 'This reading'} has no unit of measure. "
            "Say what it was measured in, such as °C, kPa, minutes or Ω.",
        )
    if g("as_found") is None and g("as_left") is None:
        yield Problem(at / "as_found", "Enter what was measured, as found or as left, or leave the row out.")
    yield from _left_with(g, at)
    has_limit = g("lower") is not None or g("upper") is not None
    if has_limit and not str(g("limit_source") or "").strip():
        yield Problem(at / "limit_source", "A limit needs its source: which document and edition says so?")


def _left_with(g: Callable, at: InputPlace) -> Iterator[Problem]:
    """Another instrument of as left has a name and took a value; one alone of the pair stands as `instrument`."""
    other, until = str(g("instrument_left") or "").strip(), g("calibration_due_left")
    if until and not other:
        words = "This is the calibration of which instrument? Enter its name, or leave the day out."
        yield Problem(at / "instrument_left", words)
    if other and g("as_left") is None:
        words = f"Nothing was measured as left with {other}. Enter what it showed, or leave it out."
        yield Problem(at / "as_left", words)


def leak(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A rise is not negative, a rate needs its duration, a limit its number and source; none is out of all reason."""
    if g("rise") is None:
        yield Problem(at / "rise", "How far did the pressure rise? Enter it, 0 where it did not.")
    elif g("rise") < 0:
        yield Problem(at / "rise", "A leak lets the pressure rise: enter the rise as a number from 0 on.")
    if g("unit_of_measure") not in leak_rate.KPA:
        yield Problem(at / "unit_of_measure", "In what was the rise measured? kPa, mbar, bar or mmHg.")
    if not g("minutes") or g("minutes") <= 0:
        yield Problem(at / "minutes", "Over how many minutes? A rise without its duration is no rate.")
    words, confirmable = leak_rate.about_limit(g("limit"))
    if words:
        yield Problem(at / "limit", words, confirm="leak-limit" if confirmable else "")
    if not str(g("limit_source") or "").strip():
        yield Problem(at / "limit_source", "A limit needs its source: which document and edition says so?")
    yield from _leak_conditions(g, at)


def _leak_conditions(g: Callable, at: InputPlace) -> Iterator[Problem]:
    """Settling, pressure and temperature at the start: each may be left out, and then stands as not recorded."""
    if g("settling") is not None and g("settling") < 0:
        yield Problem(at / "settling", "Minutes of settling are a number from 0 on. Leave it blank if nobody looked.")
    start, heat = g("start_pressure"), g("start_temperature")
    if start is not None and start <= 0:
        yield Problem(at / "start_pressure", "An absolute pressure is above 0 kPa. To a gauge’s add that of the air.")
    elif start is not None and start > leak_rate.START_ASKED_ABOVE:
        yield Problem(
            at / "start_pressure",
            f"A leak test begins in vacuum, at a few kPa absolute; {start:f} kPa is nearer to the air outside. Check "
            "the unit. If it really began there, confirm it; it is recorded and flagged.",
            confirm="leak-start",
        )
    if heat is not None and not 0 <= heat <= 160:
        yield Problem(at / "start_temperature", f"{heat:f} °C is no temperature of a chamber. Check the number.")


def span(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """From and to, both inclusive, in order and within reason."""
    first, last = g("from_on"), g("to_on")
    for name, day in (("from_on", first), ("to_on", last)):
        if day is None:
            yield Problem(at / name, "The day is missing. Write it as year-month-day.")
    if first:
        yield from may_be_logged.after(at / "to_on", last, first, "the first day")
    if first and first < EARLIEST:
        yield Problem(at / "from_on", f"{first} lies before {EARLIEST}. Check the year.")


def closure(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A closure is days without patients, not an end of duties."""
    yield from span(g, at)
    first, last = g("from_on"), g("to_on")
    if first and last and (last - first).days >= LONGEST_CLOSURE_DAYS:
        yield Problem(
            at / "to_on", "A closure is at most a year long. If the units are not used, log them as stored as spare."
        )


def binder_issue(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A binder covers at least one day."""
    if g("as_of") is None:
        yield Problem(at / "as_of", "The day is missing. Write it as year-month-day.")
    yield from span(g, at)


def document(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A paper does not end before it begins."""
    if g("valid_from"):
        yield from may_be_logged.after(at / "valid_to", g("valid_to"), g("valid_from"), "the first day it is valid")


def bio_test(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """Whether gauges and indicators passed is said, or that nobody looked; of a routine test it may be left blank."""
    for name in ("mechanical", "chemical"):
        if not g(name) and (g("purpose") or "routine") != "routine":
            yield Problem(
                at / name,
                "A test after a failure may count only with this. Choose “not recorded” if nobody looked.",
            )


def bio_reading(g: Callable, at: InputPlace = WHOLE, day: str = "happened_on") -> Iterator[Problem]:
    """Run, read, known: in this order. `day` is what the input calls the day it was read."""
    test, on, known_on = g("bio_test"), g("happened_on"), g("known_on")
    if test is not None and on is not None:
        yield from may_be_logged.after(at / day, on, test.happened_on, "the day the test was run")
    if on is not None and known_on is not None:
        yield from may_be_logged.after(at / "known_on", known_on, on, "the day it was read")
    if known_on is not None:
        yield from may_be_logged.not_in_future(at / "known_on", known_on, g("known_at"), g("zone"))


def verification(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """What was measured runs from least to greatest; a pass lies inside its band and holds as long as is needed.

    Both ends of the band are inside, and the time needed itself is long enough. The same holds for entry, correction
    and file; a pass without a value stands as stated, not shown.
    """
    for name, words in out_of_order(VERIFICATION, g):
        yield Problem(at / name, words)


def user_check(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A value has its unit of measure; what was not done says why; a signature is asked for where rules want one."""
    if g("value") is not None and not str(g("unit_of_measure") or "").strip():
        yield Problem(at / "unit_of_measure", "The value has no unit of measure. Say what it was measured in.")
    if g("result") == "not done" and not str(g("note") or "").strip():
        yield Problem(at / "note", "“not done” needs its reason: an inspector will ask for it.")
    if g("kind") in SIGNED and g("result") != "not done" and not g("signed_by"):
        yield Problem(
            at / "signed_by",
            "Nobody signed this check; where the rules ask for a signature it doesn't count. Enter who signs. "
            "If nobody signed, confirm it; it is recorded and flagged.",
            confirm="unsigned",
        )


# Rules of some places ask for a signature under checks of these kinds.
SIGNED = frozenset({"automatic control", "safety check"})
# A failing check of these kinds opens a failure case.
OPENS = SIGNED | {"air detector"}


def calibration(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """It does not end before it begins; out of tolerance says by how much."""
    if g("valid_to") is None:
        yield Problem(at / "valid_to", "Until which day does it hold? Enter the last day on the certificate.")
    elif g("happened_on"):
        yield from may_be_logged.after(at / "valid_to", g("valid_to"), g("happened_on"), "the day of the calibration")
    if g("result") == "out of tolerance" and not str(g("as_found") or "").strip():
        yield Problem(
            at / "as_found",
            "Out of tolerance by how much? Enter what was found, with its unit: past readings hang on it.",
        )


def part_recall(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """The days of fitting named by a notice are in order."""
    if g("made_from"):
        yield from may_be_logged.after(at / "made_to", g("made_to"), g("made_from"), "the first day the notice names")


def unit_event(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """Only a return ends a withdrawal, and only one of its own unit."""
    ends = g("ends")
    if ends is None:
        return
    if g("kind") != "returned":
        yield Problem(at / "ends", "Only a return ends a withdrawal. Leave it out, or choose “returned”.")
    elif ends.kind != "withdrawn" or ends.unit_id != g("unit_id"):
        yield Problem(at / "ends", "That is no withdrawal of this unit. Choose one of its own.")


def stock_move(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """Only a count finds none; only what is moved goes to another place."""
    if g("quantity") == 0 and g("kind") != "counted":
        yield Problem(at / "quantity", "How many? Enter at least 1; only a count may find none.")
    if (g("kind") == "moved") != (g("to_place") is not None):
        yield Problem(at / "to_place", "Only what is moved goes to another place, and it always does.")


RULES = {
    "unitevent": unit_event,
    "taskoutcome": outcome,
    "fittedpart": part,
    "conditionfinding": finding,
    "jobconclusion": conclusion,
    "reading": reading,
    "leaktest": leak,
    "knowngap": span,
    "closure": closure,
    "binderissue": binder_issue,
    "document": document,
    "bioreading": bio_reading,
    "biotest": bio_test,
    "load": load,
    "loadrelease": load_release,
    "program": program,
    "inspection": inspection,
    "inspectionpoint": inspection_point,
    "pointmet": point_met,
    "faultreport": fault_report,
    "faultsettled": fault_settled,
    "visitagreed": visit_agreed,
    "visitcalledoff": visit_called_off,
    "verificationtest": verification,
    "usercheck": user_check,
    "credential": document,
    "calibration": calibration,
    "partrecall": part_recall,
    "stockmove": stock_move,
}


def of_row(row: Fact) -> list[Problem]:
    """Everything that is wrong between the fields of a whole row, and with its day and time."""
    g = partial(getattr, row)
    found = list(may_be_logged.not_in_future("happened_on", row.happened_on, row.happened_at, row.zone))
    if row.happened_at is not None and clock.local_day(row.happened_at, row.zone) != row.happened_on:
        found.append(
            Problem("happened_at", f"That time lies on another day than {row.happened_on}. Correct both together.")
        )
    rule = RULES.get(row._meta.model_name)
    return found + (list(rule(g)) if rule else [])
