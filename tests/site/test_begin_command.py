"""`manage.py begin`: by options, asked for at a terminal, refused, and killed in the middle."""

from __future__ import annotations

import io
import os

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from audit.management.commands import begin as command
from records import access, clock, log
from records.ledger import tamper_check
from records.models import Account, Clinic, ClinicTerms, Entry, Membership, Organisation, ServiceCompany
from tests import started
from tests import world as build

PHRASE = "correct kettle bellows"
PERSON = ["--username", "mara", "--first-name", "Mara", "--last-name", "Lind"]
COMPANY = ["--company", "North Keepers"]
CLINIC = [
    "--clinic", "Quay Dental", "--programme", "dental", "--address", "9 Invented Road",
    "--time-zone", "America/Chicago", "--week-start", "Sunday", "--regime", "us-dental-cdc-2003",
]  # fmt: skip


def changed(options: list[str], **by_name) -> list[str]:
    """The options with some values changed; None leaves one out."""
    pairs = dict(zip(options[::2], options[1::2], strict=True))
    pairs |= {"--" + name.replace("_", "-"): value for name, value in by_name.items()}
    return [part for name, value in pairs.items() if value is not None for part in (name, value)]


@pytest.fixture(autouse=True)
def _standing_now(monkeypatch):
    monkeypatch.setenv(command.PASS_PHRASE, PHRASE)
    monkeypatch.setattr(command.sys, "stdin", io.StringIO())
    with clock.at(build.NOW):
        yield


@pytest.fixture
def begin(capsys):
    """Run it: its exit status, output and error output."""

    def run(*args):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            call_command("begin", *args)
        return end.value.code, *capsys.readouterr()

    return run


def held() -> tuple[int, int, int]:
    return Account.objects.count(), Organisation.objects.count(), Entry.objects.count()


@pytest.mark.django_db
def test_with_both_the_person_is_dispatcher_and_the_clinic_is_served_with_its_rules(begin):
    status, out, err = begin(*PERSON, *COMPANY, *CLINIC)
    assert (status, err) == (0, "")
    mara, company, clinic = Account.objects.get(), ServiceCompany.objects.get(), Clinic.objects.get()
    assert (mara.username, mara.full_name, company.slug, clinic.slug) == (
        "mara", "Mara Lind", "north-keepers", "quay-dental",
    )  # fmt: skip
    assert mara.check_password(PHRASE) and not (mara.is_staff or mara.is_superuser)
    [member] = access.memberships(mara)
    assert (member.organisation_id, member.role, member.effective_on) == (company.pk, "dispatcher", build.TODAY)
    rights = access.rights(mara, clinic)
    assert rights.company == company and not rights.may_set_rules
    terms = ClinicTerms.objects.get(clinic=clinic)
    assert (terms.programme, terms.time_zone, terms.week_start, terms.regime, terms.address) == (
        "dental", "America/Chicago", 6, "us-dental-cdc-2003", "9 Invented Road",
    )  # fmt: skip
    assert held() == (1, 2, 2)
    assert all(tamper_check.verify(each).whole for each in Organisation.objects.all())
    assert "invite its coordinator" in out and "sign in as mara" in out and "outrank" in out
    assert PHRASE not in out


@pytest.mark.django_db
def test_with_a_clinic_alone_the_person_is_its_coordinator_and_sets_its_rules(begin):
    status, out, _ = begin(*PERSON, *CLINIC, "--clinic-slug", "quay")
    clinic, mara = Clinic.objects.get(slug="quay"), Account.objects.get()
    assert status == 0 and "mara: Mara Lind, coordinator" in out
    assert Membership.objects.get(organisation=clinic).role == "coordinator"
    assert access.rights(mara, clinic).may_set_rules
    assert held() == (1, 1, 1)


