"""Passkeys: added, named, removed; at signing in and at signing; and each way in which an answer can be wrong.

The numbers are steps of W3C Web Authentication Level 2, 7.1 (registering) and 7.2 (answering), from memory.
"""

from __future__ import annotations

import json
from urllib.parse import urlencode

import pytest
from django.core import mail
from django.test import RequestFactory
from django.urls import reverse

from records.doors import passkeys, second
from records.models import Account, DoorEvent, Passkey, RecoveryCode, SecondFactor
from tests.security.authenticator import HAS_KEY, PRESENT, VERIFIED, Device, bytes_of, text_of
from tests.security.conftest import PHRASE, is_in
from tests.security.test_second_factor import code_of, set_up

pytestmark = pytest.mark.django_db

MAKE, LIST = reverse("make-passkey"), reverse("passkeys")


def asked(browser, name: str) -> dict:
    """What the server has the browser ask of a device."""
    answer = browser.post(reverse(name))
    assert answer.status_code == 200 and "no-store" in answer["Cache-Control"]
    return json.loads(answer.content)


def begun(browser, name: str = "blue key", now: str = PHRASE):
    return browser.post(LIST, {"name": name, "now": now})


def added(browser, device: Device | None = None, name: str = "blue key") -> Device:
    """A device that holds a passkey of whom the browser is signed in as."""
    device = device or Device()
    assert begun(browser, name)["Location"] == MAKE
    answer = browser.post(MAKE, {"passkey": device.make(asked(browser, "passkey-to-add"))})
    assert answer.status_code in (200, 302), answer.content.decode()
    return device


def events_of(account) -> list[str]:
    return list(DoorEvent.objects.filter(account=account).order_by("pk").values_list("what", flat=True))


@pytest.fixture
def held(world, door, moments):
    """(browser, device): the viewer is signed in, and has a passkey on the device."""
    browser, _ = door("viewer")
    return browser, added(browser)


def half(door, name: str = "viewer"):
    """A browser after a right pass phrase, before the second factor."""
    browser, answer = door(name)
    assert answer["Location"] == reverse("sign-in-code") and not is_in(browser)
    return browser


def given(browser, device: Device, **wrong):
    answer = device.give(asked(browser, "passkey-to-sign-in"), **wrong)
    return browser.post(reverse("sign-in-code"), {"passkey": answer})


# ------------------------------------------------------------------------------------------------- adding


def test_one_is_added_named_listed_and_opens_from_then_on(world, door, moments):
    viewer = world.people["viewer"]
    browser, _ = door("viewer")
    elsewhere, _ = door("viewer")
    assert begun(browser)["Location"] == MAKE
    assert "Make the passkey “blue key”" in browser.get(MAKE).content.decode()
    options = asked(browser, "passkey-to-add")
    assert options["rp"] == {"name": "Unit standing", "id": "localhost"} and options["attestation"] == "none"
    assert options["user"]["id"] == text_of(viewer.ref.bytes), "nothing by which a device's owner is known elsewhere"
    device = Device()
    answer = browser.post(MAKE, {"passkey": device.make(options)})
    assert answer.content.decode().count("<code>") == second.CODES, "the first second factor brings recovery codes"
    assert "no-store" in answer["Cache-Control"]
    assert is_in(browser) and not is_in(elsewhere), "other sittings rest on the pass phrase alone"
    assert "blue key" in browser.get(LIST).content.decode()
    assert "blue key" in browser.get(reverse("my-log-in")).content.decode()
    assert given(half(door), device)["Location"] == "/"
    key = Passkey.objects.get()
    assert key.account == viewer and key.used_at == moments.now and key.sign_count == device.count
    assert events_of(viewer)[-2:] == ["passkey added", "signed in"]
    assert mail.outbox[-1].subject == "Your log-in: passkey added"


