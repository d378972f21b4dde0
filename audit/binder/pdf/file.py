"""A canvas that writes a tagged file fit for keeping: PDF/A-3a and PDF/UA-1 (ISO 19005-3, ISO 14289-1).

The drawing library writes pages, fonts and outline; what it cannot write (structure tree, metadata, output intent) is
added here through attributes of its objects. Same drawing and same description: same bytes.
"""

from __future__ import annotations

import zlib
from array import array
from dataclasses import dataclass
from datetime import datetime
from hashlib import md5
from html import escape
from io import BytesIO
from itertools import islice
from pathlib import Path

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from audit.binder.pdf.apart import MARK
from audit.binder.pdf.elements import Element
from audit.binder.pdf.faces import REGULAR, loaded
from audit.binder.pdf.tagged import Numbers, Structure

_PROFILE = Path(__file__).parent / "colour" / "sRGB2014.icc"


@dataclass(frozen=True, slots=True)
class Description:
    """What the file says of itself. `made_at` is in UTC and part of the content: never the clock of the machine."""

    title: str
    author: str
    subject: str
    made_at: datetime
    creator: str = "Unit standing"
    language: str = "en"


class _LateObject(pdfdoc.PDFObject):
    """An object whose place in the file is kept and whose content is written last."""

    __RefOnly__ = 1

    def format(self, document):
        raise AssertionError("written with the structure tree")


class _LinkAnnotation(pdfdoc.LinkAnnotation):
    permitted = (*pdfdoc.LinkAnnotation.permitted, "StructParent")


class TaggedCanvas(Canvas):
    """Pages with marked content. `structure` grows as it is drawn on."""

    def __init__(self, width: float, height: float, description: Description) -> None:
        self._description = description
        self.structure = Structure()
        self._names: list[str] = []
        loaded(REGULAR)
        super().__init__(
            BytesIO(),  # the library wants to know where to; the bytes are taken from `getpdfdata`
            (width, height),
            pageCompression=1,
            invariant=1,
            lang=description.language,
            pdfVersion=(1, 7),
            initialFontName=REGULAR,
        )
        _describe(self, description)
        self.structure.page()

    def jump(self, element: Element, says: str, to: str, box: tuple[float, float, float, float]) -> None:
        """A link to a destination of this file, as part of a Link element."""
        annotation = _LinkAnnotation(
            Rect=list(box),
            Contents=says,
            Destination=self._bookmarkReference(to),
            Border="[0 0 0]",
            F=4,
            StructParent=self.structure.next_link_key(),
        )
        name = f"jump{len(self._names)}"
        self._names.append(name)
        self._addAnnotation(annotation, name)
        self.structure.link(element, name)

    def showPage(self) -> None:
        number = self._pageNumber
        super().showPage()
        page = self._doc.idToObject[f"Page{number}"]
        page.__NoDefault__ = [*pdfdoc.PDFPage.__NoDefault__, "StructParents", "Tabs"]
        page.Trans = None
        page.StructParents = number
        page.Tabs = pdfdoc.PDFName("S")
        # Packed at once, so that what grows with the pages is the structure tree alone.
        packed = zlib.compress(page.stream.encode("latin-1"))
        page.Contents = pdfdoc.PDFStream(pdfdoc.PDFDictionary({"Filter": pdfdoc.PDFName("FlateDecode")}), packed)
        page.stream = None
        self.structure.page()

    def whole(self) -> bytes:
        """The file. Nothing can be drawn afterwards."""
        doc = self._doc
        root = _LateObject()
        _complete(doc, root, self._description)
        doc.format = lambda: _formatted(doc, root, self.structure, self._names)
        return self.getpdfdata()


def _describe(canvas: Canvas, description: Description) -> None:
    """Document data from the description alone: no wall clock, no environment."""
    canvas.setTitle(description.title)
    canvas.setAuthor(description.author)
    canvas.setSubject(description.subject)
    canvas.setCreator(description.creator)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    made = f"D:{description.made_at:%Y%m%d%H%M%S}+00'00'"
    canvas.setDateFormatter(lambda *_: made)
    # The file id is a digest that starts from a time stamp, which the environment may set; start it afresh.
    canvas._doc.signature = md5(b"binder", usedforsecurity=False)


