"""The second factor: the codes of RFC 6238, taken once; asked of whom the site's policy names; and lost."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.core import mail
from django.urls import reverse

from records.doors import second
from records.models import Account, DoorEvent, RecoveryCode, SecondFactor
from tests.security.conftest import PHRASE, is_in

pytestmark = pytest.mark.django_db

# RFC 6238, appendix B, SHA-1: second of time, eight digits, of which six are shown here.
VECTORS = [
    (59, "94287082"), (1111111109, "07081804"), (1111111111, "14050471"), (1234567890, "89005924"),
    (2000000000, "69279037"), (20000000000, "65353130"),
]  # fmt: skip


def code_of(factor, moments, away: int = 0) -> str:
    step = int(moments.now.timestamp()) // second.STEP + away
    return second._codes(factor).generate(step * second.STEP).decode()


def set_up(account, moments) -> tuple[SecondFactor, list[str]]:
    factor = second.begun(account)
    codes = second.confirm(factor, code_of(factor, moments))
    assert len(codes) == second.CODES
    moments.pass_by(seconds=60)
    return second.of(account), codes


@pytest.mark.parametrize(("at", "digits"), VECTORS)
def test_codes_are_those_of_the_standard(world, moments, at, digits):
    box = second._box()
    factor = SecondFactor.objects.create(
        account=world.people["viewer"], secret=box.encrypt(b"12345678901234567890").decode(), confirmed_at=moments.now
    )
    moments.now = datetime.fromtimestamp(at, UTC)
    assert second.is_right(factor, digits[2:])


def test_a_code_opens_once_and_only_around_its_half_minute(world, moments):
    factor, _ = set_up(world.people["viewer"], moments)
    now = code_of(factor, moments)
    assert not second.is_right(factor, code_of(factor, moments, -3))
    assert not second.is_right(factor, code_of(factor, moments, 3))
    assert second.is_right(factor, f"{now[:3]} {now[3:]}")
    assert not second.is_right(factor, now), "not a second time"
    assert not second.is_right(factor, code_of(factor, moments, -1)), "nor one from before it"
    for typed in ("", "12345", "1234567", "abcdef", "１２３４５６"):
        assert not second.is_right(factor, typed)


def test_with_a_second_factor_the_pass_phrase_alone_opens_nothing(world, door, moments):
    factor, codes = set_up(world.people["viewer"], moments)
    browser, answer = door("viewer")
    assert answer["Location"] == reverse("sign-in-code") and not is_in(browser)
    assert browser.get(reverse("clinic", args=[world.clinic.slug])).status_code == 302
    assert browser.post(reverse("sign-in-code"), {"code": "000000"}).status_code == 422 and not is_in(browser)
    browser.post(reverse("sign-in-code"), {"code": code_of(factor, moments)})
    assert is_in(browser)
    what = list(DoorEvent.objects.filter(account__username="viewer").values_list("what", flat=True).order_by("pk"))
    assert what == ["code refused", "signed in"]


def test_codes_are_not_guessed(world, door, moments):
    factor, _ = set_up(world.people["viewer"], moments)
    browser, _ = door("viewer")
    for n in range(5):
        browser.post(reverse("sign-in-code"), {"code": f"00000{n}"})
    answer = browser.post(reverse("sign-in-code"), {"code": code_of(factor, moments)})
    assert b"Too many tries" in answer.content and not is_in(browser)
    assert b"Too many tries" in door("viewer")[1].content, "nor by beginning anew"


def test_a_recovery_code_opens_once(world, door, moments):
    _, codes = set_up(world.people["viewer"], moments)
    assert not RecoveryCode.objects.filter(digest__in=codes).exists()
    browser, _ = door("viewer")
    browser.post(reverse("sign-in-code"), {"code": codes[3].upper().replace("-", " ")})
    assert is_in(browser) and second.recovery_left(world.people["viewer"]) == second.CODES - 1
    again, _ = door("viewer")
    assert again.post(reverse("sign-in-code"), {"code": codes[3]}).status_code == 422 and not is_in(again)
    other, _ = set_up(world.people["operator"], moments)
    stranger, _ = door("operator")
    assert stranger.post(reverse("sign-in-code"), {"code": codes[4]}).status_code == 422, "nobody else's"


def test_the_wait_for_a_code_ends(world, door, moments):
    factor, _ = set_up(world.people["viewer"], moments)
    browser, _ = door("viewer")
    moments.pass_by(seconds=601)
    answer = browser.post(reverse("sign-in-code"), {"code": code_of(factor, moments)})
    assert answer["Location"] == reverse("sign-in") and not is_in(browser)
    browser, _ = door("viewer")
    Account.objects.get(username="viewer").save()
    account = Account.objects.get(username="viewer")
    account.set_password("seven lids under the bench")
    account.save()
    assert browser.post(reverse("sign-in-code"), {"code": code_of(factor, moments)})["Location"] == reverse("sign-in")


# The policy, and of whom it asks a second factor.
POLICY = [
    ("nobody", set()),
    ("companies", {"technician", "dispatcher", "stores", "staff"}),
    ("everybody", {"technician", "dispatcher", "stores", "staff", "coordinator", "operator", "viewer", "nobody"}),
]


@pytest.mark.parametrize(("policy", "asked"), POLICY, ids=[p for p, _ in POLICY])
def test_the_policy_names_who_is_asked(world, moments, settings, policy, asked):
    settings.SECOND_FACTOR = policy
    staff = Account.objects.create_user("staff", is_staff=True)
    people = {role: world.people[role] for role in (
        "technician", "dispatcher", "stores", "coordinator", "operator", "viewer", "nobody",
    )} | {"staff": staff}  # fmt: skip
    assert {role for role, account in people.items() if second.is_asked_of(account)} == asked


def test_who_is_asked_sets_it_up_before_anything_opens(world, door, moments, settings):
    settings.SECOND_FACTOR = "companies"
    browser, answer = door("technician")
    assert answer["Location"] == reverse("sign-in-second-factor") and not is_in(browser)
    page = browser.get(reverse("sign-in-second-factor")).content.decode()
    assert "<svg" in page
    factor = SecondFactor.objects.get(account__username="technician")
    assert factor.confirmed_at is None and second.typed_secret(factor) in page
    assert browser.post(reverse("sign-in-second-factor"), {"code": "000000"}).status_code == 422
    answer = browser.post(reverse("sign-in-second-factor"), {"code": code_of(factor, moments)})
    assert answer.content.decode().count("<code>") == second.CODES and "no-store" in answer["Cache-Control"]
    assert is_in(browser)
    moments.pass_by(seconds=60)
    again, answer = door("technician")
    assert answer["Location"] == reverse("sign-in-code")
    # Whoever has the pass phrase alone cannot set up another one instead.
    assert again.get(reverse("sign-in-second-factor"))["Location"] == reverse("sign-in")
    assert is_in(door("viewer")[0]), "of a clinic's people it is not asked"


def test_it_is_set_up_and_taken_away_only_with_the_pass_phrase(world, door, moments):
    browser, _ = door("viewer")
    other, _ = door("viewer")
    address = reverse("second-factor")
    browser.get(address)
    factor = SecondFactor.objects.get()
    code = code_of(factor, moments)
    assert browser.post(address, {"code": code, "now": "not the one"}).status_code == 422
    assert second.of(world.people["viewer"]) is None
    assert browser.post(address, {"code": code, "now": PHRASE}).status_code == 200
    assert second.of(world.people["viewer"]) is not None and not is_in(other) and is_in(browser)
    assert browser.post(address, {"now": "not the one"}).status_code == 422
    assert second.of(world.people["viewer"]) is not None
    assert browser.post(address, {"now": PHRASE}).status_code == 302
    assert not SecondFactor.objects.exists() and not RecoveryCode.objects.exists()
    told = [message.subject for message in mail.outbox]
    assert told == ["Your log-in: second factor set up", "Your log-in: second factor taken away"]


def test_an_administrator_takes_it_away_from_who_lost_it(world, door, moments):
    Account.objects.filter(username="coordinator").update(is_staff=True, is_superuser=True)
    set_up(world.people["viewer"], moments)
    chief, _ = door("coordinator")
    chief.post(reverse("admin:records_account_door", args=[world.people["viewer"].pk]), {"do": "factor"})
    assert second.of(world.people["viewer"]) is None and is_in(door("viewer")[0])


def test_a_copy_of_the_database_alone_holds_no_secret(world, moments, settings):
    factor, codes = set_up(world.people["viewer"], moments)
    secret = second._secret(factor)
    assert len(secret) == second.SECRET_BYTES
    assert secret.hex() not in factor.secret and secret not in factor.secret.encode()
    settings.SECRET_KEY = "another key of another site, as long as it takes" * 2
    assert second._secret(factor) == b"" and not second.is_right(factor, "000000")
    assert not second.recovers(world.people["viewer"], codes[0])
