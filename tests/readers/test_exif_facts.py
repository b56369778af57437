"""What the standard tags say, and what is left out with which reason.

Texts of the standard as given in Exif 2.3 (S: SubjectDistance, SubjectArea, LensSpecification,
PhotographicSensitivity; R: the rest).
"""

from __future__ import annotations

import math
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

import pytest
from numpy.testing import assert_allclose

from auditor.readers import exif_tags
from auditor.readers.frame import found_file, read_file
from auditor.records import Recorded
from auditor.words import MissingReason

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers.note_builder import Entry
from tests.readers.written_frames import MAIN, PHOTO, changed, exif_block, jpeg


def without(*tags: int) -> list[Entry]:
    return [entry for entry in PHOTO if entry.tag not in tags]


def read(
    tmp_path: Path, *entries: Entry, drop: tuple[int, ...] = (), main: tuple[Entry, ...] = ()
) -> Recorded:
    path = tmp_path / "frame.jpg"
    path.write_bytes(jpeg(exif_block(changed(MAIN, *main), changed(without(*drop), *entries))))
    return read_file(found_file(path)).recorded


@pytest.mark.parametrize(
    ("written", "serial"),
    [
        ("0042", "0042"),
        ("1", "1"),
        ("7777", "7777"),  # may be a number
        ("0", None),
        ("0000000", None),
        ("00-00 00", None),
        ("-------", None),
        ("FFFFFFFF", None),
        ("XXXXXXXX", None),
    ],
)
def test_a_filling_in_place_of_the_serial_number_is_none(
    tmp_path: Path, written: str, serial: str | None
) -> None:
    """Some firmware writes zeros or another filling there (C); BodySerialNumber: CIPA DC-008, 4.6.8 (R)."""
    recorded = read(tmp_path, Entry(0xA431, "ASCII", written.encode() + b"\0"))
    assert recorded.body_serial == serial
    assert (recorded.missing.get("body_serial") == "not_recorded") == (serial is None)


def test_behind_a_filling_the_next_tag_that_holds_a_serial_number_counts(tmp_path: Path) -> None:
    filled, of_dng = Entry(0xA431, "ASCII", b"0000000\0"), Entry(0xC62F, "ASCII", b"880012\0")
    assert read(tmp_path, filled, main=(of_dng,)).body_serial == "880012"


def test_everything_that_the_standard_tags_hold(tmp_path: Path) -> None:
    recorded = read(tmp_path)
    expected: dict[str, Any] = {
        "taken_at": "2026-05-03T06:41:09.37",
        "utc_offset": "+02:00",
        "utc_offset_source": "offset_time_original",
        "body_make": "Northlight",
        "body_model": "N 1",
        "body_serial": "0042",
        "lens_name": "Heron 500mm f/5.6",
        "lens_short_mm": 500.0,
        "lens_long_mm": 500.0,
        "lens_widest_at_short": 5.6,
        "lens_widest_at_long": 5.6,
        "focal_length_mm": 500.0,
        "focal_length_35mm_mm": 750.0,
        "f_number": 6.3,
        "iso": 800.0,
        "exposure_time_s": 1 / 1600,
        "exposure_bias_ev": -1 / 3,
        "exposure_program": 3,
        "exposure_mode": 0,
        "flash_fired": False,
        "recorded_width_px": 6000,
        "recorded_height_px": 4000,
        "width_px": 60,
        "height_px": 40,
        "orientation": 1,
        "software": "Firmware 1.0",
    }
    assert {name: getattr(recorded, name) for name in expected} == expected


def test_pixel_pitch_of_4254_6_px_per_inch(tmp_path: Path) -> None:
    # check value: 4254.6 px/inch is 5.970 um (D)
    assert_allclose(read(tmp_path).pixel_pitch_um or 0, 5.970, atol=0.0005)


@pytest.mark.parametrize(
    ("unit", "resolution"), [(2, (42546, 10)), (3, (16750, 10)), (4, (1675, 10)), (5, (1675, 10000))]
)
def test_units_of_the_focal_plane_resolution(tmp_path: Path, unit: int, resolution: tuple[int, int]) -> None:
    # one pitch of 5.970 um in inches, centimetres, millimetres and micrometres
    recorded = read(tmp_path, Entry(0xA20E, "RATIONAL", resolution), Entry(0xA210, "SHORT", (unit,)))
    assert_allclose(recorded.pixel_pitch_um or 0, 5.970, atol=0.001)


