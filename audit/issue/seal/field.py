"""The field of the signature, in the structure of the file (ISO 14289-1, 7.18.4).

Outside of it a reader that follows the tags never comes upon the signature. It has no place on a page. A seal that is
drawn proves nothing, for anybody can draw one; the page that says who sealed the binder says how to check it.
"""

from __future__ import annotations

FIELD = "Seal"
READABLE = "Signature of the installation that issued this binder"


def place_field(writer) -> None:
    """Add an empty field to the file that `writer` (pyHanko) is to write; to its structure where it has one."""
    from pyhanko.sign import fields

    fields.append_signature_field(writer, fields.SigFieldSpec(FIELD, readable_field_name=READABLE))
    if "/StructTreeRoot" in writer.root:
        _tell(writer, writer.root["/StructTreeRoot"])


def _tell(writer, tree) -> None:
    """A Form element at the end of the document that holds the field, and the way back from the field to it."""
    from pyhanko.pdf_utils import generic

    name, number = generic.pdf_name, generic.NumberObject
    page = writer.find_page_for_modification(0)[0]
    widget = page.get_object()["/Annots"].raw_get(-1)
    key = int(tree["/ParentTreeNextKey"])
    document = tree["/K"].raw_get(0)
    reference = generic.DictionaryObject({name("/Type"): name("/OBJR"), name("/Obj"): widget, name("/Pg"): page})
    element = writer.add_object(
        generic.DictionaryObject(
            {
                name("/Type"): name("/StructElem"),
                name("/S"): name("/Form"),
                name("/P"): document,
                name("/Alt"): generic.TextStringObject(READABLE),
                name("/K"): reference,
            }
        )
    )
    _last_kid(writer, document.get_object(), element)
    _listed(writer, tree, key, element)
    field = widget.get_object()
    field[name("/StructParent")] = number(key)
    writer.update_container(field)


def _last_kid(writer, document, element) -> None:
    document["/K"].append(element)
    writer.update_container(document["/K"])
    writer.update_container(document)


def _listed(writer, tree, key: int, element) -> None:
    """The parent tree with one key more: a leaf of its own, so that those before are not written again."""
    from pyhanko.pdf_utils import generic

    name, number = generic.pdf_name, generic.NumberObject
    both = generic.ArrayObject([number(key), number(key)])
    leaf = writer.add_object(
        generic.DictionaryObject({name("/Limits"): both, name("/Nums"): generic.ArrayObject([number(key), element])})
    )
    parents = tree["/ParentTree"]
    if "/Kids" in parents:
        parents["/Kids"].append(leaf)
    else:
        parents["/Nums"].extend([number(key), element])
    writer.update_container(parents)
    tree[name("/ParentTreeNextKey")] = number(key + 1)
    writer.update_container(tree)
