"""Panasonic's maker note."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.readers.makernotes import panasonic, words
from auditor.records import FocusArea, MakerFacts

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_notes
from tests.readers.note_builder import NOTE_AT, Entry, directory, exif, hostile, maker_note


def read(*entries: Entry, header: bytes = b"Panasonic\0\0\0") -> MakerFacts:
    note = header + directory(entries, "<", NOTE_AT + 12)
    return panasonic.decode(maker_note(exif(note, "Panasonic", "DC-G9")))


def test_written_note() -> None:
    facts = panasonic.decode(maker_note(written_notes.panasonic()))
    assert (facts.focus_mode, facts.area_mode) == (words.CONTINUOUS, words.TRACKING)
    assert facts.focus_areas == (FocusArea(x=0.25, y=0.75, used=True),)
    assert (facts.drive_mode, facts.shot_in_burst) == (words.BURST, 9)
    assert (facts.lens_name, facts.body_serial) == ("LUMIX G VARIO 100-300/F4.0-5.6", "F651203260376")
    assert (facts.auto_iso, facts.stabiliser, facts.camera_word) == (True, words.PANNING, "silent")


@pytest.mark.parametrize(
    "place",
    [
        (0xFFFFFFFF, 256, 0xFFFFFFFF, 256),  # "none", as some bodies write it
        (16777216, 1, 16777216, 1),
        (0, 256, 0, 256),
        (128, 0, 128, 256),
        (256, 256, 128, 256),
    ],
)
def test_a_place_outside_the_picture_is_none(place: tuple[int, ...]) -> None:
    assert read(Entry(0x0007, "SHORT", (6,)), Entry(0x004D, "RATIONAL", place)).focus_areas == ()


def test_manual_focus_uses_no_area() -> None:
    facts = read(Entry(0x0007, "SHORT", (2,)), Entry(0x004D, "RATIONAL", (128, 256, 128, 256)))
    assert (facts.camera_word, facts.focus_areas) == ("manual", ())


def test_an_unknown_focus_mode_says_nothing() -> None:
    facts = read(Entry(0x0007, "SHORT", (99,)), Entry(0x004D, "RATIONAL", (128, 256, 128, 256)))
    assert (facts.camera_word, facts.focus_mode, facts.focus_areas) == (None, None, ())


def test_a_conversion_lens_in_front_is_no_converter() -> None:
    assert read(Entry(0x0035, "SHORT", (3,))).converter_factor is None


@pytest.mark.parametrize(
    ("name", "factor"), [(b"DMW-TC14", 1.4), (b"DMW-TC20", 2.0), (b"NO-ACCESSORY", None), (b"TC140X", None)]
)
def test_a_converter_named_as_accessory(name: bytes, factor: float | None) -> None:
    assert read(Entry(0x0053, "ASCII", name + b"\0")).converter_factor == factor


def test_self_timer_before_burst() -> None:
    assert read(Entry(0x002E, "SHORT", (3,)), Entry(0x002A, "SHORT", (0,))).drive_mode == words.SELF_TIMER


@pytest.mark.parametrize(("value", "chosen"), [(65534, True), (65535, None), (400, None)])
def test_auto_iso(value: int, chosen: bool | None) -> None:
    assert read(Entry(0x003C, "SHORT", (value,))).auto_iso is chosen


def test_serial_that_is_not_text_is_left_out() -> None:
    assert read(Entry(0x0025, "UNDEFINED", bytes(16))).body_serial is None
    assert read(Entry(0x0025, "UNDEFINED", b"\xff\xfe\x80" * 5)).body_serial is None


def test_another_header_is_not_read() -> None:
    entry = Entry(0x0007, "SHORT", (6,))
    assert read(entry, header=b"LEICA\0\0\0\0\0\0\0") == MakerFacts()
    assert read(entry, header=b"Panasonic\0\0\0").focus_mode == words.SINGLE


def test_huge_counts_are_left_out() -> None:
    facts = read(
        Entry(0x004D, "RATIONAL", (1, 2, 1, 2), count=0xFFFFFFF),
        Entry(0x0007, "SHORT", (7,), count=0xFFFFFFFF),
        Entry(0x001A, "SHORT", (3,)),
    )
    assert (facts.focus_areas, facts.focus_mode, facts.stabiliser) == ((), None, words.OFF)


def test_any_bytes_leave_no_exception() -> None:
    block = written_notes.panasonic()
    for changed in hostile(block, seed=4):
        assert isinstance(panasonic.decode(maker_note(changed)), MakerFacts)