@pytest.mark.django_db
def test_with_a_company_alone_the_next_step_is_to_open_a_clinic(begin):
    status, out, _ = begin(*PERSON, *COMPANY)
    assert status == 0 and "Open a clinic" in out and held() == (1, 1, 1)
    client = Client()
    client.force_login(Account.objects.get())
    page = client.get(reverse("company", args=["north-keepers"])).content.decode()
    assert "There is no clinic here yet" in page and reverse("open-clinic", args=["north-keepers"]) in page


@pytest.mark.django_db
def test_staff_may_look_at_all_records_and_change_none(begin):
    assert begin(*PERSON, *COMPANY, "--staff")[0] == 0
    mara = Account.objects.get()
    assert mara.is_staff and not mara.is_superuser
    assert {name.partition(".")[2].partition("_")[0] for name in mara.get_user_permissions()} == {"view"}
    client = Client()
    client.force_login(mara)
    assert client.get(reverse("admin:index")).status_code == 200
    assert client.get(reverse("admin:records_membership_changelist")).status_code == 200
    page = client.get(reverse("admin:records_account_change", args=[mara.pk]))
    assert page.status_code == 200 and 'name="_save"' not in page.content.decode()
    assert client.post(reverse("admin:records_account_change", args=[mara.pk]), {}).status_code == 403
    assert client.get(reverse("admin:records_account_add")).status_code == 403


# options changed, what is said of it
WRONG = [
    ({"username": None}, "--username: is missing"),
    ({"first_name": None}, "--first-name: is missing"),
    ({"first_name": "  "}, "--first-name: is missing"),
    ({"username": "no good"}, "--username “no good”: has other characters"),
    ({"first_name": "Ma\u202era"}, "cannot be seen"),
    ({"time_zone": "chicago"}, "“chicago” is not a time zone. Did you mean America/Chicago?"),
    ({"time_zone": None}, "--time-zone: is missing"),
    ({"regime": "us-dentl-cdc"}, "There are no such rules on file. Did you mean us-dental-cdc-2003"),
    ({"regime": "california"}, "Did you mean us-ca-dental, us-ca-body-art, us-ca-clinics or us-ca-san-"),
    ({"regime": "qqqq"}, "Choose one of: au-racgp-2023, "),
    ({"programme": "tattoo"}, "--programme “tattoo”: is none of these: dental, medical, veterinary, body art"),
    ({"week_start": "7"}, "--week-start “7”: is no day of the week"),
    ({"week_start": "T"}, "is no day of the week"),
    ({"clinic_slug": "no good"}, "--clinic-slug “no good”: The short name stands in addresses"),
    ({"clinic": "診療所"}, "--clinic-slug: The short name stands in addresses"),
    ({"clinic_slug": "north-keepers"}, "would share one short name"),
    ({"since": "2026-03-17"}, "--since “2026-03-17”: has not come yet: it is 2026-03-16"),
    ({"since": "soon"}, "--since “soon”: is not a day"),
    ({"since": "1226-03-17"}, "lies before 1950"),
    ({"address": "x" * 501}, "--address"),
    ({"company": "x" * 201}, "in at most 200 characters"),
    ({"company": None, "clinic": None}, "neither a company nor a clinic is named"),
]


@pytest.mark.django_db
@pytest.mark.parametrize(("change", "says"), WRONG)
def test_bad_input_is_told_with_the_way_out_and_nothing_is_written(begin, change, says):
    status, out, err = begin(*changed([*PERSON, *COMPANY, *CLINIC], **change))
    assert (status, out) == (2, "") and says in err and "Nothing was written" in err
    assert len(err.splitlines()) == 2, "one thing is wrong, so one thing is said"
    assert held() == (0, 0, 0)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("phrase", "says"),
    [
        ("", "is missing"),
        ("kettle x", "at least 12 characters"),
        ("mara lind 1", "similar"),
        ("password123", "common"),
    ],
)
def test_a_weak_pass_phrase_is_refused_and_never_shown(begin, monkeypatch, phrase, says):
    monkeypatch.setenv(command.PASS_PHRASE, phrase)
    status, out, err = begin(*changed([*PERSON, *COMPANY], username="mara lind 1".replace(" ", "")))
    assert status == 2 and says in err and held() == (0, 0, 0)
    assert not phrase or phrase not in out + err


