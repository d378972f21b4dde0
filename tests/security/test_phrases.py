"""Pass phrases as they may be and as they are kept; the key of a sitting; and where signing in leads to."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest
from django.conf import settings
from django.contrib.auth.hashers import get_hasher, identify_hasher, make_password
from django.test import Client
from django.urls import reverse

from records.forms.log_in import LONGEST_PHRASE, NewPhraseForm
from records.models import Account, Sitting
from tests.security.conftest import PHRASE, is_in
from tests.site.test_project import PRODUCTION, TOP

pytestmark = pytest.mark.django_db

# What is typed, whether it may be a pass phrase.
TYPED = [
    ("a" * 5 + "quick kettle", True),
    ("seven lids under the bench " * 5, True),
    ("  kettle  and  bellows  ", True),
    ("ねこがかまのうえにすわる", True),
    ("🫖🔧🧪🪣🧰🔩🧯🧲🪜🧹🪛🧽", True),
    ("onlyletters", False),
    ("only letters", True),
    ("123456789012", False),
    ("abcdefghijklm", False),
    ("aaaaaaaaaaaaaaaa", False),
    ("ab ab ab ab ab ab", False),
    ("1q2w3e4r5t6y", False),
    ("x" * (LONGEST_PHRASE + 1), False),
]


@pytest.mark.parametrize(("typed", "may"), TYPED, ids=[f"{n}" for n, _ in enumerate(TYPED)])
def test_what_may_be_a_pass_phrase(world, typed, may):
    account = world.people["viewer"]
    form = NewPhraseForm({"phrase": typed, "again": typed}, account=account)
    assert form.is_valid() == may, form.errors
    if may:
        assert form.cleaned_data["phrase"] == typed, "nothing is cut away"
        account.set_password(typed)
        assert account.check_password(typed) and not account.check_password(typed.strip() + "x")


def test_pass_phrases_are_kept_by_a_slow_function(settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    one, two = make_password(PHRASE), make_password(PHRASE)
    assert identify_hasher(one).algorithm == "argon2" and one != two, "each has a salt of its own"
    hasher = get_hasher("argon2")
    assert len(hasher.salt()) >= 16 and hasher.memory_cost >= 64 * 1024


def test_the_site_keeps_them_so():
    said = "import django.conf as c; print(c.settings.PASSWORD_HASHERS[0])"
    env = os.environ | {"DJANGO_SETTINGS_MODULE": "audit.site.settings"}
    done = subprocess.run([sys.executable, "-c", said], cwd=TOP, env=env, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "django.contrib.auth.hashers.Argon2PasswordHasher"


def test_managers_of_pass_phrases_know_the_fields(world, door, moments):
    browser, _ = door("viewer")
    page = browser.get(reverse("change-pass-phrase")).content.decode()
    assert page.count('autocomplete="new-password"') == 2 and 'autocomplete="current-password"' in page
    assert 'autocomplete="current-password"' in Client().get(reverse("sign-in")).content.decode()


def test_signing_in_makes_a_new_key(world, door, moments):
    browser = Client()
    browser.get(reverse("sign-in"))
    session = browser.session
    session["planted"] = "1"
    session.save()
    before = session.session_key
    browser.cookies[settings.SESSION_COOKIE_NAME] = before
    _, answer = door("viewer", browser=browser)
    after = browser.cookies[settings.SESSION_COOKIE_NAME].value
    assert answer.status_code == 302 and before != after
    assert not Sitting.objects.filter(session_key=before).exists()
    assert len(after) == 32 and after.isalnum(), "32 of 36 letters and digits: 165 bits"


def test_signing_out_ends_the_key(world, door, moments):
    browser, _ = door("viewer")
    key = browser.cookies[settings.SESSION_COOKIE_NAME].value
    browser.post(reverse("sign-out"))
    stolen = Client()
    stolen.cookies[settings.SESSION_COOKIE_NAME] = key
    assert not is_in(stolen) and not Sitting.objects.filter(session_key=key).exists()


def test_the_key_of_a_sitting_stands_in_a_safe_cookie_alone(world, door, moments, tmp_path):
    browser, answer = door("viewer")
    cookie = answer.cookies[settings.SESSION_COOKIE_NAME]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and cookie["path"] == "/"
    assert cookie.value not in answer["Location"]
    assert cookie.value not in browser.get(reverse("my-log-in")).content.decode()
    names = ("SESSION_COOKIE_NAME", "SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY", "CSRF_COOKIE_SECURE")
    said = f"import json; from audit.site import settings as s; print(json.dumps([getattr(s, n) for n in {names}]))"
    env = os.environ | PRODUCTION | {"STANDING_DATA": str(tmp_path)}
    done = subprocess.run([sys.executable, "-c", said], cwd=TOP, env=env, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == ["__Host-sitting", True, True, True]


# Where one asks to be led after signing in, and where one is led.
LED = [
    ("/clinic/first/", "/clinic/first/"), ("https://elsewhere.example/", "/"), ("//elsewhere.example/", "/"),
    ("javascript:alert(1)", "/"), ("https:///elsewhere.example", "/"), ("/\\elsewhere.example", "/"),
]  # fmt: skip


@pytest.mark.parametrize(("asked", "led"), LED)
def test_signing_in_leads_to_this_site_alone(world, moments, asked, led):
    sent = {"username": "viewer", "password": PHRASE, "next": asked}
    assert Client().post(reverse("sign-in"), sent)["Location"] == led
    assert Account.objects.filter(username="viewer").exists()