def test_it_is_added_only_after_the_pass_phrase_and_for_a_few_minutes(world, door, moments):
    browser, _ = door("viewer")
    assert browser.post(reverse("passkey-to-add")).status_code == 403
    assert browser.get(MAKE)["Location"] == LIST
    assert begun(browser, now="not the one").status_code == 422
    assert begun(browser, name=" ").status_code == 422
    assert browser.post(reverse("passkey-to-add")).status_code == 403
    begun(browser)
    options = asked(browser, "passkey-to-add")
    moments.pass_by(seconds=passkeys.SECONDS + 1)
    answer = browser.post(MAKE, {"passkey": Device().make(options)})
    assert answer.status_code == 422 and "longer than 5 minutes" in answer.content.decode()
    moments.pass_by(seconds=600)
    assert browser.get(MAKE)["Location"] == LIST
    assert not Passkey.objects.exists()


NEVER_ASKED = text_of(b"a challenge that nobody asked")
# What is wrong with the answer of a device that registers, and the step of 7.1 that refuses it.
WRONG_TO_ADD = {
    "7: kind": {"type": "webauthn.get"},
    "8: challenge": {"challenge": NEVER_ASKED},
    "9: origin": {"origin": "https://standing.example.evil.example"},
    "9: origin over http with another port": {"origin": "http://localhost:8001"},
    "9: within a page of another site": {"cross": True},
    "13: for another site": {"site": "evil.example"},
    "14: nobody was there": {"flags": VERIFIED},
    "19: a statement of who made it": {"fmt": "packed", "statement": {"alg": -7, "sig": b"x", "x5c": b"y"}},
    "21: a statement where there is none": {"fmt": "none", "statement": {"alg": -7, "sig": b"x"}},
}


@pytest.mark.parametrize("wrong", WRONG_TO_ADD.values(), ids=WRONG_TO_ADD)
def test_what_does_not_fit_is_not_added_and_is_noted(world, door, moments, wrong):
    browser, _ = door("viewer")
    begun(browser)
    answer = browser.post(MAKE, {"passkey": Device().make(asked(browser, "passkey-to-add"), **wrong)})
    assert answer.status_code == 422 and not Passkey.objects.exists() and not RecoveryCode.objects.exists()
    assert "The passkey was not added" in answer.content.decode()
    assert events_of(world.people["viewer"])[-1] == "passkey refused"
    added(browser)  # and nothing is lost: pressing once more adds it
    assert Passkey.objects.exists()


def test_every_question_is_another_one_and_long(held, world):
    browser, _ = held
    begun(browser)
    options = [asked(browser, name) for name in ("passkey-to-add", "passkey-to-sign") for _ in range(8)]
    challenges = {bytes_of(each["challenge"]) for each in options}
    assert len(challenges) == 16 and {len(each) for each in challenges} == {64}
    # EdDSA, ES256, RS256 (RFC 8812 and 9053): signatures with SHA-256 or stronger.
    assert [each["alg"] for each in options[0]["pubKeyCredParams"]] == [-8, -7, -257]


def test_a_registered_key_is_nobody_elses_and_not_registered_twice(held, world, door):
    """7.1, 22."""
    browser, device = held
    name = next(iter(device.keys))
    other, _ = door("operator")
    begun(other)
    thief = Device()
    options = asked(other, "passkey-to-add")
    made = json.loads(thief.make(options))
    new = next(iter(thief.keys))
    swapped = made["response"]["attestationObject"]
    made["response"]["attestationObject"] = text_of(bytes_of(swapped).replace(new, name))
    made["id"] = made["rawId"] = text_of(name)
    answer = other.post(MAKE, {"passkey": json.dumps(made)})
    assert answer.status_code == 422 and "registered already" in answer.content.decode()
    assert Passkey.objects.get().account == world.people["viewer"]
    begun(browser)
    assert [each["id"] for each in asked(browser, "passkey-to-add")["excludeCredentials"]] == [text_of(name)]


