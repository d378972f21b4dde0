"""Every address × every role × own and foreign objects. A new address without a row here fails."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from audit.issue.jobs import queue
from audit.models import BinderJob
from records import clock, inviting, log
from records.models import (
    Agreement,
    BioTest,
    Document,
    Entry,
    FailureCase,
    FittedPart,
    InspectionPoint,
    LoadRelease,
    Membership,
    PlanLine,
)
from tests import world as build
from tests.audit.judge.cycle import logs
from tests.in_turn import ALL
from tests.kept import kept

from .one_of_each import binder_issued

pytestmark = pytest.mark.django_db

OWN_ROLES = ("viewer", "operator", "coordinator", "technician", "dispatcher", "stores")
COMPANY_ROLES = ("technician", "dispatcher", "stores")
STRANGERS = ("other-coordinator", "other-technician", "former-technician", "nobody")
OUTSIDERS = ("viewer", "coordinator", *STRANGERS)

# Which of the clinic's own people and its company's may do what; all others of them get 403.
LOGS = {"operator", "coordinator", "technician", "dispatcher", "stores"}
VISITS = {"coordinator", "technician", "dispatcher"}
MANAGES = {"coordinator", "dispatcher"}
RULES = {"coordinator"}  # what the clinic is judged by is its own matter
PARTS = VISITS | {"stores"}
CORRECTS = {"coordinator", "operator"}
EVERYBODY = set(OWN_ROLES)

# address: (who may open it, what it is about or None, status of an empty POST by who may)
OF_CLINIC = {
    "log-visit": (VISITS, None, 422),
    "log-bio": (LOGS, None, 422),
    "read-bio": (LOGS, "test", 422),
    "log-chemical": (LOGS, None, 422),
    "log-air-removal": (LOGS, None, 422),
    "log-leak": (LOGS, None, 422),
    "log-load": (LOGS, None, 422),
    "log-user-check": (LOGS, None, 422),
    "add-credential": (LOGS, None, 422),
    "add-instrument": (LOGS, None, 422),
    "log-calibration": (LOGS, None, 422),
    "log-part-recall": (LOGS, None, 422),
    "add-indicator-lot": (LOGS, None, 422),
    "log-follow-up": (LOGS, "case", 422),
    "follow-up-done": (LOGS, "step", 422),
    "unit-event": (LOGS, "unit", 422),
    "register-unit": (VISITS, None, 422),
    "log-fit": (VISITS, None, 422),
    "add-document": (LOGS, None, 422),
    "log-closure": (RULES, None, 422),
    "log-gap": (RULES, None, 422),
    "inspections": (EVERYBODY, None, 405),
    "report-fault": (LOGS, "unit", 422),
    "settle-fault": (LOGS, "fault", 422),
    "site-access": (LOGS, None, 302),
    "log-inspection": (LOGS, None, 422),
    "log-inspection-point": (LOGS, "inspection", 422),
    "point-met": (LOGS, "point", 422),
    "correct": (CORRECTS, "fact", 422),
    "void": (CORRECTS, "fact", 422),
    "entries": (EVERYBODY, None, 405),
    "record": (EVERYBODY, "fact", 405),
    "visit": (EVERYBODY, "visit", 405),
    "document": (EVERYBODY, "paper", 405),
    "make-binder": (LOGS, None, 422),
    "make-draft": (EVERYBODY, None, 422),
    "issued-binder": (EVERYBODY, "issue", 405),
    "make-link": (MANAGES, "issue", 422),
    "end-link": (MANAGES, "link", 422),
}
# Pages of judgement only show; they have no form.
JUDGEMENT = {
    "clinic": None,
    "answers": None,
    "unit": "unit",
    "binders": None,
    "binder-job": "job",
    "links": None,
    "sheets": None,
    "take-along": None,
    "clinic-other-rules": None,
}
# The company's own, with what each is about: what an empty POST answers whoever may record for it.
OF_COMPANY = {"company": (None, 405), "company-binders": (None, 422), "company-batch": ("batch", 405)}
OF_COMPANY["take-along-company"] = (None, 405)
OF_COMPANY |= {"stops": (None, 405)}
# Open to whoever holds the address or a file: read in their own tests.
WITHOUT_ACCOUNT = {"inspect", "inspect-binder", "check-binder"}
# The device asks for these whoever is signed in; they tell nothing of anybody but the account itself.
OF_THE_DEVICE = {"service-worker", "offline", "waiting", "waiting-state"}
ELSEWHERE = OF_THE_DEVICE | {"home", "sign-in", "sign-out", "rules", "rules-of", "sheets-file"} | WITHOUT_ACCOUNT
# For anybody signed in: tests/audit/pages/test_rules_chosen.py.
ELSEWHERE |= {"choose-rules", "compare-rules"}

# The file of a draft that was made: tests/audit/pages/test_drafts.py.
ELSEWHERE |= {"draft-file"}

# All of a company look at its day, its dispatcher sets it: tests/audit/pages/test_stops_agreed.py.
ELSEWHERE |= {"company-day"}

# Each takes the name of a list: tests/audit/pages/test_lists.py.
ELSEWHERE |= {"clinic-list", "clinic-list-file", "company-list", "company-list-file"}

# It takes a form only, and sends mail: tests/audit/pages/test_after_visit.py.
ELSEWHERE |= {"visit-mail"}

# What is owed and the stops of a company are planned by its technicians and dispatchers, a stop exists for its own
# company alone: tests/audit/pages/test_work.py.
ELSEWHERE |= {"work", "stop", "order-stop", "agree-stop", "call-off-visit", "stops-sheets"}

# Each person's own: read in their own tests.
ELSEWHERE |= {"my-calendar", "calendar-file", "my-mail", "search", "preferences"}

# A decision on a load is signed by who is named; everybody of the clinic and its company may look.
OF_CLINIC |= {"sign": (EVERYBODY, "decision", 422)}

# Set up once and changed seldom; people and agreements; the company's round.
OF_CLINIC |= {
    "add-plan-line": (VISITS, "unit", 422),
    "change-plan-line": (VISITS, "plan line", 422),
    "add-program": (VISITS, "unit", 422),
    "place-unit": (VISITS, "unit", 422),
    "hand-over-unit": (MANAGES, "unit", 422),
    "log-counter": (LOGS, "unit", 422),
    "log-local-duty": (RULES, None, 422),
    "log-terms": (RULES, None, 422),
    "clinic-written": (MANAGES, None, 422),
    "add-part": (PARTS, None, 422),
    "add-part-lot": (PARTS, None, 422),
    "clinic-invite": ({"coordinator"}, None, 422),
    "clinic-offer": ({"coordinator"}, None, 422),
    "clinic-sign-ins": ({"coordinator"}, None, 405),
    "clinic-end-membership": ({"coordinator"}, "membership", 422),
    "clinic-end-agreement": ({"coordinator"}, "agreement", 422),
    "clinic-withdraw": ({"coordinator"}, "invitation", 302),
}
JUDGEMENT |= {"set-up": None, "plan": "unit", "clinic-people": None}
OF_COMPANY |= {"round": (None, 405)}
# Only for who belongs to the company itself: who, what it is about, what an empty POST answers.
OF_ITS_PEOPLE = {
    "company-sign-ins": ({"dispatcher"}, None, 405),
    "company-people": (set(COMPANY_ROLES), None, 405),
    "company-invite": ({"dispatcher"}, None, 422),
    "company-offer": ({"dispatcher"}, None, 422),
    "company-end-membership": ({"dispatcher"}, "company membership", 422),
    "company-withdraw": ({"dispatcher"}, "company invitation", 302),
    "company-end-agreement": ({"dispatcher"}, "agreement", 422),
    "open-clinic": ({"dispatcher"}, None, 422),
}
# Parts are the company's own; each of its people enters them.
OF_ITS_PEOPLE |= {
    "stock": (set(COMPANY_ROLES), None, 405),
    "add-stock-place": (set(COMPANY_ROLES), None, 422),
    "add-kind-of-part": (set(COMPANY_ROLES), None, 422),
    "receive-parts": (set(COMPANY_ROLES), None, 422),
    "stock-lot": (set(COMPANY_ROLES), "part lot", 405),
    "correct-lot": (set(COMPANY_ROLES), "part lot", 422),
    "void-lot": (set(COMPANY_ROLES), "part lot", 422),
    "void-move": (set(COMPANY_ROLES), "part move", 422),
    "stock-move": (set(COMPANY_ROLES), "part lot moved", 422),
    "stock-fitted-from": (set(COMPANY_ROLES), "part fitted", 422),
    "part-recalls": (set(COMPANY_ROLES), None, 405),
    "enter-part-recall": (set(COMPANY_ROLES), None, 422),
    "part-recall": (set(COMPANY_ROLES), "recall", 405),
    "recall-told": (set(COMPANY_ROLES), "recall of clinic", 422),
    "recall-letter": (set(COMPANY_ROLES), "recall of clinic", 405),
}
# Kits are parts; templates of units and loaners are looked at by all and made by who records visits.
SERVES = {"technician", "dispatcher"}
OF_ITS_PEOPLE |= {
    "kits": (set(COMPANY_ROLES), None, 405),
    "add-kit": (set(COMPANY_ROLES), None, 422),
    "change-kit": (set(COMPANY_ROLES), "kit", 422),
    "receive-kit": (set(COMPANY_ROLES), "kit", 422),
    "templates": (set(COMPANY_ROLES), None, 405),
    "template": (set(COMPANY_ROLES), "template", 405),
    "add-template": (SERVES, None, 422),
    "amend-template": (SERVES, "template", 422),
    "loaners": (set(COMPANY_ROLES), None, 405),
    "loaner": (set(COMPANY_ROLES), "loaner", 405),
    "add-loaner": (SERVES, None, 422),
    "loaner-back": (SERVES, "loaner", 422),
    "end-loaner": (SERVES, "loaner", 422),
}
OF_CLINIC |= {
    "register-from": (VISITS, "template", 422),
    "take-edition": (VISITS, "unit", 422),
    "lend-loaner": (SERVES, None, 422),
}
WITHOUT_ACCOUNT |= {"invitation", "forgotten", "reset-pass-phrase"}
ELSEWHERE |= {"invitation", "round-parts", "round-sheets"}

# One's own log-in, and the way in: tests/security/.
ELSEWHERE |= {"my-log-in", "change-pass-phrase", "second-factor", "end-sitting", "forgotten", "reset-pass-phrase"}
ELSEWHERE |= {"sign-in-code", "sign-in-second-factor", "recovery-codes"}
ELSEWHERE |= {"passkeys", "make-passkey", "passkey", "passkey-to-add", "passkey-to-sign", "passkey-to-sign-in"}

# Tables brought in: one that is on its way, and rows typed by their kind: tests/audit/pages/brought/.
OF_CLINIC |= {"tables-in": (LOGS, None, 422)}
ELSEWHERE |= {"table-in", "table-columns", "table-aside", "type-rows", "check-row"}

# Everything as one file, and the units of a company as a file: tests/audit/pages/.
ELSEWHERE |= {"everything", "everything-job", "everything-file", "company-units-file"}

# The day at the desk.
OF_CLINIC |= {
    "day-start": (LOGS, "unit", 422),
    "day-read": (LOGS, "test", 422),
    "day-air-removal": (LOGS, "unit", 422),
    "day-leak": (LOGS, "unit", 422),
    "day-checks": (LOGS, "unit", 422),
    "day-chemical": (LOGS, "unit", 422),
    "day-load": (LOGS, "unit", 422),
    "day-release": (LOGS, "load", 422),
    "may-be-used": (EVERYBODY, None, 405),
    "log-advice": (LOGS, "unit", 422),
}
JUDGEMENT |= {"loads": None, "loads-file": None, "loads-book": None}

# The recorded cycles of a load, and their files.
JUDGEMENT |= {"load-cycles": "load", "cycle-file": "recording"}
OF_CLINIC |= {"add-cycles": (LOGS, "load", 422)}
JUDGEMENT |= {"day": None, "response": "case", "response-wall": "case"}

# Scanning and labels; the file of labels and the address on them in their own tests.
OF_CLINIC |= {"clinic-scan": (EVERYBODY, None, 422)}
JUDGEMENT |= {"labels": None}
ELSEWHERE |= {"scan", "labelled-unit", "labels-file"}

# A visit that is being typed exists for nobody but who types it: read in its own tests, as is a photo on record.
OF_CLINIC |= {"visit-begin": (VISITS, None, 422)}
JUDGEMENT |= {"visit-report": "visit"}
ELSEWHERE |= {
    "visit-draft", "visit-throw-away", "visit-record", "draft-photo", "visit-step", "visit-photo", "photo",
    "unbegun-step", "unbegun-record", "unbegun-photo",
}  # fmt: skip


def named_addresses() -> set[str]:
    """Every named address of the site but those of the admin."""

    def names(patterns):
        for pattern in patterns:
            if isinstance(pattern, URLPattern):
                yield pattern.name
            elif pattern.app_name != "admin":
                yield from names(pattern.url_patterns)

    return {name for name in names(get_resolver().url_patterns) if name}


def test_every_address_has_its_row():
    known = set(OF_CLINIC) | set(JUDGEMENT) | set(OF_COMPANY) | set(OF_ITS_PEOPLE) | ELSEWHERE
    assert named_addresses() == known


def _invited(by, organisation, role="viewer"):
    return inviting.invite(by=by, ref=build.key(), organisation=organisation, role=role, name="Somebody")[0].ref


def _objects(clinic, unit, lot, by, visitor) -> dict[str, tuple]:
    """One of each thing that an address can be about, as the address names it."""
    common = {"by": by, "clinic": clinic}
    day = build.TODAY - timedelta(days=2)
    test = log.start_bio_test(
        request_key=build.key(), unit=unit, on=day, lot=lot, control_lot=lot, cycle_type="wrapped", **common
    )
    log.read_bio_test(request_key=build.key(), bio_test=test, test="growth", control="growth", on=day, **common)
    case = FailureCase.objects.get(clinic=clinic)
    step = log.log_follow_up(request_key=build.key(), case=case, action="withdraw", what="tag", on=day, **common)
    paper = log.log_document(
        request_key=build.key(), kind="other", title="Paper", valid_from=day, content=b"x", filename="a.txt", **common
    )
    job = {"unit": unit, "reason": "planned", "contamination": "declared clean"}
    job["conclusion"] = {"conclusion": "released"}
    visit = log.log_visit(by=visitor, request_key=build.key(), clinic=clinic, on=day, jobs=[job])
    issue = binder_issued(None, by=by, clinic=clinic)
    link = log.log_inspector_link(
        by=by, request_key=build.key(), issue=issue, for_whom="An inspector", expires_on=build.TODAY,
        token=f"secret of {clinic.slug}",
    )  # fmt: skip
    load = log.log_load(request_key=build.key(), unit=unit, on=day, cycle_number="1", program="wrapped", **common)
    decided = log.log_load(
        request_key=build.key(), unit=unit, on=day, cycle_number="2", program="wrapped", decision="released",
        reason="all passed", confirmed=("failed-release", "no-results"), **common,
    )  # fmt: skip
    decision = LoadRelease.objects.get(load=decided)
    recording = log.log_recording(
        request_key=build.key(), unit=unit, load=load, said={}, filename="1.csv", **common,
        content=logs.file(head=(*logs.HEAD[:1], "# profile: holding-134", f"# logger: of {clinic.slug}")),
    )  # fmt: skip
    came = log.log_inspection(
        request_key=build.key(), visitor="Iva Inspector", office="Invented Board", on=day,
        points=[{"what": "label the racks"}], **common,
    )  # fmt: skip
    fault = log.report_fault(request_key=build.key(), unit=unit, on=day, what="it hisses", meanwhile="out", **common)
    making = queue.ask(clinic, by, queue.Wish(day, day, day), "form")
    return {
        "inspection": (came.ref,),
        "point": (InspectionPoint.objects.get(inspection=came).ref,),
        "fault": (fault.ref,), "load": (load.ref,), "recording": (recording.ref,),
        "decision": ("loadrelease", decision.ref),
        "test": (test.ref,), "case": (case.ref,), "step": (step.ref,), "unit": (unit.ref,),
        "fact": ("biotest", test.ref), "visit": (visit.ref,), "paper": (paper.ref,),
        "issue": (issue.ref,), "link": (link.ref,), "job": (making.ref,), "plan line": (unit.ref, "replace-seal"),
        "membership": (Membership.objects.filter(organisation=clinic).last().ref,),
        "invitation": (_invited(by, clinic),),
    }  # fmt: skip


LINE = {"code": "wipe", "title": "Wipe it", "action": "clean", "months": 1}


def _parts(company, by, world) -> dict[str, tuple]:
    """One of each thing of a company's parts, with a recall of the lot and a clinic it serves."""
    who = {"by": by, "owner": company}
    store = log.log_stock_place(**who, request_key=build.key(), name="Store", kind="store")
    van = log.log_stock_place(**who, request_key=build.key(), name="Van 1", kind="van", keeper=by.full_name)
    part = log.log_part(**who, request_key=build.key(), name="Invented gasket", component="gasket", number="G-7")
    lot = log.log_part_lot(
        **who, request_key=build.key(), part=part, receipt_lot="K-1", lot="L-77", on=build.TODAY - timedelta(days=9),
        quantity=4, place=store,
    )  # fmt: skip
    move = log.log_stock_move(
        **who, request_key=build.key(), lot=lot, kind="moved", quantity=3, place=store, to_place=van, on=build.TODAY
    )
    mine = company == world.company
    clinic, unit = (world.clinic, world.unit) if mine else (world.other_clinic, world.other_unit)
    fitted = {"part_lot": lot, "action": "replaced on condition", "old_part": "scrapped"}
    job = {"unit": unit, "reason": "breakdown", "contamination": "declared clean", "parts": [fitted]}
    job["conclusion"] = {"conclusion": "released"}
    log.log_visit(by=by, request_key=build.key(), clinic=clinic, on=build.TODAY, jobs=[job])
    recall = log.log_part_recall(
        **who, request_key=build.key(), part="Invented gasket", number="G-7", lot="L-77", on=build.TODAY,
        issued_by="Invented Works", reason="too soft", action="replace",
    )  # fmt: skip
    kit = log.log_kit(**who, request_key=build.key(), name="Kit", components=[(part, 2)])
    template = log.log_template(
        **who, request_key=build.key(), name="Nine", maker="Invented Works", model="Cassette Nine", plan=[LINE],
        equipment_type="cassette", chamber_litres=Decimal(9), source="Invented manual",
    )  # fmt: skip
    lends = log.log_pool_unit(
        **who, request_key=build.key(), label="L-1", serial=f"INV-{company.slug}", place=store, on=build.TODAY,
        template=template,
    )  # fmt: skip
    log.lend_unit(**who, request_key=build.key(), pool_unit=lends, clinic=clinic, on=build.TODAY, room="Cellar")
    return {
        "kit": (kit.ref,), "template": (template.ref,), "loaner": (lends.ref,),
        "part lot": (lot.ref,), "part lot moved": (lot.ref, "counted"), "part move": (move.ref,),
        "part fitted": (lot.ref, FittedPart.objects.get(part_lot=lot).ref), "recall": (recall.ref,),
        "recall of clinic": (recall.ref, clinic.slug),
    }  # fmt: skip


