"""Fujifilm's maker note."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.readers.makernotes import fujifilm, words
from auditor.records import FocusArea, MakerFacts

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_notes
from tests.readers.note_builder import Entry, directory, exif, hostile, maker_note


def read(*entries: Entry, size_px: tuple[int, int] | None = (6000, 4000), at: int = 12) -> MakerFacts:
    note = (b"FUJIFILM" + at.to_bytes(4, "little")).ljust(at, b"\0") + directory(entries, "<", at)
    return fujifilm.decode(maker_note(exif(note, "FUJIFILM", "X-T3", size_px=size_px), size_px=size_px))


AUTOFOCUS = Entry(0x1021, "SHORT", (0,))


def test_the_note_is_little_endian_in_a_big_endian_file() -> None:
    note = b"FUJIFILM\x0c\0\0\0" + directory([AUTOFOCUS, Entry(0x1301, "SHORT", (0,))], "<", 12)
    facts = fujifilm.decode(maker_note(exif(note, "FUJIFILM", "X-T3", order=">")))
    assert facts.camera_word == "confirmed"


@pytest.mark.parametrize(
    ("mode", "warning", "word"),
    [(0, 0, "confirmed"), (0, 1, "not_confirmed"), (0, None, "silent"), (0, 9, "silent"), (1, 0, "manual")],
)
def test_camera_word(mode: int, warning: int | None, word: str) -> None:
    entries = [Entry(0x1021, "SHORT", (mode,))]
    if warning is not None:
        entries.append(Entry(0x1301, "SHORT", (warning,)))
    assert read(*entries).camera_word == word


def test_an_empty_note_says_nothing() -> None:
    facts = read(Entry(0x1000, "ASCII", b"FINE\0\0"))
    assert facts == MakerFacts()


@pytest.mark.parametrize(
    ("setting", "mode"),
    [(None, words.AUTOFOCUS), (0x4011, words.SINGLE), (0x0002, words.CONTINUOUS), (0x0007, words.AUTOFOCUS)],
)
def test_kind_of_autofocus(setting: int | None, mode: str) -> None:
    entries = [AUTOFOCUS] if setting is None else [AUTOFOCUS, Entry(0x102D, "LONG", (setting,))]
    assert read(*entries).focus_mode == mode


def test_focus_point() -> None:
    """Value of a real X-T3 file of 4416 x 2944 pixels."""
    point = (AUTOFOCUS, Entry(0x1023, "SHORT", (3598, 2090)), Entry(0x1301, "SHORT", (0,)))
    assert read(*point, size_px=(4416, 2944)).focus_areas == (
        FocusArea(x=3598 / 4416, y=2090 / 2944, used=True, in_focus=True),
    )


@pytest.mark.parametrize("size_px", [(1920, 1280), (4000, 2000), None])
def test_a_point_that_no_longer_fits_the_picture_is_left_out(size_px: tuple[int, int] | None) -> None:
    point = (AUTOFOCUS, Entry(0x1023, "SHORT", (3598, 2090)))
    assert read(*point, size_px=size_px).focus_areas == ()


def test_lens_range_and_the_rest() -> None:
    facts = fujifilm.decode(maker_note(written_notes.fujifilm()))
    assert (facts.lens_short_mm, facts.lens_long_mm) == (18, 55)
    assert (facts.lens_widest_at_short, facts.lens_widest_at_long) == (2.8, 4.0)
    assert (facts.body_serial, facts.shot_in_burst) == ("FF02B4550110", 4)
    assert (facts.drive_mode, facts.area_mode) == (words.BURST_FAST, words.ZONE)


@pytest.mark.parametrize(
    ("setting", "word"),
    [(0, words.SINGLE_FRAME), (0x03000001, words.BURST_SLOW), (0x0B000002, words.BURST_FAST)],
)
def test_drive_is_the_lowest_byte_of_its_setting(setting: int, word: str) -> None:
    """exiv2 prints the highest beside it, as frames a second (R)."""
    assert read(AUTOFOCUS, Entry(0x1103, "LONG", (setting,))).drive_mode == word


def test_a_division_by_zero_hides_nothing_else() -> None:
    facts = read(Entry(0x1404, "RATIONAL", (1800, 0)), Entry(0x1405, "RATIONAL", (5500, 100)))
    assert (facts.lens_short_mm, facts.lens_long_mm) == (None, 55)


@pytest.mark.parametrize(
    ("values", "word"),
    [
        ((0, 0, 0), words.OFF),
        ((0, 1, 0), words.OFF),  # no lens or body has one, whatever its mode
        ((1, 1, 0), words.ON),
        ((3, 0, 0), words.OFF),
        ((2, 9, 0), None),
        ((1, 1), None),
    ],
)
def test_stabiliser(values: tuple[int, ...], word: str | None) -> None:
    assert read(Entry(0x1422, "SHORT", values)).stabiliser == word


def test_the_directory_lies_where_the_note_says() -> None:
    assert read(AUTOFOCUS, at=40).focus_mode == words.AUTOFOCUS
    note = b"FUJIFILM\xff\xff\xff\xff" + directory([AUTOFOCUS], "<", 12)
    assert fujifilm.decode(maker_note(exif(note, "FUJIFILM", "X-T3"))) == MakerFacts()


def test_another_header_is_not_read() -> None:
    note = b"GENERALE\x0c\0\0\0" + directory([AUTOFOCUS], "<", 12)
    assert fujifilm.decode(maker_note(exif(note, "FUJIFILM", "X-T3"))) == MakerFacts()


def test_any_bytes_leave_no_exception() -> None:
    block = written_notes.fujifilm()
    for changed in hostile(block, seed=2):
        assert isinstance(fujifilm.decode(maker_note(changed)), MakerFacts)
