"""A visit without a signal, in a real browser: what the server would refuse is refused at its step, and told there.

| typed without a signal | the device |
| --- | --- |
| a seal renewed | tells that V1 is asked and missing; “released” is not there to choose |
| V1 passed with 133 °C in a band from 134 °C | stops at the step, with the words of the server |
| the same with 134.5 °C | tells that nothing is missing; “released” is there |
| a strainer to be replaced, part not with me | offers a limit or out of use; asks who accepts the limit |
| looked through | shows what was answered; nothing is refused when it is sent |
"""

from __future__ import annotations

import pytest

from records.models import ConditionFinding, JobConclusion, Signature, VerificationTest

from .offline_page import until
from .test_browser import browser  # noqa: F401 (fixture)
from .test_browser_visit import Finger, kettle, phone  # noqa: F401 (fixtures)
from .test_browser_visit_kept import begun

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TOLD = "[data-told-here]"


def opened(phone, text: str) -> None:  # noqa: F811
    """Open the fold of that name."""
    phone.locator("main details:not([open]) > summary", has_text=text).first.tap()


def endings(phone) -> list[str]:  # noqa: F811
    return [box.get_attribute("value") for box in phone.locator("[name=conclusion]").all() if box.is_visible()]


def stopped(phone, words: str) -> None:  # noqa: F811
    """“Go on” stays on the page and says why."""
    before = phone.url
    phone.get_by_role("button", name="Go on", exact=True).tap()
    box = phone.locator("[data-checked-here]")
    box.wait_for()
    assert words in box.inner_text() and phone.url.split("#")[0] == before.split("#")[0], box.inner_text()


def test_what_would_be_refused_is_refused_here_and_the_rest_goes_in(phone, live_server, kettle):  # noqa: F811
    phone.context.set_default_timeout(20000)
    start = begun(phone, live_server, kettle)
    finger = Finger(phone)
    phone.context.set_offline(True)
    phone.fill("[name=cycles]", "40")
    finger.choose("plate", "says the same").choose("positions", "are as on record")
    stopped(phone, "The cycles counter shows 40, but it stood at 4100")
    phone.fill("[name=cycles]", "5000")
    finger.go()
    finger.choose("reason", "planned").choose("contamination", "declared clean")
    phone.evaluate("document.querySelectorAll('[data-times]').forEach(box => box.click())")
    finger.go()

    phone.goto(f"{start}task-replace-gasket/")
    phone.locator("#f-lot label.choice").first.tap()
    finger.choose("old_part", "scrapped").go("Done: replaced")
    phone.goto(f"{start}end/")
    assert "Still missing: V1" in phone.locator(TOLD).inner_text()
    assert endings(phone) == ["pending", "not released"]

    phone.goto(f"{start}prove/")
    assert "The rules ask after it: V1" in phone.locator(TOLD).inner_text()
    finger.choose("V1", "pass")
    opened(phone, "What was measured over the")
    for name, value in (("temperature_low", "133"), ("band_low", "134")):
        phone.fill(f"[name=V1_{name}]", value)
    stopped(phone, "133 °C lies below the band, which begins at 134 °C")
    phone.fill("[name=V1_temperature_low]", "134.5")
    finger.go()
    assert "Nothing is missing." in phone.locator(TOLD).inner_text()
    assert endings(phone) == ["released", "limited", "pending", "not released"]

    phone.goto(f"{start}task-clean-strainer/")
    opened(phone, "Condition and decision")
    finger.choose("grade", "at its limit").choose("decision", "must be replaced, part not with me")
    phone.fill("[name=found]", "torn")
    opened(phone, "Not done as planned")
    finger.choose("outcome", "not possible today")
    phone.fill("[name=reason]", "no strainer in the van")
    phone.fill("[name=bring]", "")
    phone.get_by_role("button", name="Keep this and go on").tap()
    phone.locator("[data-checked-here]").wait_for()
    assert "Which part is to be brought?" in phone.locator("[data-checked-here]").inner_text()
    phone.fill("[name=bring]", "Strainer insert")
    finger.go("Keep this and go on")

    phone.goto(f"{start}end/")
    assert "To be replaced, and not fitted: strainer: torn" in phone.locator(TOLD).inner_text()
    assert endings(phone) == ["limited", "not released"]
    finger.choose("conclusion", "released with a limit").choose("clinic", "returns it to use")
    phone.fill("[name=clinic_name]", "Ana Coordinator")
    phone.locator("[name=technician]").check()
    stopped(phone, "Who at the clinic accepts its use until then?")
    phone.fill("[name=acceptor]", "Ana Coordinator")
    phone.fill("[name=limitation]", "unwrapped loads only")
    finger.go()

    held = phone.locator("[data-visit-held]").inner_text()
    for answer in ("Strainer insert", "must be replaced, part not with me", "unwrapped loads only", "134.5", "5000"):
        assert answer in held, (answer, held)

    phone.context.set_offline(False)
    phone.reload()
    until(phone, "!document.querySelector('[data-visit-held] li')")
    phone.get_by_role("button", name="Record the visit").tap()
    phone.wait_for_url("**/visits/**")
    ended = JobConclusion.objects.get(conclusion="limited")
    assert (ended.acceptor, ended.limitation) == ("Ana Coordinator", "unwrapped loads only")
    assert ConditionFinding.objects.get(decision="part awaited").part_needed == "Strainer insert"
    assert str(VerificationTest.objects.get(job=ended.job).temperature_low) == "134.5"
    assert Signature.objects.filter(job=ended.job).count() == 2
