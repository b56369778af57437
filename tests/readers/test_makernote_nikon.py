"""Nikon's maker note."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.readers.makernotes import nikon, words
from auditor.readers.tiff import ByteOrder
from auditor.records import FocusArea, MakerFacts
from auditor.words import CameraWord

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers.canon_nikon_notes import nikon as nikon_block
from tests.readers.canon_nikon_notes import nikon_area, nikon_note
from tests.readers.note_builder import NOTE_AT, Entry, directory, exif, hostile

SINGLE = Entry(0x0007, "ASCII", b"AF-S  \0")
PICTURE = (6000, 4000)


def read(*entries: Entry, model: str = "NIKON D500", size_px: tuple[int, int] | None = PICTURE) -> MakerFacts:
    return nikon.decode(nikon_note(nikon_block(entries, model=model), model=model, size_px=size_px))


def read_headerless(*entries: Entry, order: ByteOrder, model: str) -> MakerFacts:
    block = exif(directory(entries, order, NOTE_AT), "NIKON", model, order=order)
    return nikon.decode(nikon_note(block, model=model))


@pytest.mark.parametrize(("order", "note_order"), [("<", "<"), (">", ">"), (">", "<"), ("<", ">")])
def test_everything_in_a_whole_note_whose_byte_order_is_its_own(
    order: ByteOrder, note_order: ByteOrder
) -> None:
    facts = nikon.decode(nikon_note(nikon_block(order=order, note_order=note_order)))
    assert facts == MakerFacts(
        camera_word=CameraWord.CONFIRMED,
        focus_mode=words.CONTINUOUS,
        area_mode=words.ONE_POINT,
        drive_mode=words.BURST,
        focus_areas=(FocusArea(x=0.25, y=0.75, width=0.1, height=0.1, used=True, in_focus=True),),
        focus_distance_m=10.0,
        lens_name="200-500mm F5.6",
        lens_short_mm=200.0,
        lens_long_mm=500.0,
        lens_widest_at_short=5.6,
        lens_widest_at_long=5.6,
        widest_f_number=5.66,
        body_serial="3004871",
        iso=800.0,
        auto_iso=True,
        file_number=8437,
        stabiliser=words.ON,
    )


@pytest.mark.parametrize(
    ("text", "word"),
    [
        (b"AF-S  \0", words.SINGLE), (b"AF-C\0", words.CONTINUOUS), (b"AF-A  \0", words.AUTOMATIC),
        (b"MANUAL\0", words.MANUAL), (b"Manual\0", words.MANUAL), (b"AF-X  \0", None),
        (b"\xff\xff\xff\xff\xff\0", None),
    ],
)  # fmt: skip
def test_focus_mode(text: bytes, word: str | None) -> None:
    assert read(Entry(0x0007, "ASCII", text)).focus_mode == word


@pytest.mark.parametrize(
    ("last", "word", "in_focus"), [(1, "confirmed", True), (0, "not_confirmed", False), (9, "silent", None)]
)
@pytest.mark.parametrize("version", [b"0100", b"0101"])
def test_contrast_detection_says_whether_it_was_in_focus(
    version: bytes, last: int, word: str, in_focus: bool | None
) -> None:
    area = nikon_area(version, "<", head=(1, 2), area=(*PICTURE, 1500, 3000, 600, 400), last=last)
    facts = read(SINGLE, area)
    assert (facts.camera_word, facts.focus_areas[0].in_focus) == (word, in_focus)
    assert (facts.focus_areas[0].x, facts.focus_areas[0].y) == (0.25, 0.75)


@pytest.mark.parametrize("version", [b"0300", b"0400"])
def test_an_on_sensor_area_was_used_and_confirms_nothing(version: bytes) -> None:
    area = nikon_area(version, "<", head=(1, 193, 0, 1), area=(*PICTURE, 1500, 3000, 600, 400), last=1)
    facts = read(SINGLE, area)
    assert (facts.camera_word, facts.area_mode) == ("silent", words.ONE_POINT)
    assert facts.focus_areas == (FocusArea(x=0.25, y=0.75, width=0.1, height=0.1, used=True),)


def test_an_on_sensor_area_that_the_note_marks_as_missing() -> None:
    area = nikon_area(b"0300", "<", head=(0, 197, 0, 0), area=(*PICTURE, 1500, 3000, 600, 400))
    assert read(SINGLE, area).focus_areas == ()


def test_a_phase_detection_point_used_confirms_nothing_and_has_a_place_in_the_middle_alone() -> None:
    middle = nikon_area(b"0101", "<", head=(0, 0, 7, 1, 1), area=(0,) * 6)
    other = nikon_area(b"0101", "<", head=(0, 0, 7, 2, 2), area=(0,) * 6)
    unused = nikon_area(b"0101", "<", head=(0, 0, 7, 1, 0), area=(0,) * 6)
    assert read(SINGLE, middle).focus_areas == (FocusArea(x=0.5, y=0.5, used=True),)
    for entry in (other, unused):
        assert read(SINGLE, entry).focus_areas == ()
    assert {read(SINGLE, entry).camera_word for entry in (middle, other, unused)} == {"silent"}


def test_manual_focus_uses_no_area() -> None:
    area = nikon_area(b"0300", "<", head=(2, 193, 0, 1), area=(*PICTURE, 1500, 3000, 600, 400))
    facts = read(Entry(0x0007, "ASCII", b"MANUAL\0"), area)
    assert (facts.camera_word, facts.focus_areas, facts.area_mode) == ("manual", (), None)


@pytest.mark.parametrize("version", [b"0102", b"0200", b"9999", b"\0\0\0\0"])
def test_an_unknown_version_is_left_out(version: bytes) -> None:
    facts = read(SINGLE, Entry(0x00B7, "UNDEFINED", version + b"\1\1\0\0" + b"\1" * 90))
    assert (facts.camera_word, facts.area_mode, facts.focus_areas) == ("silent", None, ())


@pytest.mark.parametrize("version", [b"0100", b"0101", b"0300", b"0400"])
def test_a_record_cut_short_is_left_out(version: bytes) -> None:
    whole = nikon_area(version, "<", head=(1, 1, 0, 1), area=(*PICTURE, 1500, 3000, 600, 400)).value
    assert isinstance(whole, bytes)
    assert read(SINGLE, Entry(0x00B7, "UNDEFINED", whole[:-1])).focus_areas == ()


@pytest.mark.parametrize(
    ("area", "size_px", "placed"),
    [
        ((6000, 4000, 1500, 3000, 600, 400), (3000, 2000), True),  # made smaller
        ((6000, 4000, 1500, 3000, 600, 400), (4000, 6000), False),  # turned
        ((6000, 4000, 1500, 3000, 600, 400), (1000, 1000), False),  # cropped since
        ((6000, 4000, 1500, 3000, 600, 400), None, True),
        ((6000, 4000, 0, 0, 600, 400), (6000, 4000), False),
        ((6000, 4000, 6001, 3000, 600, 400), (6000, 4000), False),
        ((0, 0, 0, 0, 0, 0), (6000, 4000), False),
    ],
)  # fmt: skip
def test_places_hold_only_in_a_picture_of_the_same_shape(
    area: tuple[int, ...], size_px: tuple[int, int] | None, placed: bool
) -> None:
    facts = read(SINGLE, nikon_area(b"0300", "<", head=(1, 193, 0, 1), area=area), size_px=size_px)
    assert bool(facts.focus_areas) is placed


def test_an_in_camera_crop_moves_the_place() -> None:
    """The crop's own numbers are those of a real file (Z 9 in its smaller format)."""
    crop = Entry(0x001B, "SHORT", (2, 8280, 5520, 5408, 3608, 1436, 956))
    corner = nikon_area(
        b"0400", "<", head=(1, 193, 0, 1), area=(8280, 5520, 1436 + 1352, 956 + 2706, 541, 361)
    )
    (area,) = read(SINGLE, crop, corner, size_px=(5392, 3592)).focus_areas
    assert (area.x, area.y) == pytest.approx((0.25, 0.75), abs=1e-9)
    assert area.width == pytest.approx(0.1, rel=0.001)
    outside = nikon_area(b"0400", "<", head=(1, 193, 0, 1), area=(8280, 5520, 700, 2760, 541, 361))
    assert read(SINGLE, crop, outside, size_px=(5392, 3592)).focus_areas == ()


