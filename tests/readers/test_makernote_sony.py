"""Sony's maker note."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.readers.makernotes import sony, words
from auditor.records import FocusArea, MakerFacts

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_notes
from tests.readers.note_builder import NOTE_AT, Entry, directory, exif, hostile, maker_note

MANUAL_E_MOUNT = (Entry(0x201B, "BYTE", (0,)), Entry(0x2027, "SHORT", (8640, 5760, 4320, 2880)))


def read(
    *entries: Entry,
    model: str = "ILCE-1",
    header: bool = True,
    size_px: tuple[int, int] | None = (6000, 4000),
) -> MakerFacts:
    start = b"SONY DSC \0\0\0" if header else b""
    note = start + directory(entries, "<", NOTE_AT + len(start))
    block = exif(note, "SONY", model, size_px=size_px)
    return sony.decode(maker_note(block, make="SONY", model=model, size_px=size_px))


def test_place_and_size_of_the_focus_area() -> None:
    facts = sony.decode(maker_note(written_notes.sony()))
    assert facts.focus_areas == (
        FocusArea(x=0.25, y=0.75, width=640 / 6000, height=480 / 4000, used=True, in_focus=None),
    )


def test_a_used_area_is_no_confirmation() -> None:
    assert sony.decode(maker_note(written_notes.sony())).camera_word == "silent"


def test_a_note_without_header_is_read() -> None:
    assert read(Entry(0x201B, "BYTE", (3,)), header=False).focus_mode == words.CONTINUOUS


def test_manual_focus_uses_no_area() -> None:
    facts = read(*MANUAL_E_MOUNT, size_px=(8640, 5760))
    assert (facts.camera_word, facts.focus_mode, facts.focus_areas) == ("manual", words.MANUAL, ())


@pytest.mark.parametrize(
    "place",
    [(0, 0, 0, 0), (6000, 4000, 0, 0), (6000, 4000, 6001, 10), (6000, 4000, 10, 4000), (0, 4000, 10, 10)],
)
def test_a_place_outside_its_own_picture_is_left_out(place: tuple[int, ...]) -> None:
    assert read(Entry(0x201B, "BYTE", (2,)), Entry(0x2027, "SHORT", place)).focus_areas == ()


def test_the_centre_with_an_empty_frame_is_no_place() -> None:
    entries = (Entry(0x201B, "BYTE", (2,)), Entry(0x2027, "SHORT", (6000, 4000, 3000, 2000)))
    assert read(*entries).focus_areas == (FocusArea(x=0.5, y=0.5, used=True),)
    assert read(*entries, Entry(0x2037, "UNDEFINED", b"\0\0\0\0\0\0")).focus_areas == ()


def test_a_picture_of_another_shape_has_no_place() -> None:
    entries = (Entry(0x201B, "BYTE", (2,)), Entry(0x2027, "SHORT", (6000, 4000, 1500, 3000)))
    assert read(*entries, size_px=(3000, 2000)).focus_areas != ()  # made smaller only
    assert read(*entries, size_px=(3000, 3000)).focus_areas == ()  # cropped
    assert read(*entries, size_px=None).focus_areas != ()


def test_a_short_place_hides_nothing_else() -> None:
    facts = read(
        Entry(0x201B, "BYTE", (2,)), Entry(0x2027, "SHORT", (6000, 4000)), Entry(0xB026, "LONG", (0,))
    )
    assert (facts.focus_areas, facts.focus_mode, facts.stabiliser) == ((), words.SINGLE, words.OFF)


def test_settings_block_of_older_bodies() -> None:
    """Big-endian in a little-endian file; 332 bytes as the DSLR-A330 writes."""
    block = bytearray(332)
    block[0x20:0x24] = b"\0\2\0\1"
    facts = read(Entry(0x0114, "UNDEFINED", bytes(block)), model="DSLR-A330")
    assert (facts.focus_mode, facts.area_mode) == (words.CONTINUOUS, words.ONE_POINT)
    assert facts.drive_mode is None
    # A block of another size holds another layout.
    assert read(Entry(0x0114, "UNDEFINED", bytes(block) + b"\0\0")).focus_mode is None


def test_drive_mode_of_older_bodies_stands_in_the_longer_block_alone() -> None:
    words_of_block = b"\0\0" * 4 + b"\0\x12"
    for size_bytes, drive in ((280, words.BURST_SLOW), (364, words.BURST_SLOW), (332, None)):
        block = Entry(0x0114, "UNDEFINED", words_of_block.ljust(size_bytes, b"\0"))
        assert read(block, model="DSLR-A700").drive_mode == drive


def test_the_newer_focus_field_counts_only_beside_its_version() -> None:
    field = Entry(0xB04E, "SHORT", (3,))
    version = Entry(0x3000, "UNDEFINED", bytes(52) + b"DC7303320222000\0")
    assert read(field).focus_mode is None
    assert read(field, version).focus_mode == words.CONTINUOUS


@pytest.mark.parametrize(
    ("code", "lens_id", "factor"),
    [(0, 41, 1.0), (0, 0xFFFF, None), (0, None, None), (0x88, 41, 1.4), (0x50, 41, 2.0), (0x77, 41, None)],
)
def test_converter(code: int, lens_id: int | None, factor: float | None) -> None:
    entries = [Entry(0x0105, "LONG", (code,))]
    if lens_id is not None:
        entries.append(Entry(0xB027, "LONG", (lens_id,)))
    assert read(*entries).converter_factor == factor


@pytest.mark.parametrize(
    ("spec", "name"),
    [
        # First four: real files (SLT-A57, SLT-A58, ILCE-6000, ILCE-1).
        ((1, 0, 0x50, 0, 0, 0x18, 0, 2), "DT 50mm F1.8 SAM"),
        ((0, 0, 0x70, 3, 0, 0x40, 0x56, 1), "70-300mm F4-5.6 SSM"),
        ((0xC3, 0, 0x16, 0, 0x50, 0x35, 0x56, 0), "E PZ 16-50mm F3.5-5.6 OSS"),
        ((2, 0, 0x35, 0, 0, 0x14, 0, 0), "FE 35mm F1.4"),
        # By the same rule; no real file of a lens that starts at 100 mm or more was at hand.
        ((0x82, 2, 0x00, 6, 0, 0x56, 0x63, 8), "FE 200-600mm F5.6-6.3 G OSS"),
        ((232, 3, 0, 0, 1, 0, 0, 0), None),  # seen in real files: no such lens
        ((0, 0, 0, 0, 0, 0, 0, 0), None),
        ((0, 0, 0x7A, 3, 0, 0x40, 0x56, 0), None),
        ((0, 0, 0x70, 0, 0x50, 0x40, 0x56, 0), None),
    ],
)
def test_lens_name_from_its_digits(spec: tuple[int, ...], name: str | None) -> None:
    assert read(Entry(0xB02A, "BYTE", spec)).lens_name == name


def test_the_range_of_a_compact_is_not_its_own() -> None:
    """DSC-RX100 states 28-100 mm, as on 35 mm film; Exif gives 10.4-37.1 mm."""
    spec = Entry(0xB02A, "BYTE", (0, 0, 0x28, 1, 0, 0x18, 0x49, 0))
    assert read(spec).lens_long_mm == 100
    assert read(spec, model="DSC-RX100").lens_long_mm is None


@pytest.mark.parametrize(("number", "shot"), [(0, None), (7, 7), (0xFFFF, None)])
def test_shot_in_burst(number: int, shot: int | None) -> None:
    assert read(Entry(0xB04A, "SHORT", (number,))).shot_in_burst == shot


def test_huge_counts_are_left_out() -> None:
    facts = read(
        Entry(0x2027, "SHORT", (1, 1, 1, 1), count=0xFFFFFFFF),
        Entry(0x0114, "UNDEFINED", bytes(280), count=0x7FFFFFFF),
        Entry(0xB04A, "SHORT", (3,)),
    )
    assert (facts.focus_areas, facts.focus_mode, facts.shot_in_burst) == ((), None, 3)


def test_any_bytes_leave_no_exception() -> None:
    block = written_notes.sony()
    for changed in hostile(block, seed=1):
        assert isinstance(sony.decode(maker_note(changed)), MakerFacts)
