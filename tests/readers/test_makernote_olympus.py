"""The maker note of Olympus and OM System."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.readers.makernotes import olympus, words
from auditor.records import FocusArea, MakerFacts

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_notes
from tests.readers.note_builder import NOTE_AT, Entry, directory, exif, hostile, maker_note

VERSION = Entry(0x0000, "UNDEFINED", b"0100")


def read(*entries: Entry) -> MakerFacts:
    note = b"OLYMPUS\0II\3\0" + directory(entries, "<", 12)
    return olympus.decode(maker_note(exif(note, "OLYMPUS CORPORATION", "E-M5MarkIII")))


def equipment(*entries: Entry) -> MakerFacts:
    return read(Entry(0x2010, "IFD", [VERSION, *entries]))


def settings(*entries: Entry) -> MakerFacts:
    return read(Entry(0x2020, "LONG", [VERSION, *entries]))


def test_om_system_note() -> None:
    facts = olympus.decode(maker_note(written_notes.olympus()))
    assert (facts.focus_mode, facts.camera_word) == (words.CONTINUOUS, "silent")
    assert (facts.lens_name, facts.body_serial) == ("OLYMPUS 300mm F2.8", "BJMA03234")
    assert (facts.converter_factor, facts.focus_distance_m, facts.shot_in_burst) == (1.4, 12.5, 5)


def test_old_note_counts_from_the_tiff_header() -> None:
    inner = [VERSION, Entry(0x0203, "ASCII", b"OLYMPUS 50mm Lens\0")]
    note = b"OLYMP\0\1\0" + directory([Entry(0x2010, "LONG", inner)], "<", NOTE_AT + 8)
    facts = olympus.decode(maker_note(exif(note, "OLYMPUS IMAGING CORP.", "E-300")))
    assert facts.lens_name == "OLYMPUS 50mm Lens"


def test_big_endian_note_in_a_little_endian_file() -> None:
    inner = [VERSION, Entry(0x0301, "SHORT", (10, 16))]
    note = b"OLYMPUS\0MM\0\3" + directory([Entry(0x2020, "LONG", inner)], ">", 12)
    facts = olympus.decode(maker_note(exif(note, "OLYMPUS CORPORATION", "E-PL8")))
    assert facts.camera_word == "manual"


def test_a_directory_without_its_version_is_not_read() -> None:
    assert read(Entry(0x2020, "LONG", [Entry(0x0301, "SHORT", (0, 65))])).focus_mode is None
    odd = Entry(0x0000, "UNDEFINED", b"\0\xff01")
    assert read(Entry(0x2020, "LONG", [odd, Entry(0x0301, "SHORT", (0, 65))])).focus_mode is None


@pytest.mark.parametrize(
    ("packed", "centre", "size"),
    [
        # Real files: E-P3 and E-PL8; beside it they record the point as 0.500 / 0.494 and 0.498 / 0.498.
        (1902874257, (0.5, 0.494), (29 / 255, 38 / 255)),
        (1937083017, (0.496, 0.498), (23 / 255, 20 / 255)),
    ],
)
def test_area_corners_are_left_top_right_bottom(
    packed: int, centre: tuple[float, float], size: tuple[float, float]
) -> None:
    (area,) = settings(Entry(0x0304, "LONG", (packed, 0, 0))).focus_areas
    assert (area.x, area.y) == pytest.approx(centre, abs=0.001)
    assert (area.width, area.height) == pytest.approx(size)
    assert (area.used, area.in_focus) == (True, None)


def test_several_areas() -> None:
    facts = settings(Entry(0x0304, "LONG", (0x10203040, 0x50607080, 0)))
    assert [round(area.x * 255) for area in facts.focus_areas] == [0x20, 0x60]


def test_the_selected_point_stands_in_when_no_area_is_recorded() -> None:
    """Denominators 640 and 480 in real files: x comes first."""
    point = Entry(0x0305, "SRATIONAL", (0, 0, 335, 640, 224, 480, 335, 640, 224, 480))
    assert settings(point).focus_areas == (FocusArea(x=335 / 640, y=224 / 480),)
    none = Entry(0x0305, "SRATIONAL", (0, 0) * 5)
    assert settings(none).focus_areas == ()


def test_manual_focus_uses_no_area() -> None:
    facts = settings(Entry(0x0301, "SHORT", (10, 16)), Entry(0x0304, "LONG", (1902874257,)))
    assert (facts.camera_word, facts.focus_areas) == ("manual", ())


@pytest.mark.parametrize(
    ("values", "mode"),
    [
        ((0, 65), words.SINGLE), ((10, 81), words.SINGLE), ((2, 68), words.CONTINUOUS),
        ((10, 16), words.MANUAL), ((0, 64), None), ((2,), words.CONTINUOUS), ((99,), None),
    ],
)  # fmt: skip
def test_focus_mode(values: tuple[int, ...], mode: str | None) -> None:
    assert settings(Entry(0x0301, "SHORT", values)).focus_mode == mode


@pytest.mark.parametrize(
    ("distance", "metres"), [((250, 10), 0.25), ((0xFFFFFFFF, 10), None), ((0, 1), None), ((705, 10), 0.705)]
)
def test_focus_distance_is_the_numerator_in_millimetres(
    distance: tuple[int, int], metres: float | None
) -> None:
    facts = read(Entry(0x2050, "LONG", [VERSION, Entry(0x0305, "RATIONAL", distance)]))
    assert facts.focus_distance_m == metres


@pytest.mark.parametrize(
    ("extender", "name", "lens", "factor"),
    [
        ((0, 0, 0, 0, 0, 0), b"", b"OLYMPUS M.300mm F4.0", 1.0),
        ((0, 0, 4, 0, 0, 0), b"", b"OLYMPUS 300mm F2.8", 1.4),
        ((0, 0, 16, 0, 0, 0), b"EC-20", b"OLYMPUS 300mm F2.8", 2.0),
        ((0, 0, 8, 0, 0, 0), b"", b"OLYMPUS 50mm F2.0", None),  # a tube without glass
        ((0, 0, 99, 0, 0, 0), b"", b"OLYMPUS 300mm F2.8", None),
        ((0, 0, 0, 0, 0, 0), b"", b"OLYMPUS M.300mm F4.0 + MC-14", 1.4),
        ((0, 0, 0, 0, 0, 0), b"MC-20", b"OLYMPUS M.300mm F4.0", 2.0),
        ((0, 0, 0, 0, 0, 0), b"", b"OM 150-400mm F4.5 TC1.25x IS PRO", None),
    ],
)
def test_converter(extender: tuple[int, ...], name: bytes, lens: bytes, factor: float | None) -> None:
    facts = equipment(
        Entry(0x0301, "BYTE", extender),
        Entry(0x0303, "ASCII", name + b"\0"),
        Entry(0x0203, "ASCII", lens + b"\0"),
    )
    assert facts.converter_factor == factor


def test_no_equipment_says_nothing_of_a_converter() -> None:
    assert settings(Entry(0x0301, "SHORT", (0, 65))).converter_factor is None


@pytest.mark.parametrize(("raw", "f_number"), [(434, 1.8), (925, 3.5), (1273, 5.6), (1024, 4.0), (135, 1.2)])
def test_widest_f_numbers_against_the_lens_names_of_real_files(raw: int, f_number: float) -> None:
    facts = equipment(Entry(0x0205, "SHORT", (raw,)), Entry(0x0206, "SHORT", (0,)))
    assert facts.lens_widest_at_short == pytest.approx(f_number, abs=0.05)
    assert facts.lens_widest_at_long is None


def test_a_bracket_is_told_from_a_burst() -> None:
    burst = Entry(0x0200, "LONG", (2, 3, 0))
    assert read(burst).drive_mode == words.BURST
    assert read(burst).shot_in_burst == 3
    bracket = Entry(0x2020, "LONG", [VERSION, Entry(0x0600, "SHORT", (5, 1, 1, 0, 0))])
    assert read(burst, bracket).drive_mode == words.BRACKETING


def test_a_directory_that_points_to_itself_ends() -> None:
    assert read(Entry(0x2010, "LONG", (12,)), Entry(0x2020, "LONG", (12,))) == MakerFacts()


def test_huge_counts_are_left_out() -> None:
    facts = settings(Entry(0x0304, "LONG", (1902874257,) * 2, count=0x40000000), Entry(0x0604, "LONG", (4,)))
    assert (facts.focus_areas, facts.stabiliser) == ((), words.ON)


def test_any_bytes_leave_no_exception() -> None:
    block = written_notes.olympus()
    for changed in hostile(block, seed=3):
        assert isinstance(olympus.decode(maker_note(changed)), MakerFacts)
