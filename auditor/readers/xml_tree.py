"""XML that may mean harm, parsed within bounds: no document type, no entity, nothing fetched.

libxml2 itself refuses elements nested deeper than 256, texts over 10 MB and entities that grow
(https://gnome.pages.gitlab.gnome.org/libxml2/, parser limits, R).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditor.readers.contents import LONGEST_XMP_BYTES

if TYPE_CHECKING:
    from lxml.etree import _ElementTree

MOST_MARKS = 40_000
"""Each element costs a `<` or two and each attribute a `=`: the busiest real packets have about 5,000."""


def parsed(content: bytes) -> _ElementTree:
    """The tree of a packet, every node and white space kept.

    Raises
    ------
    ValueError
        when it is malformed, declares a document type, or is larger than any XMP can need.
    """
    from lxml import etree

    if len(content) > LONGEST_XMP_BYTES:
        raise ValueError("larger than any XMP can need")
    if content.count(b"<") + content.count(b"=") > MOST_MARKS:
        raise ValueError("more elements than any XMP can need")
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, remove_blank_text=False, strip_cdata=False
    )
    try:
        tree = etree.ElementTree(etree.fromstring(content, parser))
    except (etree.XMLSyntaxError, ValueError, LookupError) as error:
        raise ValueError(f"malformed ({' '.join(str(error).split())[:80]})") from error
    if tree.docinfo.internalDTD is not None:
        raise ValueError("declares a document type, which XMP does not")
    return tree
