"""What is said beside a field. Sentences that the method of a binder says too come from `records.wording`.

`of` gives the help of a field by the name of its form and its own; a form that says something itself keeps it.
"""

from __future__ import annotations

from records.wording import (
    AT_THE_LIMIT,
    CLOSED_NOT_DUE,
    COUNTED_FROM,
    FAILED_AT_GROWTH,
    KNOWN_GAP,
    LEAK_RATE,
    REPAIR_CLASS,
    SETTLED_BY_DECISION,
    WEEK_OF_TEST,
)

_AS_PRINTED = "Letter by letter, as it is printed."
_CYCLE = "The number on the printout or display: it ties this entry to the cycle record."
_GAUGES = "What the unit itself showed: temperature, pressure and time of the cycle."

# By form and field, else by field alone.
_OF_FIELD = {
    "on": "The day on which it happened, by the clinic’s calendar. Entered later, it shows as a late entry.",
    "at": "Clock time at the clinic.",
    "cycle_number": _CYCLE,
    "cycle_type": "The program as the unit names it, such as wrapped.",
    "chamber": "Whether other goods were in the chamber.",
    "lot": _AS_PRINTED,
    "report_number": "The number on the report that was left, if it has one.",
    "limit_source": "The document that states it, with its section.",
    "reason": "In a few words: why.",
    "note": "What a reader should know that no other field says.",
    "name": "The full name, as it would be signed.",
    "expiry": "The last day on which it may be used, as printed.",
    "position": "The place on the unit where the part sits.",
    "ends": "Each withdrawal ends only by a return that names it.",
    "purpose": "After a failure, a repair or a move this is your statement that it ran after that; a routine test "
    "proves none of it.",
    "valid_from": "The first day on which it holds: due items count from here.",
    "what": "So exactly that somebody else could do it.",
}
_OF_FORM = {
    "BioTestForm": {
        "on": f"The day on which the cycle ran. {WEEK_OF_TEST}",
        "lot": "The box that the indicator was taken from. The last one used stands first.",
        "place": "Where it lay, such as lowest tray, over the drain. Some rules ask a place of their own.",
        "site": "At the clinic in an incubator, or sent to a laboratory.",
        "implant": "The rules of many places ask more of a load with an implant.",
        "mechanical": _GAUGES,
        "chemical": "Inside and outside of the packs of this cycle.",
    },
    "ReadBioForm": {
        "on": "The day on which it was read.",
        "test": FAILED_AT_GROWTH,
        "incubated_hours": "From the start of incubation to this reading. Fewer than the label asks does not count.",
        "incubator_temperature": "As the incubator showed it; held against the range on the label of the lot.",
        "report": "As it stands on the laboratory’s report, so that the paper can be found.",
    },
    "ChemicalForm": {
        "type": "As printed on the indicator, by ISO 11140-1.",
        "result": "By the colour that its maker shows for a pass.",
        "lot": "The box that it was taken from.",
    },
    "AirRemovalForm": {"result": "By the colour of the sheet, all over.", "lot": "The box that it was taken from."},
    "LeakForm": {
        "rise": LEAK_RATE,
        "unit_of_measure": "As the unit or gauge shows it. A rise in psi is recorded in kPa.",
        "minutes": "The time over which the rise was read, without the time to settle.",
        "limit": "A rate at the limit is inside. Change it only for a unit whose instructions state another.",
        "settling": "From closing the valves to the first reading. Left blank it stands as not recorded.",
        "start_pressure": "When the reading began; a gauge shows it against the air outside, which is to be added.",
        "start_temperature": "Of the chamber when the reading began: a warming chamber looks like a leak.",
    },
    "LoadForm": {
        "program": "The program as the unit names it, such as wrapped.",
        "mechanical": _GAUGES,
        "chemical": "Inside and outside of the packs.",
        "held_packs": "How many the chamber held. Leave blank what nobody counted.",
        "exposure_minutes": "How long the exposure lasted, without heating up and drying, as printed or shown.",
        "exposure_temperature": "The least that was shown during the exposure.",
        "exposure_pressure": "The least that the gauge showed during the exposure.",
        "packs": "Wet packs are not used: they open a failure.",
        "pack_condition": "Torn, open or burst wrapping is damaged: what was in it is sterilized again.",
        "loaded_by": "Who put the goods in, by name. Leave blank when nobody noted it.",
        "minutes": "The time the cycle took; only where the hours of use are counted.",
        "decision": "Whether the goods may be used. Without one the load waits on the page Today.",
        "implant": "The rules of many places ask more of a load with an implant.",
    },
    "UserCheckForm": {
        "kind": "Which of the checks that the rules ask of the people of the place.",
        "result": "A check that was not done is entered too, with the reason.",
        "value": "Only where the check reads one.",
        "unit_of_measure": "Of the value, as the instrument shows it, such as °C.",
    },
    "IndicatorLotForm": {
        "name": "As printed on the box.",
        "kind": "Biological: spores, incubated after the cycle. Chemical: a colour that changes in it.",
        "incubation_low": "The lowest temperature that the label allows; the value itself is inside.",
        "incubation_high": "The highest temperature that the label allows; the value itself is inside.",
        "chemical_type": "Types 1 to 6 by ISO 11140-1, as printed.",
        "on": "The day on which the box came.",
    },
    "FollowUpForm": {
        "action": "Which step of what the rules ask after a failure this is.",
        "on": "The day on which this was decided.",
        "owner": "Leave blank when it is open who does it.",
        "due_on": "The last day on which it is in time.",
        "outcome": SETTLED_BY_DECISION + " Name the paper or row that shows it.",
    },
    "FollowUpDoneForm": {"outcome": SETTLED_BY_DECISION + " Name the paper or row that shows it."},
    "UnitEventForm": {"kind": "Taking it out is the red switch; whether it may return is judged from the record."},
    "ProgramForm": {
        "name": "Letter by letter, as the unit shows it: the loads of this program are found by it.",
        "exposure_minutes": "The least time of the exposure alone, without heating up and drying.",
        "temperature_low": "Of the exposure; the value itself is inside the band.",
        "temperature_high": "Of the exposure; the value itself is inside the band.",
        "pressure_low": "As the gauge shows it, against the air outside.",
        "pressure_high": "As the gauge shows it, against the air outside.",
        "source": "Which document says so, with its section.",
        "effective_on": "Loads from this day on are held against it.",
        "retired": "Loads from that day on are held against nothing.",
    },
    "FitForm": {
        "state": "“None on this version” asks for nothing; “missing” is a fault.",
        "effective_on": "The first day on which it was so.",
    },
    "UnitForm": {
        "label": "What people call it, and what stands on its label.",
        "serial": f"From the plate. {_AS_PRINTED}",
        "maker": "Letter by letter, from the plate.",
        "model": "Letter by letter, from the plate.",
        "equipment_type": "By how air leaves the chamber: it decides which tests are asked.",
        "chamber_litres": "From the plate or the instructions; some rules hold from a size on.",
        "room": "So that somebody from outside finds it.",
        "on": "Its due items count from this day.",
    },
    "PositionRow": {
        "code": "Short, without blanks, such as door-seal. The plan refers to it.",
        "name": "Where the part sits, in words.",
        "component": "What sits there, such as seal or filter.",
        "fit": "Whether this unit has it.",
    },
    "PlanRow": {
        "code": "Short, without blanks. A later line with the same code takes the place of this one.",
        "title": "As it stands in the maker’s instructions.",
        "action": "What is done to the part.",
        "months": COUNTED_FROM + " Of months, cycles and hours what comes first.",
        "cycles": "By the counter of the unit; the day is projected from its readings.",
        "hours": "By the counter of the unit; the day is projected from its readings.",
        "edition": "Which edition of the document: instructions change.",
        "rule": "If … then …: what decides whether the part may stay.",
        "repair_class": "How deep the work goes: it decides which tests are asked before the unit returns.",
    },
    "VisitHead": {
        "on": "The day of the visit; everything done in it happened on this day.",
        "at": "When the work began.",
        "departed_at": "When the work ended.",
        "report_number": "The number on the report that was left at the clinic.",
    },
    "JobForm": {
        "reason": "Why the unit was worked on.",
        "complaint": "What they said, not what it turned out to be.",
        "contamination": "What the clinic declared before the work.",
        "class_stated": REPAIR_CLASS,
        "class_reason": "What the work alone does not say.",
    },
    "SafeStep": {"why_not": "So that the next person knows what to watch for."},
    "OutcomeRow": {
        "found": "What was seen, in a few words.",
        "reason": "Needed for what was not done, put off or not possible.",
        "deferred_until": "The day by which it is to be done instead.",
        "decided_by": "Who decided to put it off.",
        "agreed_by": "Who agreed at the clinic.",
    },
    "FindingRow": {
        "component": "The part that was looked at.",
        "grade": "0 as new, 1 worn, 2 at its limit, 3 failed.",
        "rule": "If … then …, as the instructions say it.",
        "reason": "Needed when the decision is another than the rule says.",
        "repair_class": "How deep the work on it goes.",
        "part_needed": "Where it must be replaced and no part was at hand: it is on the list to bring.",
        "part_needed_number": "As it is printed on the part or stands in the parts list.",
    },
    "ReadingRow": {
        "quantity": "Such as chamber temperature, or pressure at the plateau.",
        "point": "Where it was measured, such as drain or door.",
        "as_found": "Before anything was changed.",
        "as_left": "After the work; the same number when nothing was changed.",
        "lower": AT_THE_LIMIT,
        "upper": "A value at the limit is inside.",
        "instrument": "By its name in the books, with which the reading can be traced.",
        "calibration_due": "The last day on which its calibration holds.",
        "found_while": "A temperature says most while the unit is hot.",
        "instrument_left": "By its name in the books, where as left was not taken with the same one.",
        "calibration_due_left": "The last day on which its calibration holds.",
    },
    "PartRow": {
        "part_lot": "A lot that your company or the clinic received.",
        "number": _AS_PRINTED,
        "receipt_lot": "Your own number for what was received, where no lot is printed.",
        "action": "“Found in place” is for a part that was only seen.",
        "old_part": "What became of it.",
        "kit": "Where it came out of a kit: which.",
    },
    "TestRow": {
        "code": "Which tests are needed follows from the repair class.",
        "value": "What was read, with its unit, where no field below has it.",
        "temperature_low": "The least that was measured from the begin to the end of the holding time.",
        "temperature_high": "The greatest that was measured in the holding time.",
        "pressure_low": "Absolute: to a gauge’s reading add that of the air.",
        "pressure_high": "Absolute: to a gauge’s reading add that of the air.",
        "minutes": "How long the temperature held.",
        "band_low": "The end itself is inside.",
        "band_high": "The end itself is inside.",
        "minutes_needed": "As the instructions or the standard ask of this cycle.",
        "reason": "Needed for a test that was not done.",
    },
    "SignatureRow": {
        "meaning": "What the signature stands for.",
        "role": "Such as technician or coordinator.",
        "reason": "Needed when nobody signed.",
    },
    "CounterRow": {
        "shown": "As the display shows it.",
        "offset": "After a new board: what was run before, so that the life total goes on.",
        "offset_reason": "Needed when something is added.",
    },
    "ConclusionForm": {
        "conclusion": "Released, limited, waiting for a result, or not released: judged from the tests, stated here.",
        "limitation": "Needed when it is limited: what it may do.",
        "deadline": "Until when it may wait for the result, that day included.",
        "meanwhile": "When nobody knows: no. It then stays out until a return says why it may be used again.",
        "reason": "Needed when it is not released.",
    },
    "CredentialForm": {
        "kind": "What the paper shows.",
        "title": "As it stands on the paper.",
    },
    "InstrumentForm": {
        "name": "What the readings will call it, such as T-1.",
        "serial": _AS_PRINTED,
        "on": "From this day on readings may name it.",
    },
    "CalibrationForm": {
        "certificate": "So that the paper can be found.",
        "result": "As it was found: out of tolerance puts earlier readings in doubt, whatever was done then.",
        "as_found": "What it showed before it was adjusted, and against what.",
        "valid_to": "As the certificate says, that day included.",
    },
    "PartRecallForm": {
        "on": "The day on which the notice came.",
        "part": "As the notice names it.",
        "number": "Blank: every number of that part.",
        "lot": "Blank: every lot.",
        "issued_by": "Who sent the notice.",
        "reason": "What is wrong with it, as the notice says.",
        "action": "As the notice says.",
    },
    "DocumentForm": {
        "unit": "Leave it at the whole place unless the paper is about one unit.",
        "kind": "It decides which due item the paper meets and which question it answers; the title does not.",
        "title": "Words by which somebody would look for it.",
    },
    "ClosureForm": {
        "unit": "Leave it at the whole place unless only one unit stood still.",
        "from_on": CLOSED_NOT_DUE,
        "to_on": "That day included.",
        "why": "Such as holidays or building work.",
    },
    "GapForm": {
        "unit": "Leave it at the whole place unless only one unit is meant.",
        "from_on": KNOWN_GAP,
        "to_on": "That day included.",
        "what": "Such as the log book of spring 2024.",
        "why": "What happened to it, and what was done to find it.",
    },
    "InspectionForm": {
        "visitor": "By name, so that a later question reaches the right person.",
        "office": "It decides what their words weigh: a health department, an insurer, an accreditor.",
        "occasion": "Such as routine, complaint or new license.",
        "asked": "What they looked at and said, so that the next visit can be prepared by it.",
        "binder": "The one they took along: it shows what they were told.",
        "report": "Put it on file first, then it can be named here.",
        "due_on": "The last day on which they are in time. Points with other days are added afterwards.",
    },
    "FaultForm": {
        "what": "Messages, noises, cycle numbers: as they say it. The technician prepares by it.",
        "meanwhile": "Taken out, it stays out until a return says why it may be used again.",
        "kept_because": "Only where it stays in use: it stands beside the open item.",
        "reported_by": "Leave blank when it was you.",
        "how": "How the report came in.",
    },
    "FaultSettledForm": {
        "outcome": "Such as a towel in the door: so that the next one asks for it first.",
        "settled_by": "Leave blank when it was you.",
    },
    "VisitAgreedForm": {
        "visit_on": "The day on which somebody comes; it may lie ahead.",
        "hour": "Such as 09:30, or before the first patient. Leave blank where none was agreed.",
        "agreed_with": "By name: who was told can be asked later. “Name not given” where it was not.",
        "how": "On the telephone, by message or on site.",
        "reason": "The clinic had another day: why it is another one now.",
    },
    "VisitCalledOffForm": {
        "reason": "What was to be done stays owed; this says why nobody comes on that day.",
        "told_to": "By name, so that nobody waits at a door.",
        "how": "On the telephone, by message or on site.",
    },
    "InspectionPointForm": {
        "unit": "Leave it at the whole place unless the point is about one unit.",
        "due_on": "The last day on which it is in time; from the next day on it shows as overdue.",
        "citation": "Number and section, as they said or wrote it, so that it can be looked up.",
        "paper": "So that the page can be laid beside this entry.",
    },
    "PointMetForm": {
        "outcome": "So that the next inspector can see that it was put right.",
        "document": "Put it on file first, then it can be named here.",
    },
    "AcceptForm": {
        "side": "The clinic or company for which you accept.",
        "effective_on": "The first day on which it holds.",
    },
    "InviteForm": {"role": "It decides what the person may see and record."},
    "EndForm": {"effective_on": "From this day on nothing new can be seen or recorded; what was recorded stays."},
    "CounterForm": {
        "shown": "As the display shows it.",
        "offset_reason": "Needed when something is added, such as a new board.",
    },
    "LocalDutyForm": {
        "duty": "What the clinic asks of itself beside the rules.",
        "every": "It is due beside what the rules ask, never instead of it.",
        "effective_on": "The first day on which it holds.",
    },
    "PartForm": {"number": _AS_PRINTED},
    "PartLotForm": {
        "part": "The kind of part that was received.",
        "receipt_lot": "Your own number for this receipt: it is what a part without a printed lot is traced by.",
    },
    "PlaceForm": {
        "room": "So that somebody from outside finds it.",
        "use": "Nothing is due of a unit stored as a spare; tests come first when it returns to use.",
        "effective_on": "The first day on which it stands there.",
    },
    "PlanLineForm": {
        "title": "As it stands in the maker’s instructions.",
        "months": COUNTED_FROM + " Of months, cycles and hours what comes first.",
        "cycles": "By the counter of the unit; the day is projected from its readings.",
        "hours": "By the counter of the unit; the day is projected from its readings.",
        "lead_days": "From then on it can be planned.",
        "grace_days": "Only where the instructions allow it.",
        "edition": "Which edition of the document: instructions change.",
        "repair_class": "How deep the work goes: it decides which tests are asked before the unit returns.",
        "effective_on": "Before this day the earlier line of the same code holds.",
        "retired": "The line and what was done by it stay on record.",
    },
    "CorrectionForm": {"reason": "Who reads both versions should understand it: what was wrong, and how you know."},
    "VoidForm": {"reason": "Who reads it should understand it: why it did not happen."},
}

