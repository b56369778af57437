"""Maker notes: one module a maker, and the door through which anyone can add one.

A decoder is a function that takes a MakerNote and returns MakerFacts. It is found through
the entry-point group `auditor.makernotes`, under the name of the maker as the camera writes
it (the start of Exif Make, any case). docs/adding-a-camera.md shows how to write one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.metadata import EntryPoint, entry_points

from auditor.readers.tiff import TiffBlock
from auditor.records import MakerFacts

ENTRY_POINT_GROUP = "auditor.makernotes"


@dataclass(frozen=True, slots=True)
class MakerNote:
    """Where a maker's note lies, and what a decoder needs to know around it.

    `tiff` is the Exif block: `tiff.source` reads absolute offsets, `tiff.base` is its header
    and `tiff.byte_order` its byte order (a note may use another). `offset` is the note's
    absolute place in the source. `width_px` and `height_px` are the picture as stored, before
    orientation, or None.
    """

    tiff: TiffBlock
    offset: int
    size_bytes: int
    make: str
    model: str
    width_px: int | None = None
    height_px: int | None = None


Decoder = Callable[[MakerNote], MakerFacts]


@cache
def installed() -> dict[str, EntryPoint]:
    """Every decoder that is installed, by lower-case start of the maker's name; none is imported yet."""
    return {point.name.lower(): point for point in entry_points(group=ENTRY_POINT_GROUP)}


@cache
def decoder_for(make: str) -> Decoder | None:
    """The decoder whose name the maker's name starts with; the longest such name wins."""
    lowered = make.strip().lower()
    names = [name for name in installed() if lowered.startswith(name)]
    if not names:
        return None
    decoder: Decoder = installed()[max(names, key=len)].load()
    return decoder
