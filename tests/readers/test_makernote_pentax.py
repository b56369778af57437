"""Pentax's maker note."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.readers.makernotes import pentax, words
from auditor.records import FocusArea, MakerFacts

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_notes
from tests.readers.note_builder import NOTE_AT, Entry, directory, exif, hostile, maker_note

MODEL = Entry(0x0005, "LONG", (77980,))


def read(*entries: Entry) -> MakerFacts:
    note = b"AOC\0MM" + directory([MODEL, *entries], ">", NOTE_AT + 6)
    return pentax.decode(maker_note(exif(note, "PENTAX Corporation", "PENTAX K10D", order=">")))


def test_written_note() -> None:
    facts = pentax.decode(maker_note(written_notes.pentax()))
    assert (facts.focus_mode, facts.camera_word) == (words.CONTINUOUS, "confirmed")
    assert facts.focus_areas == (FocusArea(x=0.5, y=0.5, used=True, in_focus=True),)
    assert (facts.body_serial, facts.drive_mode) == ("6211161", words.BURST)


def test_a_note_turned_round_by_other_software_is_read() -> None:
    """The header still says MM; seen in real files."""
    note = b"AOC\0MM" + directory([MODEL, Entry(0x000D, "SHORT", (3,))], "<", NOTE_AT + 6)
    facts = pentax.decode(maker_note(exif(note, "PENTAX Corporation", "PENTAX K10D")))
    assert facts.camera_word == "manual"


def test_the_note_with_the_long_header_counts_from_itself() -> None:
    note = b"PENTAX \0II" + directory([MODEL, Entry(0x0229, "ASCII", b"7654321\0")], "<", 10)
    facts = pentax.decode(maker_note(exif(note, "PENTAX", "PENTAX K-3 Mark III", order=">")))
    assert facts.body_serial == "7654321"


@pytest.mark.parametrize(
    ("mode", "point", "word"),
    [
        (16, 5, "confirmed"), (16, 1, "confirmed"), (16, 0xFFFF, "not_confirmed"), (16, 0, "silent"),
        (16, None, "silent"), (3, 5, "manual"), (3, 0xFFFF, "manual"), (77, 5, None),
    ],
)  # fmt: skip
def test_camera_word(mode: int, point: int | None, word: str | None) -> None:
    entries = [Entry(0x000D, "SHORT", (mode,))]
    if point is not None:
        entries.append(Entry(0x000F, "SHORT", (point,)))
    assert read(*entries).camera_word == word


def test_points_in_a_long_are_another_form() -> None:
    assert read(Entry(0x000D, "SHORT", (16,)), Entry(0x000F, "LONG", (5,))).camera_word == "silent"


def test_only_the_centre_has_a_known_place() -> None:
    single = Entry(0x000D, "SHORT", (16,))
    assert read(single, Entry(0x000E, "SHORT", (6,))).focus_areas == (FocusArea(x=0.5, y=0.5, used=True),)
    assert read(single, Entry(0x000E, "SHORT", (4,))).focus_areas == ()
    # The centre was selected, but another point was in focus.
    assert read(single, Entry(0x000E, "SHORT", (6,)), Entry(0x000F, "SHORT", (1,))).focus_areas == ()


def test_a_centre_that_missed() -> None:
    facts = read(
        Entry(0x000D, "SHORT", (16,)), Entry(0x000E, "SHORT", (0xFFFE,)), Entry(0x000F, "SHORT", (0xFFFF,))
    )
    assert facts.focus_areas == (FocusArea(x=0.5, y=0.5, used=True, in_focus=False),)


def test_a_lens_number_is_no_name() -> None:
    facts = read(Entry(0x003F, "BYTE", (3, 255)))
    assert facts.lens_name is None
    assert facts.missing == {"lens_name": "not_read_yet"}


@pytest.mark.parametrize(
    ("values", "drive"),
    [((0, 0, 0, 0), words.SINGLE_FRAME), ((2, 0, 0, 0), words.BURST_FAST), ((0, 2, 0, 0), words.SELF_TIMER),
     ((9, 9, 9, 9), None), ((1, 0), None)],
)  # fmt: skip
def test_drive_mode(values: tuple[int, ...], drive: str | None) -> None:
    assert read(Entry(0x0034, "BYTE", values)).drive_mode == drive


def test_another_header_is_not_read() -> None:
    note = b"Ricoh\0\0\0" + directory([MODEL, Entry(0x000D, "SHORT", (16,))], ">", NOTE_AT + 8)
    assert pentax.decode(maker_note(exif(note, "RICOH", "GR DIGITAL", order=">"))) == MakerFacts()


def test_huge_counts_are_left_out() -> None:
    facts = read(
        Entry(0x000D, "SHORT", (16,)), Entry(0x003F, "BYTE", (8, 59), count=0xFFFFFFFF),
        Entry(0x0034, "BYTE", (1, 0, 0, 0), count=0x7FFFFFFF),
    )  # fmt: skip
    assert (facts.focus_mode, facts.lens_name, facts.drive_mode) == (words.SINGLE, None, None)


def test_any_bytes_leave_no_exception() -> None:
    block = written_notes.pentax()
    for changed in hostile(block, seed=5):
        assert isinstance(pentax.decode(maker_note(changed)), MakerFacts)
