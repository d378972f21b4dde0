"""The pages of judgement: who sees them, what they say, how many queries they take, what bad days get."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils.html import escape

from audit.facts import in_order
from audit.gather import clinic_facts
from records import clock, log
from records.models import Account, FailureCase
from tests import world as made

pytestmark = pytest.mark.django_db

BEYOND_GATHER = 8
INSIDERS = (*made.CLINIC_ROLES, *made.COMPANY_ROLES)
OUTSIDERS = ("other-coordinator", "other-dispatcher", "nobody")


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(made.NOW):
        yield


@pytest.fixture
def world():
    return made.make()


def signed_in(client, world, role: str):
    client.force_login(world.people[role])
    return client


def get(client, name: str, *args, **query):
    return client.get(reverse(name, args=args), query)


def text_of(answer) -> str:
    """The words of a page as a reader gets them."""
    without = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", without)


def pages_of(world) -> list[tuple[str, list]]:
    slug = world.clinic.slug
    return [("clinic", [slug]), ("unit", [slug, world.unit.ref]), ("binder", [slug])]


# ------------------------------------------------------------------------------------------------ who sees what


@pytest.mark.parametrize("role", INSIDERS)
def test_people_of_the_clinic_and_its_company_see_it(client, world, role):
    signed_in(client, world, role)
    for name, args in pages_of(world):
        assert get(client, name, *args).status_code == 200, name


@pytest.mark.parametrize("role", OUTSIDERS)
def test_for_everybody_else_it_does_not_exist(client, world, role):
    signed_in(client, world, role)
    for name, args in [*pages_of(world), ("company", [world.company.slug])]:
        assert get(client, name, *args).status_code == 404, name


def test_a_unit_of_another_clinic_does_not_exist_under_ones_own(client, world):
    signed_in(client, world, "coordinator")
    assert get(client, "unit", world.clinic.slug, world.other_unit.ref).status_code == 404
    assert get(client, "unit", world.other_clinic.slug, world.other_unit.ref).status_code == 404


def test_unknown_addresses_answer_404_with_a_way_out(client, world):
    signed_in(client, world, "coordinator")
    answer = get(client, "clinic", "no-such-clinic")
    assert answer.status_code == 404
    assert reverse("home") in answer.content.decode()


def test_without_signing_in_every_page_asks_for_it(client, world):
    for name, args in [*pages_of(world), ("company", [world.company.slug]), ("home", [])]:
        address = reverse(name, args=args)
        answer = client.get(address)
        assert answer.status_code == 302, name
        assert answer.url == f"{reverse('sign-in')}?next={address}"


@pytest.mark.parametrize("role", made.COMPANY_ROLES)
def test_the_company_page_is_for_its_own_people(client, world, role):
    assert get(signed_in(client, world, role), "company", world.company.slug).status_code == 200
    assert get(client, "company", world.other_company.slug).status_code == 404
    signed_in(client, world, "coordinator")
    assert get(client, "company", world.company.slug).status_code == 404


def test_after_the_agreement_ends_the_company_no_longer_opens_the_clinic(client, world):
    agreement = log.changes.access.agreements().get(clinic=world.clinic)
    log.end_agreement(
        by=world.people["coordinator"], request_key=made.key(), agreement=agreement,
        effective_on=made.TODAY - timedelta(days=1), reason="changed company",
    )  # fmt: skip
    signed_in(client, world, "technician")
    assert get(client, "clinic", world.clinic.slug).status_code == 404
    assert world.clinic.name not in text_of(get(client, "company", world.company.slug))


def test_only_those_who_may_log_are_offered_it(client, world):
    seen = get(signed_in(client, world, "operator"), "clinic", world.clinic.slug).content.decode()
    assert reverse("log-bio", args=["first"]) in seen
    assert reverse("log-visit", args=["first"]) not in seen
    seen = get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug).content.decode()
    assert reverse("log-visit", args=["first"]) in seen
    unit = reverse("unit", args=["first", world.unit.ref])
    signed_in(client, world, "viewer")
    for address in (reverse("clinic", args=["first"]), unit):
        seen = client.get(address).content.decode()
        assert reverse("log-bio", args=["first"]) not in seen
        assert reverse("unit-event", args=["first", world.unit.ref]) not in seen


# ------------------------------------------------------------------------------------------------ the first page


@pytest.mark.parametrize(
    ("role", "name", "of"),
    [
        ("coordinator", "clinic", "clinic"),
        ("operator", "clinic", "clinic"),
        ("technician", "company", "company"),
        ("dispatcher", "company", "company"),
    ],
)
def test_home_leads_to_the_one_place_there_is(client, world, role, name, of):
    answer = get(signed_in(client, world, role), "home")
    assert answer.status_code == 302
    assert answer.url == reverse(name, args=[getattr(world, of).slug])


def test_home_of_somebody_in_two_clinics_lists_both_with_their_answers(client, world):
    log.log_membership(
        by=world.people["other-coordinator"], request_key=made.key(), organisation=world.other_clinic,
        account=world.people["operator"], role="operator", effective_on=made.BEGIN,
    )  # fmt: skip
    answer = get(signed_in(client, world, "operator"), "home")
    assert answer.status_code == 200
    seen = text_of(answer)
    assert "First Clinic" in seen and "Other Clinic" in seen
    assert "1 In service, overdue" in seen


def test_home_of_somebody_who_belongs_nowhere_says_what_to_do(client, world):
    answer = get(signed_in(client, world, "nobody"), "home")
    assert answer.status_code == 200
    assert "ask its coordinator to record your membership" in text_of(answer)


def test_signing_in_leads_on_and_an_error_names_the_way_out(client, world):
    Account.objects.create_user("ina", password="a long invented phrase")
    page = reverse("sign-in")
    wrong = client.post(page, {"username": "ina", "password": "wrong"})
    assert wrong.status_code == 200
    assert "do not fit together" in text_of(wrong) and "ask whoever runs this site" in text_of(wrong)
    assert 'value="ina"' in wrong.content.decode()
    right = client.post(page, {"username": "ina", "password": "a long invented phrase", "next": "/"})
    assert right.status_code == 302 and right.url == "/"
    away = client.post(page + "?next=https://elsewhere.example/", {"username": "ina", "password": "x"})
    assert "elsewhere.example" not in (away.headers.get("Location") or "")


def test_signing_out_takes_a_post(client, world):
    signed_in(client, world, "coordinator")
    assert client.get(reverse("sign-out")).status_code == 405
    assert client.post(reverse("sign-out")).url == reverse("sign-in")
    assert get(client, "home").status_code == 302


# ------------------------------------------------------------------------------------------------ what it says


def test_the_clinic_page_answers_with_word_reason_rules_and_caution(client, world):
    made.weekly_tests(world, 3)
    seen = text_of(get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug))
    assert "First Clinic" in seen
    assert "Rules: US dental" in seen or "Rules: " in seen
    assert "May each unit be used?" in seen
    assert "Unit 1" in seen and "Room 1" in seen
    assert "In service" in seen
    assert "Local codes, the maker’s instructions and licensed practice outrank" in seen


def test_a_missed_week_shows_the_duty_with_its_day_and_a_way_to_start_it(client, world):
    made.spore_test(world, date(2026, 3, 2))
    answer = get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug)
    seen = text_of(answer)
    # The week of 9 March (Monday) to 15 March had no test; the sixteenth is the first day overdue.
    assert "In service, overdue" in seen
    assert "due 15 Mar 2026 , 1 day overdue" in seen
    assert f"{reverse('log-bio', args=['first'])}?unit={world.unit.ref}" in answer.content.decode()


def test_a_spore_test_without_a_result_is_to_be_read_when_its_hours_have_passed(client, world):
    run = made.spore_test(world, date(2026, 3, 14), test="", cycle_number="812")
    answer = get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug)
    assert "Read it now : spore test of 14 Mar 2026 , cycle 812, Unit 1" in text_of(answer)
    assert reverse("read-bio", args=["first", run.origin]) in answer.content.decode()


def test_a_spore_test_still_incubating_says_from_when_no_growth_counts(client, world):
    made.spore_test(world, made.TODAY, test="", at=made.NOW - timedelta(hours=1))
    seen = text_of(get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug))
    # 13:00 UTC plus 24 hours is 13:00 UTC the next day, 8:00 in Chicago in March.
    assert "no growth counts from 17 Mar 2026, 08:00 on" in seen


def test_a_positive_test_stands_first_with_its_next_step_and_its_links(client, world):
    made.spore_test(world, date(2026, 3, 9), test="growth")
    case = FailureCase.objects.get()
    log.log_follow_up(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, case=case, action="review",
        what="look through the loads", on=date(2026, 3, 11), due_on=date(2026, 3, 20),
    )  # fmt: skip
    signed_in(client, world, "coordinator")
    answer = get(client, "clinic", world.clinic.slug)
    html = answer.content.decode()
    assert "Out of service" in text_of(answer)
    assert "Open failures" in html
    assert "Look through the loads" in html and "It is done" in html
    assert reverse("log-follow-up", args=["first", case.origin]) in html
    step = next(s for u in clinic_facts(world.clinic).units for c in u.cases for s in c.followups)
    assert reverse("follow-up-done", args=["first", step.row.origin]) in html
    unit = text_of(get(client, "unit", world.clinic.slug, world.unit.ref))
    assert "Positive spore test" in unit and "Loads affected" in unit and "What would change it" in unit


def test_the_unit_page_shows_answer_proof_due_items_and_history(client, world):
    made.weekly_tests(world, 3)
    made.seal_replaced(world, date(2026, 2, 3))
    answer = get(signed_in(client, world, "technician"), "unit", world.clinic.slug, world.unit.ref)
    seen, html = text_of(answer), answer.content.decode()
    for words in (
        "May it be used?", "Holds until", "Cassette seal", "lot S-9", "old part: scrapped",
        "134.6", "V1 function cycle", "Replace air filter", "Invented manual, section 7", "Signed: released",
        "flattened at the hinge", "3 passed", "control lot B-100",
    ):  # fmt: skip
        assert words in seen, words
    # The due item of the seal counts from the row that shows the replacement, 24 months from 3 February 2026.
    assert "3 Feb 2028" in seen
    unit = clinic_facts(world.clinic).units[0]
    job = in_order(unit.jobs)[0]
    assert reverse("record", args=["first", "fittedpart", job.parts[0].row.origin]) in html
    assert reverse("visit", args=["first", job.visit]) in html


def test_every_piece_of_proof_on_the_unit_page_is_a_link(client, world):
    made.weekly_tests(world, 2)
    made.spore_test(world, made.TODAY - timedelta(days=2), test="growth")
    page = get(signed_in(client, world, "coordinator"), "unit", world.clinic.slug, world.unit.ref)
    judged, proofs = page.context["judged"], page.context["proofs"]
    rested_on = [*judged.standing.proof, *(c.counts_from for c in judged.clocks if c.counts_from)]
    rested_on += [e for case in judged.cases for e in case.evidence]
    assert rested_on
    assert [e for e in rested_on if proofs.place(e.ref) is None] == []


def test_a_correction_is_shown_with_old_and_new_and_reason(client, world):
    log.correct(
        by=world.people["coordinator"], request_key=made.key(), row=world.unit, changes={"serial": "INV-2"},
        reason="plate misread",
    )  # fmt: skip
    seen = text_of(get(signed_in(client, world, "coordinator"), "unit", world.clinic.slug, world.unit.ref))
    assert "serial INV-2" in seen
    assert "“INV-Unit 1” became “INV-2”" in seen and "plate misread" in seen


def test_what_people_typed_is_text_and_never_markup(client, world):
    typed = "<script>alert(1)</script>"
    log.log_unit_event(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        kind="withdrawn", on=made.TODAY, reason=typed,
    )  # fmt: skip
    signed_in(client, world, "dispatcher")
    for name, args in [pages_of(world)[0], pages_of(world)[1], ("company", [world.company.slug])]:
        html = get(client, name, *args).content.decode()
        assert typed not in html, name
        assert escape(typed) in html, name


def test_pages_carry_no_script_and_no_style_of_their_own(client, world):
    made.weekly_tests(world, 2)
    signed_in(client, world, "dispatcher")
    for name, args in [pages_of(world)[0], pages_of(world)[1], ("company", [world.company.slug])]:
        html = get(client, name, *args).content.decode()
        assert not re.search(r"<script|<style|\sstyle=|\son\w+=", html), name


def test_a_page_from_paper_says_so_once_a_job(client, world):
    made.seal_replaced(world, date(2026, 2, 3), paper="Service book, page 7")
    seen = text_of(get(signed_in(client, world, "technician"), "unit", world.clinic.slug, world.unit.ref))
    assert seen.count("transcribed from paper: Service book, page 7") == 1


# ------------------------------------------------------------------------------------------------ days


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("yesterday", "“yesterday” is not a day that can be read"),
        ("2026-02-30", "“2026-02-30” is not a day that can be read"),
        ("2026-W11-1", "“2026-W11-1” is not a day that can be read"),
        ("2026-03-17", "2026-03-17 (the day asked about) has not come yet; today is 2026-03-16"),
        ("0001-01-01", "lies before any record"),
    ],
)
@pytest.mark.parametrize("name", ["clinic", "unit"])
def test_a_day_that_cannot_be_shown_gets_a_message_and_today(client, world, name, typed, told):
    args = dict(pages_of(world))[name]
    answer = get(signed_in(client, world, "coordinator"), name, *args, as_of=typed)
    assert answer.status_code == 400
    assert told in text_of(answer)
    assert answer.context["as_of"] == made.TODAY


def test_a_past_day_is_judged_from_what_had_happened_by_then(client, world):
    made.spore_test(world, date(2026, 3, 10), test="growth")
    signed_in(client, world, "coordinator")
    for name, args in pages_of(world)[:2]:
        # Known at the clinic on the eleventh, so on the tenth the unit was not yet out of service.
        assert "Out of service" not in text_of(get(client, name, *args, as_of="2026-03-10")), name
        then = text_of(get(client, name, *args, as_of="2026-03-11"))
        assert "Out of service" in then and "The answers of 11 Mar 2026" in then, name


def test_a_day_before_the_clinic_opened_is_shown_and_not_a_fault(client, world):
    signed_in(client, world, "coordinator")
    for name, args in pages_of(world)[:2]:
        answer = get(client, name, *args, as_of="2001-01-01")
        assert answer.status_code == 200, name
        assert "Not in use" in text_of(answer), name


# ------------------------------------------------------------------------------------------------ the binder


def test_the_binder_is_a_pdf_file_and_the_same_bytes_twice(client, world):
    made.weekly_tests(world, 2)
    signed_in(client, world, "coordinator")
    period = {"from": "2025-03-16", "to": "2026-03-16"}
    first = get(client, "binder", world.clinic.slug, **period)
    assert first["Content-Type"] == "application/pdf"
    assert first["Content-Disposition"] == 'attachment; filename="binder-first-2025-03-16-to-2026-03-16.pdf"'
    assert first.content.startswith(b"%PDF")
    assert get(client, "binder", world.clinic.slug, **period).content == first.content
    # Without days it is the last twelve months, which are these.
    assert get(client, "binder", world.clinic.slug).content == first.content


@pytest.mark.parametrize(
    ("period", "told"),
    [
        ({"from": "soon", "to": "2026-03-16"}, "“soon” is not a day that can be read (the first day of the binder)"),
        ({"from": "2026-03-01", "to": "2026-04-01"}, "2026-04-01 (the last day of the binder) has not come yet"),
        ({"from": "2026-03-10", "to": "2026-03-01"}, "from 2026-03-10 to 2026-03-01. Swap the two days."),
        ({"from": "0000-00-00"}, "“0000-00-00” is not a day that can be read"),
    ],
)
def test_days_no_binder_can_have_keep_what_was_typed(client, world, period, told):
    answer = get(signed_in(client, world, "coordinator"), "binder", world.clinic.slug, **period)
    assert answer.status_code == 400
    assert told in text_of(answer)
    for name, typed in period.items():
        assert re.search(rf'name="{name}" value="{typed}"', answer.content.decode()), name


# ------------------------------------------------------------------------------------------------ the company


def test_the_company_page_lists_units_and_filters_by_the_address(client):
    world = made.make(units=3)
    made.spore_test(world, date(2026, 3, 9), test="growth", unit=world.units[1])
    made.spore_test(world, made.TODAY, test="", unit=world.units[2])
    signed_in(client, world, "dispatcher")

    def shown(**query):
        return [row.record.label for row in get(client, "company", "keepers", **query).context["table"].rows]

    assert sorted(shown()) == ["Unit 1", "Unit 2", "Unit 3"]
    assert shown(word="Out of service") == ["Unit 2"]
    assert shown(q="unit 3 first") == ["Unit 3"]
    assert shown(q="nothing like it") == []
    assert sorted(shown(clinic="first")) == ["Unit 1", "Unit 2", "Unit 3"]
    assert "Unit 1" in shown(due="past") and "Unit 3" not in shown(due="past")
    assert shown(due="2026-03", q="Unit 3") == ["Unit 3"]
    page = get(client, "company", "keepers", word="Out of service", q="unit")
    assert 'value="unit"' in page.content.decode()
    assert re.search(r'<option value="Out of service" selected', page.content.decode())
    assert "Stranger" not in text_of(get(client, "company", "keepers"))


def test_a_clinic_without_a_listed_unit_is_named_and_not_passed_over(client, world):
    empty = made.clinic_of(world.people["coordinator"], "empty", "Empty Clinic")
    log.log_agreement(
        by=world.people["coordinator"], request_key=made.key(), clinic=empty, company=world.company,
        effective_on=made.BEGIN,
    )  # fmt: skip
    seen = text_of(get(signed_in(client, world, "dispatcher"), "company", "keepers"))
    assert "No unit is listed yet for Empty Clinic" in seen


def test_choices_that_do_not_exist_are_told_and_never_a_fault(client, world):
    signed_in(client, world, "dispatcher")
    answer = get(client, "company", "keepers", word="Golden", due="2026-99", clinic="other", sort="reason", page="x")
    assert answer.status_code == 200
    assert "Golden is not one of the available choices" in text_of(answer)


def test_a_long_list_has_pages_that_keep_the_filter(client):
    from audit.views import company

    world = made.make(units=4)
    signed_in(client, world, "dispatcher")
    whole = company.PER_PAGE
    company.PER_PAGE = 3
    try:
        page = get(client, "company", "keepers", q="Unit", sort="label")
    finally:
        company.PER_PAGE = whole
    assert "Page 1 of 2, 4 lines" in text_of(page)
    assert re.search(r'rel="next" href="\?[^"]*q=Unit[^"]*page=2|rel="next" href="\?[^"]*page=2[^"]*q=Unit',
                     page.content.decode())  # fmt: skip


# ------------------------------------------------------------------------------------------------ queries


def queries_of(client, django_assert_max_num_queries, address: str) -> int:
    with django_assert_max_num_queries(200) as taken:
        assert client.get(address).status_code == 200
    return len(taken.captured_queries)


def gather_queries(world, django_assert_max_num_queries) -> int:
    with django_assert_max_num_queries(200) as taken:
        clinic_facts(world.clinic)
    return len(taken.captured_queries)


@pytest.mark.parametrize("role", ["coordinator", "technician"])
def test_queries_do_not_grow_with_units_and_rows(client, django_assert_max_num_queries, role):
    count = django_assert_max_num_queries
    world = made.make(units=1)
    signed_in(client, world, role)
    addresses = [reverse(name, args=args) for name, args in pages_of(world)]
    small = [queries_of(client, count, a) for a in addresses]
    for n in (2, 3):
        unit = made.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
        made.seal_replaced(world, date(2026, 2, n), unit=unit)
        made.spore_test(world, date(2026, 3, 9), test="growth", unit=unit)
        made.weekly_tests(world, 3, unit=unit)
    large = [queries_of(client, count, a) for a in addresses]
    assert small == large
    allowed = gather_queries(world, count) + BEYOND_GATHER
    assert max(large) <= allowed


def test_the_company_page_takes_few_queries_whatever_its_size(client, django_assert_max_num_queries):
    count = django_assert_max_num_queries
    world = made.make(units=1)
    signed_in(client, world, "dispatcher")
    address = reverse("company", args=["keepers"])
    client.get(address)  # fills the stored standings
    small = queries_of(client, count, address)
    for n in (2, 3):
        made.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
    client.get(address)
    assert queries_of(client, count, address) == small
    assert small <= 12


def test_the_binder_answers_for_the_day_asked_about_or_says_why_not(client, world):
    signed_in(client, world, "coordinator")
    of_today = get(client, "binder", world.clinic.slug)
    earlier = get(client, "binder", world.clinic.slug, as_of="2026-02-02")
    assert earlier.status_code == 200 and earlier.content != of_today.content
    assert get(client, "binder", world.clinic.slug, as_of="2099-01-01").status_code == 400