@pytest.mark.parametrize("part", ["clientDataJSON", "attestationObject"])
def test_flipped_bits_in_what_a_device_registers_are_never_a_fault(world, door, moments, part, share):
    """Nothing is signed at registering: some bits (the model's number, the key, what nobody reads) are not seen."""
    browser, _ = door("viewer")
    begun(browser)
    for n in share(range(0, 300, 7)):
        said = json.loads(Device().make(asked(browser, "passkey-to-add")))
        content = bytearray(bytes_of(said["response"][part]))
        content[n % len(content)] ^= 1 << n % 8
        said["response"][part] = text_of(bytes(content))
        answer = browser.post(MAKE, {"passkey": json.dumps(said)})
        if answer.status_code != 422:
            assert Passkey.objects.all().delete()[0] == 1
            begun(browser)
        DoorEvent.objects.all().delete()  # so that nothing is held back


def test_ten_are_the_most(held, world, monkeypatch):
    browser, _ = held
    monkeypatch.setattr(passkeys, "MOST", 2)
    added(browser, name="second")
    answer = begun(browser, "third")
    assert answer.status_code == 422 and "the most" in answer.content.decode() and Passkey.objects.count() == 2


# ------------------------------------------------------------------------------------------------- signing in

# What is wrong with an answer at signing in, and the step of 7.2 that refuses it.
WRONG_TO_GIVE = {
    "11: kind": {"type": "webauthn.create"},
    "12: challenge": {"challenge": NEVER_ASKED},
    "13: origin": {"origin": "http://standing.example"},
    "13: within a page of another site": {"cross": True},
    "15: for another site": {"site": "standing.example"},
    "16: nobody was there": {"flags": VERIFIED},
    "20: signature": {"signature": b"0" * 70},
    "6: user handle": {"handle": text_of(b"somebody else....")},
    "5: unknown key": {"called": b"a name of no key"},
}


@pytest.mark.parametrize("wrong", WRONG_TO_GIVE.values(), ids=WRONG_TO_GIVE)
def test_what_does_not_fit_opens_nothing_and_is_noted(held, world, door, wrong):
    _, device = held
    browser = half(door)
    answer = given(browser, device, **wrong)
    assert answer.status_code == 422 and not is_in(browser)
    assert events_of(world.people["viewer"])[-1] == "passkey refused"
    assert given(browser, device).status_code == 302 and is_in(browser), "the right answer opens all the same"


