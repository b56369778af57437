"""XMP packets and sidecars: rating, keywords and the regions that were focused on.

References
----------
Adobe XMP specification part 1 (ISO 16684-1), 7: properties are attributes or elements alike;
Metadata Working Group, Guidelines for handling image metadata 2.0, 5.9: regions give their
centre as fractions of the picture as stored.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditor.errors import CorruptFileError
from auditor.readers.contents import LONGEST_XMP_BYTES
from auditor.readers.xml_tree import parsed
from auditor.records import FocusArea

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

MOST_KEYWORDS = 500
MOST_REGIONS = 200
LONGEST_KEYWORD = 200

_TIFF = "{http://ns.adobe.com/tiff/1.0/}"
_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
_XMP = "{http://ns.adobe.com/xap/1.0/}"
_DC = "{http://purl.org/dc/elements/1.1/}"
_REGIONS = "{http://www.metadataworkinggroup.com/schemas/regions/}"
_DIMENSIONS = "{http://ns.adobe.com/xap/1.0/sType/Dimensions#}"
_AREA = "{http://ns.adobe.com/xmp/sType/Area#}"

_USED = {"EvaluatedUsed": True, "EvaluatedNotUsed": False, "NotEvaluatedNotUsed": False}
_OF_USE = (b"Rating", b"subject", b"Regions")


@dataclass(frozen=True, slots=True, kw_only=True)
class XmpFacts:
    """What a packet says. Regions are in the picture as stored."""

    rating: int | None = None
    rating_missing: str = "not_recorded"
    keywords: tuple[str, ...] = ()
    focus_areas: tuple[FocusArea, ...] = ()
    orientation: int | None = None


def worth_parsing(packet: bytes) -> bool:
    """Whether a packet can say anything of use: most do not, and a text in one byte a letter shows it."""
    return b"\0" in packet[:64] or any(word in packet for word in _OF_USE)


def facts(packet: bytes, path: str) -> XmpFacts:
    """Rating, keywords and focus regions of one packet.

    Raises
    ------
    CorruptFileError
        when it is not well-formed XML, declares a document type, or is larger than any real one.
    """
    padded = len(packet) <= LONGEST_XMP_BYTES and b"\0" not in packet[:64]  # UTF-16 may end in a NUL
    try:
        root = parsed(packet.strip(b"\0 \t\r\n") if padded else packet).getroot()
    except ValueError as error:
        raise CorruptFileError(path, f"its XMP cannot be read: {error}") from error
    descriptions = [root] if root.tag == f"{_RDF}Description" else list(root.iter(f"{_RDF}Description"))
    rating, why = _rating(descriptions)
    return XmpFacts(
        rating=rating,
        rating_missing=why,
        keywords=_keywords(descriptions),
        focus_areas=_focus_areas(descriptions),
        orientation=_orientation(descriptions),
    )


def _value(node: Element, name: str) -> str | None:
    """A simple property, be it an attribute or an element."""
    text = node.get(name)
    if text is None:
        text = node.findtext(name)
    return text.strip() if text and text.strip() else None


def _items(node: Element | None) -> list[Element]:
    """The items of an array property."""
    return [] if node is None else [item for array in node for item in array.findall(f"{_RDF}li")]


def _fields(node: Element) -> list[Element]:
    """Where the fields of a structure may lie: in the node itself, or in a description inside it."""
    return [node, *node.findall(f"{_RDF}Description")]


def _rating(descriptions: list[Element]) -> tuple[int | None, str]:
    for description in descriptions:
        text = _value(description, f"{_XMP}Rating")
        if text is None:
            continue
        number = _number(text)
        if number is None or not (number == -1 or 0 <= number <= 5):
            return None, "out_of_range"
        return math.floor(number + 0.5), ""
    return None, "not_recorded"


def _orientation(descriptions: list[Element]) -> int | None:
    for description in descriptions:
        number = _number(_value(description, f"{_TIFF}Orientation"))
        if number in range(1, 9):
            return int(number or 1)
    return None


def _keywords(descriptions: list[Element]) -> tuple[str, ...]:
    words: dict[str, None] = {}
    for description in descriptions:
        for item in _items(description.find(f"{_DC}subject")):
            word = " ".join((item.text or "").split())[:LONGEST_KEYWORD]
            if word and len(words) < MOST_KEYWORDS:
                words[word] = None
    return tuple(words)


def _focus_areas(descriptions: list[Element]) -> tuple[FocusArea, ...]:
    areas: list[FocusArea] = []
    for description in descriptions:
        regions = description.find(f"{_REGIONS}Regions")
        if regions is None:
            continue
        for fields in _fields(regions):
            width_px, height_px = _applied_to(fields)
            for item in _items(fields.find(f"{_REGIONS}RegionList"))[:MOST_REGIONS]:
                area = _focus_area(item, width_px, height_px)
                if area is not None:
                    areas.append(area)
    return tuple(areas)


def _applied_to(regions: Element) -> tuple[float, float]:
    """AppliedToDimensions; only its ratio matters here, and only to circles."""
    dimensions = regions.find(f"{_REGIONS}AppliedToDimensions")
    for fields in _fields(dimensions) if dimensions is not None else []:
        width, height = (_number(_value(fields, f"{_DIMENSIONS}{name}")) for name in ("w", "h"))
        if width and height and width > 0 and height > 0:
            return width, height
    return 1.0, 1.0


def _focus_area(item: Element, width_px: float, height_px: float) -> FocusArea | None:
    for fields in _fields(item):
        if _value(fields, f"{_REGIONS}Type") != "Focus":
            continue
        area = fields.find(f"{_REGIONS}Area")
        usage = _USED.get(_value(fields, f"{_REGIONS}FocusUsage") or "")
        for place in _fields(area) if area is not None else []:
            if (_value(place, f"{_AREA}unit") or "normalized") != "normalized":
                continue
            x, y, width, height, diameter = (
                _number(_value(place, f"{_AREA}{name}")) for name in ("x", "y", "w", "h", "d")
            )
            if diameter is not None:  # a circle: of the shorter side
                short_px = min(width_px, height_px)
                width, height = diameter * short_px / width_px, diameter * short_px / height_px
            if x is not None and y is not None:
                return FocusArea(x=x, y=y, width=width, height=height, used=usage)
    return None


def _number(text: str | None) -> float | None:
    try:
        number = float(text) if text is not None else math.nan
    except ValueError:
        return None
    return number if math.isfinite(number) else None
