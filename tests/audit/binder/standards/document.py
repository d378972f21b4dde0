"""Rules for the file as a whole. Sources: ISO 14289-1 (PDF/UA-1), ISO 19005-3 (PDF/A-3), ISO 32000-1."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from xml.etree import ElementTree

import pikepdf

from tests.audit.binder.standards.opened import Opened, listed

_SPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
    "pdfuaid": "http://www.aiim.org/pdfua/ns/id/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "schema": "http://www.aiim.org/pdfa/ns/schema#",
    "property": "http://www.aiim.org/pdfa/ns/property#",
}
_LANGUAGE = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*")  # RFC 5646, the usual forms
_ALTERNATIVES = ("Unspecified", "Data", "Source", "Alternative", "Supplement")  # ISO 19005-3, annex E
# ISO 32000-1, table 198: what an action may be. Only GoTo stays inside the file and runs nothing.
_ACTIONS = frozenset(
    f"/{name}" for name in "GoToR GoToE Launch Thread URI Sound Movie Hide Named SubmitForm ResetForm ImportData "
    "JavaScript SetOCGState Rendition Trans GoTo3DView".split()
)  # fmt: skip


def _xmp(opened: Opened) -> ElementTree.Element:
    stream = opened.pdf.Root.get("/Metadata")
    if stream is None:
        return ElementTree.Element("none")
    return ElementTree.fromstring(stream.read_bytes())


def _said(root: ElementTree.Element, space: str, name: str) -> list[str]:
    """The values of a property, which RDF allows to be an element, an attribute, or an address referred to."""
    key, resource = f"{{{_SPACES[space]}}}{name}", f"{{{_SPACES['rdf']}}}resource"
    found = [(each.text or "").strip() or each.get(resource, "") for each in root.iter(key)]
    return found + [each.attrib[key] for each in root.iter() if key in each.attrib]


def language_is_set(opened: Opened) -> list[str]:
    """ISO 14289-1, 7.2."""
    said = str(opened.pdf.Root.get("/Lang", ""))
    wrong = [] if _LANGUAGE.fullmatch(said) else [f"the language of the document is {said!r}"]
    for node in opened.nodes:
        if "/Lang" in node.obj and not _LANGUAGE.fullmatch(str(node.obj.Lang)):
            wrong.append(f"the language of {node} is {str(node.obj.Lang)!r}")
    return wrong


def title_is_shown(opened: Opened) -> list[str]:
    """The metadata has a title, the same as the document information, and a window shows it (ISO 14289-1, 7.1)."""
    titles = [each.text or "" for each in _xmp(opened).iterfind(".//dc:title/rdf:Alt/rdf:li", _SPACES)]
    wrong = [] if titles and titles[0].strip() else ["the metadata has no title"]
    info = str(opened.pdf.docinfo.get("/Title", ""))
    if titles and titles[0] != info:
        wrong.append(f"the metadata says {titles[0]!r} and the document information {info!r}")
    if opened.pdf.Root.get("/ViewerPreferences", {}).get("/DisplayDocTitle") is not True:
        wrong.append("a window would show the file name, not the title")
    return wrong


def file_is_marked(opened: Opened) -> list[str]:
    """ISO 14289-1, 6.2 and 7.1."""
    info = opened.pdf.Root.get("/MarkInfo", {})
    wrong = [] if info.get("/Marked") is True else ["the file does not say that it is tagged"]
    return [*wrong, "the file says its tags are not to be trusted"] if info.get("/Suspects") is True else wrong


def claims_are_made(opened: Opened) -> list[str]:
    """ISO 19005-3, 6.6.4; ISO 14289-1, 5; and 6.6.2.3: a property of neither standard's own is described."""
    root = _xmp(opened)
    expected = {("pdfaid", "part"): "3", ("pdfaid", "conformance"): "A", ("pdfuaid", "part"): "1"}
    found = {name: _said(root, *name) for name in expected}
    wrong = [f"{':'.join(name)} is {found[name]}" for name, said in expected.items() if found[name] != [said]]
    described = _said(root, "schema", "namespaceURI") + _said(root, "property", "name")
    if _SPACES["pdfuaid"] not in described or "part" not in described:
        wrong.append("pdfuaid:part is not described")
    return wrong


