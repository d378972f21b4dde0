"""Words that cannot be read are found wherever they stand, though each way of standing is asked about once."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from tests.site.looker import LOOKS, Looker
from tests.site.test_browser import browser  # noqa: F401 (fixture)

pytestmark = pytest.mark.browser

PAGE = """<!doctype html><html lang="en"><head><title>Invented</title><style>
body {{ background: white; color: black }}
@media (prefers-color-scheme: dark) {{ body {{ background: black; {dark} }} }}
</style></head><body><main><h1>Words</h1><p>words</p>{more}</main></body></html>"""
# What is added to a page that is right, so that words on it cannot be read.
WRONG = (
    '<p style="color: #aaa">words</p>',
    '<p style="color: #555">words</p>',
    '<div style="background: #111"><p style="color: black">words</p></div>',
    '<div style="opacity: .3"><p>words</p></div>',
    '<p>words</p><p style="color: #888; font-size: 9px">words</p>',
    '<div style="position: absolute; top: 0; left: 0; background: #999; width: 9rem; height: 9rem"></div>'
    '<p style="position: absolute; top: 2rem; left: 2rem; margin: 0; color: #888">words</p>',
    '<input value="words" aria-label="words" style="color: #777; background: #666; height: 44px">',
)
ALL = """async () => {
  const { violations } = await axe.run(document, { runOnly: ["color-contrast"] });
  return violations.flatMap((rule) => rule.nodes).length;
}"""


@pytest.fixture
def looker(browser):  # noqa: F811
    made = Looker(browser, SimpleNamespace(url=""), None)
    yield made
    made.context.close()


def looked(looker, more: str = "", dark: str = "color: white") -> list[str]:
    """What is wrong with the page, by what is asked once and found each time."""
    before = len(looker.wrong)
    looker.page.set_content(PAGE.format(more=more, dark=dark))
    looker.look_here("page")
    return looker.wrong[before:]


def plainly(looker) -> int:
    """How many words cannot be read on the page that is open, as axe says of all of it in every look."""
    found = 0
    for size, scheme, _ in LOOKS:
        looker.page.set_viewport_size(size)
        looker.page.emulate_media(color_scheme=scheme)
        found += looker.page.evaluate(ALL)
    return found


def test_what_passed_on_a_page_before_is_not_asked_about_again_and_what_is_wrong_is_found_as_by_asking_all(looker):
    asked, evaluate = [], looker.page.evaluate
    looker.page.evaluate = lambda script, *given: asked.append(script) or evaluate(script, *given)
    assert looked(looker) == []
    first = len(asked)
    assert looked(looker) == [] and len(asked) == 2 * first - 2, "dark once and light once, which is the same wide"
    for more in (*WRONG, "".join(WRONG)):  # the second time too
        found = looked(looker, more)
        assert len(found) == plainly(looker) > 0, (more, found)
        assert all("color-contrast" in each for each in found), found
    assert len(looked(looker, dark="color: #222")) == 2, "in the dark alone: the heading and the words"
    assert looked(looker) == []
