"""Defects of the file as a whole, its attached files and its links."""

from __future__ import annotations

import re

from pikepdf import Array, Dictionary, Encryption, Name, String

from tests.audit.binder.standards import edits
from tests.audit.binder.standards.edits import first
from tests.audit.binder.standards.registry import defect

# The file as a whole


@defect("language_is_set", "pdfua_rules")
def language_gone(pdf):
    del pdf.Root.Lang


@defect("language_is_set")
def language_of_an_element_is_no_language(pdf):
    first(pdf, "P").Lang = String("quite English")


@defect("title_is_shown", "pdfua_rules")
def file_name_is_shown(pdf):
    pdf.Root.ViewerPreferences.DisplayDocTitle = False


@defect("title_is_shown")
def title_gone(pdf):
    edits.metadata(pdf, lambda text: re.sub("(?s)<dc:title>.*?</dc:title>", "", text))


@defect("title_is_shown")
def titles_differ(pdf):
    pdf.docinfo["/Title"] = "Another record"


@defect("file_is_marked", "pdfua_rules")
def not_marked(pdf):
    del pdf.Root.MarkInfo


@defect("file_is_marked")
def tags_not_trusted(pdf):
    pdf.Root.MarkInfo.Suspects = True


@defect("claims_are_made")
def no_claim_of_pdfua(pdf):
    edits.metadata(pdf, lambda text: text.replace("<pdfuaid:part>1</pdfuaid:part>", ""))


@defect("claims_are_made")
def claim_not_described(pdf):
    edits.metadata(pdf, lambda text: re.sub("(?s)<pdfaExtension:schemas>.*</pdfaExtension:schemas>", "", text))


@defect("claims_are_made")
def claim_of_level_b(pdf):
    edits.metadata(pdf, lambda text: text.replace("conformance>A<", "conformance>B<"))


@defect("fonts_are_embedded", "pdfa_allow_list")
def font_not_embedded(pdf):
    del edits.font(pdf).FontDescriptor.FontFile2


@defect("letters_are_known")
def font_without_letters(pdf):
    del edits.font(pdf).ToUnicode


@defect("letters_are_known")
def letter_stands_for_nothing(pdf):
    stream = edits.font(pdf).ToUnicode
    stream.write(stream.read_bytes().replace(b"<0053>", b"<0000>"))


@defect("letters_are_known")
def letter_of_private_use(pdf):
    stream = edits.font(pdf).ToUnicode
    stream.write(stream.read_bytes().replace(b"<0053>", b"<E053>"))


@defect("colour_is_defined", "pdfa_allow_list")
def no_output_intent(pdf):
    del pdf.Root.OutputIntents


@defect("colour_is_defined", "pdfa_allow_list")
def profile_is_none(pdf):
    pdf.Root.OutputIntents[0].DestOutputProfile.write(b"no profile " * 20)


@defect("nothing_is_run", "pdfa_allow_list")
def script_on_opening(pdf):
    pdf.Root.OpenAction = Dictionary(S=Name.JavaScript, JS=String("app.alert(1)"))


@defect("nothing_is_run", "pdfa_allow_list")
def program_started(pdf):
    link = edits.links(pdf)[0]
    link.A = Dictionary(S=Name.Launch, F=String("calc.exe"))


@defect("nothing_is_run", "links_lead_somewhere")
def link_out_of_the_file(pdf):
    link = edits.links(pdf)[0]
    del link.Dest
    link.A = Dictionary(S=Name.URI, URI=String("http://127.0.0.1/"))


@defect("nothing_is_run", "pdfa_allow_list")
def action_of_a_page(pdf):
    pdf.pages[0].AA = Dictionary(O=Dictionary(S=Name.Named, N=Name.NextPage))


@defect("nothing_is_run")
def scripts_by_name(pdf):
    pdf.Root.Names.JavaScript = Dictionary(Names=[])


@defect("nothing_is_run", "pdfa_allow_list")
def encrypted(pdf):
    return {"encryption": Encryption(owner="secret", user="")}


@defect("pages_have_no_transition", "pdfa_allow_list")
def transition(pdf):
    pdf.pages[0].Trans = Dictionary()