@kept(folder="BLOBS_DIR")
def walked():
    """The world with its strangers, and one of each thing at both clinics. No worker may be about."""
    with clock.at(build.NOW):
        world = build.make()
        people = world.people
        people["former-dispatcher"] = build.account("former-dispatcher", "Fay", "Former")
        former = log.open_company(
            by=people["former-dispatcher"], request_key=build.key(), slug="former", name="Former",
            effective_on=build.BEGIN,
        )  # fmt: skip
        for name, company, chief in (
            ("other-technician", world.other_company, "other-dispatcher"),
            ("former-technician", former, "former-dispatcher"),
        ):
            people[name] = build.account(name, "Tim", name.title())
            log.log_membership(
                by=people[chief], request_key=build.key(), organisation=company, account=people[name],
                role="technician", effective_on=build.BEGIN,
            )  # fmt: skip
        ana, olu = people["coordinator"], people["other-coordinator"]
        agreement = log.log_agreement(
            by=ana, request_key=build.key(), clinic=world.clinic, company=former, effective_on=build.BEGIN
        )
        job = {"unit": world.unit, "reason": "planned", "contamination": "declared clean"}
        job["conclusion"] = {"conclusion": "released"}
        world.former_visit = log.log_visit(
            by=people["former-technician"], request_key=build.key(), clinic=world.clinic,
            on=date(2026, 2, 2), jobs=[job],
        )  # fmt: skip
        log.end_agreement(
            by=ana, request_key=build.key(), agreement=agreement, effective_on=date(2026, 3, 1), reason="ended"
        )
        lot = log.log_indicator_lot(
            by=olu, request_key=build.key(), clinic=world.other_clinic, kind="biological", name="Invented",
            lot="Z", on=build.BEGIN, incubation_hours=24,
        )  # fmt: skip
        world.mine = _objects(world.clinic, world.unit, world.lot, ana, people["technician"])
        world.theirs = _objects(world.other_clinic, world.other_unit, lot, olu, olu)
        theirs = log.log_agreement(
            by=olu, request_key=build.key(), clinic=world.other_clinic, company=world.other_company,
            effective_on=build.BEGIN,
        )  # fmt: skip
        world.theirs["agreement"] = (theirs.ref,)
        world.mine["agreement"] = (Agreement.objects.get(clinic=world.clinic, company=world.company).ref,)
        for things, company, chief in (
            (world.mine, world.company, "dispatcher"),
            (world.theirs, world.other_company, "other-dispatcher"),
        ):
            wishes = [(world.clinic, queue.Wish(build.BEGIN, build.TODAY, build.TODAY))]
            things["company membership"] = (Membership.objects.filter(organisation=company).last().ref,)
            things["company invitation"] = (_invited(people[chief], company, "technician"),)
            things |= _parts(company, people[chief], world)
            things["batch"] = (queue.ask_all(wishes, people[chief], "form", company=company),)
        line = PlanLine.objects.get(unit=world.unit, code="replace-seal")
        log.log_plan_line(
            by=ana, request_key=build.key(), clinic=world.clinic, unit=world.unit, effective_on=build.BEGIN,
            position=line.position, code=line.code, title=line.title, action="replace", months=14, source="Invented",
        )  # fmt: skip
        world.today_week = "2026-03-16"
    return world


