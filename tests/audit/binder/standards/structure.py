"""Rules for the structure tree. Sources: ISO 32000-1, 14.6 to 14.8 (the tree), ISO 14289-1, 7 (what PDF/UA asks).

Each rule takes the opened file and gives what it found wrong.
"""

from __future__ import annotations

import pikepdf

from tests.audit.binder.standards.opened import Annotated, Content, Node, Opened, Ref

# ISO 32000-1, tables 333 to 340: the standard structure types.
STANDARD = frozenset(
    "Document Part Art Sect Div BlockQuote Caption TOC TOCI Index NonStruct Private P H H1 H2 H3 H4 H5 H6 L LI Lbl "
    "LBody Table TR TH TD THead TBody TFoot Span Quote Note Reference BibEntry Code Link Annot Ruby Warichu Figure "
    "Formula Form".split()
)
_BODIES = {"Table", "THead", "TBody", "TFoot"}

# What may hold what: ISO 32000-1, tables 333, 336 and 337.
_PARENTS = {
    "TR": _BODIES, "TH": {"TR"}, "TD": {"TR"}, "THead": {"Table"}, "TBody": {"Table"}, "TFoot": {"Table"},
    "LI": {"L"}, "LBody": {"LI"}, "TOCI": {"TOC"}, "Caption": {"Table", "L", "TOC", "Figure", "Formula"},
}  # fmt: skip
_KIDS = {
    "Table": {"TR", "THead", "TBody", "TFoot", "Caption"}, "THead": {"TR"}, "TBody": {"TR"}, "TFoot": {"TR"},
    "TR": {"TH", "TD"}, "L": {"L", "LI", "Caption"}, "LI": {"Lbl", "LBody"}, "TOC": {"TOC", "TOCI", "Caption"},
    "TOCI": {"Lbl", "Reference", "NonStruct", "P", "TOC"},
}  # fmt: skip
_HEADINGS = {f"H{n}" for n in range(1, 7)}
_BLOCKS = _HEADINGS | {"P", "Table", "L", "TOC", "Figure", "Document", "Sect", "Part", "Div"}
_LINES = _HEADINGS | {"P", "Span", "Link", "Reference", "Lbl"}  # hold text, no blocks
_NO_CONTENT = set(_KIDS) | {"Document"}
_MAY_BE_EMPTY = {"TD"}  # a cell of a table that has nothing to say


def _named(element, nodes: dict[Ref, Node]) -> Node | None:
    return nodes.get(element.objgen) if isinstance(element, pikepdf.Dictionary) else None


def _parent_tree(opened: Opened) -> dict[int, pikepdf.Object]:
    tree = opened.tree.get("/ParentTree")
    return dict(pikepdf.NumberTree(tree).items()) if tree is not None else {}


def tree_holds_together(opened: Opened) -> list[str]:
    """Each kid is there, is listed once, and names the element that lists it as its parent (14.7.2)."""
    if not opened.nodes:
        return ["there is no structure tree"]
    wrong = list(opened.broken)
    if [top.role for top in opened.top] != ["Document"]:
        wrong.append(f"the tree has {', '.join(top.role for top in opened.top)} at its top, not one Document")
    return wrong


def content_and_elements_agree(opened: Opened) -> list[str]:
    """Marked content, the parent tree and the elements name each other (14.7.4.4)."""
    tree = _parent_tree(opened)
    nodes = {node.obj.objgen: node for node in opened.nodes}
    held = {(kid, node) for node in opened.nodes for kid in node.content}
    shown: set[Content] = set()
    wrong: list[str] = []
    for number, page in enumerate(opened.pdf.pages):
        key = page.obj.get("/StructParents")
        if key is None:
            wrong.append(f"page {number + 1} has no key in the parent tree")
            continue
        back = list(tree.get(int(key), []))
        there = opened.pages[number].marked
        shown |= {Content(number, each) for each in there}
        for each in there:
            node = _named(back[each], nodes) if each < len(back) else None
            if node is None or (Content(number, each), node) not in held:
                wrong.append(f"content {each} of page {number + 1}: parent tree and elements do not agree")
        if len(back) > len(there):
            wrong.append(f"the parent tree lists more content on page {number + 1} than it has")
    wrong += [f"{node} holds content that no page shows: {kid}" for kid, node in held if kid not in shown]
    pieces = [kid for kid, _ in held]
    if len(set(pieces)) < len(pieces):
        wrong.append("a piece of content is held by two elements")
    return wrong


def links_and_elements_agree(opened: Opened) -> list[str]:
    """An annotation, the parent tree and the element that holds it name each other (14.7.4.3)."""
    tree = _parent_tree(opened)
    holders = {kid.obj.objgen: (node, kid) for node in opened.nodes for kid in node.annotated}
    wrong, keys = [], []
    for page, annotation in opened.in_structure:
        node, kid = holders.pop(annotation.objgen, (None, None))
        if node is None:
            wrong.append(f"an annotation on page {page + 1} is held by no element")
            continue
        key = annotation.get("/StructParent")
        keys.append(key)
        if key is None or key not in tree or tree[key].objgen != node.obj.objgen:
            wrong.append(f"an annotation on page {page + 1}: the parent tree does not lead to {node}")
        if kid.page != page:
            wrong.append(f"{node} says its annotation is on another page than {page + 1}")
    wrong += [f"{node} holds an annotation that is on no page" for node, _ in holders.values()]
    if len(set(keys)) < len(keys):
        wrong.append("two annotations share a key of the parent tree")
    return wrong