@pytest.mark.parametrize(
    "garbage", ["x", "[]", "{}", '{"response": {}}', "[" * 5000, '"' + "x" * 20000 + '"', "\ud83d"]
)
def test_what_is_no_answer_is_refused_and_no_fault(held, world, door, garbage):
    browser = half(door)
    asked(browser, "passkey-to-sign-in")
    sent = urlencode({"passkey": garbage}, errors="surrogatepass")
    answer = browser.post(reverse("sign-in-code"), sent, content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 422 and not is_in(browser)
    assert events_of(world.people["viewer"])[-1] == "passkey refused"


def test_flipped_bits_anywhere_in_an_answer_are_refused_and_never_a_fault(held, world, door, moments, share):
    _, device = held
    for part in ("clientDataJSON", "authenticatorData", "signature"):
        for n in share(range(0, 140, 23)):
            browser = half(door)
            said = json.loads(device.give(asked(browser, "passkey-to-sign-in")))
            content = bytearray(bytes_of(said["response"][part]))
            if n >= len(content):
                continue
            content[n] ^= 1 << n % 8
            said["response"][part] = text_of(bytes(content))
            answer = browser.post(reverse("sign-in-code"), {"passkey": json.dumps(said)})
            assert answer.status_code == 422 and not is_in(browser), (part, n)
            moments.pass_by(minutes=20)  # past what is held back


def test_an_answer_opens_once(held, world, door):
    """The challenge is used up, by a right answer and by a wrong one."""
    _, device = held
    browser = half(door)
    answer = device.give(asked(browser, "passkey-to-sign-in"))
    assert browser.post(reverse("sign-in-code"), {"passkey": answer}).status_code == 302
    again = half(door)
    refused = again.post(reverse("sign-in-code"), {"passkey": answer})
    assert refused.status_code == 422 and "used already" in refused.content.decode() and not is_in(again)
    asked(again, "passkey-to-sign-in")
    assert again.post(reverse("sign-in-code"), {"passkey": answer}).status_code == 422, "nor to another question"
    options = asked(again, "passkey-to-sign-in")
    assert given(again, device, challenge=NEVER_ASKED).status_code == 422
    late = device.give(options)
    assert again.post(reverse("sign-in-code"), {"passkey": late}).status_code == 422 and not is_in(again)


def test_an_answer_comes_within_five_minutes(held, door, moments):
    _, device = held
    browser = half(door)
    answer = device.give(asked(browser, "passkey-to-sign-in"))
    moments.pass_by(seconds=passkeys.SECONDS + 1)
    refused = browser.post(reverse("sign-in-code"), {"passkey": answer})
    assert refused.status_code == 422 and "longer than 5 minutes" in refused.content.decode()


def test_what_was_asked_for_one_thing_or_of_one_person_answers_no_other(held, world, door):
    browser, device = held
    viewer, operator = world.people["viewer"], world.people["operator"]

    def judged(account, purpose) -> str:
        """What comes of a right answer to what was asked at signing, when it is given out for something else."""
        request = RequestFactory().post("/")
        request.session = browser.session
        answer = device.give(json.loads(passkeys.to_give(request, viewer, passkeys.SIGN)))
        try:
            return passkeys.check(request, account, purpose, answer).name
        except passkeys.NotTaken as problem:
            return str(problem)

    assert judged(viewer, passkeys.SIGN) == "blue key"
    for account, purpose in ((viewer, passkeys.SIGN_IN), (viewer, passkeys.ADD), (operator, passkeys.SIGN)):
        assert "nothing was asked of a passkey here" in judged(account, purpose)


def test_the_passkey_of_another_person_opens_nothing(held, world, door, moments):
    """7.2, 5 and 6."""
    mine, device = held
    other, _ = door("operator")
    theirs = added(other)
    browser = half(door, "operator")
    theirs.keys |= device.keys
    for wrong in ({"of": next(iter(device.keys))}, {"of": next(iter(device.keys)), "handle": None}):
        answer = given(browser, theirs, **wrong)
        assert answer.status_code == 422 and "does not belong to this log-in" in answer.content.decode()
    assert not is_in(browser) and events_of(world.people["operator"])[-1] == "passkey refused"
    # One's own key that claims to be the other's.
    own = next(name for name in theirs.keys if name not in device.keys)
    assert given(browser, theirs, of=own, handle=text_of(world.people["viewer"].ref.bytes)).status_code == 422
    assert given(browser, theirs, of=own).status_code == 302


def test_a_counter_that_goes_back_is_refused_and_noted_under_its_own_word(held, world, door):
    """7.2, 21."""
    _, device = held
    given(half(door), device)
    was = Passkey.objects.get().sign_count
    for count in (was, was - 1, 0):
        browser = half(door)
        answer = given(browser, device, count=count)
        assert answer.status_code == 422 and "may be a copy" in answer.content.decode() and not is_in(browser)
        assert events_of(world.people["viewer"])[-1] == "passkey counter went back"
    assert Passkey.objects.get().sign_count == was
    assert mail.outbox[-1].subject == "Your log-in: passkey counter went back"
    browser = half(door)
    assert given(browser, device, count=0, signature=b"0" * 70).status_code == 422
    assert events_of(world.people["viewer"])[-1] == "passkey refused", "what is not signed says nothing of a counter"
    device.count = was
    assert given(browser, device).status_code == 302


def test_a_device_that_counts_nothing_is_taken(world, door, moments):
    browser, _ = door("viewer")
    device = added(browser, Device(counts=False))
    assert [given(half(door), device).status_code for _ in range(2)] == [302, 302]


def test_at_signing_in_a_press_is_enough_as_the_pass_phrase_was_given(world, door, moments):
    browser, _ = door("viewer")
    device = added(browser, Device(verifies=False))
    assert given(half(door), device).status_code == 302


def test_passkeys_are_not_guessed(held, world, door):
    _, device = held
    browser = half(door)
    for _ in range(5):
        given(browser, device, challenge=NEVER_ASKED)
    answer = given(browser, device)
    assert answer.status_code == 422 and "Too many tries" in answer.content.decode() and not is_in(browser)
    assert "Too many tries" in door("viewer")[1].content.decode(), "nor by beginning anew"


def test_nothing_is_asked_of_whom_has_not_given_the_pass_phrase(held, client):
    assert client.post(reverse("passkey-to-sign-in")).status_code == 403
    assert client.post(reverse("passkey-to-sign")).status_code == 302
    assert client.get(reverse("passkey-to-sign-in")).status_code == 405


def test_asking_has_its_limit(held, monkeypatch):
    browser, _ = held
    answers = {browser.post(reverse("passkey-to-sign")).status_code for _ in range(121)}
    assert answers == {200, 429}


def test_beside_time_codes_either_opens(held, world, door, moments):
    _, device = held
    factor, codes = set_up(world.people["viewer"], moments)
    page = half(door).get(reverse("sign-in-code")).content.decode()
    assert "Passkey or code" in page and "six digits" in page
    assert given(half(door), device).status_code == 302
    assert half(door).post(reverse("sign-in-code"), {"code": code_of(factor, moments)}).status_code == 302
    assert half(door).post(reverse("sign-in-code"), {"code": codes[0]}).status_code == 302


def test_who_lost_the_only_passkey_gets_in_by_a_recovery_code(world, door, moments):
    browser, _ = door("viewer")
    begun(browser)
    answer = browser.post(MAKE, {"passkey": Device().make(asked(browser, "passkey-to-add"))})
    code = answer.context["codes"][0]
    page = half(door).get(reverse("sign-in-code")).content.decode()
    assert "Use your passkey" in page and "recovery code" in page and "six digits" not in page
    lost = half(door)
    assert lost.post(reverse("sign-in-code"), {"code": code}).status_code == 302 and is_in(lost)
    assert half(door).post(reverse("sign-in-code"), {"code": code}).status_code == 422


def test_who_is_asked_makes_a_passkey_before_anything_opens(world, door, moments, settings):
    settings.SECOND_FACTOR = "companies"
    browser, answer = door("technician")
    address = reverse("sign-in-second-factor")
    assert answer["Location"] == address and "Or a passkey" in browser.get(address).content.decode()
    device = Device()
    wrong = browser.post(address, {"passkey": device.make(asked(browser, "passkey-to-sign-in"), site="evil.example")})
    assert wrong.status_code == 422 and not is_in(browser)
    answer = browser.post(address, {"passkey": device.make(asked(browser, "passkey-to-sign-in"))})
    assert answer.content.decode().count("<code>") == second.CODES and is_in(browser)
    assert given(half(door, "technician"), device).status_code == 302
    # Whoever has the pass phrase alone makes no other one instead.
    again = half(door, "technician")
    assert "allowCredentials" in asked(again, "passkey-to-sign-in")
    assert again.get(address)["Location"] == reverse("sign-in")


# ------------------------------------------------------------------------------------------------- two, and removing


def page_of(key) -> str:
    return reverse("passkey", args=[key.pk])


def test_two_devices_open_each_until_it_is_removed(held, world, door):
    browser, first = held
    other = added(browser, name="telephone")
    assert Passkey.objects.count() == 2
    assert given(half(door), first).status_code == given(half(door), other).status_code == 302
    key = Passkey.objects.get(name="blue key")
    elsewhere = half(door)
    given(elsewhere, first)
    assert browser.post(page_of(key), {"do": "remove", "now": "not the one"}).status_code == 422
    assert browser.post(page_of(key), {"do": "remove", "now": PHRASE})["Location"] == LIST
    assert events_of(world.people["viewer"])[-1] == "passkey removed" and not is_in(elsewhere) and is_in(browser)
    assert mail.outbox[-1].subject == "Your log-in: passkey removed"
    left = half(door)
    gone = next(iter(first.keys))
    answer = given(left, first, of=gone)
    assert answer.status_code == 422 and "was removed" in answer.content.decode() and not is_in(left)
    assert given(left, other).status_code == 302
    assert RecoveryCode.objects.exists(), "they stand in for the other one"


def test_without_any_left_the_pass_phrase_opens_and_recovery_codes_are_thrown_away(held, door):
    browser, _ = held
    browser.post(page_of(Passkey.objects.get()), {"do": "remove", "now": PHRASE})
    assert not RecoveryCode.objects.exists() and is_in(door("viewer")[0])


def test_the_last_one_is_not_removed_where_the_site_asks_for_one(held, world, settings, moments):
    settings.SECOND_FACTOR = "everybody"
    browser, _ = held
    key = Passkey.objects.get()
    answer = browser.post(page_of(key), {"do": "remove", "now": PHRASE})
    assert answer.status_code == 422 and "Add another one first" in answer.content.decode()
    assert Passkey.objects.filter(pk=key.pk).exists() and RecoveryCode.objects.exists()
    set_up(world.people["viewer"], moments)
    assert browser.post(page_of(key), {"do": "remove", "now": PHRASE}).status_code == 302
    answer = browser.post(reverse("second-factor"), {"now": PHRASE})
    assert answer.status_code == 422 and "Add another one first" in answer.content.decode()
    assert second.of(world.people["viewer"]) is not None


def test_it_is_renamed_by_its_person_alone(held, world, door):
    browser, _ = held
    key = Passkey.objects.get()
    assert "blue key" in browser.get(page_of(key)).content.decode()
    assert browser.post(page_of(key), {"do": "rename", "new-name": " "}).status_code == 422
    assert browser.post(page_of(key), {"do": "rename", "new-name": "<b>red</b>"}).status_code == 302
    assert "&lt;b&gt;red&lt;/b&gt;" in browser.get(LIST).content.decode()
    other, _ = door("operator")
    for sent in ({"do": "rename", "new-name": "x"}, {"do": "remove", "now": PHRASE}):
        assert other.post(page_of(key), sent).status_code == 404
    assert other.get(page_of(key)).status_code == 404
    key.refresh_from_db()
    assert key.name == "<b>red</b>"


def test_an_administrator_takes_all_away_from_who_lost_them(held, world, door, moments):
    set_up(world.people["viewer"], moments)
    Account.objects.filter(username="coordinator").update(is_staff=True, is_superuser=True)
    chief, _ = door("coordinator")
    chief.post(reverse("admin:records_account_door", args=[world.people["viewer"].pk]), {"do": "factor"})
    assert not (Passkey.objects.exists() or SecondFactor.objects.exists() or RecoveryCode.objects.exists())
    assert is_in(door("viewer")[0])


# ------------------------------------------------------------------------------------------------- where it cannot be

# The site's address, the name of its keys, where its pages come from, and what is said where it cannot be.
ADDRESSES = [
    ("http://localhost:8000", "localhost", "http://localhost:8000", ""),
    ("https://Standing.example:443/", "standing.example", "https://standing.example", ""),
    ("https://standing.example:8443", "standing.example", "https://standing.example:8443", ""),
    ("https://bücher.example", "xn--bcher-kva.example", "https://xn--bcher-kva.example", ""),
    ("http://standing.example", "standing.example", "http://standing.example", "need HTTPS"),
    ("https://192.0.2.7", "192.0.2.7", "https://192.0.2.7", "need a name"),
    ("http://127.0.0.1:8000", "127.0.0.1", "http://127.0.0.1:8000", "need a name"),
    ("https://[2001:db8::1]", "2001:db8::1", "https://2001:db8::1", "need a name"),
]


@pytest.mark.parametrize(("address", "host", "origin", "why"), ADDRESSES)
def test_keys_are_for_the_address_of_the_site(settings, address, host, origin, why):
    settings.SITE_ADDRESS = address
    assert (passkeys.host(), passkeys.origin()) == (host, origin)
    said = passkeys.why_not()
    assert (why in said and "STANDING_ADDRESS" in said) if why else said == ""


def test_where_it_cannot_be_the_pages_say_why_and_the_way_out(world, door, moments, settings):
    settings.SITE_ADDRESS = "http://standing.example"
    browser, _ = door("viewer")
    page = browser.get(LIST).content.decode()
    assert "Passkeys need HTTPS" in page and "Time codes do without it" in page and 'class="form"' not in page


def test_keys_of_another_address_of_the_site_are_not_taken(held, door, settings):
    _, device = held
    settings.SITE_ADDRESS = "https://standing.example"
    assert given(half(door), device).status_code == 422


# ------------------------------------------------------------------------------------------------- codes


def test_time_codes_move_to_another_telephone_without_a_gap(world, door, moments):
    factor, _ = set_up(world.people["viewer"], moments)
    browser, _ = door("viewer")
    browser.post(reverse("sign-in-code"), {"code": code_of(factor, moments)})
    address = reverse("second-factor") + "?move=1"
    page = browser.get(address)
    new = SecondFactor(secret=browser.session["time codes move"])
    assert (
        second.typed_secret(new) in page.content.decode() and second.typed_secret(factor) not in page.content.decode()
    )
    moments.pass_by(seconds=60)
    code = code_of(new, moments)
    assert browser.post(address, {"code": "000000", "now": PHRASE}).status_code == 422
    assert browser.post(address, {"code": code, "now": "not the one"}).status_code == 422
    assert second.is_right(second.of(world.people["viewer"]), code_of(factor, moments)), (
        "the old one holds until then"
    )
    moments.pass_by(seconds=60)
    code = code_of(new, moments)
    assert browser.post(address, {"code": code, "now": PHRASE})["Location"] == reverse("my-log-in")
    held = second.of(world.people["viewer"])
    assert not second.is_right(held, code), "not a second time"
    moments.pass_by(seconds=60)
    assert not second.is_right(held, code_of(factor, moments)) and second.is_right(held, code_of(new, moments))
    assert SecondFactor.objects.count() == 1 and second.recovery_left(world.people["viewer"]) == second.CODES


def test_recovery_codes_are_made_anew_after_the_pass_phrase(held, world, door):
    browser, _ = held
    address = reverse("recovery-codes")
    before = set(RecoveryCode.objects.values_list("digest", flat=True))
    assert browser.post(address, {"now": "not the one"}).status_code == 422
    answer = browser.post(address, {"now": PHRASE})
    assert answer.content.decode().count("<code>") == second.CODES and "no-store" in answer["Cache-Control"]
    after = set(RecoveryCode.objects.values_list("digest", flat=True))
    assert len(after) == second.CODES and not before & after
    other, _ = door("operator")
    assert other.get(address)["Location"] == reverse("my-log-in"), (
        "without a second factor there is nothing to recover"
    )


def test_flags_of_the_software_device_are_those_of_the_standard():
    """6.1: user present bit 0, user verified bit 2, attested data bit 6."""
    assert (PRESENT, VERIFIED, HAS_KEY) == (1 << 0, 1 << 2, 1 << 6)
