"""Standard tags, maker's note and XMP brought together into one record of an exposure."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from auditor.errors import AuditorError
from auditor.readers import exif, maker, xmp
from auditor.readers.contents import Contents
from auditor.readers.exif_tags import standard_tags
from auditor.readers.focus_place import placed
from auditor.readers.makernotes import words
from auditor.readers.orientation import upright_size
from auditor.readers.xmp import XmpFacts
from auditor.records import REASONED, FocusArea, MakerFacts, Recorded
from auditor.serials import serial_number
from auditor.words import CameraWord, FileRole

_FILLED_BY_NOTE = tuple(
    field.name
    for field in fields(MakerFacts)
    if field.name not in ("camera_word", "focus_areas", "missing", "lens_name")
    and not field.name.startswith("lens_")
)
"""Facts of a note that fill what the standard tags lack."""

_FROM_NOTE = frozenset(
    (
        "auto_iso",
        "focus_mode",
        "area_mode",
        "drive_mode",
        "camera_word",
        "af_x",
        "af_y",
        "af_width",
        "af_height",
    )
)
"""What only a maker's note (or, for the place, a region) can say: when it cannot be read, that is why."""


def recorded(contents: Contents) -> Recorded:
    """The record of one exposure, from everything its file holds."""
    tags = standard_tags(contents)
    facts, missing = exif.facts(tags)
    if contents.orientation is not None:
        facts["orientation"] = contents.orientation
    note, no_note = maker.facts(contents, facts)
    packets = _xmp(contents)
    _fill(facts, note, packets, missing)
    _sizes(facts, contents)
    _focus(facts, note, packets, exif.subject_area(tags, *_stored_size(facts, contents)))
    return Recorded(**facts, missing=_reasons(facts, missing, note, no_note, tags.damaged))


def _xmp(contents: Contents) -> list[XmpFacts]:
    """What each packet says; one that cannot be read says nothing, and costs no frame."""
    packets = []
    for packet in filter(xmp.worth_parsing, contents.xmp):
        try:
            packets.append(xmp.facts(packet, ""))
        except AuditorError:
            packets.append(XmpFacts(rating_missing="damaged"))
    return packets


def _fill(facts: dict[str, Any], note: MakerFacts, packets: list[XmpFacts], missing: dict[str, str]) -> None:
    for name in _FILLED_BY_NOTE:
        value = getattr(note, name)
        if name == "body_serial":
            value = serial_number(value)
        if facts.get(name) is None and value is not None:
            facts[name] = value
    _fill_lens(facts, note)
    for packet in packets:
        if packet.rating is not None:
            facts["rating"] = packet.rating
        elif packet.rating_missing != "not_recorded":
            missing.setdefault("rating", packet.rating_missing)
        if packet.keywords:
            facts["keywords"] = packet.keywords


def _fill_lens(facts: dict[str, Any], note: MakerFacts) -> None:
    """Pairs come whole from one source: half of one and half of another would be a lens that is not."""
    if facts.get("lens_name") is None and note.lens_name:
        facts["lens_name"] = note.lens_name
    ranges = ("lens_short_mm", "lens_long_mm")
    if not any(facts.get(name) for name in ranges):
        facts |= {name: getattr(note, name) for name in ranges}
    elif any(facts.get(name) != getattr(note, name) for name in ranges):
        return  # with and without converter: the apertures may differ in the same way
    widest = ("lens_widest_at_short", "lens_widest_at_long")
    if not any(facts.get(name) for name in widest):
        facts |= {name: getattr(note, name) for name in widest}


def _stored_size(facts: dict[str, Any], contents: Contents) -> tuple[int | None, int | None]:
    """The size that positions in pixels count in: as recorded, which a resized copy keeps."""
    width_px, height_px = facts.get("recorded_width_px"), facts.get("recorded_height_px")
    return (width_px, height_px) if width_px and height_px else (contents.width_px, contents.height_px)


def _sizes(facts: dict[str, Any], contents: Contents) -> None:
    width_px, height_px = contents.width_px, contents.height_px
    if contents.role == FileRole.RAW or not width_px or not height_px:
        # A raw's own size counts masked margins; the one recorded is the picture's.
        width_px, height_px = _stored_size(facts, contents)
    facts["width_px"], facts["height_px"] = upright_size(width_px, height_px, facts.get("orientation"))


def _focus(
    facts: dict[str, Any], note: MakerFacts, packets: list[XmpFacts], subject: FocusArea | None
) -> None:
    """Maker's note first, then the first packet with focus regions, then the standard's subject area."""
    regions = next((packet.focus_areas for packet in packets if packet.focus_areas), ())
    stored = note.focus_areas or regions or ((subject,) if subject else ())
    facts |= placed(stored, facts.get("orientation"))
    facts["camera_word"] = _camera_word(note, facts["focus_areas"])


def _camera_word(note: MakerFacts, areas: tuple[FocusArea, ...]) -> CameraWord | None:
    if note.camera_word is not None:
        return note.camera_word
    if note.focus_mode == words.MANUAL:
        return CameraWord.MANUAL
    # Autofocus that was used without a word of success is a place, not a confirmation.
    return CameraWord.SILENT if areas or note.focus_mode is not None else None


def _reasons(
    facts: dict[str, Any], missing: dict[str, str], note: MakerFacts, no_note: str | None, damaged: bool
) -> dict[str, str]:
    reasons = {}
    for column in REASONED:
        if facts.get(column) not in (None, ()):
            continue
        why = missing.get(column) or note.missing.get(column)
        if why is None and column in _FROM_NOTE and no_note is not None:
            why = no_note
        if column.startswith("af_") and facts["focus_areas"] and facts.get("af_x") is None:
            why = "several_focus_areas"
        reasons[column] = why or ("damaged" if damaged else "not_recorded")
    return reasons
