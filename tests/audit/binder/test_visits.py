"""The service of a unit in tables of its own, people by name, and the rules of the period."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.editions import rules_followed
from audit.binder.sections import Beside, Signed, Table
from audit.binder.service import SERVICING_FIELDS
from audit.regimes import all_regimes
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import column, headed, section, table, words
from tests.bench import histories


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


@pytest.fixture(scope="module")
def binder():
    return made(*full.clinic())


def with_job(**changes) -> tuple:
    """The sample with its one job changed."""
    facts, judgement = sample.clinic()
    unit = facts.units[0]
    unit = replace(unit, jobs=(replace(unit.jobs[0], **changes),))
    return replace(facts, units=(unit, facts.units[1])), judgement


# ------------------------------------------------------------------------------------------------ visits


def facts_of(part) -> dict[str, str]:
    """The facts that stand in two columns at the head of a visit."""
    (beside,) = [block for block in part.blocks if isinstance(block, Beside)]
    return {key: spaced(cell.text) for side in (*beside.left, *beside.right) for key, cell in side.pairs}


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_visit_holds_the_six_fields_of_the_rule(binder):
    """21 CFR 820.35(b) (2026): device name; UDI or UPC and other identification; date of service; individuals who
    serviced; service performed; test and inspection data. The method says where each stands.
    """
    visit, page = section(binder, "unit-1-job-1"), section(binder, "unit-1")
    assert "Kassett 6" in page.aside and "SN-ÆØÅ-0091" in page.aside and "(21)0091" in words(page)
    assert spaced(visit.title) == "4 Mar 2026: planned"
    assert facts_of(visit)["By"] == "Tomasz Gładyś, Fjord Sterilizer Service (invented)"
    assert len(headed(visit, "Part").rows) == 8 and len(headed(visit, "Measured").rows) == 2
    assert len(headed(visit, "Test before return to use").rows) == 3
    said = words(section(binder, "method-figures"))
    assert all(field in said for field, _ in SERVICING_FIELDS) and len(SERVICING_FIELDS) == 6


def test_a_visit_says_who_was_qualified_when_what_was_declared_and_how_it_ended(binder):
    visit = section(binder, "unit-1-job-1")
    said = facts_of(visit)
    assert said["On site"] == "09:05 to 12:40 (Europe/Warsaw)" and said["Qualified"] == "Small steam sterilizers"
    assert said["Declared"] == "clinic states: chamber emptied and wiped"
    assert said["Made safe"] == "cooled to room temperature; pressure at zero; unplugged, plug in hand"
    assert said["Work"] == "class routine; why: planned parts of the same kind; at 812 cycles"
    assert visit.aside == "Conclusion: released"


def test_a_step_of_making_safe_that_was_not_done_says_so():
    binder = made(*with_job(make_safe=("cooled: done", "unplugged: not done, no plug")))
    assert facts_of(section(binder, "unit-1-job-1"))["Made safe"] == "cooled; unplugged: not done, no plug"


def test_somebody_whose_credential_did_not_hold_that_day_stands_out():
    facts, judgement = full.clinic()
    gone = tuple(
        replace(c, valid_to=date(2026, 3, 3)) if c.person == "Tomasz Gładyś" else c for c in facts.credentials
    )
    binder = made(replace(facts, credentials=gone), judgement)
    (beside,) = [block for block in section(binder, "unit-1-job-1").blocks if isinstance(block, Beside)]
    qualified = dict(beside.left[0].pairs)["Qualified"]
    assert qualified.text == "none on file that held on this day" and qualified.strong


def test_tasks_condition_and_parts_are_one_table_by_part(binder):
    block = headed(section(binder, "unit-1-job-1"), "Part")
    rows = {row[0].text: [spaced(cell.text) for cell in row[1:4]] for row in block.rows}
    assert rows["cassette seal"] == [
        "old seal hardened at the hinge side\n"
        "hardened, not torn (grade 2 at its limit); decided: replace; rule: replace at grade 2",
        "replaced on plan",
        "XQ-0417 (invented); lot B25-118 (R-0931); usable to 30 Jun 2029; old part: scrapped; kit: two-year kit\n"
        "recalled",
    ]
    assert rows["check valve"] == [
        "renewed five months ago; why: renewed on 12 Jan 2026 after a fault",
        "deferred until 12 Jan 2028",
        "decided by Tomasz Gładyś; agreed by Ilse Brandt",
    ]
    done = {name: told[1] for name, told in rows.items()}
    assert done["compressor intake filter"] == "not applicable"
    assert done["inspect, unplanned"] == "not done" and done["drain-clean"] == "not possible"
    strong = {row[0].text for row in block.rows if row[2].strong}
    assert strong == {"check valve", "inspect, unplanned", "drain-clean"}
    assert all(row[4].text for row in block.rows)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"conclusion": None}, "Conclusion: not concluded by the end of the period"),
        ({"signatures": ()}, "No signature on record."),
    ],
)
def test_a_visit_without_an_end_or_a_signature_says_so(changes, says):
    assert says in words(section(made(*with_job(**changes)), "unit-1-job-1"))


def signed(binder) -> list[tuple[str, tuple[str, ...]]]:
    (block,) = [block for block in section(binder, "unit-1-job-1").blocks if isinstance(block, Signed)]
    return [(title, tuple(map(spaced, lines))) for title, lines in block.statements]


def test_release_and_return_stand_side_by_side_with_how_they_were_given(binder):
    facts, judgement = sample.clinic()
    one, two = facts.units[0].jobs[0].signatures
    by_another = replace(two.row, logged_by="Tomasz Gładyś")
    given = (replace(one, given="signed"), replace(two, given="told", row=by_another))
    told = signed(made(*with_job(signatures=given)))
    assert told == [
        ("Released after work", ("Tomasz Gładyś, technician, 4 Mar 2026", "signed with pass phrase; record 235")),
        ("Returned to use",
         ("Ilse Brandt, responsible person, 4 Mar 2026", "told by Tomasz Gładyś, not signed; record 236")),
    ]  # fmt: skip
    assert [title for title, _ in signed(made(*with_job(signatures=given[:1])))] == [title for title, _ in told]


def test_nobody_there_to_return_it_is_said_in_the_frame_of_the_return():
    released, returned = sample.clinic()[0].units[0].jobs[0].signatures
    nobody = replace(returned, meaning="nobody present", name="", role="", reason="office closed")
    told = signed(made(*with_job(signatures=(released, nobody))))
    assert told[1] == ("Returned to use: nobody present to sign", ("4 Mar 2026", "record 236", "why: office closed"))


@pytest.mark.parametrize(
    ("result", "value", "says", "bold"),
    [
        ("pass", "", "no value entered", ("no value entered",)),
        ("fail", "", "no value entered", ("no value entered",)),
        ("pass", "54 MΩ", "54 MΩ", ()),
        ("not applicable", "", "", ()),
    ],
)
def test_a_test_that_was_run_without_a_value_says_so_in_bold(result, value, says, bold):
    test = f.VerificationFact(full.rows().row(date(2026, 3, 4)), "V5", result, value, "", "")
    (row,) = headed(section(made(*with_job(tests=(test,))), "unit-1-job-1"), "Test before return to use").rows
    assert (spaced(row[2].text), row[2].bold) == (says, bold)


def test_what_was_measured_in_a_test_stands_beside_what_was_asked():
    low, high = Decimal("134.5"), Decimal("135.0")
    test = f.VerificationFact(
        full.rows().row(date(2026, 3, 4)), "V1", "pass", "", "88", "", low, high, None, None, Decimal("3.5"),
        Decimal(134), Decimal(137), Decimal(3),
    )  # fmt: skip
    (row,) = headed(section(made(*with_job(tests=(test,))), "unit-1-job-1"), "Test before return to use").rows
    said = "cycle 88; 134.5 to 135.0 °C (allowed: 134 to 137 °C); 3.5 min (3 min needed)"
    assert spaced(row[2].text) == said and not row[2].bold


@pytest.mark.parametrize(
    ("lower", "upper", "found", "left", "outside"),
    [
        ("134", "137", "134", "137", (False, False)),
        ("134", "137", "133.9", "135", (True, False)),
        ("134", "137", "135", "137.1", (False, True)),
        (None, "0.13", None, "0.13", (False, False)),
        (None, "0.13", None, "0.131", (False, True)),
        (None, None, "1", "99", (False, False)),
    ],
)
def test_a_reading_at_its_limit_is_inside(lower, upper, found, left, outside):
    low, high, first, last = (None if v is None else Decimal(v) for v in (lower, upper, found, left))
    reading = f.ReadingFact(
        full.rows().row(date(2026, 3, 4)), "temperature", "°C", "drain", first, last, low, high, "", "T1", None
    )
    (row,) = headed(section(made(*with_job(readings=(reading,))), "unit-1-job-1"), "Measured").rows
    assert (row[1].strong, row[2].strong) == outside
    assert ("outside" in row[1].text, "outside" in row[2].text) == outside


def test_readings_keep_their_digits_and_say_what_was_not_measured(binder):
    block = headed(section(binder, "unit-1-job-1"), "Measured")
    assert list(map(spaced, column(block, "As found"))) == ["134.6 °C", "not measured"]
    assert list(map(spaced, column(block, "As left"))) == ["134.90 °C", "54 MΩ"]
    assert spaced(column(block, "Allowed")[1]).startswith("at least 2 MΩ")


@pytest.mark.parametrize(
    ("left", "until", "cell"),
    [
        ("", None, "T1, calibration to 1 May 2026"),
        ("G2", date(2026, 3, 4), "as found: T1, calibration to 1 May 2026\nas left: G2, calibration to 4 Mar 2026"),
        ("G2", date(2026, 3, 3),
         "as found: T1, calibration to 1 May 2026\nas left: G2, calibration to 3 Mar 2026\nexpired on that day"),
    ],
)  # fmt: skip
def test_both_instruments_of_a_reading_stand_with_their_calibration(left, until, cell):
    reading = f.ReadingFact(
        full.rows().row(date(2026, 3, 4)), "temperature", "°C", "drain", Decimal("134.1"), Decimal("134.9"), None,
        None, "", "T1", date(2026, 5, 1), instrument_left=left, calibration_due_left=until,
    )  # fmt: skip
    block = headed(section(made(*with_job(readings=(reading,))), "unit-1-job-1"), "Measured")
    assert [spaced(each) for each in column(block, "Instrument")[0].split("\n")] == cell.split("\n")


def test_a_unit_without_visits_has_no_visit_and_nothing_empty(binder):
    assert not any(each.id.startswith("unit-2-job") for each in binder.sections)
    empty = [b.empty for b in section(binder, "unit-2").blocks if isinstance(b, Table) and not b.rows]
    assert empty == ["What is due, and what is fitted: no plan, no duty and no position is on record for this unit."]


# ------------------------------------------------------------------------------------------------ people


def test_people_are_named_with_what_they_did_and_what_is_on_file_of_them(binder):
    block = table(section(binder, "people"), "People named in the records of the period")
    rows = {row[0].text: [spaced(cell.text) for cell in row[1:4]] for row in block.rows}
    assert list(rows) == ["Ida Lund", "Ilse Brandt", "Tomasz Gładyś"]
    assert rows["Ida Lund"] == [
        "51 spore tests read, 58 user checks signed",
        "3 Jun 2025 to 26 May 2026",
        "on file, none that holds on this day",
    ]
    assert rows["Tomasz Gładyś"] == [
        "1 service job, 1 release or return stated", "4 Mar 2026", "Small steam sterilizers, no end stated",
    ]  # fmt: skip


def test_a_name_without_a_credential_says_so():
    block = table(section(made(*sample.clinic()), "people"), "People named in the records of the period")
    assert set(column(block, "Training and licences on the day of the answer")) == {"no record found under this name"}


# ------------------------------------------------------------------------------------------------ rules, ledgers


def terms(on: date, regime: str) -> f.TermsFact:
    row = histories.Log(regime).row(on)
    return f.TermsFact(row, on, "Example (invented)", "dental", "", "UTC", 0, regime)


def test_rules_are_told_for_each_stretch_of_the_period_in_its_edition():
    """Adopted from a day on; an edition from the day it is in force. Both ends inclusive."""
    known = all_regimes()
    old, new = known["us-dental-cdc-2003"], known["us-healthcare-cdc-2008"]
    facts = f.ClinicFacts(
        "c", "c", (terms(date(2025, 1, 1), old.id), terms(date(2025, 7, 1), new.id), terms(date(2025, 9, 1), "gone"))
    )
    told = rules_followed(facts, date(2024, 12, 1), date(2025, 12, 31))
    assert [(r.id, r.first, r.last) for r in told] == [
        (old.id, date(2025, 1, 1), date(2025, 6, 30)),
        (new.id, date(2025, 7, 1), date(2025, 8, 31)),
        ("gone", date(2025, 9, 1), date(2025, 12, 31)),
    ]
    assert [(r.edition, r.valid_from) for r in told] == [
        (old.edition, old.valid_from), (new.edition, new.valid_from), ("", None),
    ]  # fmt: skip


def test_an_edition_that_comes_into_force_within_the_period_begins_a_stretch():
    known = all_regimes()["us-dental-cdc-2003"]
    later = replace(known, edition="later", valid_from=date(2025, 4, 1), earlier=(known,))
    facts = f.ClinicFacts("c", "c", (terms(date(2025, 1, 1), known.id),))
    told = rules_followed(facts, date(2025, 2, 1), date(2025, 5, 1), {known.id: later})
    assert [(r.edition, r.first, r.last) for r in told] == [
        (known.edition, date(2025, 2, 1), date(2025, 3, 31)),
        ("later", date(2025, 4, 1), date(2025, 5, 1)),
    ]


def test_terms_written_again_with_the_same_rules_are_one_stretch():
    facts = f.ClinicFacts("c", "c", (terms(date(2025, 1, 1), "base"), terms(date(2025, 3, 1), "base")))
    told = rules_followed(facts, date(2025, 1, 1), date(2025, 3, 31))
    assert [(r.first, r.last) for r in told] == [(date(2025, 1, 1), date(2025, 3, 31))]


def test_rules_in_the_binder_are_those_printed_in_the_method(binder):
    assert [(r.id, r.edition, r.valid_from) for r in binder.rules] == [("invented-dental", "", None)]
    block = table(section(binder, "method-rules"), "Rules followed in the period")
    assert [[spaced(cell.text) for cell in row] for row in block.rows] == [
        ["1 Jun 2025 to 31 May 2026", "invented-dental", "not on file", "not on file"]
    ]


def test_without_heads_given_those_of_the_facts_are_printed(binder):
    facts, _ = sample.clinic()
    (head,) = binder.heads
    assert (head.organisation, head.number, head.hash) == (facts.ref, facts.heads[0].number, facts.heads[0].hash)
    assert head.hash in words(section(binder, "seal")).replace(" ", "").replace("\\n", "")


def test_every_table_of_a_unit_names_the_rows_it_rests_on(binder):
    """A column of record numbers, the last one; no row of it is empty but for one that stands for several."""
    checked = 0
    for part in binder.sections:
        if part.id.startswith(("unit-", "indicators-")):
            for block in part.blocks:
                if isinstance(block, Table) and block.rows:
                    assert (block.columns[-1].title, block.columns[-1].small) == ("Record", True), part.id
                    checked += 1
    assert checked > 15
