"""The text of an XMP sidecar: a rating and keywords put in, everything else left as it is.

References
----------
ISO 16684-1 (XMP part 1), 7: RDF forms of properties; 8.3 and 8.4: dc:subject is an unordered array (rdf:Bag),
xmp:Rating a number, -1 for rejected and 0 to 5 otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from auditor.errors import OutputError
from auditor.readers.xml_tree import parsed

if TYPE_CHECKING:
    from lxml.etree import _Element, _ElementTree

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XMP = "http://ns.adobe.com/xap/1.0/"
DC = "http://purl.org/dc/elements/1.1/"
_NEW = (
    '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
    f'<rdf:RDF xmlns:rdf="{RDF}">\n'
    f'<rdf:Description rdf:about="" xmlns:xmp="{XMP}" xmlns:dc="{DC}">\n'
    "</rdf:Description>\n</rdf:RDF>\n</x:xmpmeta>\n"
    '<?xpacket end="w"?>\n'
).encode()
_BOM = b"\xef\xbb\xbf"


def with_facts(
    content: bytes | None, *, rating: int | None, keywords: Iterable[str], replace_rating: bool = False
) -> bytes:
    """A sidecar with a rating and keywords in it.

    Keywords that are there stay; a rating that is there stays too (but for 0, which is none), unless it
    is to be replaced. Where nothing changes, the very same bytes come back.

    Parameters
    ----------
    content
        The sidecar as it is; None for a new one.
    rating
        -1 to 5; None to leave it alone.
    keywords
        Added to those that are there.
    replace_rating
        Whether a rating that is there gives way.

    Returns
    -------
    bytes
        The whole sidecar, UTF-8.

    Raises
    ------
    OutputError
        for one that is malformed, or says these things in a way that is not changed here.
    """
    tree = _parse(_NEW if content is None else content)
    descriptions = _descriptions(tree)
    changed = False
    if rating is not None:
        changed |= _set_rating(descriptions, rating, replace_rating)
    changed |= _add_keywords(descriptions, list(dict.fromkeys(keywords)))
    if content is not None and not changed:
        return content
    return _text(tree, content or _NEW)


def rating_of(content: bytes) -> str | None:
    """The rating that a sidecar holds, as it is written; None where it holds none, or is malformed.

    Parameters
    ----------
    content
        Bytes of a sidecar.

    Returns
    -------
    str or None
        As text, of whatever form.
    """
    try:
        holder = _rating_holder(_descriptions(_parse(content)))
    except OutputError:
        return None
    return holder[1] if holder else None


def _parse(content: bytes) -> _ElementTree:
    try:
        return parsed(content)
    except ValueError as error:
        raise OutputError(f"{error}: left alone") from error


def _descriptions(tree: _ElementTree) -> list[_Element]:
    """The descriptions of the picture, the first made where there is none."""
    from lxml import etree

    root = tree.getroot()
    blocks = [root] if root.tag == f"{{{RDF}}}RDF" else root.findall(f"{{{RDF}}}RDF")
    if len(blocks) != 1:
        raise OutputError("holds no XMP, or more than one: left alone")
    nodes = blocks[0].findall(f"{{{RDF}}}Description")
    if not nodes:
        nodes = [etree.SubElement(blocks[0], f"{{{RDF}}}Description", {f"{{{RDF}}}about": ""})]
    return nodes


def _rating_holder(descriptions: list[_Element]) -> tuple[_Element, str] | None:
    """The element that holds the rating, as its text or its attribute, and what it says."""
    name = f"{{{XMP}}}Rating"
    elements = [node for holder in descriptions for node in holder.findall(name)]
    attributes = [holder for holder in descriptions if holder.get(name) is not None]
    if len(elements) + len(attributes) > 1:
        raise OutputError("holds more than one rating: left alone")
    if attributes:
        return attributes[0], str(attributes[0].get(name)).strip()
    if elements:
        if len(elements[0]) or elements[0].attrib:
            raise OutputError("says its rating in a way that is not changed here: left alone")
        return elements[0], (elements[0].text or "").strip()
    return None


def _set_rating(descriptions: list[_Element], rating: int, replace: bool) -> bool:
    name = f"{{{XMP}}}Rating"
    holder = _rating_holder(descriptions)
    if holder is None:
        _append(descriptions[0], name, "xmp", XMP).text = str(rating)
        return True
    node, now = holder
    if now == str(rating) or (now not in ("", "0") and not replace):
        return False
    if node.tag == name:
        node.text = str(rating)
    else:
        node.set(name, str(rating))
    return True


def _add_keywords(descriptions: list[_Element], keywords: list[str]) -> bool:
    name = f"{{{DC}}}subject"
    if any(block.get(name) is not None for block in descriptions):
        raise OutputError("says its keywords in a way that is not changed here: left alone")
    subjects = [node for block in descriptions for node in block.findall(name)]
    arrays = [array for subject in subjects for array in subject if array.tag in _ARRAYS]
    if len(subjects) > 1 or len(arrays) != len(subjects):
        raise OutputError("says its keywords in a way that is not changed here: left alone")
    there = {(item.text or "").strip() for array in arrays for item in array.findall(f"{{{RDF}}}li")}
    new = [word for word in keywords if word not in there]
    if not new:
        return False
    if arrays:
        array = arrays[0]
    else:
        array = _append(_append(descriptions[0], name, "dc", DC), f"{{{RDF}}}Bag", "rdf", RDF)
    for word in new:
        _append(array, f"{{{RDF}}}li", "rdf", RDF).text = word
    return True


_ARRAYS = tuple(f"{{{RDF}}}{kind}" for kind in ("Bag", "Seq"))


def _append(parent: _Element, name: str, prefix: str, namespace: str) -> _Element:
    from lxml import etree

    return etree.SubElement(parent, name, nsmap={prefix: namespace})


def _text(tree: _ElementTree, before: bytes) -> bytes:
    from lxml import etree

    encoding = tree.docinfo.encoding or "UTF-8"
    wide = encoding.upper().startswith(("UTF-16", "UTF-32"))
    declared = wide or before.removeprefix(_BOM).startswith(b"<?xml ")
    written = etree.tostring(tree, encoding=encoding, xml_declaration=declared)
    text = written.encode(encoding) if isinstance(written, str) else written
    if wide:
        return text
    if before.startswith(_BOM) and not text.startswith(_BOM):
        text = _BOM + text
    return text.rstrip(b"\n") + b"\n" if before.endswith(b"\n") else text