# What its label says in full. No help is better than one that repeats the label.
SELF_EVIDENT = frozenset({
    "action", "counter", "decision", "done", "held_cassettes", "held_pouches", "historic", "instrument",
    "outcome", "paper", "quantity", "result", "seen", "unit",
})  # fmt: skip


def of(form: type, field: str) -> str:
    """The help of a field: that of the form or of one it is made from, else that of the field; "" for none.

    Only for forms of `records.forms`: a page that leads step by step says itself what it asks.
    """
    if not form.__module__.startswith("records.forms"):
        return ""
    for each in form.__mro__:
        told = _OF_FORM.get(each.__name__, {})
        if field in told:
            return told[field]
    return _OF_FIELD.get(field, "")


# Fields that some entries must have, and whose help does not say so.
_DEMANDED = {
    "OutcomeRow": {"deferred_until", "decided_by"},
    "FindingRow": {"part_needed"},
    "PartRow": {"lot", "receipt_lot", "kit"},
    "ReadingRow": {"limit_source", "as_found"},
    "UserCheckForm": {"unit_of_measure"},
    "CredentialForm": {"valid_to"},
}


def demanded_at_times(form: type, field: str, told: str) -> bool:
    """Whether an entry may be refused for the lack of this field, though most need none: it is not "if any"."""
    return told.startswith("Needed") or any(field in _DEMANDED.get(each.__name__, ()) for each in form.__mro__)