def _complete(doc, root: _LateObject, description: Description) -> None:
    """What the catalog of such a file needs."""
    catalog = doc.Catalog
    catalog.__NoDefault__ = [*pdfdoc.PDFCatalog.__NoDefault__, "OutputIntents"]
    catalog.StructTreeRoot = root
    catalog.MarkInfo = pdfdoc.PDFDictionary({"Marked": pdfdoc.PDFtrue})
    catalog.Metadata = pdfdoc.XMP(creator=lambda _: _metadata(description, doc.info.producer))
    profile = pdfdoc.PDFStream(pdfdoc.PDFDictionary({"N": 3}), _PROFILE.read_bytes(), [pdfdoc.PDFZCompress])
    intent = pdfdoc.PDFDictionary(
        {
            "Type": pdfdoc.PDFName("OutputIntent"),
            "S": pdfdoc.PDFName("GTS_PDFA1"),
            "OutputConditionIdentifier": pdfdoc.PDFString("sRGB"),
            "Info": pdfdoc.PDFString("sRGB IEC61966-2.1"),
            "DestOutputProfile": doc.Reference(profile),
        }
    )
    catalog.OutputIntents = pdfdoc.PDFArray([intent])


def _formatted(doc, root: _LateObject, structure: Structure, names: list[str]) -> bytes:
    """The whole file: the library's objects, then the structure tree, then where each object starts.

    In place of the library's own method, which takes several times as long for hundreds of thousands of elements.
    """
    out = bytearray(pdfdoc.PDFFile(doc._pdfVersion).format(doc))
    doc.encrypt.prepare(doc)
    catalog, info = doc.Reference(doc.Catalog), doc.Reference(doc.info)
    starts = array("Q", [0])  # where each object begins, by its number
    number = 1
    while number in doc.numberToId:  # it grows while objects are formatted
        name = doc.numberToId[number]
        starts.append(len(out))
        if doc.idToObject[name] is not root:
            out += pdfdoc.PDFIndirectObject(name, doc.idToObject[name]).format(doc)
        number += 1
    out += MARK
    for own, content in structure.objects(_numbers(doc, root, names, number)):
        if own == len(starts):
            starts.append(len(out))
        else:
            starts[own] = len(out)  # the root, which has its number from the library
        out += b"%d 0 obj\n%b\nendobj\n" % (own, content)
    table = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % len(starts)
    out += b"".join(b"%010d 00000 n \n" % start for start in islice(starts, 1, None))
    trailer = pdfdoc.PDFTrailer(startxref=table, Size=len(starts), Root=catalog, Info=info, ID=doc.ID())
    out += trailer.format(doc)
    return bytes(out)


def _numbers(doc, root: _LateObject, names: list[str], after: int) -> Numbers:
    known = doc.idToObjectNumberAndVersion
    pages = [known[doc.Reference(page).name][0] for page in doc.Pages.pages]
    annotations = {name: known[doc.annotationName(name)][0] for name in names}
    return Numbers(pages, annotations, known[doc.Reference(root).name][0], after)


_NAMESPACES = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "pdf": "http://ns.adobe.com/pdf/1.3/",
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
    "pdfuaid": "http://www.aiim.org/pdfua/ns/id/",
    "pdfaExtension": "http://www.aiim.org/pdfa/ns/extension/",
    "pdfaSchema": "http://www.aiim.org/pdfa/ns/schema#",
    "pdfaProperty": "http://www.aiim.org/pdfa/ns/property#",
}

# ISO 19005-3, 6.6.2.3: a property that ISO 19005 does not know, such as the mark of PDF/UA, describes itself.
_EXTENSION = """<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 that the file conforms to</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property></rdf:li></rdf:Bag></pdfaExtension:schemas>"""


def _metadata(description: Description, producer: str) -> bytes:
    """The XMP packet (ISO 16684-1), saying the same as the document information."""
    moment = f"{description.made_at:%Y-%m-%dT%H:%M:%S}+00:00"
    spaces = " ".join(f'xmlns:{prefix}="{address}"' for prefix, address in _NAMESPACES.items())
    fields = (
        f'<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(description.title)}</rdf:li></rdf:Alt></dc:title>',
        f"<dc:creator><rdf:Seq><rdf:li>{escape(description.author)}</rdf:li></rdf:Seq></dc:creator>",
        '<dc:description><rdf:Alt><rdf:li xml:lang="x-default">'
        f"{escape(description.subject)}</rdf:li></rdf:Alt></dc:description>",
        f"<dc:language><rdf:Bag><rdf:li>{description.language}</rdf:li></rdf:Bag></dc:language>",
        f"<xmp:CreateDate>{moment}</xmp:CreateDate><xmp:ModifyDate>{moment}</xmp:ModifyDate>",
        f"<xmp:CreatorTool>{escape(description.creator)}</xmp:CreatorTool>",
        f"<pdf:Producer>{escape(producer)}</pdf:Producer><pdf:Keywords></pdf:Keywords>",
        "<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance><pdfuaid:part>1</pdfuaid:part>",
        _EXTENSION,
    )
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
        f'<rdf:RDF {spaces}><rdf:Description rdf:about="">{"".join(fields)}</rdf:Description></rdf:RDF></x:xmpmeta>'
        '<?xpacket end="w"?>'
    ).encode()
