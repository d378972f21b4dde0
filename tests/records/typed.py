"""What people type into the pages, for tests to change one thing in it."""

from __future__ import annotations

import html
from datetime import timedelta

from records import log
from records.models import FailureCase
from records.wording import MAKE_SAFE_STEPS
from tests import world as build
from tests.records.page_form import form_of


def text_of(response) -> str:
    return html.unescape(response.content.decode())


def typed_bio(at, world, /, **changes):
    data = form_of(at.open("log-bio"))
    lot = str(world.lot.ref)
    typed = {"unit": str(world.unit.ref), "lot": lot, "control_lot": lot, "cycle_type": "wrapped"}
    typed |= {"mechanical": "pass", "chemical": "pass", "cycle_number": "C-4711"}
    return data | typed | changes


def typed_visit(at, world, /, **changes):
    """A visit to one unit, filled in as far as it must be."""
    data = form_of(at.open("log-visit", query=f"?units={world.unit.ref}"))
    safe = {f"jobs-0-safe-{key.replace(' ', '-')}-done": "done" for key, _, _ in MAKE_SAFE_STEPS}
    return data | safe | {
        "jobs-0-job-reason": "planned", "jobs-0-job-contamination": "declared clean",
        "jobs-0-conclusion-conclusion": "released", "report_number": "R-4711",
    } | changes  # fmt: skip


def ready(at, world, page):
    """Address arguments and data of a form that may be recorded."""
    if page == "log-visit":
        at.sign_in("technician")
        return (), typed_visit(at, world)
    if page == "register-unit":
        plate = {"label": "U9", "maker": "Invented Works", "model": "M", "serial": "S-9", "room": "R",
                 "equipment_type": "gravity", "chamber_litres": "18"}  # fmt: skip
        row = {"positions-0-code": "seal", "positions-0-name": "Seal", "positions-0-component": "seal",
               "positions-0-fit": "yes", "plan-1-code": "replace-seal", "plan-1-title": "Replace the seal",
               "plan-1-position": "seal", "plan-1-action": "replace", "plan-1-months": "24",
               "plan-1-source": "Invented manual"}  # fmt: skip
        return (), form_of(at.open(page)) | plate | row
    if page == "follow-up-done":
        build.spore_test(world, build.TODAY - timedelta(days=3), test="growth")
        case = FailureCase.objects.get()
        step = log.log_follow_up(
            by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, case=case,
            action="withdraw", what="tag it", on=build.TODAY,
        )  # fmt: skip
        return (step.ref,), form_of(at.open(page, step.ref)) | {"outcome": "tagged, see photograph"}
    test = build.spore_test(world, build.TODAY, test="")
    args = ("biotest", test.ref)
    more = {"reason": "typed wrongly"} | ({"row_cycle_number": "C-2"} if page == "correct" else {})
    return args, form_of(at.open(page, *args)) | more