def test_widest_f_number_from_apex(tmp_path: Path) -> None:
    # Av = 2 log2 N (Exif 2.2 Annex C, S): Av 5 is f/5.657
    assert_allclose(read(tmp_path).widest_f_number or 0, 5.657, atol=0.0005)


def test_apex_values_stand_in_for_f_number_and_exposure_time(tmp_path: Path) -> None:
    recorded = read(
        tmp_path,
        Entry(0x9202, "RATIONAL", (6, 1)),
        Entry(0x9201, "SRATIONAL", (10, 1)),
        drop=(0x829A, 0x829D),
    )
    # Av 6 is f/8, Tv 10 is 1/1024 s (Exif 2.2 Annex C, S)
    assert_allclose((recorded.f_number or 0, recorded.exposure_time_s or 0), (8.0, 1 / 1024), rtol=1e-12)


@pytest.mark.parametrize(
    ("written", "taken_at", "why"),
    [
        (b"2026:05:03 06:41:09\0", "2026-05-03T06:41:09.37", None),
        (b"2026-05-03T06:41:09\0", "2026-05-03T06:41:09.37", None),
        (b"0000:00:00 00:00:00\0", None, "not_recorded"),  # a clock that was never set
        (b"2026:02:30 06:41:09\0", None, "out_of_range"),
        (b"2026:05:03 25:41:09\0", None, "out_of_range"),
        (b"yesterday at dawn..\0", None, "out_of_range"),
        # "when unknown, the characters are filled with blanks, the colons stay" (Exif, R)
        (b"    :  :     :  :  \0", None, "not_recorded"),
        (b"\0" * 20, None, "not_recorded"),
    ],
)
def test_time(tmp_path: Path, written: bytes, taken_at: str | None, why: str | None) -> None:
    recorded = read(tmp_path, Entry(0x9003, "ASCII", written))
    assert recorded.taken_at == taken_at
    assert recorded.missing.get("taken_at") == why


def test_time_of_digitising_stands_in_but_the_modify_date_never_does(tmp_path: Path) -> None:
    modified = (Entry(0x0132, "ASCII", b"2026:05:09 20:00:00\0"),)
    none = read(tmp_path, drop=(0x9003,), main=modified)
    assert none.taken_at is None
    assert none.missing["taken_at"] == "not_recorded"
    digitised = (Entry(0x9004, "ASCII", b"2026:05:03 06:41:10\0"), Entry(0x9292, "ASCII", b"5\0"))
    assert read(tmp_path, *digitised, drop=(0x9003,), main=modified).taken_at == "2026-05-03T06:41:10.5"


@pytest.mark.parametrize(
    ("written", "offset", "why"),
    [
        (b"-03:30\0", "-03:30", None),
        (b"Z\0", "+00:00", None),
        (b"+25:00\0", None, "out_of_range"),
        (b"+02:75\0", None, "out_of_range"),
        (b"   :  \0", None, "not_recorded"),
        (b"local\0", None, "out_of_range"),
    ],
)
def test_offset_from_universal_time(
    tmp_path: Path, written: bytes, offset: str | None, why: str | None
) -> None:
    recorded = read(tmp_path, Entry(0x9011, "ASCII", written))
    assert (recorded.utc_offset, recorded.missing.get("utc_offset")) == (offset, why)
    assert (recorded.utc_offset_source is None) == (offset is None)


def test_a_saturated_sensitivity_gives_way_to_the_one_that_its_type_names(tmp_path: Path) -> None:
    full = Entry(0x8827, "SHORT", (65535,))
    index = Entry(0x8832, "LONG", (102400,))
    output = Entry(0x8831, "LONG", (80000,))
    assert read(tmp_path, full, index, output, Entry(0x8830, "SHORT", (2,))).iso == 102400
    assert read(tmp_path, full, index, output, Entry(0x8830, "SHORT", (1,))).iso == 80000
    alone = read(tmp_path, full)
    assert (alone.iso, alone.missing["iso"]) == (None, "out_of_range")