@pytest.mark.django_db
def test_everything_that_is_wrong_is_said_at_once(begin):
    change = {"username": None, "time_zone": "chicago", "regime": "qqqq", "programme": None, "since": "soon"}
    err = begin(*changed([*PERSON, *CLINIC], **change))[2]
    assert [line.split()[0].rstrip(":") for line in err.splitlines()[1:]] == [
        "--username", "--programme", "--time-zone", "--regime", "--since",
    ]  # fmt: skip


@pytest.mark.django_db
def test_the_pass_phrase_comes_from_standard_input(begin, monkeypatch):
    monkeypatch.delenv(command.PASS_PHRASE)
    monkeypatch.setattr(command.sys, "stdin", io.StringIO("another kettle bellows\nnot this\n"))
    assert begin(*PERSON, *COMPANY, "--pass-phrase-stdin")[0] == 0
    assert Account.objects.get().check_password("another kettle bellows")


@pytest.mark.django_db
def test_begun_twice_it_is_refused_with_the_way_out(begin):
    wanted = [*PERSON, *COMPANY, *CLINIC]
    assert begin(*wanted)[0] == 0
    before = held()
    status, _, err = begin(*wanted)
    assert status == 2 and "begun already, just so" in err and "Sign in as “mara”" in err
    assert "just so" not in begin(*PERSON, *COMPANY)[2]
    status, _, err = begin(*changed(wanted, username="otto", company="Other Keepers"))
    assert status == 2 and "“North Keepers”, “Quay Dental”, the log-in “mara” already" in err
    assert "STANDING_DATA" in err and "invitation" in err
    assert held() == before


@pytest.mark.django_db
@pytest.mark.parametrize("make", [
    lambda: Account.objects.create_user("somebody"),
    lambda: Clinic.objects.create(slug="old", name="Old Clinic"),
])  # fmt: skip
def test_a_database_that_holds_anything_is_left_alone(begin, make):
    make()
    before = held()
    status, _, err = begin(*PERSON, *COMPANY)
    assert status == 2 and ("somebody" in err or "Old Clinic" in err) and held() == before


@pytest.mark.django_db
@pytest.mark.parametrize("at", ["open_company", "open_served_clinic"])
def test_killed_in_the_middle_it_has_written_nothing_and_goes_through_again(begin, monkeypatch, at):
    class Killed(BaseException):
        pass

    def killed(**given):
        getattr(log.organisations, at)(**given)  # written, but not yet for good
        raise Killed

    wanted = [*PERSON, *COMPANY, *CLINIC]
    with monkeypatch.context() as patch:
        patch.setattr(log, at, killed)
        with pytest.raises(Killed):
            call_command("begin", *wanted)
    assert held() == (0, 0, 0)
    assert begin(*wanted)[0] == 0 and held() == (1, 2, 2)


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def typed(monkeypatch):
    """At a terminal: every line asked for is taken off `lines`, every pass phrase off `phrases`."""
    monkeypatch.delenv(command.PASS_PHRASE)
    monkeypatch.setattr(command.sys, "stdin", Terminal())

    def lines(*answers, phrases=(PHRASE, PHRASE)):
        asked, left, hidden = [], list(answers), list(phrases)

        def take(prompt):
            asked.append(prompt)
            return left.pop(0)

        monkeypatch.setattr("builtins.input", take)
        monkeypatch.setattr(command.getpass, "getpass", lambda prompt: hidden.pop(0))
        return asked, left

    return lines


