"""Canon's maker note."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.readers.makernotes import canon, words
from auditor.readers.tiff import ByteOrder
from auditor.records import FocusArea, MakerFacts
from auditor.words import CameraWord

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers.canon_nikon_notes import (
    CANON_ENTRIES,
    canon_file,
    canon_note,
    canon_points,
    canon_settings,
    canon_shot,
    sized,
)
from tests.readers.canon_nikon_notes import canon as canon_block
from tests.readers.note_builder import Entry, hostile


def area(x: float, y: float, *, used: bool | None = None, in_focus: bool | None = None) -> FocusArea:
    return FocusArea(x=x, y=y, width=0.05, height=0.05, used=used, in_focus=in_focus)


def read(*entries: Entry, size_px: tuple[int, int] | None = (6000, 4000)) -> MakerFacts:
    return canon.decode(canon_note(canon_block(entries), size_px=size_px))


@pytest.mark.parametrize(("order", "note_order"), [("<", "<"), (">", ">"), (">", "<"), ("<", ">")])
def test_everything_in_a_whole_note_in_any_byte_order(order: ByteOrder, note_order: ByteOrder) -> None:
    facts = canon.decode(canon_note(canon_block(CANON_ENTRIES, order=order, note_order=note_order)))
    assert facts == MakerFacts(
        camera_word=CameraWord.CONFIRMED,
        focus_mode=words.CONTINUOUS,
        area_mode=words.ONE_POINT,
        drive_mode=words.BURST_FAST,
        # y grows upwards in the note, downwards in the record.
        focus_areas=(
            area(0.25, 0.25, used=True, in_focus=True),
            area(0.5, 0.5, used=True, in_focus=False),
        ),
        focus_distance_m=24.0,
        lens_name="XF500mm f/5.6L",
        lens_short_mm=500.0,
        lens_long_mm=500.0,
        widest_f_number=5.66,
        body_serial="570004681",
        iso=800.0,
        file_number=1771,
        shot_in_burst=7,
        stabiliser=words.OFF,
    )


def test_y_grows_downwards_on_compacts() -> None:
    """metadata-extractor 2.11: upwards on EOS bodies, downwards on compacts."""
    points = canon_points(xs=(600,), ys=(-400,), in_focus=(0,))
    (found,) = read(canon_settings(), canon_shot(x1a=250), points).focus_areas
    assert (found.x, found.y) == pytest.approx((0.6, 0.4))


def test_a_chosen_point_without_focus_is_not_confirmed() -> None:
    facts = read(canon_settings(), canon_points(xs=(0, 600), ys=(0, 0), selected=(1,)))
    assert facts.camera_word == "not_confirmed"
    assert [(each.x, each.used, each.in_focus) for each in facts.focus_areas] == [(0.6, True, False)]


def test_empty_masks_say_nothing() -> None:
    facts = read(canon_settings(), canon_points(xs=(600,), ys=(0,)))
    assert facts.camera_word == "silent"
    assert facts.focus_areas == (area(0.6, 0.5),)


def test_points_left_to_the_camera_are_no_place() -> None:
    every = tuple(range(9))
    facts = read(canon_settings(), canon_points(xs=range(9), ys=range(9), selected=every, mode=4))
    assert (facts.camera_word, facts.focus_areas, facts.area_mode) == ("not_confirmed", (), words.WHOLE_FRAME)


def test_manual_focus_uses_no_area() -> None:
    facts = read(canon_settings(x07=3), canon_points(xs=(600,), ys=(0,), in_focus=(0,)))
    assert (facts.camera_word, facts.focus_mode, facts.focus_areas) == ("manual", words.MANUAL, ())


def test_autofocus_off_beside_an_autofocus_mode_confirms_nothing() -> None:
    """Seen in a real file: a point in focus, none chosen, area mode "off", focus mode "AI servo"."""
    facts = read(canon_settings(), canon_points(xs=(600,), ys=(0,), in_focus=(0,), mode=0))
    assert (facts.camera_word, facts.focus_areas) == ("silent", ())


def test_points_beyond_the_valid_ones_are_left_out() -> None:
    facts = read(
        canon_settings(), canon_points(xs=(0, 600), ys=(0, 0), in_focus=(1,), selected=(0,), valid=1)
    )
    assert facts.camera_word == "not_confirmed"
    assert len(facts.focus_areas) == 1


def test_more_than_a_thousand_points() -> None:
    xs = range(-2000, 2212, 4)
    points = canon_points(xs=xs, ys=[0] * 1053, in_focus=(1052,), selected=(1052,))
    (found,) = read(canon_settings(), points).focus_areas
    assert found.x == pytest.approx(0.5 + 2208 / 6000)


def test_a_lone_area_of_the_newest_record() -> None:
    points = canon_points(xs=(-600,), ys=(0,), in_focus=(0,), tag=0x003C)
    assert read(canon_settings(), points).focus_areas[0].x == 0.4


@pytest.mark.parametrize(
    ("picture", "field", "stored", "placed"),
    [
        ((6000, 4000), (6000, 4000), (6000, 4000), True),
        ((6000, 4000), (6000, 4000), (1500, 1000), True),  # made smaller
        ((2816, 2112), (4000, 3000), (2816, 2112), True),  # measured in the full sensor
        ((2272, 1704), (2272, 284), (2272, 1704), True),  # in every sixth line
        ((6000, 4000), (6000, 4000), (4000, 6000), False),  # turned
        ((6000, 4000), (6000, 4000), (6000, 3375), False),  # cropped since
        ((6000, 3375), (6000, 4000), (6000, 3375), False),  # cropped in the camera
        ((0, 0), (6000, 4000), (6000, 4000), False),
        ((6000, 4000), (0, 4000), (6000, 4000), False),
    ],
)
def test_places_hold_only_in_a_picture_of_the_same_shape(
    picture: tuple[int, int], field: tuple[int, int], stored: tuple[int, int], placed: bool
) -> None:
    points = canon_points(xs=(60,), ys=(0,), in_focus=(0,), picture=picture, field=field)
    facts = read(canon_settings(), points, size_px=stored)
    assert bool(facts.focus_areas) is placed
    assert facts.camera_word == "confirmed"


def test_a_place_outside_the_picture_is_left_out() -> None:
    assert read(canon_settings(), canon_points(xs=(3001,), ys=(0,), in_focus=(0,))).focus_areas == ()


def test_the_older_record_marks_points_used_and_confirms_nothing() -> None:
    """The words of a real file (EOS 30D); exiv2 prints "upper-right, center, lower-right"."""
    record = (
        9, 9, 1728, 1152, 3504, 2336, 78, 78, 8, 64981, 571, 64605, 8, 947, 64981, 571, 8, 504, 270, 270,
        4, 4, 4, 65274, 65274, 65040, 148, 65535,
    )  # fmt: skip
    facts = read(canon_settings(), Entry(0x0012, "SHORT", record), size_px=(1728, 1152))
    assert facts.camera_word == "silent"
    assert [(round(each.x, 2), round(each.y, 2)) for each in facts.focus_areas] == [
        (0.66, 0.38), (0.5, 0.5), (0.66, 0.61),
    ]  # fmt: skip
    assert all(each.used and each.in_focus is None for each in facts.focus_areas)


@pytest.mark.parametrize(
    ("far", "near", "metres"),
    [
        (3000, 2000, 24.0),  # the middle in 1/distance
        (400, 400, 4.0),
        (782, 0, 7.82),
        (0xFFFF, 8191, None),
        (8191, 4000, None),
        (0, 0, None),
        (100, 200, None),
    ],
)
def test_focus_distance(far: int, near: int, metres: float | None) -> None:
    assert read(canon_settings(), canon_file(far, near)).focus_distance_m == metres
    assert read(canon_shot(x13=far, x14=near)).focus_distance_m == metres


@pytest.mark.parametrize(
    ("raised", "base", "iso"),
    [
        (0, 160, 100.0), (0, 320, 3200.0), (0, 300, 2016.0), (0, 244, 635.0), (96, 192, 1600.0),
        (-3, 192, 187.4), (0, 65408, None), (0, 0, None),
    ],
)  # fmt: skip
def test_iso_is_the_base_with_what_the_camera_added(raised: int, base: int, iso: float | None) -> None:
    """exiv2 prints 2015.87 for 300 (12 stands for a third of 32) and 634.96 for 244 (20 for two thirds); the
    fifth is a real file (PowerShot SX240 HS) whose Exif says 1600."""
    assert read(canon_shot(x01=raised, x02=base)).iso == iso


@pytest.mark.parametrize(
    ("setting", "camera", "auto"),
    [
        (15, 250, True),
        (17, 250, False),
        (0x4064, 250, False),
        (0x7FFF, 250, None),
        (0, 250, None),
        (15, 248, None),
    ],
)
def test_auto_iso_is_told_by_compacts_alone(setting: int, camera: int, auto: bool | None) -> None:
    assert read(canon_settings(x10=setting), canon_shot(x1a=camera)).auto_iso is auto


@pytest.mark.parametrize(
    ("drive", "timer", "word", "shot"),
    [
        (0, 0, words.SINGLE_FRAME, None), (0, 20, words.SELF_TIMER, None), (1, 0, words.BURST, 7),
        (4, 0, words.BURST_SLOW, 7), (8, 0, words.BURST_FAST, 7), (2, 0, None, None), (77, 0, None, None),
    ],
)  # fmt: skip
def test_drive_mode_and_shot_in_burst(drive: int, timer: int, word: str | None, shot: int | None) -> None:
    facts = read(canon_settings(x05=drive, x02=timer), canon_shot())
    assert (facts.drive_mode, facts.shot_in_burst) == (word, shot)


@pytest.mark.parametrize(
    ("value", "word"),
    [(0, words.OFF), (257, words.ON), (259, words.PANNING), (3, words.PANNING), (0xFFFF, None), (9, None)],
)
def test_stabiliser(value: int, word: str | None) -> None:
    assert read(canon_settings(x22=value)).stabiliser == word


@pytest.mark.parametrize(
    ("long", "short", "units", "expected"),
    [
        (800, 200, 1, (200, 800)),
        (682, 227, 32, (7.09375, 21.3125)),
        (0, 0, 1, (None, None)),
        (5, 9, 1, (None, None)),
    ],
)
def test_lens_range(long: int, short: int, units: int, expected: tuple[float | None, float | None]) -> None:
    facts = read(canon_settings(x17=long, x18=short, x19=units))
    assert (facts.lens_short_mm, facts.lens_long_mm) == expected


def test_widest_f_number_with_a_converter_and_its_unknown_marks() -> None:
    assert read(canon_settings(x1a=224)).widest_f_number == pytest.approx(11, rel=0.03)
    assert read(canon_settings(x1a=0xFFFF)).widest_f_number is None
    assert read(canon_settings(x1a=0)).widest_f_number is None


def test_a_file_number_needs_its_folder() -> None:
    assert read(canon_settings(), Entry(0x0008, "LONG", (0,))).file_number is None
    assert read(canon_settings(), Entry(0x0008, "LONG", (1030000,))).file_number is None


def test_a_block_of_another_size_than_its_own_is_left_out() -> None:
    block = list(sized([1] * 48))
    block[0] += 2
    assert read(Entry(0x0001, "SHORT", block), canon_shot()).focus_mode is None


def test_a_bad_field_hides_no_neighbour() -> None:
    facts = read(
        canon_settings(),
        Entry(0x0026, "SHORT", (1, 2), count=0xFFFFFFFF),
        Entry(0x0093, "SHORT", (1, 2), count=0x7FFFFFFF),
        Entry(0x0095, "ASCII", b"\xff\xfe\1\0"),
        canon_shot(),
    )
    assert (facts.focus_mode, facts.iso, facts.lens_name) == (words.CONTINUOUS, 800.0, None)
    assert (facts.camera_word, facts.focus_areas) == ("silent", ())


def test_a_count_of_points_that_leads_outside_its_record() -> None:
    for count in (0, 4, 1053, 0xFFFF):
        record = canon_points(xs=(0, 600, 900), ys=(0, 0, 0), in_focus=(1,)).value
        words_of_record = [word for word in record if isinstance(word, int)]
        words_of_record[2] = count
        facts = read(canon_settings(), Entry(0x0026, "SHORT", words_of_record))
        assert (facts.camera_word, facts.focus_areas) == ("silent", ())


def test_an_empty_or_unreadable_note_has_no_facts() -> None:
    assert read() == MakerFacts()
    assert canon.decode(canon_note(canon_block()[:512])) == MakerFacts()


def test_any_bytes_leave_no_exception() -> None:
    for changed in hostile(canon_block(), seed=11):
        assert isinstance(canon.decode(canon_note(changed)), MakerFacts)


def test_the_largest_record_there_can_be() -> None:
    count = 7800
    points = canon_points(xs=[1] * count, ys=[1] * count, in_focus=range(count), selected=range(count))
    assert len(read(canon_settings(), points).focus_areas) == count