def test_an_area_measured_in_neither_the_whole_nor_the_crop_is_left_out() -> None:
    crop = Entry(0x001B, "SHORT", (2, 8280, 5520, 5408, 3608, 1436, 956))
    area = nikon_area(b"0400", "<", head=(1, 193, 0, 1), area=(3000, 2000, 1500, 1000, 100, 100))
    assert read(SINGLE, crop, area, size_px=(5392, 3592)).focus_areas == ()


OLD = [
    # area mode, chosen point, mask of points in focus; first five are of real files
    ((2, 0, 0, 1), "NIKON D70s", "confirmed", True),
    ((1, 4, 0, 16), "NIKON D70", "confirmed", None),
    ((0, 0, 0, 1), "NIKON D70", "confirmed", True),
    ((0, 0, 0, 0), "NIKON D70", "not_confirmed", False),
    ((0, 0, 0, 0), "E5700", "silent", None),
    ((1, 0, 0, 0), "NIKON D70", "not_confirmed", None),
]


@pytest.mark.parametrize(("data", "model", "word", "middle_in_focus"), OLD)
def test_the_older_record(data: tuple[int, ...], model: str, word: str, middle_in_focus: bool | None) -> None:
    block = nikon_block([SINGLE, Entry(0x0088, "UNDEFINED", bytes(data))], order=">", model=model)
    facts = nikon.decode(nikon_note(block, model=model))
    assert facts.camera_word == word
    expected = (
        () if middle_in_focus is None else (FocusArea(x=0.5, y=0.5, used=True, in_focus=middle_in_focus),)
    )
    assert facts.focus_areas == expected


