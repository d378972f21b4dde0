"""What of a page a strict policy refuses: scripts and styles that stand in it, or come from elsewhere."""

from __future__ import annotations

from html.parser import HTMLParser

from django.conf import settings


def refused(html: str) -> list[str]:
    """Each inline script, style or handler, and each script or sheet that is not a static file of our own."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return reader.found


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.found: list[str] = []
        self.own = "/" + settings.STATIC_URL.lstrip("/")
        self.in_script = False

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        self.in_script = tag == "script"
        if tag == "style":
            self.found.append("<style>")
        if tag == "script" and not (values.get("src") or "").startswith(self.own):
            self.found.append(f"<script src={values.get('src')!r}>")
        if tag == "link" and "stylesheet" in (values.get("rel") or "") and not values["href"].startswith(self.own):
            self.found.append(f"<link href={values['href']!r}>")
        for name, value in attrs:
            if name == "style" or name.startswith("on") or (value or "").strip().lower().startswith("javascript:"):
                self.found.append(f"<{tag} {name}={value!r}>")

    handle_startendtag = handle_starttag

    def handle_endtag(self, tag):
        self.in_script = False

    def handle_data(self, data):
        if self.in_script and data.strip():
            self.found.append(f"<script>{data.strip()[:40]}")
