"""At least one row of every kind of fact, logged through the writers into the small world."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from records import log
from records import models as m
from records.log.submission import submission
from tests import world as build

DAY = build.TODAY - timedelta(days=7)


def log_one_of_each(world, folder) -> None:
    """`folder` takes the bytes of the attached paper."""
    from django.test import override_settings

    _service(world)
    _monitoring(world)
    _organisation(world)
    _books(world)
    with override_settings(BLOBS_DIR=folder):
        log.log_document(
            **_by(world), kind="procedure", title="Invented procedure", valid_from=DAY, on=DAY,
            filename="procedure.txt", content=b"invented",
        )  # fmt: skip
        _binders(world)
        _inspection(world)
        log.log_photo(
            **_by(world),
            unit=world.unit,
            on=DAY,
            caption="the seal",
            content=b"\xff\xd8\xffinvented",
            width=4,
            height=3,
        )
        load = m.Load.objects.order_by("id").last()
        said = {"cycle": "2", "logger": "Invented recorder", "ambient_kpa": "99.8", "profile": "holding-134"}
        said |= {"serial": world.unit.serial, "program": "wrapped"}
        log.log_recording(
            **_by(world), unit=world.unit, load=load, content=b"# cycle 1\n", filename="2.csv", said=said, failed=True
        )
    log.log_advice(
        **_by(world), unit=world.unit, on=DAY, how="telephone", question="May we run it?", answer="In service",
        reason="no reason against use", told="Yes, and test it today.",
    )  # fmt: skip
    _work(world)
    first = m.Load.objects.order_by("id").first()
    log.void(by=world.people["coordinator"], request_key=build.key(), row=first, reason="wrong unit")
    log.erase_name(
        by=world.people["coordinator"], request_key=build.key(), organisation=world.clinic,
        name=m.PersonText.objects.get(value="Gia Gone"), reason="she left and asked for it", asked_by="herself",
    )  # fmt: skip


def _binders(world) -> None:
    issue = binder_issued(world)
    who = {"by": world.people["coordinator"]}
    link = log.log_inspector_link(
        **who, request_key=build.key(), issue=issue, for_whom="Invented Board", expires_on=build.TODAY, token="secret"
    )
    log.log_link_opening(request_key=build.key(), link=link, what="answers", agent="Invented Browser")
    log.end_inspector_link(**who, request_key=build.key(), link=link, reason="the inspection is over")


def _inspection(world) -> None:
    points = [
        {"what": "Write down who loads", "due_on": build.TODAY, "unit": world.unit, "citation": "Invented code 12"},
        {"what": "Hang up the certificate"},
    ]
    log.log_inspection(
        **_by(world), on=DAY, visitor="Iva Inspector", office="Invented Board", occasion="yearly", asked="the loads",
        binder=m.BinderIssue.objects.first(), report=m.Document.objects.first(), points=points,
    )  # fmt: skip
    point = m.InspectionPoint.objects.order_by("line").first()
    done = {"on": build.TODAY, "outcome": "it is written from now on", "document": m.Document.objects.first()}
    log.log_point_met(**_by(world), point=point, **done)


def _work(world) -> None:
    """A fault that took a unit out and was settled, a visit agreed, moved and called off."""
    told = {"what": "it hisses at the door", "reported_by": "Ana Example"}
    fault = log.report_fault(**_by(world), unit=world.unit, on=DAY, meanwhile="out", **told)
    log.settle_fault(**_by(world), fault=fault, on=build.TODAY, outcome="a towel was in the door", settled_by="Ana")
    told = {"on": DAY, "agreed_with": "Rae Reception", "how": "message"}
    visit = {"company": world.company, "visit_on": build.TODAY, "hour": "09:30", "about": "the hissing door"}
    first = log.agree_visit(**_by(world, "technician"), **told, **visit)
    again = visit | {"visit_on": build.TODAY + timedelta(days=1), "instead_of": first, "reason": "patients all day"}
    moved = log.agree_visit(**_by(world, "technician"), **told, **again)
    log.call_off_visit(**_by(world), agreed=moved, on=build.TODAY, reason="it was a towel", told_to="Pat Technician")


def binder_issued(world, role="coordinator", **changes):
    """An issued binder of the week before, without a real file. Settings must name a folder for files."""
    fields = {"by": world.people[role], "clinic": world.clinic} if world else {}
    fields |= {
        "request_key": build.key(), "from_on": DAY, "to_on": build.TODAY, "as_of": build.TODAY, "page": "letter",
        "pages": 12, "body_sha256": "b" * 64, "certificate": "c" * 64, "ledger_number": 1, "content": b"invented",
    }  # fmt: skip
    return log.log_binder_issue(**fields | changes)


def _by(world, role="coordinator"):
    return {"by": world.people[role], "request_key": build.key(), "clinic": world.clinic}


def _service(world) -> None:
    visit = build.seal_replaced(world, DAY)
    job = {
        "unit": world.unit, "reason": "breakdown", "contamination": "not declared",
        "conclusion": {"conclusion": "released"},
        "readings": [
            {
                "quantity": "chamber pressure", "unit_of_measure": "kPa", "as_found": Decimal(301),
                "as_left": Decimal(307), "instrument": "Gauge 1", "calibration_due": date(2027, 1, 1),
                "instrument_left": "Gauge 2", "calibration_due_left": date(2027, 2, 1),
            }
        ],
    }  # fmt: skip
    log.log_visit(
        **_by(world, "technician"), on=DAY + timedelta(days=1), jobs=[job], at=build.NOW - timedelta(hours=150),
        departed_at=build.NOW - timedelta(hours=149),
    )  # fmt: skip
    assert visit.jobs.count() == 1


def _monitoring(world) -> None:
    build.spore_test(world, DAY, test="growth")
    case = m.FailureCase.objects.get()
    on = DAY + timedelta(days=2)
    log.log_follow_up(**_by(world), case=case, action="retest", what="repeat it", on=on, done_on=on, outcome="done")
    strip = log.log_chemical(**_by(world), unit=world.unit, on=DAY, type=5, result="pass")
    who = {"by": world.people["coordinator"], "request_key": build.key()}
    log.correct(**who, row=strip, changes={"type": 6}, reason="misread")
    own = {"unit": world.unit, "on": DAY}
    log.log_air_removal(**_by(world), **own, result="pass", purpose="repeat")
    log.log_leak(
        **_by(world), **own, rise=Decimal("0.5"), unit_of_measure="kPa", minutes=Decimal(10), settling=Decimal(5),
        start_pressure=Decimal("5.5"), start_temperature=Decimal(60), purpose="after repair",
    )  # fmt: skip
    log.log_program(
        **_by(world), unit=world.unit, name="wrapped", effective_on=DAY, source="Invented instructions, section 4",
        exposure_minutes=Decimal("3.5"), temperature_low=Decimal(134), temperature_high=Decimal(138),
        pressure_low=Decimal(200), pressure_high=Decimal(245),
    )  # fmt: skip
    cycle = own | {"program": "wrapped", "mechanical": "pass", "chemical": "pass"}
    held = {"held_packs": 3, "held_pouches": 12, "held_cassettes": 1, "pack_condition": "intact"}
    held |= {"exposure_minutes": Decimal(4), "exposure_temperature": Decimal("134.6")}
    held |= {"exposure_pressure": Decimal("210.5"), "loaded_by": "Lou Loader"}
    log.log_load(**_by(world), **cycle, **held, cycle_number="1", packs="dry", decision="released", reason="ok")
    load = log.log_load(**_by(world), **cycle, cycle_number="2", packs="not recorded")
    log.release_load(**_by(world), load=load, decision="rejected", reason="dropped", on=build.TODAY)
    for kind, name in (("safety check", "Ana Example"), ("air detector", "Gia Gone")):
        log.log_user_check(**_by(world), **own, kind=kind, result="pass", signed_by=name, purpose="installation")
    _out_and_back(world)


def _out_and_back(world) -> None:
    """A withdrawal by hand, weeks before the failed test, and the return that names it."""
    event = {"unit": world.unit, "on": DAY - timedelta(days=20)}
    out = log.log_unit_event(**_by(world), **event, kind="withdrawn", reason="door stiff")
    log.log_unit_event(**_by(world), **event, kind="returned", reason="door mended", ends=out)


def _organisation(world) -> None:
    log.log_local_duty(
        **_by(world), effective_on=DAY, duty="biological-test", every="rolling-days", count=7, source="own rule"
    )
    log.log_closure(**_by(world), from_on=DAY, to_on=DAY, why="holiday")
    log.log_gap(**_by(world), from_on=DAY, to_on=DAY, what="paper log", why="lost in a move")
    viewer = m.Membership.objects.get(person=world.people["viewer"].person)
    who = {"by": world.people["coordinator"], "request_key": build.key()}
    log.end_membership(**who, membership=viewer, effective_on=build.TODAY, reason="left")
    extra = log.log_agreement(**_by(world), company=world.other_company, effective_on=DAY)
    who["request_key"] = build.key()
    log.end_agreement(**who, agreement=extra, effective_on=build.TODAY, reason="not needed")


def _books(world) -> None:
    who = {"by": world.people["dispatcher"], "owner": world.company}
    part = log.log_part(**who, request_key=build.key(), name="Invented seal", component="seal")
    store = log.log_stock_place(**who, request_key=build.key(), name="Store", kind="store")
    van = log.log_stock_place(**who, request_key=build.key(), name="Van 1", kind="van", keeper="Tess Sample")
    lot = log.log_part_lot(
        **who, request_key=build.key(), part=part, receipt_lot="R-1", on=DAY, expiry=date(2027, 1, 1), quantity=4,
        place=store,
    )  # fmt: skip
    log.log_stock_move(
        **who, request_key=build.key(), lot=lot, kind="moved", quantity=2, place=store, to_place=van, on=DAY
    )
    book = {"owner": world.company, "by": world.people["technician"]}
    log.log_credential(
        **book, request_key=build.key(), kind="training", title="Invented course", valid_from=DAY, valid_to=None
    )
    gauge = log.log_instrument(**book, request_key=build.key(), name="Gauge 1", kind="pressure gauge", on=DAY)
    log.log_calibration(
        **book, request_key=build.key(), instrument=gauge, certificate="C-1", result="in tolerance", on=DAY,
        valid_to=date(2027, 1, 1),
    )  # fmt: skip
    kit = log.log_kit(**who, request_key=build.key(), name="Invented kit", components=[(part, 2)])
    template = log.log_template(
        **who, request_key=build.key(), name="Two", maker="Invented Works", model="Cassette Two",
        equipment_type="cassette", chamber_litres=Decimal("2.0"), source="Invented manual", kits=[kit],
        positions=[{"code": "lid", "name": "Lid", "component": "lid"}],
        plan=[{"code": "wipe-lid", "position": "lid", "title": "Wipe it", "action": "clean", "months": 1}],
        parts=[{"part": part, "quantity": 1, "position": "lid"}],
        readings=[{"quantity": "earth", "unit_of_measure": "Ω", "upper": Decimal("0.2"), "limit_source": "Invented"}],
    )  # fmt: skip
    told = {"label": "New", "serial": "INV-N1", "room": "Cellar", "on": DAY, "fits": {"lid": "yes"}}
    log.register_from_template(**_by(world, "technician"), template=template, **told)
    lends = log.log_pool_unit(
        **who, request_key=build.key(), label="L-1", serial="INV-L1", place=store, on=DAY, template=template
    )
    lent = {"pool_unit": lends, "clinic": world.clinic, "on": DAY, "room": "Room 2"}
    loan = log.lend_unit(**who, request_key=build.key(), **lent)
    log.take_back(**who, request_key=build.key(), loan=loan, place=store, on=DAY, contamination="declared clean")
    log.end_pool_unit(**who, request_key=build.key(), pool_unit=lends, reason="sold", on=build.TODAY)
    recall = log.log_part_recall(
        **book, request_key=build.key(), part="Invented seal", lot="R-1", issued_by="Invented Works",
        reason="cracks", action="replace", on=DAY,
    )  # fmt: skip
    log.log_recall_told(
        **book, request_key=build.key(), recall=recall, clinic=world.clinic, told_to="Ana Example", how="letter",
        on=DAY,
    )  # fmt: skip
    with submission(world.company, world.people["dispatcher"], build.key(), "unit model", {}) as s:
        s.add(
            m.UnitModel(
                owner=world.company.organisation_ptr, maker="Invented Works", name="Cassette Two",
                equipment_type="cassette", chamber_litres=Decimal("2.0"), happened_on=DAY,
            )
        )  # fmt: skip
