"""One browser window that puts pages before axe-core: on a phone and a desk, light and dark, as several people.

What takes axe longest is the contrast of words, and most words stand on many pages in the same colours. So it is
asked for each way of standing once: the colour, size and weight of the words with all that is painted behind them
and how it is mixed, as the browser itself computed them for the element and everything around it. Only a way of
standing that axe called a pass is not asked about again; what it calls a fault, cannot tell or leaves out is, on
every page that shows it. What lies outside the flow of its page, where something else could come under it, is the
same only on the same pile of elements, and is asked about each time where that pile is not to be seen.
"""

from __future__ import annotations

import os

from axe_playwright_python.base import AXE_SCRIPT
from django.conf import settings

from tests.site import one_browser
from tests.site.every_page import client_of
from tests.site.test_browser import listen_for_refusals, sideways

PHONE, DESK = {"width": 360, "height": 800}, {"width": 1280, "height": 800}
# Dark differs from light in nothing but colours, and those in nothing by width: dark, contrast alone is looked at.
LOOKS = ((PHONE, "dark", "none"), (PHONE, "light", "all"), (DESK, "light", "of width"))
# Of a page made of what stood on others: what is about the page as a whole, and the ways in which its words stand.
ONE_LOOK = ((PHONE, "light", "all"),)
SHOTS = os.environ.get("STANDING_SHOTS", "")  # a folder for pictures, to look at

# Without the paths to elements, which are only said of what is wrong: the element itself is shown.
QUICK = "preload: false, selectors: false, ancestry: false, xpath: false"
GRAVE = """(violations) => violations.filter((fault) => ["serious", "critical"].includes(fault.impact))
  .flatMap((fault) => fault.nodes.map((node) =>
    `${fault.id} (${fault.impact}): ${node.html.slice(0, 120)} ${node.failureSummary}`))"""
# All rules but that of contrast, or those that ask for the place and size of things ("of width"), or none; and every
# way in which words stand on the page. Where the wider page shows what the narrow one hid, all are asked of it too.
LOOK = f"""async (rules) => {{
  let faults = [];
  const visible = [...document.body.querySelectorAll("*")].filter((each) => each.checkVisibility());
  const before = window.visibleBefore;
  if (rules === "all") window.visibleBefore = new Set(visible);
  if (rules !== "none") {{
    const whole = rules === "all" || !before || visible.some((each) => !before.has(each));
    const which = whole ? {{ rules: {{ "color-contrast": {{ enabled: false }} }} }} :
      {{ runOnly: ["target-size", "scrollable-region-focusable"] }};
    faults = ({GRAVE})((await axe.run(document, {{ resultTypes: ["violations"], ...which, {QUICK} }})).violations);
  }}
  const painted = new Map();
  const behind = (element) => {{
    if (!element) return {{ way: "", apart: false }};
    if (painted.has(element)) return painted.get(element);
    const outer = behind(element.parentElement);
    const style = getComputedStyle(element);
    const margins = [style.marginTop, style.marginRight, style.marginBottom, style.marginLeft];
    const moved = !["static", "relative"].includes(style.position) || style.transform !== "none" ||
      margins.some((each) => parseFloat(each) < 0) || element.namespaceURI !== "http://www.w3.org/1999/xhtml";
    const plain = {{ backgroundColor: "rgba(0, 0, 0, 0)", backgroundImage: "none", opacity: "1", filter: "none",
      mixBlendMode: "normal", backdropFilter: "none", clipPath: "none", maskImage: "none" }};
    const own = Object.keys(plain).filter((name) => style[name] !== plain[name])
      .map((name) => `${{name}} ${{style[name]}}`).join();
    const found = {{ way: own ? `${{outer.way}} < ${{own}}` : outer.way, apart: outer.apart || moved }};
    painted.set(element, found);
    return found;
  }};
  const pile = (element) => {{
    const box = element.getClientRects()[0];
    const [x, y] = box ? [box.left + box.width / 2, box.top + box.height / 2] : [-1, -1];
    if (x < 0 || y < 0 || x >= innerWidth || y >= innerHeight) return null;
    return document.elementsFromPoint(x, y)
      .map((each) => `${{each.tagName}}.${{each.getAttribute("class")}} ${{behind(each).way}}`).join(" / ");
  }};
  const shown = (element) => {{
    const {{ right, bottom, width, height }} = element.getBoundingClientRect();
    const there = right + scrollX > 0 && bottom + scrollY > 0 && (width > 1 || height > 1);
    return there && element.checkVisibility({{ visibilityProperty: true }});
  }};
  const ways = window.waysOfStanding = new Map();
  for (const element of document.body.querySelectorAll("*")) {{
    const words = [...element.childNodes].some((each) => each.nodeType === Node.TEXT_NODE && each.data.trim());
    if (!(words || element.matches(":is(input:not([type=checkbox], [type=radio]), select, textarea)"))) continue;
    if (!shown(element)) continue;
    const {{ way, apart }} = behind(element), under = apart ? pile(element) : "";
    const s = getComputedStyle(element);
    const key = under === null ? "unknown" :
      [s.color, s.webkitTextFillColor, s.fontSize, s.fontWeight, s.textShadow, way, under].join(" | ");
    ways.set(key, [...(ways.get(key) || []), element]);
  }}
  return {{ faults, ways: [...ways.keys()] }};
}}"""
# The contrast of the words that stand so: what is grave, and in which ways every one of them passed. Nothing where
# the page put others in their place meanwhile.
CONTRAST = f"""async (asked) => {{
  const include = asked.flatMap((way) => waysOfStanding.get(way));
  if (!include.every((each) => each.isConnected)) return null;
  const only = {{ resultTypes: ["violations", "passes"], runOnly: ["color-contrast"], elementRef: true, {QUICK} }};
  const {{ violations, passes }} = await axe.run({{ include }}, only);
  const passed = new Set(passes.flatMap((rule) => rule.nodes.map((node) => node.element)));
  return {{
    faults: ({GRAVE})(violations),
    passed: asked.filter((way) => way !== "unknown" && waysOfStanding.get(way).every((each) => passed.has(each))),
  }};
}}"""
# What is pressed or filled in, and is less than 44 CSS pixels high.
SMALL = """() => [...document.querySelectorAll("main :is(.button, form button, select, .choice, .choices label," +
  " textarea, input:not([type=hidden], [type=checkbox], [type=radio]))")].filter((each) => {
    const box = each.getBoundingClientRect();
    return box.width > 1 && box.height < 43.5;
  }).map((each) => `${each.outerHTML.slice(0, 80)} is ${each.getBoundingClientRect().height} pixels high`)"""