def parent_tree_is_complete(opened: Opened) -> list[str]:
    """Its keys are those in use, and the next one is free (14.7.2)."""
    tree = _parent_tree(opened)
    used = {page.obj.get("/StructParents") for page in opened.pdf.pages}
    used |= {each.get("/StructParent") for _, each in opened.in_structure}
    wrong = [f"key {key} of the parent tree belongs to nothing" for key in tree if key not in used]
    if int(opened.tree.get("/ParentTreeNextKey", 0)) <= max(tree, default=-1):
        wrong.append("the next key of the parent tree is already in use")
    return wrong


def all_content_is_marked(opened: Opened) -> list[str]:
    """Whatever is painted is tagged or an artifact (ISO 14289-1, 7.1)."""
    return [
        f"page {number}: {len(page.loose)} pieces are neither tagged nor an artifact, first {page.loose[0]}"
        for number, page in enumerate(opened.pages, start=1)
        if page.loose
    ]


def marks_are_nested(opened: Opened) -> list[str]:
    """Marks end where they began, once each, no artifact stands inside tagged content (14.6; ISO 14289-1, 7.1)."""
    return [f"page {number}: {fault}" for number, page in enumerate(opened.pages, start=1) for fault in page.faults]


def roles_are_standard(opened: Opened) -> list[str]:
    """Roles are standard types (ISO 14289-1, 7.1)."""
    return [f"{node}: not a standard type" for node in opened.nodes if node.role not in STANDARD]


def elements_are_nested(opened: Opened) -> list[str]:
    """Tables, lists and contents hold what they may hold, and lines of text hold no blocks."""
    wrong = []
    for node in opened.nodes:
        above = node.parent.role if node.parent else ""
        if node.role in _PARENTS and above not in _PARENTS[node.role]:
            wrong.append(f"{node} stands in {above or 'the root'}")
        if above in _KIDS and node.role not in _KIDS[above]:
            wrong.append(f"{above} holds {node}")
        if above in _LINES and node.role in _BLOCKS:
            wrong.append(f"{above} holds the block {node}")
        if node.role in _NO_CONTENT and (node.content or node.annotated):
            wrong.append(f"{node} holds content itself")
        captions = [n for n, kid in enumerate(node.nodes) if kid.role == "Caption"]
        if len(captions) > 1 or any(n not in (0, len(node.nodes) - 1) for n in captions):
            wrong.append(f"{node} has its caption neither first nor last, or has several")
    return wrong


def items_are_whole(opened: Opened) -> list[str]:
    """An item of a list has a body; an entry of the contents has a reference with a link."""
    wrong = []
    for node in opened.nodes:
        inside = [kid.role for kid in node.nodes]
        if node.role == "LI" and inside.count("LBody") != 1:
            wrong.append(f"{node} has no body, or several")
        if node.role == "TOCI" and not any(
            kid.role == "Reference" and any(each.role == "Link" for each in kid.nodes) for kid in node.nodes
        ):
            wrong.append(f"{node} leads nowhere")
    return wrong


def headings_step_down(opened: Opened) -> list[str]:
    """The first is H1, and none skips a level (ISO 14289-1, 7.4.2)."""
    wrong, level = [], 0
    found = [node for node in opened.nodes if node.role in _HEADINGS]
    for node in found:
        own = int(node.role[1])
        if own > level + 1:
            wrong.append(f"{node} {opened.text(node)!r} follows a heading of level {level}")
        level = own
    if not found:
        wrong.append("there is no heading")
    return wrong + [f"{node} has no level" for node in opened.nodes if node.role == "H"]


def nothing_is_empty(opened: Opened) -> list[str]:
    """Each element holds something, and what it holds says or shows something."""
    wrong = []
    for node in opened.nodes:
        if not node.kids:
            if node.role not in _MAY_BE_EMPTY:
                wrong.append(f"{node} is empty")
        elif not any(isinstance(kid, Node | Annotated) for kid in node.kids) and not _shows(opened, node):
            wrong.append(f"{node} says nothing")
    return wrong


def _shows(opened: Opened, node: Node) -> bool:
    for kid in node.content:
        there = opened.pages[kid.page].marked.get(kid.number) if kid.page is not None else None
        if there is None or there.painted or there.text.strip():
            return True  # content that is not there is another rule's finding
    return False


def figures_are_told(opened: Opened) -> list[str]:
    """A figure has a text in its place (ISO 14289-1, 7.3) and says where it stands (ISO 32000-1, table 344)."""
    wrong = []
    for node in opened.nodes:
        if node.role != "Figure":
            continue
        if not str(node.obj.get("/Alt", "")).strip():
            wrong.append(f"{node} has no alternate text")
        box = node.attribute("/Layout", "/BBox")
        page = next((kid.page for kid in node.content), None)
        if box is None or len(box) != 4 or page is None:
            wrong.append(f"{node} does not say where it stands")
            continue
        left, lower, right, upper = (float(each) for each in box)
        x1, y1, x2, y2 = (float(each) for each in opened.pdf.pages[page].mediabox)
        if not (x1 <= left < right <= x2 and y1 <= lower < upper <= y2):
            wrong.append(f"{node} stands outside its page or has no area")
    return wrong