def fonts_are_embedded(opened: Opened) -> list[str]:
    """ISO 19005-3, 6.2.11.4; ISO 14289-1, 7.21.4."""
    wrong = []
    for obj in opened.pdf.objects:
        if not isinstance(obj, pikepdf.Dictionary) or str(obj.get("/Type")) != "/Font":
            continue
        if str(obj.get("/Subtype")) in ("/Type0", "/Type3"):
            continue  # the first is embedded through its descendant, the second is drawn by the file itself
        descriptor = obj.get("/FontDescriptor", {})
        if not any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3")):
            wrong.append(f"the font {obj.get('/BaseFont')} is not embedded")
    return wrong


def letters_are_known(opened: Opened) -> list[str]:
    """Each code that is shown stands for a letter (ISO 14289-1, 7.21.7; ISO 19005-3, 6.2.11.7)."""
    opened.pages  # noqa: B018 - reads them
    return [
        f"the font {each.name}: {len(each.unknown)} codes stand for no letter"
        for each in opened.letters.values()
        if each.unknown
    ]


def colour_is_defined(opened: Opened) -> list[str]:
    """ISO 19005-3, 6.2.3: one output intent with a profile."""
    intents = [each for each in listed(opened.pdf.Root.get("/OutputIntents")) if str(each.get("/S")) == "/GTS_PDFA1"]
    if len(intents) != 1:
        return [f"there are {len(intents)} output intents"]
    profile = intents[0].get("/DestOutputProfile")
    if not isinstance(profile, pikepdf.Stream) or profile.read_bytes()[36:40] != b"acsp":
        return ["the output intent has no colour profile"]
    return []


def _dictionaries(value) -> Iterator[pikepdf.Dictionary]:
    """The dictionary or stream with those directly inside it; not what it only refers to."""
    if isinstance(value, pikepdf.Array):
        inner = list(value)
    elif isinstance(value, pikepdf.Dictionary | pikepdf.Stream):
        yield value
        inner = list(value.values())
    else:
        return
    for each in inner:
        if isinstance(each, pikepdf.Object) and not each.is_indirect:
            yield from _dictionaries(each)


def nothing_is_run(opened: Opened) -> list[str]:
    """No script, no action but to go to a place in this file (ISO 19005-3, 6.5), nothing encrypted (6.1.3)."""
    wrong = ["the file is encrypted"] if opened.pdf.is_encrypted else []
    for obj in opened.pdf.objects:
        for each in _dictionaries(obj):
            if str(each.get("/S")) in _ACTIONS or "/JS" in each:
                wrong.append(f"an action: {str(each.get('/S'))[1:]}")
            if "/AA" in each:
                wrong.append("actions that begin by themselves")
    root = opened.pdf.Root
    if isinstance(root.get("/OpenAction"), pikepdf.Dictionary):
        wrong.append("an action on opening")
    return [*wrong, "scripts by name"] if "/JavaScript" in root.get("/Names", {}) else wrong


def pages_have_no_transition(opened: Opened) -> list[str]:
    """ISO 19005-3, 6.5.2 leaves presentation out; a strict checker refuses even an empty one."""
    return [f"page {n} has a transition" for n, page in enumerate(opened.pdf.pages, 1) if "/Trans" in page.obj]


def tabs_follow_the_tree(opened: Opened) -> list[str]:
    """ISO 14289-1, 7.18.3."""
    return [
        f"page {n}: its links are not stepped through in the order of the tree"
        for n, page in enumerate(opened.pdf.pages, start=1)
        if "/Annots" in page.obj and str(page.obj.get("/Tabs")) != "/S"
    ]


def links_are_told(opened: Opened) -> list[str]:
    """A link stands in a Link element, says where to, and is printed (ISO 14289-1, 7.18; ISO 19005-3, 6.3.2)."""
    wrong = []
    for node in opened.nodes:
        if node.role == "Link" and not node.annotated:
            wrong.append(f"{node} {opened.text(node)!r} has no annotation")
        wrong += [
            f"{node} holds a link annotation" for kid in node.annotated
            if str(kid.obj.get("/Subtype")) == "/Link" and node.role != "Link"
        ]  # fmt: skip
    for page, each in opened.annotations:
        if str(each.get("/Subtype")) != "/Link":
            wrong.append(f"page {page + 1} has an annotation that is no link")
        if not str(each.get("/Contents", "")).strip():
            wrong.append(f"a link on page {page + 1} does not say where it leads")
        if int(each.get("/F", 0)) & 0b101111 != 4:
            wrong.append(f"a link on page {page + 1} is hidden or not printed")
    return wrong