def test_a_note_without_header_writes_its_mask_little_endian() -> None:
    """The bytes of a real file (D1), whose one middle point was in focus."""
    facts = read_headerless(
        SINGLE, Entry(0x0088, "UNDEFINED", bytes((1, 0, 1, 0))), order=">", model="NIKON D1 "
    )
    assert facts.camera_word == "confirmed"
    assert facts.focus_areas == (FocusArea(x=0.5, y=0.5, used=True, in_focus=True),)


@pytest.mark.parametrize(
    ("bits", "word", "auto"),
    [
        (0, words.SINGLE_FRAME, False), (1, words.BURST, False), (0x21, words.BURST, True),
        (0x08, words.SELF_TIMER, False), (0x80, words.REMOTE, False), (0x30, words.BRACKETING, True),
        (0x11, words.BRACKETING, False), (0x02, None, False), (0x400, None, False),
    ],
)  # fmt: skip
def test_shooting_mode(bits: int, word: str | None, auto: bool) -> None:
    facts = read(Entry(0x0089, "SHORT", (bits,)), Entry(0x0025, "UNDEFINED", bytes(14)))
    assert (facts.drive_mode, facts.auto_iso) == (word, auto)


def test_auto_iso_needs_a_body_that_writes_iso_information() -> None:
    """exiv2: the same bit means something else on the D70."""
    assert read(Entry(0x0089, "SHORT", (0x20,))).auto_iso is None


@pytest.mark.parametrize(("value", "iso"), [(60, 100.0), (84, 400.0), (144, 12800.0), (80, 317.5)])
def test_iso_information(value: int, iso: float) -> None:
    """exiv2 prints 100, 400, 12800 and 317 for these."""
    info = bytes((value, 1, 12, 0, 0, 0, value, 1, 12, 0, 0, 0, 0, 0))
    assert read(Entry(0x0025, "UNDEFINED", info), Entry(0x0002, "SHORT", (0, 50))).iso == iso