class Looker:
    def __init__(self, browser, live_server, world):
        self.at, self.world, self.wrong = live_server.url, world, []
        self.complaints: list[str] = []
        self.passed: set[str] = set()
        self.context = browser.new_context(viewport=PHONE, service_workers="block", reduced_motion="reduce")
        self.context.set_default_timeout(one_browser.PATIENCE)
        self.context.add_init_script(AXE_SCRIPT)
        self.page, self.refused = self.context.new_page(), listen_for_refusals(self.context)
        self.page.on("console", lambda m: self.complaints.append(m.text) if m.type == "error" else None)
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))

    def become(self, role: str) -> None:
        self.context.clear_cookies()
        if role:
            cookie = client_of(self.world, role).cookies[settings.SESSION_COOKIE_NAME].value
            self.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": self.at}])

    def look(self, address: str, name: str = "", looks=LOOKS) -> None:
        self.page.goto(self.at + address)
        self.look_here(address, name, looks)

    def look_here(self, address: str, name: str = "", looks=LOOKS) -> None:
        """At the page that is open: the rules at both widths, and the colours once more when they are dark."""
        page = self.page
        # What is folded away is part of the page too.
        page.eval_on_selector_all("details", "all => all.forEach((d) => { d.open = true })")
        for size, scheme, rules in looks:
            width = size["width"]
            page.set_viewport_size(size)
            page.emulate_media(color_scheme=scheme)
            self.wrong += [f"{address} at {width}, {scheme}: {fault}" for fault in self.faults(rules)]
            if sideways(page):
                self.wrong.append(f"{address} at {width}: {sideways(page)} pixels too wide")
            if SHOTS and name:
                page.screenshot(path=f"{SHOTS}/{name}-{width}-{scheme}.png", full_page=True)
        page.set_viewport_size(PHONE)
        self.wrong += [f"{address}: {small}" for small in page.evaluate(SMALL)]

    def faults(self, rules: str) -> list[str]:
        """What is grave: the contrast of words that stand in a new way, and the other rules if asked for."""
        seen = self.page.evaluate(LOOK, rules)
        if not (new := [way for way in seen["ways"] if way not in self.passed]):
            return seen["faults"]
        asked = self.page.evaluate(CONTRAST, new)
        if asked is None:
            return self.faults(rules)
        self.passed.update(asked["passed"])
        return seen["faults"] + asked["faults"]
