"""Every answer forbids the browser what the pages do not need, and no page holds what is then refused."""

from __future__ import annotations

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse

from audit.site.headers import DEVICES, POLICY, READER, HeadersMiddleware, written
from tests.inline import refused
from tests.records.test_url_walk import walk  # noqa: F401 (fixture)
from tests.site.every_page import addresses, full, is_page, seen  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db

ADMIN = ("admin:index", "admin:records_account_changelist", "admin:records_biotest_changelist", "admin:login")


def test_the_finder_finds_what_is_refused_and_lets_the_rest_be():
    bad = '<p style="a"><a href="javascript:x" onclick="y">z</a><style>a{}</style><svg style="b"/>'
    assert len(refused(bad)) == 5
    for script in ("<script>1</script>", '<script type="module">1</script>', '<script src="//x.example/a.js">',
                   '<script src="data:,1">', '<script src="/static/a.js">1</script>',
                   '<link rel="stylesheet" href="https://x.example/a.css">'):  # fmt: skip
        assert refused(script), script
    assert refused('<script src="/static/a.js" defer></script><link rel="stylesheet" href="/static/a.css">') == []


def test_every_page_has_the_policy_and_nothing_that_it_refuses(full):  # noqa: F811
    wrong, pages = [], 0
    for role in ("coordinator", "technician", ""):
        for address in addresses(full):
            answer = seen(full, role, address)
            if answer.headers.get("Content-Security-Policy") != written(POLICY):
                wrong.append(f"{address}: {answer.headers.get('Content-Security-Policy')}")
            if answer.headers.get("Permissions-Policy") != DEVICES:
                wrong.append(f"{address}: {answer.headers.get('Permissions-Policy')}")
            if is_page(answer):
                pages += 1
                wrong += [f"{address}: {each}" for each in refused(answer.content.decode())]
    assert wrong == []
    assert pages > 130


def test_the_pages_of_the_admin_stay_within_the_same_policy(walk):  # noqa: F811
    boss = walk.people["coordinator"]
    boss.is_staff = boss.is_superuser = True
    boss.save()
    client = Client()
    client.force_login(boss)
    for name in ADMIN:
        answer = client.get(reverse(name))
        assert answer.headers["Content-Security-Policy"] == written(POLICY)
        assert refused(answer.content.decode()) == [], name


def test_answers_to_errors_and_files_have_it_too(client, settings):
    settings.DEBUG = False

    def fails(request):
        from django.http import HttpResponseServerError

        return HttpResponseServerError("fault")

    for path in ("/x/", "/static/records/style.css", "/static/audit/scan.js", "/audit/scan-worker.js"):
        answer = HeadersMiddleware(fails)(RequestFactory().get(path))
        assert answer.headers["Content-Security-Policy"] == written(POLICY), path
    assert client.post(reverse("sign-in"), {"username": "x"}).headers["X-Frame-Options"] == "DENY"


@pytest.mark.parametrize("name", ["scan-worker.js", "scan-worker.0123456789ab.js"])
def test_only_the_worker_that_reads_codes_may_compile(name):
    from django.http import HttpResponse

    answer = HeadersMiddleware(lambda request: HttpResponse())(RequestFactory().get(f"/static/audit/{name}"))
    assert answer.headers["Content-Security-Policy"] == written(READER)
    assert "'wasm-unsafe-eval'" in written(READER)
    assert "unsafe" not in written(POLICY)


def test_a_view_may_be_stricter(client):
    from django.http import HttpResponse

    own = HttpResponse(headers={"Content-Security-Policy": "sandbox"})
    assert HeadersMiddleware(lambda request: own)(RequestFactory().get("/")).headers[
        "Content-Security-Policy"
    ] == "sandbox"  # fmt: skip


def test_what_else_is_said(client):
    answer = client.get(reverse("sign-in"))
    assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
