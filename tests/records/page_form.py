"""Reads the form of a page as a browser would send it, so that tests post what people post."""

from __future__ import annotations

from html.parser import HTMLParser


class _Form(HTMLParser):
    """The fields of the last form of the page that is sent by post; what stands in a <template> is not sent."""

    def __init__(self):
        super().__init__()
        self.data: dict[str, list[str]] = {}
        self.in_template, self.select, self.area = 0, None, None

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag == "form":
            self.data = {}
        if tag == "template":
            self.in_template += 1
        if self.in_template:
            return
        name = attrs.get("name")
        if tag == "input" and name:
            kind = attrs.get("type", "text")
            if kind not in ("checkbox", "file") or "checked" in attrs:
                self.data.setdefault(name, []).append(attrs.get("value", "on" if kind == "checkbox" else ""))
        elif tag == "select":
            self.select = name
            self.data[name] = [""]
        elif tag == "option" and self.select and "selected" in attrs:
            self.data[self.select] = [attrs.get("value", "")]
        elif tag == "textarea":
            self.area = name
            self.data[name] = [""]

    def handle_endtag(self, tag):
        if tag == "template":
            self.in_template -= 1
        elif tag == "select":
            self.select = None
        elif tag == "textarea":
            self.area = None

    def handle_data(self, data):
        if self.area and not self.in_template:
            self.data[self.area][0] += data.lstrip("\n")


def form_of(response) -> dict[str, list[str]]:
    """Names and values that the page's form would send."""
    parser = _Form()
    parser.feed(response.content.decode())
    return {k: v for k, v in parser.data.items() if k != "csrfmiddlewaretoken"}
