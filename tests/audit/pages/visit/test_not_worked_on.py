"""A fault typed within a visit that was not worked on: whether the unit may be used meanwhile is asked and recorded.

| came for | may it be used | recorded beside the job |
| --- | --- | --- |
| a breakdown | no | the withdrawal, and the fault with it |
| a breakdown | yes, as before | the fault, kept in use for the reason |
| a breakdown that is reported already | no | the withdrawal |
| a breakdown that is reported already | yes, as before | nothing |
| planned work | no | the withdrawal |
| planned work | yes, as before | nothing |
| anything | no answer | refused |
"""

from __future__ import annotations

import pytest

from audit.gather.kept_facts import kept_facts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from records import log
from records.models import Entry, FaultReport, UnitEvent
from tests import visit_world
from tests import world as made
from tests.audit.pages.visit.test_pages import SAFE, SAME, Phone, words

pytestmark = pytest.mark.django_db
COMPLAINT = "the door hisses"


@pytest.fixture
def phone(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    built = visit_world.added_to(made.make())
    return Phone(built).begin(built.unit)


def ended(phone, reason, meanwhile, **more):
    phone.send("identify", **SAME)
    phone.send("safe", **SAFE | {"reason": reason, "complaint": COMPLAINT if reason == "breakdown" else ""})
    return phone.send("end", conclusion="not worked on", reason="no power", meanwhile=meanwhile, **more)


def reported(phone) -> None:
    common = {"by": phone.built.world.people["coordinator"], "request_key": made.key(), "on": made.TODAY}
    log.report_fault(
        **common, clinic=phone.built.world.clinic, unit=phone.built.unit, what="it hisses", meanwhile="kept",
        kept_because="Ana: it closes", reported_by="Ana",
    )  # fmt: skip


# came for, reported before, answer; withdrawn, a fault recorded by the visit, kept in use because
TABLE = [
    ("breakdown", False, "out", True, True, ""),
    ("breakdown", False, "kept", False, True, "no power"),
    ("breakdown", True, "out", True, False, ""),
    ("breakdown", True, "kept", False, False, ""),
    ("planned", False, "out", True, False, ""),
    ("planned", False, "kept", False, False, ""),
]


@pytest.mark.parametrize(("reason", "before", "answer", "withdrawn", "fault", "kept"), TABLE)
def test_the_answer_is_recorded_in_the_same_entry(phone, reason, before, answer, withdrawn, fault, kept):
    if before:
        reported(phone)
    assert ended(phone, reason, answer).status_code == 302
    answer = phone.record()
    assert answer.status_code == 302, words(answer)
    entry = Entry.objects.filter(what="visit").last()
    out = UnitEvent.objects.filter(entry=entry, kind="withdrawn")
    faults = FaultReport.objects.filter(entry=entry)
    assert (out.exists(), faults.exists()) == (withdrawn, fault)
    if fault:
        row = faults.get()
        assert (row.what, row.how, row.kept_because, row.withdrawal) == (COMPLAINT, "on site", kept, out.first())
        assert str(row.reported_by) == phone.built.world.people["technician"].full_name
    facts = kept_facts(phone.built.world.clinic)
    said = {u.unit: u for u in evaluate(facts, made.TODAY).units}[str(phone.built.unit.origin)]
    assert (said.standing.word is Word.OUT) is withdrawn
    assert any(f.rule == "fault-reported" for f in said.findings) is (reason == "breakdown")


@pytest.mark.parametrize("reason", ["breakdown", "planned"])
def test_no_answer_is_refused_at_the_step(phone, reason):
    answer = ended(phone, reason, "")
    assert answer.status_code == 422 and "When nobody knows, take it out of service" in words(answer)
    assert phone.record().status_code == 422 and not UnitEvent.objects.filter(kind="withdrawn").exists()


def test_recorded_twice_it_is_taken_out_once(phone):
    ended(phone, "breakdown", "out")
    for _ in range(2):
        phone.record()
    assert UnitEvent.objects.filter(kind="withdrawn").count() == 1 == FaultReport.objects.count()


def test_of_a_unit_that_was_worked_on_nothing_is_said_so(phone):
    job = {"unit": phone.built.unit, "reason": "breakdown", "contamination": "declared clean", "meanwhile": "out",
           "conclusion": {"conclusion": "not released", "reason": "part on order"}}  # fmt: skip
    with pytest.raises(log.Refused, match="its conclusion says"):
        log.log_visit(
            by=phone.built.world.people["technician"], request_key=made.key(), clinic=phone.built.world.clinic,
            on=made.TODAY, jobs=[job],
        )  # fmt: skip
