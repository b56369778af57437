"""From an Exif block to what its maker's note says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from math import isfinite
from typing import Any

from auditor.errors import AuditorError, show_when_debugging
from auditor.readers.contents import Contents
from auditor.readers.exif_tags import EXIF_DIRECTORY
from auditor.readers.makernotes import MakerNote, decoder_for
from auditor.readers.tiff import IfdEntry, TiffBlock
from auditor.records import MakerFacts

_NOTE = 0x927C
_NUMBERS = tuple(field.name for field in fields(MakerFacts) if "float" in str(field.type))


def facts(contents: Contents, recorded: Mapping[str, Any]) -> tuple[MakerFacts, str | None]:
    """What the maker's note says; and why, where it says nothing: None when a note was read.

    Parameters
    ----------
    recorded
        What the standard tags gave: make, model and the size of the picture.
    """
    make, model = recorded.get("body_make"), recorded.get("body_model") or ""
    if make is None:
        return MakerFacts(), "not_recorded"
    try:
        where = place(contents)
    except AuditorError:
        return MakerFacts(), "maker_note_unreadable"
    if where is None:
        return MakerFacts(), "not_recorded"
    try:
        decode = decoder_for(make)
        if decode is None:
            return MakerFacts(), "not_read_yet"
        tiff, offset, size_bytes = where
        note = MakerNote(
            tiff,
            offset,
            size_bytes,
            make,
            model,
            width_px=recorded.get("recorded_width_px") or contents.width_px,
            height_px=recorded.get("recorded_height_px") or contents.height_px,
        )
        return _finite(decode(note)), None
    except Exception:  # noqa: BLE001 - anyone may add a decoder: whatever it raises, the frame must not be lost
        show_when_debugging()
        return MakerFacts(), "maker_note_unreadable"


def _finite(decoded: MakerFacts) -> MakerFacts:
    """The facts without NaN and infinity, which no fact can be."""
    odd: dict[str, Any] = {
        name: None
        for name in _NUMBERS
        if (value := getattr(decoded, name)) is not None and not isfinite(value)
    }
    return replace(decoded, **odd) if odd else decoded


def place(contents: Contents) -> tuple[TiffBlock, int, int] | None:
    """The block that the note belongs to, its absolute offset and its length; None where there is no note."""
    if contents.note is not None:
        block, first = TiffBlock.at_header(contents.note.source, contents.note.base)
        offset = contents.note.base + first
        return block, offset, block.source.size_bytes - offset
    if contents.main is None:
        return None
    block, first = TiffBlock.at_header(contents.main.source, contents.main.base)
    pointer = block.find(first, EXIF_DIRECTORY)
    if pointer is None:
        return None
    entry: IfdEntry | None = None
    for offset in block.integers(pointer, limit=1):
        entry = block.find(offset, _NOTE)
    return (block, entry.offset, entry.size_bytes) if entry else None