SOS, REI, ISO_SPEED = 0x8831, 0x8832, 0x8833
NAMED_BY_TYPE = {
    1: (SOS,), 2: (REI,), 3: (ISO_SPEED,), 4: (SOS, REI), 5: (SOS, ISO_SPEED), 6: (REI, ISO_SPEED),
}  # fmt: skip
"""SensitivityType, Exif 2.3 (R)."""


@pytest.mark.parametrize("kind", NAMED_BY_TYPE)
def test_a_saturated_sensitivity_is_never_that_of_another_kind(tmp_path: Path, kind: int) -> None:
    """The figures that the type names are one and the same; the others may be anything."""
    figures = [
        Entry(tag, "LONG", (80000 if tag in NAMED_BY_TYPE[kind] else 200,)) for tag in (SOS, REI, ISO_SPEED)
    ]
    full = Entry(0x8827, "SHORT", (65535,))
    assert read(tmp_path, full, Entry(0x8830, "SHORT", (kind,)), *figures).iso == 80000


def test_every_offset_of_the_time_zone_database_is_kept(tmp_path: Path) -> None:
    """IANA's, as Python's zoneinfo has it, in January and in July: up to +14:00, quarters of hours too."""
    if not available_timezones():
        pytest.skip("this system has no time zone database")
    moments = [datetime(2026, month, 1, tzinfo=UTC) for month in (1, 7)]
    offsets = {_offset(moment, name) for name in available_timezones() for moment in moments}
    assert {"+14:00", "+12:45", "+05:45", "-11:00"} <= offsets
    for offset in sorted(offsets):
        recorded = read(tmp_path, Entry(0x9011, "ASCII", offset.encode() + b"\0"))
        assert recorded.utc_offset == offset


def _offset(moment: datetime, zone: str) -> str:
    return moment.astimezone(ZoneInfo(zone)).isoformat()[-6:]


@pytest.mark.parametrize(
    ("column", "entry"),
    [
        ("focal_length_mm", Entry(0x920A, "RATIONAL", (0, 1))),
        ("focal_length_mm", Entry(0x920A, "RATIONAL", (4_000_000_000, 1))),
        ("f_number", Entry(0x829D, "RATIONAL", (0, 1))),
        ("exposure_time_s", Entry(0x829A, "RATIONAL", (0, 10))),
        ("exposure_bias_ev", Entry(0x9204, "SRATIONAL", (-100, 1))),
        ("iso", Entry(0x8827, "SHORT", (0,))),
        ("pixel_pitch_um", Entry(0xA20E, "RATIONAL", (0, 1))),
        ("focus_distance_m", Entry(0x9206, "RATIONAL", (3_000_000, 1))),
    ],
)
def test_what_cannot_be_true_is_left_out_with_a_reason(tmp_path: Path, column: str, entry: Entry) -> None:
    recorded = read(tmp_path, entry)
    assert getattr(recorded, column) is None
    assert recorded.missing[column] == "out_of_range"


@pytest.mark.parametrize("tag", [0x829A, 0x829D, 0x920A, 0x9205, 0xA20E])
def test_a_quotient_by_zero_is_nothing_and_never_infinite(tmp_path: Path, tag: int) -> None:
    recorded = read(tmp_path, Entry(tag, "RATIONAL", (1, 0)))
    numbers = [getattr(recorded, name) for name in recorded.__slots__]
    assert all(math.isfinite(number) for number in numbers if isinstance(number, float))


def test_subject_distance(tmp_path: Path) -> None:
    assert read(tmp_path, Entry(0x9206, "RATIONAL", (1250, 100))).focus_distance_m == 12.5
    unknown = read(tmp_path, Entry(0x9206, "RATIONAL", (0, 1)))
    assert (unknown.focus_distance_m, unknown.missing["focus_distance_m"]) == (None, "not_recorded")
    for below in (1, 10, 100, 1000):
        infinite = read(tmp_path, Entry(0x9206, "RATIONAL", (0xFFFFFFFF, below)))
        assert (infinite.focus_distance_m, infinite.missing["focus_distance_m"]) == (None, "at_infinity")


def test_a_35_mm_equivalent_of_0_is_unknown(tmp_path: Path) -> None:
    """FocalLengthIn35mmFilm: SHORT, in mm, 0 is unknown (S)."""
    assert read(tmp_path, Entry(0xA405, "SHORT", (766,))).focal_length_35mm_mm == 766
    assert read(tmp_path, Entry(0xA405, "SHORT", (0,))).focal_length_35mm_mm is None