@pytest.mark.django_db
def test_at_a_terminal_it_asks_and_only_what_was_wrong_is_asked_again(begin, typed):
    asked, left = typed(
        "mara", "Mara", "", "", "Ink Room", "", "tattoo", "", "los angeles", "Mon", "us-ca-body-art", "",
        "body art", "America/Los_Angeles",
        phrases=(PHRASE, "typed wrong here", "short", "short", PHRASE, PHRASE),
    )  # fmt: skip
    status, out, err = begin()
    assert (status, left) == (0, []) and "The two differ" in err
    assert "us-ca-body-art: California body art" in out  # what can be chosen is shown before it is asked for
    assert "Did you mean America/Los_Angeles?" in out and "too short" in out
    assert [prompt.split(" [")[-1] for prompt in asked[-2:]] == ["tattoo]: ", "los angeles]: "]
    clinic = Clinic.objects.get(slug="ink-room")
    terms = ClinicTerms.objects.get(clinic=clinic)
    assert (terms.programme, terms.time_zone, terms.regime) == ("body art", "America/Los_Angeles", "us-ca-body-art")
    assert Account.objects.get().full_name == "Mara" and PHRASE not in out + err


@pytest.mark.django_db
def test_at_a_terminal_what_was_given_is_not_asked(begin, typed):
    asked, left = typed("", "")
    assert begin(*PERSON, *COMPANY)[0] == 0
    assert [prompt.split(" [")[0].split(" (")[0] for prompt in asked] == [
        "Short name of the company in addresses", "First day, year-month-day",
    ]  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("how", [EOFError, KeyboardInterrupt])
def test_leaving_off_at_the_terminal_writes_nothing(begin, typed, monkeypatch, how):
    typed()

    def ended(prompt):
        raise how

    monkeypatch.setattr("builtins.input", ended)
    status, _, err = begin()
    assert status == 2 and "Nothing was written" in err and held() == (0, 0, 0)


def manage(folder, *args, phrase=PHRASE):
    env = {**os.environ, "STANDING_DATA": str(folder)}
    return started.run(["manage.py", *args], stdin=f"{phrase}\n", timeout=180, env=env)


def test_in_an_empty_folder_it_sets_the_database_up_and_a_second_time_is_refused(tmp_path):
    """In processes of their own, as people run it."""
    wanted = ["begin", *PERSON, *COMPANY, *CLINIC, "--pass-phrase-stdin"]
    done = manage(tmp_path, *wanted)
    assert done.returncode == 0, done.stderr
    assert "Setting up the database" in done.stdout and str(tmp_path) in done.stdout
    again = manage(tmp_path, *wanted)
    assert again.returncode == 2 and "begun already, just so" in again.stderr
    checked = manage(tmp_path, "verify_ledger")
    assert checked.returncode == 0 and len(checked.stdout.splitlines()) == 2, checked.stdout


def test_bad_input_in_an_empty_folder_sets_nothing_up(tmp_path):
    done = manage(tmp_path, "begin", *changed([*PERSON, *CLINIC], regime="none"), "--pass-phrase-stdin")
    assert done.returncode == 2 and "--regime “none”" in done.stderr and "Traceback" not in done.stderr
    assert not list(tmp_path.glob("standing.sqlite3*"))


def test_a_database_that_cannot_be_opened_is_told(tmp_path):
    (tmp_path / "standing.sqlite3").mkdir()
    done = manage(tmp_path, "begin", *PERSON, *COMPANY, "--pass-phrase-stdin")
    assert done.returncode == 2 and "cannot be opened" in done.stderr and "Traceback" not in done.stderr


@pytest.mark.django_db
def test_the_first_page_says_how_to_begin_until_somebody_has(client):
    page = client.get(reverse("sign-in")).content.decode()
    assert "manage.py begin" in page
    lone = Account.objects.create_user("lone")
    assert "manage.py begin" not in client.get(reverse("sign-in")).content.decode()
    client.force_login(lone)
    home = client.get(reverse("home")).content.decode()
    assert "no clinic and no service company here at all yet" in home and "manage.py begin" in home
