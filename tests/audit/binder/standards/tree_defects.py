"""Defects of marked content, of the structure tree and of tables. No open checker sees all of them."""

from __future__ import annotations

import re

from pikepdf import Array, Dictionary, Name

from tests.audit.binder.standards import edits
from tests.audit.binder.standards.edits import first
from tests.audit.binder.standards.registry import defect

_HEADER = re.compile(rb"/Artifact <</Type/Pagination[^>]*>> BDC(.*?)EMC", re.S)
_TITLE = re.compile(rb"(/H1 .*? BDC)")

# Content and elements


@defect("content_and_elements_agree")
def content_swapped_in_the_parent_tree(pdf):
    held = edits.parent_tree(pdf)[pdf.pages[-1].StructParents]
    held[0], held[1] = held[1], held[0]


@defect("content_and_elements_agree")
def parent_tree_stops_short(pdf):
    del edits.parent_tree(pdf)[pdf.pages[-1].StructParents][-1]


@defect("content_and_elements_agree")
def content_of_an_element_is_nowhere(pdf):
    paragraph = first(pdf, "P")
    paragraph.K = Array([*edits.kids(paragraph), 9999])


@defect("content_and_elements_agree")
def content_held_twice(pdf):
    one, two = list(edits.elements(pdf, "TD"))[:2]
    two.K = Array([*edits.kids(two), *edits.kids(one)])


@defect("content_and_elements_agree", "parent_tree_is_complete")
def page_without_its_key(pdf):
    del pdf.pages[-1].StructParents


@defect("parent_tree_is_complete")
def next_key_is_in_use(pdf):
    pdf.Root.StructTreeRoot.ParentTreeNextKey = 2


@defect("all_content_is_marked")
def line_without_a_mark(pdf):
    edits.operators(pdf, 1, lambda code: code + b"\n10 10 m 90 10 l S")


@defect("all_content_is_marked", "pdfua_rules")
def words_without_a_mark(pdf):
    edits.operators(pdf, 1, lambda code: _HEADER.sub(rb"\1", code, count=1))


@defect("marks_are_nested")
def artifact_inside_content(pdf):
    edits.operators(pdf, 1, lambda code: _TITLE.sub(rb"\1 /Artifact BMC 0 0 m 9 9 l S EMC", code, count=1))


@defect("marks_are_nested")
def mark_never_ends(pdf):
    edits.operators(pdf, 1, lambda code: code + b"\n/Artifact BMC")


@defect("marks_are_nested")
def mark_ends_twice(pdf):
    edits.operators(pdf, 1, lambda code: code + b"\nEMC")


@defect("marks_are_nested")
def mark_ends_inside_a_text(pdf):
    edits.operators(pdf, 1, lambda code: code.replace(b"ET\nEMC", b"EMC ET", 1))


@defect("marks_are_nested", "content_and_elements_agree")
def content_inside_an_artifact(pdf):
    edits.operators(pdf, 1, lambda code: code + b"\n/Artifact BMC /P <</MCID 900>> BDC 0 0 m 9 9 l S EMC EMC")


@defect("marks_are_nested")
def number_given_twice(pdf):
    edits.operators(pdf, 1, lambda code: code + b"\n/P <</MCID 0>> BDC 0 0 m 9 9 l S EMC")


@defect("nothing_is_empty")
def paragraph_of_a_space(pdf):
    page = pdf.pages[0]
    held = edits.parent_tree(pdf)[page.StructParents]
    number = len(held)
    held.append(edits.new(pdf, pdf.Root.StructTreeRoot.K[0], "P", Pg=page.obj, K=number))
    edits.operators(pdf, 0, lambda code: code + b"\n/P <</MCID %d>> BDC EMC" % number)


# The tree


@defect("tree_holds_together")
def wrong_parent(pdf):
    one, two = list(edits.elements(pdf, "TR"))[:2]
    edits.kids(one)[0].P = two


@defect("tree_holds_together", "poppler_reads_the_same")
def kid_not_there(pdf):
    document = pdf.Root.StructTreeRoot.K[0]
    document.K.append(Dictionary(Type=Name.StructElem))


@defect("tree_holds_together", "poppler_reads_the_same")
def no_document_at_the_top(pdf):
    pdf.Root.StructTreeRoot.K[0].S = Name.Sect


@defect("tree_holds_together", "poppler_reads_the_same")
def element_listed_twice(pdf):
    document = pdf.Root.StructTreeRoot.K[0]
    document.K.append(first(pdf, "P"))


@defect("roles_are_standard", "poppler_reads_the_same")
def role_of_our_own(pdf):
    first(pdf, "P").S = Name.Zebra


@defect("elements_are_nested")
def paragraph_in_place_of_a_row(pdf):
    list(edits.elements(pdf, "TR"))[-1].S = Name.P


@defect("elements_are_nested")
def heading_in_a_heading(pdf):
    document = pdf.Root.StructTreeRoot.K[0]
    heading, moved = first(pdf, "H1"), first(pdf, "P")
    document.K = Array([kid for kid in edits.kids(document) if kid.objgen != moved.objgen])
    heading.K, moved.P = Array([*edits.kids(heading), moved]), heading


@defect("elements_are_nested")
def caption_in_the_middle(pdf):
    table = first(pdf, "Table", lambda each: each.K[0].S == "/Caption")
    table.K = Array([table.K[1], table.K[0], *list(table.K)[2:]])


@defect("items_are_whole")
def entry_of_the_contents_leads_nowhere(pdf):
    first(pdf, "Reference").S = Name.P


@defect("headings_step_down")
def heading_skips_a_level(pdf):
    first(pdf, "H2").S = Name.H4


@defect("headings_step_down")
def heading_without_a_level(pdf):
    list(edits.elements(pdf, "H3"))[-1].S = Name.H


@defect("nothing_is_empty")
def empty_paragraph(pdf):
    edits.new(pdf, pdf.Root.StructTreeRoot.K[0], "P")


@defect("figures_are_told", "pdfua_rules")
def figure_not_told(pdf):
    del first(pdf, "Figure").Alt


@defect("figures_are_told")
def figure_stands_nowhere(pdf):
    del first(pdf, "Figure").A


@defect("figures_are_told")
def figure_off_the_page(pdf):
    first(pdf, "Figure").A.BBox[2] = 5000


# Tables


@defect("rows_are_even")
def cell_missing(pdf):
    blank = first(pdf, "TD", lambda each: not edits.kids(each))
    blank.P.K = Array([kid for kid in edits.kids(blank.P) if kid.objgen != blank.objgen])


@defect("rows_are_even")
def cell_as_wide_as_two(pdf):
    first(pdf, "TD").A = Dictionary(O=Name.Table, ColSpan=2)


@defect("heads_have_scope")
def head_without_scope(pdf):
    del first(pdf, "TH").A


@defect("heads_have_scope", "pdfua_rules")
def table_without_heads(pdf):
    table = list(edits.elements(pdf, "Table"))[-1]
    for row in edits.kids(table)[1:]:
        for cell in edits.kids(row):
            cell.S = Name.TD


@defect("heads_stand_once")
def heads_read_again(pdf):
    for cell in edits.kids(list(edits.elements(pdf, "TR"))[-1]):
        cell.S, cell.A = Name.TH, Dictionary(O=Name.Table, Scope=Name.Column)
