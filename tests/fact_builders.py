"""Short constructors for facts: everything that a test does not name gets a plain value. Days may be ISO text."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import count

from audit import facts as f
from records.wording import MAKE_SAFE

_numbers = count(1)
MADE_SAFE = tuple(f"{step}: done" for step in MAKE_SAFE)
CONTROL = "same"


def on(day: date | str) -> date:
    return date.fromisoformat(day) if isinstance(day, str) else day


def row(day: date | str = "2025-01-01", *, at: str = "", ref: str = "", number: int | None = None) -> f.Row:
    number = next(_numbers) if number is None else number
    ref = ref or f"row-{number}"
    day = on(day)
    moment = datetime.fromisoformat(f"{day}T{at}+00:00") if at else None
    logged = datetime(day.year, day.month, day.day, 23, tzinfo=UTC)
    return f.Row(ref, ref, number, 0, day, moment, logged)


def terms(regime="us-dental-cdc-2003", day="2020-01-01", week_start=0) -> f.TermsFact:
    where = ("Example Clinic (invented)", "dental", "1 Example Street", "America/New_York")
    return f.TermsFact(row(day), on(day), *where, week_start, regime)


def clinic(*units: f.UnitFacts, regime="us-dental-cdc-2003", **more) -> f.ClinicFacts:
    more.setdefault("terms", (terms(regime),))
    return f.ClinicFacts(ref="clinic", slug="example", units=units, **more)


def unit(day="2024-01-01", *, type="gravity", ref="unit-1", **more) -> f.UnitFacts:
    what = ("1", "S-1", "Invented Maker", "Model One", type, Decimal("18.0"), "")
    return f.UnitFacts(row(day, ref=ref), *what, **more)


def installed(day, kind="installed", reason="", by="") -> f.UnitEventFact:
    return f.UnitEventFact(row(day), kind, reason, by)


event = installed


def lot(name="L1", expiry="2030-12-31", hours=24) -> f.LotFact:
    expiry = on(expiry) if expiry else None
    kind = ("biological", "Invented indicator", name)
    return f.LotFact(f"lot-{name}", *kind, expiry, hours, Decimal("55"), Decimal("60"))


def look(
    day, test="no growth", control="growth", hours="24", heat="57", known="", at="", report=""
) -> f.BioReadingFact:
    return f.BioReadingFact(
        row(day, at=at),
        test,
        control,
        on(known or day),
        None,
        None if hours is None else Decimal(hours),
        None if heat is None else Decimal(heat),
        "A. Reader",
        report,
    )


def bio(
    day,
    *readings: f.BioReadingFact,
    result="",
    known="",
    control=CONTROL,
    lot_=None,
    cycle_type="wrapped",
    chamber="full",
    purpose="routine",
    site="clinic",
    mechanical="pass",
    chemical="pass",
    cycle="",
    implant=False,
    ref="",
    at="",
    place="",
) -> f.BioTestFact:
    """`result` pass, growth, invalid or "" (awaited) adds a reading, known on `known` or the next day."""
    held = lot_ or lot()
    known = known or date.fromordinal(on(day).toordinal() + 1)
    if result:
        test, grown = {"pass": ("no growth", "growth"), "growth": ("growth",) * 2, "invalid": ("no growth",) * 2}[
            result
        ]
        readings = (look(known, test, grown),)
    held_control = held if control == CONTROL else control
    return f.BioTestFact(
        row(day, ref=ref, at=at),
        cycle,
        cycle_type,
        chamber,
        purpose,
        site,
        held,
        held_control,
        implant,
        mechanical,
        chemical,
        "A. Runner",
        tuple(readings),
        place,
    )


def air(day, result="pass", *, at="", purpose="", cycle="") -> f.AirRemovalFact:
    return f.AirRemovalFact(row(day, at=at), result, cycle, "empty", "AR1", purpose)


def leak(day, result="pass", *, at="", purpose="") -> f.LeakFact:
    rate = Decimal("0.05") if result == "pass" else Decimal("0.20")
    told = ("invented instructions", result, f"{rate} kPa/min", purpose)
    return f.LeakFact(row(day, at=at), rate, Decimal("0.13"), *told)


def load(
    day,
    cycle="",
    implant=False,
    at="",
    *,
    program="wrapped",
    minutes=None,
    mechanical="",
    chemical="",
    released="released",
) -> f.LoadFact:
    spent = None if minutes is None else Decimal(minutes)
    return f.LoadFact(row(day, at=at), cycle, program, "3 packs", implant, released, mechanical, chemical, spent)


def recording(
    of: f.LoadFact, verdict="met", *, held="200", least="135", day="", profile="holding-134", **said
) -> f.CycleRecordingFact:
    """A recorded cycle of the load, which names it as the load does; `day` where the file says another one."""
    told = {"serial": "S-1", "cycle_number": of.cycle_number, "program": of.program, "started": "", "logger": ""}
    return f.CycleRecordingFact(
        row(day or of.row.happened_on), load=of.row.origin, how="upload", filename="cycle.csv", sha256="0" * 64,
        profile=profile, verdict=verdict, words="invented words", held_seconds=Decimal(held) if held else None,
        least_temperature=Decimal(least) if least else None, **(told | said),
    )  # fmt: skip


def user_check(
    day,
    kind="automatic control",
    result="pass",
    *,
    value=None,
    unit="",
    cycle="",
    cycle_type="",
    signed="A. User",
    at="",
) -> f.UserCheckFact:
    value = None if value is None else Decimal(value)
    return f.UserCheckFact(row(day, at=at), kind, result, value, unit, cycle, cycle_type, signed, "")


def credential(first, last=None, *, person="A. User", holder="clinic", kind="training", day=None) -> f.CredentialFact:
    return f.CredentialFact(row(day or first), person, holder, kind, kind, on(first), on(last) if last else None)


def calibration(day, result="in tolerance", until="2030-01-01", as_found="") -> f.CalibrationFact:
    return f.CalibrationFact(row(day), f"certificate of {day}", result, as_found, on(until))


def instrument(*calibrations, name="thermometer T1", day="2020-01-01", holder="service company") -> f.InstrumentFact:
    return f.InstrumentFact(row(day), name, "thermometer", "T-1", holder, tuple(calibrations))


def part_recall(day, lot="P1", number="N-1", *, part="seal", first=None, last=None, action="replace"):
    days = (on(first) if first else None, on(last) if last else None)
    return f.PartRecallFact(row(day), part, number, lot, *days, "Invented Parts", "too soft", action)


def position(code="seal", day="2024-01-01") -> f.PositionFact:
    return f.PositionFact(row(day, ref=f"pos-{code}"), code, code.replace("-", " "), code)


def fit(code="seal", state="yes", day="2024-01-01") -> f.FitFact:
    return f.FitFact(row(day), f"pos-{code}", state, on(day), "")


def line(
    code="replace-seal",
    position="seal",
    action="replace",
    months=24,
    cycles=None,
    hours=None,
    lead=30,
    grace=0,
    day="2024-01-01",
    repair_class="A",
    retired=False,
) -> f.PlanLineFact:
    place = f"pos-{position}" if position else ""
    words = ("invented maintenance plan", "1", "", repair_class)
    title = code.replace("-", " ")
    limits = (months, cycles, hours, lead, grace)
    return f.PlanLineFact(row(day), code, place, title, action, *limits, *words, on(day), retired)


def outcome(day, plan_line="replace-seal", position="seal", action="replace", what="done", until=None, by="", why=""):
    place = f"pos-{position}" if position else ""
    until = on(until) if until else None
    return f.OutcomeFact(row(day), plan_line, place, action, what, "", why, until, by, "")


def part(
    day, position="seal", action="replaced on plan", name="seal", lot="P1", state="printed", expiry=None, quantity=1
):
    what = (f"pos-{position}" if position else "", name, "N-1", lot, state, "R1")
    return f.PartFact(row(day), *what, on(expiry) if expiry else None, quantity, action, "scrapped", "")


def seen(day, position="seal", grade=1, decision="leave", repair_class="A", component=None) -> f.FindingFact:
    place, name = (f"pos-{position}" if position else ""), position if component is None else component
    return f.FindingFact(row(day), place, name, grade, "as seen", decision, "", "", repair_class)


CYCLE = "134.2 to 135.1 °C, 3.5 minutes"  # what the function cycle and the calibration check showed


def check(day, code="V1", result="pass", value=None, *, at="", cycle="", **measured) -> f.VerificationFact:
    """A test after work; one that measures a cycle has its value in words, unless `value` says another."""
    value = (CYCLE if code in ("V1", "V4") else "") if value is None else value
    numbers = {name: None if n is None else Decimal(n) for name, n in measured.items()}
    return f.VerificationFact(row(day, at=at), code, result, value, cycle, "", **numbers)


def sign(day, meaning="released") -> f.SignatureFact:
    return f.SignatureFact(row(day), meaning, "A. Signer", "technician", "")


def conclude(day, what="released", limitation=None, acceptor="", deadline=None) -> f.ConclusionFact:
    """A limited release says to what, unless `limitation` says otherwise."""
    if limitation is None:
        limitation = "unwrapped loads only" if what == "limited" else ""
    return f.ConclusionFact(row(day), what, limitation, acceptor, on(deadline) if deadline else None, "")


def job(day, *, tests=("V1",), end="released", reason="planned", class_stated="", signed=True, **more) -> f.JobFact:
    """A job; `tests` are codes that passed, `end` the conclusion ("" for none), `arrived` and `departed` times."""
    more.setdefault("conclusion", conclude(day, end) if end else None)
    if signed:
        more.setdefault("signatures", (sign(day), sign(day, "returned to use")))
    checks = tuple(t if isinstance(t, f.VerificationFact) else check(day, t) for t in tests)
    safe = more.pop("make_safe", MADE_SAFE)
    arrived, departed = (_moment(day, more.pop(name, "")) for name in ("arrived", "departed"))
    why = more.pop("class_reason", "")
    head = ("visit", "Invented Service", "A. Technician", arrived, departed, reason, "", "", safe, class_stated, why)
    return f.JobFact(row(day, at=more.pop("at", "")), *head, tests=checks, **more)


def _moment(day, at: str) -> datetime | None:
    return datetime.fromisoformat(f"{on(day)}T{at}+00:00") if at else None


def counter(day, shown, offset=0, counter="cycles") -> f.CounterFact:
    return f.CounterFact(row(day), counter, Decimal(shown), Decimal(offset), "")


def measured(
    day, left="134.2", lower="134", upper="137", found=None, calibrated="2030-01-01", *, of="temperature", at=""
) -> f.ReadingFact:
    low, high = (None if v is None else Decimal(v) for v in (lower, upper))
    as_found, as_left = (None if v is None else Decimal(v) for v in (found, left))
    values = (as_found, as_left, low, high, "invented instructions", "thermometer T1")
    return f.ReadingFact(row(day, at=at), of, "°C", "drain", *values, on(calibrated) if calibrated else None)


def step(day, action, done=None, due=None, outcome="") -> f.FollowUpFact:
    days = (on(due) if due else None, on(done) if done else None)
    return f.FollowUpFact(row(day), action, action, "clinic", *days, None, "A. Doer" if done else "", outcome)


def case(opened_by, day, *steps, kind="biological") -> f.CaseFact:
    return f.CaseFact(row(day), kind, opened_by, tuple(steps))


def closure(first, last, day=None, unit="") -> f.ClosureFact:
    return f.ClosureFact(row(day or first), unit, on(first), on(last), "holiday")


def gap(first, last, day=None, unit="") -> f.GapFact:
    return f.GapFact(row(day or last), unit, on(first), on(last), "paper log", "lost in a move", "A. Manager")


def placed(day, use="in use") -> f.PlacementFact:
    return f.PlacementFact(row(day), on(day), "room 1", use)


def document(kind, first, last=None, unit="") -> f.DocumentFact:
    return f.DocumentFact(row(first), unit, kind, kind, on(first), on(last) if last else None, "0" * 64, "a.pdf")


def weekly(first, last, gaps=(), **more):
    """One passing test a week from `first` to `last`, but for the days in `gaps`."""
    day, out = on(first).toordinal(), []
    while day <= on(last).toordinal():
        this = date.fromordinal(day)
        if str(this) not in gaps:
            out.append(bio(this, result="pass", **more))
        day += 7
    return tuple(out)
