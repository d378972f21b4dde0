"""All that is checked of a binder as a PDF/UA-1 and PDF/A-3a file, by name."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from tests import programs
from tests.audit.binder.standards import document, outside, structure, tables
from tests.audit.binder.standards.opened import Opened

OWN: dict[str, Callable[[Opened], list[str]]] = {
    check.__name__: check
    for check in (
        structure.tree_holds_together,
        structure.content_and_elements_agree,
        structure.links_and_elements_agree,
        structure.parent_tree_is_complete,
        structure.all_content_is_marked,
        structure.marks_are_nested,
        structure.roles_are_standard,
        structure.elements_are_nested,
        structure.items_are_whole,
        structure.headings_step_down,
        structure.nothing_is_empty,
        structure.figures_are_told,
        tables.rows_are_even,
        tables.heads_have_scope,
        tables.heads_stand_once,
        document.language_is_set,
        document.title_is_shown,
        document.file_is_marked,
        document.claims_are_made,
        document.fonts_are_embedded,
        document.letters_are_known,
        document.colour_is_defined,
        document.nothing_is_run,
        document.pages_have_no_transition,
        document.tabs_follow_the_tree,
        document.links_are_told,
        document.links_lead_somewhere,
        document.outline_leads_through,
        document.attachments_are_listed,
    )
}
OTHERS: dict[str, Callable[[Opened], list[str]]] = {
    check.__name__: check
    for check in (
        outside.pdfa_allow_list,
        outside.pdfua_rules,
        outside.syntax,
    )
}
if programs.find("poppler-utils"):
    OTHERS["poppler_reads_the_same"] = outside.poppler_reads_the_same
ALL = OWN | OTHERS


def findings(pdf: bytes, names: Iterable[str] = tuple(ALL)) -> dict[str, list[str]]:
    """What each check finds wrong with the file, by the name of the check; nothing for a check that is content."""
    with Opened(pdf) as opened:
        found = {name: ALL[name](opened) for name in names}
    return {name: wrong for name, wrong in found.items() if wrong}