@cache
def _places(pdf: pikepdf.Pdf) -> dict[str, pikepdf.Object]:
    names = pdf.Root.get("/Names", {}).get("/Dests")
    found = {str(key): value for key, value in pikepdf.NameTree(names).items()} if names is not None else {}
    return found | {key[1:]: value for key, value in pdf.Root.get("/Dests", {}).items()}


def page_led_to(opened: Opened, holder) -> int | None:
    """The page, from 0, that an annotation or outline entry leads to; None for nowhere in this file."""
    target = holder.get("/Dest")
    action = holder.get("/A")
    if target is None and action is not None and str(action.get("/S")) == "/GoTo":
        target = action.get("/D")
    if isinstance(target, pikepdf.String | pikepdf.Name):
        target = _places(opened.pdf).get(str(target).removeprefix("/"))
    if isinstance(target, pikepdf.Dictionary):
        target = target.get("/D")
    if not isinstance(target, pikepdf.Array) or not len(target) or not isinstance(target[0], pikepdf.Object):
        return None
    return opened.page_of.get(target[0].objgen)


def links_lead_somewhere(opened: Opened) -> list[str]:
    return [
        f"a link on page {page + 1} leads nowhere: {each.get('/Contents')}"
        for page, each in opened.annotations
        if page_led_to(opened, each) is None
    ]


def outline(opened: Opened) -> list[tuple[int, str, int | None]]:
    """Depth, title and page of each entry, in order."""
    found, stack = [], [(0, opened.pdf.Root.get("/Outlines", {}).get("/First"))]
    while stack:
        depth, entry = stack.pop()
        if entry is None:
            continue
        found.append((depth, str(entry.get("/Title", "")), page_led_to(opened, entry)))
        stack += [(depth, entry.get("/Next")), (depth + 1, entry.get("/First"))]
    return found


def outline_leads_through(opened: Opened) -> list[str]:
    """There is one, each entry has a title and leads to a page, and they come in the order of the pages."""
    entries = outline(opened)
    wrong = [] if entries else ["there is no outline"]
    wrong += [f"the entry {title!r} leads nowhere" for _, title, page in entries if page is None]
    wrong += ["an entry has no title" for _, title, _ in entries if not title.strip()]
    pages = [page for _, _, page in entries if page is not None]
    return [*wrong, "the entries are not in the order of the pages"] if pages != sorted(pages) else wrong


def attachments_are_listed(opened: Opened) -> list[str]:
    """Each is named, described, dated, and associated with the file (ISO 19005-3, 6.8 and annex E)."""
    root = opened.pdf.Root
    names = root.get("/Names", {}).get("/EmbeddedFiles")
    held = dict(pikepdf.NameTree(names).items()) if names is not None else {}
    associated = {each.objgen for each in listed(root.get("/AF"))}
    wrong = [
        f"{name} is not associated with the file" for name, each in held.items() if each.objgen not in associated
    ]
    if len(associated) > len(held):
        wrong.append("a file is associated and not named")
    for name, each in held.items():
        if str(each.get("/AFRelationship", "/"))[1:] not in _ALTERNATIVES:
            wrong.append(f"{name} does not say how it relates to the binder")
        if not all(str(each.get(key, "")) for key in ("/F", "/UF", "/Desc")):
            wrong.append(f"{name} lacks a name or a description")
        wrong += _embedded(name, each.get("/EF", {}).get("/F"))
    return wrong


def _embedded(name: str, stream) -> list[str]:
    if stream is None:
        return [f"{name} has no content"]
    params = stream.get("/Params", {})
    wrong = [] if "/" in str(stream.get("/Subtype", ""))[1:] else [f"{name} does not say of what kind it is"]
    if "/ModDate" not in params:
        wrong.append(f"{name} has no date")
    if int(params.get("/Size", -1)) != len(stream.read_bytes()):
        wrong.append(f"{name} does not say its size, or another")
    return wrong