@pytest.mark.parametrize("unknown", [(0, 0), (0, 1)])
def test_an_unknown_part_of_the_lens_specification(tmp_path: Path, unknown: tuple[int, int]) -> None:
    recorded = read(tmp_path, Entry(0xA432, "RATIONAL", (100, 1, 400, 1, *unknown, *unknown)))
    assert (recorded.lens_short_mm, recorded.lens_long_mm) == (100, 400)
    assert (recorded.lens_widest_at_short, recorded.lens_widest_at_long) == (None, None)


def test_a_lens_whose_range_runs_backwards_has_none(tmp_path: Path) -> None:
    """LensSpecification: minimum, then maximum focal length (S)."""
    recorded = read(tmp_path, Entry(0xA432, "RATIONAL", (600, 1, 150, 1, 5, 1, 63, 10)))
    assert (recorded.lens_short_mm, recorded.lens_long_mm) == (None, None)
    assert (recorded.lens_widest_at_short, recorded.lens_widest_at_long) == (None, None)


@pytest.mark.parametrize("name", [b"----\0", b"   \0", b"0.0 mm f/0.0\0", b"\0\0\0\0\0"])
def test_a_lens_name_that_names_nothing(tmp_path: Path, name: bytes) -> None:
    recorded = read(tmp_path, Entry(0xA434, "ASCII", name))
    assert (recorded.lens_name, recorded.missing["lens_name"]) == (None, "not_recorded")


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ((1500, 1000), (0.25, 0.25, None, None)),
        ((1500, 1000, 600), (0.25, 0.25, 0.1, 0.15)),
        ((1500, 1000, 600, 400), (0.25, 0.25, 0.1, 0.1)),
        ((7000, 1000), (None, None, None, None)),
        ((0, 0), (None, None, None, None)),
    ],
)
def test_subject_area(tmp_path: Path, values: tuple[int, ...], expected: tuple[float | None, ...]) -> None:
    # 2 values a point, 3 a circle with its diameter, 4 a rectangle; the centre comes first (Exif 2.3, S)
    recorded = read(tmp_path, Entry(0x9214, "SHORT", values))
    assert (recorded.af_x, recorded.af_y, recorded.af_width, recorded.af_height) == expected
    # an area that was used is a place, not a confirmation
    assert recorded.camera_word == ("silent" if expected[0] else None)


def test_flash_is_its_lowest_bit(tmp_path: Path) -> None:
    assert read(tmp_path, Entry(0x9209, "SHORT", (0x19,))).flash_fired is True
    assert read(tmp_path, Entry(0x9209, "SHORT", (0x18,))).flash_fired is False


def test_a_file_without_exif_has_a_reason_for_everything(tmp_path: Path) -> None:
    path = tmp_path / "bare.jpg"
    path.write_bytes(jpeg(exif_block((), ())))
    recorded = read_file(found_file(path)).recorded
    assert (recorded.width_px, recorded.height_px) == (60, 40)
    for column in ("taken_at", "iso", "f_number", "lens_name", "camera_word", "af_x", "rating", "keywords"):
        assert recorded.missing[column] == "not_recorded"


def test_every_reason_is_a_documented_word(tmp_path: Path) -> None:
    for recorded in (
        read(tmp_path, Entry(0x9206, "RATIONAL", (0xFFFFFFFF, 1)), drop=(0x8827,)),
        read(tmp_path, Entry(0x829D, "RATIONAL", (0, 1))),
    ):
        assert set(recorded.missing.values()) <= set(MissingReason)


def test_entries_that_nobody_asks_for_are_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read_of_stream = exif_tags.BlockStream.read
    reads = [0]

    def counted(stream: exif_tags.BlockStream, count: int) -> bytes:
        reads[0] += 1
        return read_of_stream(stream, count)

    monkeypatch.setattr(exif_tags.BlockStream, "read", counted)
    plain = read(tmp_path)
    few, reads[0] = reads[0], 0
    others = tuple(Entry(tag, "SHORT", (1, 2, 3, 4)) for tag in range(0xA500, 0xA540))
    position = Entry(0x8825, "LONG", (0xFFFFFF,))  # a directory of the position that is not there
    assert read(tmp_path, *others, main=(position,)) == plain
    assert reads[0] == few
