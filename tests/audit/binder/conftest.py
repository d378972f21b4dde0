"""What was counted of the pages of binders is printed at the end of a run."""

from __future__ import annotations

PAGES = "pages of a binder"


def pytest_terminal_summary(terminalreporter):
    told = [
        words
        for done in terminalreporter.getreports("passed")
        for name, words in done.user_properties
        if name == PAGES and done.when == "call"
    ]
    if told:
        terminalreporter.section("pages of binders")
        for words in told:
            terminalreporter.write_line(words)