def test_iso_setting_where_there_is_no_information() -> None:
    assert read(Entry(0x0002, "SHORT", (0, 320))).iso == 320.0
    assert read(Entry(0x0002, "SHORT", (0, 0))).iso is None


def test_enciphered_lens_data_is_left_unread() -> None:
    for version in (b"0201", b"0204", b"0800", b"    "):
        facts = read(Entry(0x0098, "UNDEFINED", version + bytes(range(60, 120))))
        assert (facts.focus_distance_m, facts.widest_f_number) == (None, None)


def test_open_lens_data_of_a_real_file() -> None:
    """D70s with a 50 mm f/1.8; exiv2 prints 2.00 m and F1.8."""
    data = bytes((48, 49, 48, 49, 36, 20, 12, 6, 33, 92, 80, 118, 88, 80, 80, 20, 20, 122, 20, 22))
    facts = read(Entry(0x0098, "UNDEFINED", data))
    assert facts.focus_distance_m == pytest.approx(2.00, abs=0.005)
    assert facts.widest_f_number == pytest.approx(1.8, abs=0.05)


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ((180, 10, 550, 10, 35, 10, 56, 10), "18-55mm F3.5-5.6"),
        ((50, 1, 50, 1, 18, 10, 18, 10), "50mm F1.8"),
        ((110, 10, 275, 10, 35, 10, 56, 10), "11-27.5mm F3.5-5.6"),
        ((0, 0, 0, 0, 0, 0, 0, 0), None),
        ((550, 10, 180, 10, 35, 10, 56, 10), None),
        ((180, 10, 550, 10, 0, 10, 56, 10), None),
    ],
)  # fmt: skip
def test_lens(values: tuple[int, ...], name: str | None) -> None:
    facts = read(Entry(0x0084, "RATIONAL", values))
    assert facts.lens_name == name
    assert (facts.lens_long_mm is None) == (name is None)


def test_serial_number_and_its_older_form() -> None:
    older = Entry(0x00A0, "ASCII", b"NO= 300157a3\0")
    assert read(older).body_serial == "300157a3"
    # Some bodies write their model's name there.
    assert read(Entry(0x001D, "ASCII", b"D50\0"), older).body_serial == "300157a3"
    assert read(Entry(0x001D, "ASCII", b"D50\0")).body_serial is None
    assert read(Entry(0x001D, "ASCII", b"0000000\0")).body_serial is None


def test_the_first_compacts_use_other_tags() -> None:
    note = b"Nikon\0\1\0" + directory([Entry(0x0007, "ASCII", b"AF-C  \0")], "<", NOTE_AT + 8)
    assert nikon.decode(nikon_note(exif(note, "NIKON", "E950"))) == MakerFacts()


@pytest.mark.parametrize("start", [b"XX*\0\x08\0\0\0", b"II*\0\xff\xff\xff\xff", b"", b"MM\0*\0\0\0\x08"])
def test_a_broken_header_leaves_no_facts(start: bytes) -> None:
    entries = directory([SINGLE], "<", 8)
    assert (
        nikon.decode(nikon_note(exif(b"Nikon\0\2\x11\0\0" + start + entries, "NIKON", "D"))) == MakerFacts()
    )


def test_a_bad_field_hides_no_neighbour() -> None:
    facts = read(
        SINGLE,
        Entry(0x00B7, "UNDEFINED", b"0100", count=0xFFFFFFFF),
        Entry(0x0084, "RATIONAL", (1, 2), count=0x7FFFFFFF),
        Entry(0x0098, "UNDEFINED", b"01"),
        Entry(0x001D, "ASCII", b"3004871\0"),
    )
    assert (facts.focus_mode, facts.body_serial, facts.lens_name) == (words.SINGLE, "3004871", None)


def test_any_bytes_leave_no_exception() -> None:
    for order in ("<", ">"):
        for changed in hostile(nikon_block(order=order), seed=12):
            assert isinstance(nikon.decode(nikon_note(changed)), MakerFacts)