@pytest.fixture
def walk(settings, tmp_path):
    settings.BLOBS_DIR, settings.BINDER_WORKER = tmp_path / "blobs", "none"
    with clock.at(build.NOW):
        yield walked()


def _as(world, role, csrf=False) -> Client:
    client = Client(enforce_csrf_checks=csrf)
    if role != "anonymous":
        client.force_login(world.people[role])
    return client


def _args(world, about, foreign=False):
    things = world.theirs if foreign else world.mine
    return things[about] if about else ()


def _turn(roles: tuple[str, ...], number: int) -> list[str]:
    """Of those who all get the same refusal everywhere, the two whose turn it is at the address with that number.

    So each of them asks at many addresses, and each address is asked for. STANDING_TESTS=all takes all of them.
    """
    if ALL:
        return list(roles)
    return [roles[(number + n) % len(roles)] for n in (0, len(roles) // 2)]


def _wrong(world, expected) -> list[str]:
    """Of (role, method, address, status) those that answered otherwise, as sentences."""
    found = []
    clients = {}
    for role, method, address, status in expected:
        if role not in clients:
            clients[role] = _as(world, role)
        answer = getattr(clients[role], method)(address)
        if answer.status_code != status:
            found.append(f"{role} {method} {address}: {answer.status_code}, not {status}")
    return found


def test_own_people_open_what_their_role_allows(walk):
    slug = walk.clinic.slug
    expected = []
    for name, (who, about, post) in OF_CLINIC.items():
        address = reverse(name, args=[slug, *_args(walk, about)])
        for role in OWN_ROLES:
            may = role in who
            expected += [(role, "get", address, 200 if may else 403), (role, "post", address, post if may else 403)]
    before = Entry.objects.count()
    assert _wrong(walk, expected) == []
    assert Entry.objects.count() == before


def test_things_of_another_clinic_do_not_exist(walk):
    """Under the own clinic's address too: 404, or 403 for who may not do it anyway; never a hint."""
    expected = []
    for number, (name, (who, about, post)) in enumerate(OF_CLINIC.items()):
        own = reverse(name, args=[walk.clinic.slug, *_args(walk, about, foreign=True)]) if about else ""
        foreign = reverse(name, args=[walk.other_clinic.slug, *_args(walk, about, foreign=True)])
        for role in _turn(OWN_ROLES, number):
            for method in ("get", "post"):
                expected.append((role, method, foreign, 404))
                if own:
                    # Who may correct is asked of the fact, so the fact is looked for first.
                    hidden = role in who or name in ("correct", "void")
                    status = 405 if (method, post) == ("post", 405) else 404 if hidden else 403
                    expected.append((role, method, own, status))
    before = Entry.objects.count()
    assert _wrong(walk, expected) == []
    assert Entry.objects.count() == before


def test_strangers_find_nothing_and_the_anonymous_are_asked_to_sign_in(walk):
    expected = []
    for number, (name, (_, about, post)) in enumerate(OF_CLINIC.items()):
        address = reverse(name, args=[walk.clinic.slug, *_args(walk, about)])
        for method in ("get", "post"):
            for role in _turn(STRANGERS, number):
                # Who logged something here keeps sight of that, so the page is there, but takes nothing.
                shown = role == "former-technician" and about and (method, post) == ("post", 405)
                expected.append((role, method, address, 405 if shown else 404))
            expected.append(("anonymous", method, address, 302))
    before = Entry.objects.count()
    assert _wrong(walk, expected) == []
    assert Entry.objects.count() == before


def test_after_the_agreement_a_company_sees_only_what_it_logged_itself(walk):
    slug, visit = walk.clinic.slug, walk.former_visit
    fact = ("visit", visit.ref)
    opens = [("visit", (visit.ref,)), ("record", fact), ("correct", fact), ("void", fact)]
    expected = [("former-technician", "get", reverse(n, args=[slug, *args]), 200) for n, args in opens]
    expected += [("other-technician", "get", reverse(n, args=[slug, *args]), 404) for n, args in opens]
    assert _wrong(walk, expected) == []


def test_pages_of_judgement_and_the_site(walk):
    expected = []
    for number, (name, about) in enumerate(JUDGEMENT.items()):
        own = reverse(name, args=[walk.clinic.slug, *_args(walk, about)])
        foreign = reverse(name, args=[walk.other_clinic.slug, *_args(walk, about, foreign=True)])
        expected += [(role, "get", own, 200) for role in OWN_ROLES]
        expected += [(role, "get", foreign, 404) for role in _turn(OWN_ROLES, number)]
        expected += [(role, "get", own, 404) for role in _turn(STRANGERS, number)]
        expected.append(("anonymous", "get", own, 302))
        if about:
            mixed = reverse(name, args=[walk.clinic.slug, *_args(walk, about, foreign=True)])
            expected += [(role, "get", mixed, 404) for role in _turn(OWN_ROLES, number)]
    expected += _of_sheets(walk)
    expected += [("anonymous", "get", reverse("sign-in"), 200), ("anonymous", "get", reverse("home"), 302)]
    expected += [("nobody", "get", reverse("home"), 200), ("viewer", "get", reverse("sign-out"), 405)]
    assert _wrong(walk, expected) == []


def _of_sheets(walk):
    """The sheets are files: whose unit is asked for stands in the query."""
    own, foreign = (reverse("sheets-file", args=[c.slug, "day"]) for c in (walk.clinic, walk.other_clinic))
    mine, theirs = (f"?unit={things['unit'][0]}" for things in (walk.mine, walk.theirs))
    yield from ((role, "get", own + mine, 200) for role in OWN_ROLES)
    yield from ((role, "get", own + theirs, 404) for role in OWN_ROLES)
    yield from ((role, "get", foreign + theirs, 404) for role in OWN_ROLES)
    yield from ((role, "get", own + mine, 404) for role in STRANGERS)
    yield ("anonymous", "get", own + mine, 302)


def test_pages_of_a_company_are_for_its_own_people(walk):
    expected = []
    for number, (name, (about, post)) in enumerate(OF_COMPANY.items()):
        own = reverse(name, args=[walk.company.slug, *_args(walk, about)])
        foreign = reverse(name, args=[walk.other_company.slug, *_args(walk, about, foreign=True)])
        for method, status in (("get", 200), ("post", post)):
            expected += [(role, method, own, status) for role in COMPANY_ROLES]
            # What is not about one thing says that it takes nothing before it says whose it is.
            hidden = 405 if (method, post) == ("post", 405) else 404
            expected += [(role, method, own, hidden) for role in _turn(OUTSIDERS, number)]
            expected += [(role, method, foreign, hidden) for role in _turn(OWN_ROLES, number)]
            expected.append(("anonymous", method, own, 302))
        if about:
            mixed = reverse(name, args=[walk.company.slug, *_args(walk, about, foreign=True)])
            expected += [(role, "get", mixed, 404) for role in _turn(COMPANY_ROLES, number)]
    before = BinderJob.objects.count()
    assert _wrong(walk, expected) == []
    assert BinderJob.objects.count() == before


def test_people_of_a_company_are_for_its_own_and_managed_by_its_dispatcher(walk):
    expected = []
    for number, (name, (who, about, post)) in enumerate(OF_ITS_PEOPLE.items()):
        own = reverse(name, args=[walk.company.slug, *_args(walk, about)])
        foreign = reverse(name, args=[walk.other_company.slug, *_args(walk, about, foreign=True)])
        for method, status in (("get", 200), ("post", post)):
            expected += [(role, method, own, status if role in who else 403) for role in COMPANY_ROLES]
            expected += [(role, method, own, 404) for role in _turn(OUTSIDERS, number)]
            expected += [(role, method, foreign, 404) for role in _turn(OWN_ROLES, number)]
            expected.append(("anonymous", method, own, 302))
        if about:
            mixed = reverse(name, args=[walk.company.slug, *_args(walk, about, foreign=True)])
            expected += [(role, "get", mixed, 404 if role in who else 403) for role in COMPANY_ROLES]
    before = Entry.objects.count()
    assert _wrong(walk, expected) == []
    assert Entry.objects.count() == before


def test_a_week_of_the_round_is_for_the_company_s_own_people(walk):
    week, expected = walk.today_week, []
    for name, query in (("round-parts", ""), ("round-sheets", f"?clinic={walk.clinic.slug}")):
        own = reverse(name, args=[walk.company.slug, week]) + query
        foreign = reverse(name, args=[walk.other_company.slug, week]) + query
        expected += [(role, "get", own, 200) for role in COMPANY_ROLES]
        expected += [(role, "get", own, 404) for role in OUTSIDERS]
        expected += [(role, "get", foreign, 404) for role in OWN_ROLES]
        expected += [("anonymous", "get", own, 302), ("dispatcher", "post", own, 405)]
    foreign_clinic = reverse("round-sheets", args=[walk.company.slug, week]) + f"?clinic={walk.other_clinic.slug}"
    expected += [("dispatcher", "get", foreign_clinic, 404)]
    assert _wrong(walk, expected) == []


def test_nothing_is_taken_without_the_token_of_the_form(walk):
    client = _as(walk, "coordinator", csrf=True)
    for name, (_, about, _) in OF_CLINIC.items():
        address = reverse(name, args=[walk.clinic.slug, *_args(walk, about)])
        assert client.post(address).status_code == 403, name
    client = _as(walk, "dispatcher", csrf=True)
    assert client.post(reverse("company-binders", args=[walk.company.slug])).status_code == 403


def test_unknown_kinds_of_record_do_not_exist(walk):
    client = _as(walk, "coordinator")
    for kind in ("account", "entry", "nonsense", "personTEXT"):
        address = reverse("record", args=[walk.clinic.slug, kind, BioTest.objects.first().ref])
        assert client.get(address).status_code == 404, kind


def test_facts_can_only_be_looked_at_in_the_admin(walk):
    boss = walk.people["coordinator"]
    boss.is_staff = boss.is_superuser = True
    boss.save()
    client = _as(walk, "coordinator")
    test, paper = BioTest.objects.first(), Document.objects.first()
    for row in (test, paper, test.entry):
        model = row._meta.model_name
        assert client.get(reverse(f"admin:records_{model}_changelist")).status_code == 200
        assert client.get(reverse(f"admin:records_{model}_add")).status_code == 403
        assert client.post(reverse(f"admin:records_{model}_change", args=[row.pk]), {}).status_code == 403
        assert client.post(reverse(f"admin:records_{model}_delete", args=[row.pk])).status_code == 403
    assert client.get(reverse("admin:records_account_change", args=[boss.pk])).status_code == 200