@defect("outline_leads_through")
def no_outline(pdf):
    del pdf.Root.Outlines


@defect("outline_leads_through")
def entry_of_the_outline_leads_nowhere(pdf):
    del pdf.Root.Outlines.First.Dest


@defect("outline_leads_through")
def outline_out_of_order(pdf):
    entries = pdf.Root.Outlines
    entries.First.Dest, entries.Last.Dest = entries.Last.Dest, entries.First.Dest


# Attached files


@defect("attachments_are_listed", "pdfa_allow_list")
def attachment_without_relation(pdf):
    del edits.attached(pdf).AFRelationship


@defect("attachments_are_listed", "pdfa_allow_list")
def attachment_not_associated(pdf):
    del pdf.Root.AF


@defect("attachments_are_listed")
def attachment_not_described(pdf):
    del edits.attached(pdf).Desc


@defect("attachments_are_listed", "pdfa_allow_list")
def attachment_of_no_kind(pdf):
    del edits.attached(pdf).EF.F.Subtype


@defect("attachments_are_listed")
def attachment_without_a_date(pdf):
    del edits.attached(pdf).EF.F.Params.ModDate


@defect("attachments_are_listed")
def attachment_without_a_name(pdf):
    del pdf.Root.Names.EmbeddedFiles


@defect("attachments_are_listed")
def attachment_of_another_size(pdf):
    edits.attached(pdf).EF.F.Params.Size = 7


# Links


@defect("links_are_told", "pdfua_rules")
def link_says_nothing(pdf):
    """A checker made by others is content as long as any link has another text in its place."""
    for link in edits.elements(pdf, "Link"):
        if "/Alt" in link:
            del link.Alt
    del edits.links(pdf)[0].Contents


@defect("links_are_told", "pdfa_allow_list")
def link_not_printed(pdf):
    edits.links(pdf)[0].F = 0


@defect("links_lead_somewhere")
def link_leads_nowhere(pdf):
    edits.links(pdf)[0].Dest = String("no such place")


@defect("links_are_told", "links_and_elements_agree")
def link_without_its_annotation(pdf):
    link = first(pdf, "Link")
    link.K = Array([kid for kid in edits.kids(link) if not isinstance(kid, Dictionary)])


@defect("links_and_elements_agree", "parent_tree_is_complete")
def annotation_without_its_key(pdf):
    del edits.links(pdf)[0].StructParent


@defect("links_and_elements_agree")
def annotations_swapped_in_the_parent_tree(pdf):
    one, two = edits.links(pdf)[:2]
    tree = edits.parent_tree(pdf)
    tree[one.StructParent], tree[two.StructParent] = tree[two.StructParent], tree[one.StructParent]


@defect("links_are_told")
def link_in_a_paragraph_only(pdf):
    first(pdf, "Link", lambda each: each.P.S == "/P").S = Name.Span


@defect("links_and_elements_agree")
def link_that_no_element_holds(pdf):
    page = pdf.pages[1]
    made = Dictionary(page.Annots[0])
    del made.StructParent
    page.Annots.append(pdf.make_indirect(made))


@defect("links_and_elements_agree")
def link_on_another_page_than_its_element_says(pdf):
    link = first(pdf, "Link")
    next(kid for kid in edits.kids(link) if isinstance(kid, Dictionary)).Pg = pdf.pages[0].obj


@defect("links_and_elements_agree", "parent_tree_is_complete")
def link_that_is_on_no_page(pdf):
    del pdf.pages[1].Annots[0]


@defect("links_are_told", "pdfa_allow_list")
def annotation_that_is_no_link(pdf):
    edits.links(pdf)[0].Subtype = Name.Text


@defect("tabs_follow_the_tree")
def tabs_gone(pdf):
    for page in pdf.pages:
        del page.Tabs


# What only a reader of bytes notices


@defect("syntax", "pdfa_allow_list")
def stream_is_not_what_it_says(pdf):
    pdf.pages[0].Thumb = pdf.make_stream(b"these are no packed bytes", Filter=Name.FlateDecode)
