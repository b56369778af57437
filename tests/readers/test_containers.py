"""Every container: the same frame in each of them reads the same."""

from __future__ import annotations

import pickle
import struct
import sys
from hashlib import blake2b
from pathlib import Path

import pytest

from auditor.errors import AuditorError, CorruptFileError, UnreadableFileError, UnsupportedFileError
from auditor.readers.containers import largest_embedded
from auditor.readers.contents import EmbeddedPicture
from auditor.readers.frame import found_file, read_file
from auditor.readers.source import open_source
from auditor.readers.tiff import ByteOrder
from auditor.records import FileReading, Recorded

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_frames
from tests.readers.mutation import bottomless_directories
from tests.readers.note_builder import Entry
from tests.readers.written_frames import EVERY_CONTAINER, MAIN, PHOTO, box, changed, exif_block, heif, jpeg

FRAMES = sorted(set(EVERY_CONTAINER) - {"frame.xmp"})
WITH_XMP = sorted(set(FRAMES) - {"frame.tif", "frame.rw2"})


def written(tmp_path: Path, name: str, data: bytes) -> Path:
    path = tmp_path / name
    path.write_bytes(data)
    return path


def reading(tmp_path: Path, name: str, data: bytes) -> FileReading:
    return read_file(found_file(written(tmp_path, name, data)))


def recorded(tmp_path: Path, name: str, data: bytes) -> Recorded:
    return reading(tmp_path, name, data).recorded


def embedded(tmp_path: Path, name: str) -> tuple[EmbeddedPicture | None, bytes]:
    data = EVERY_CONTAINER[name]()
    with open_source(written(tmp_path, name, data)) as source:
        return largest_embedded(source), data


@pytest.mark.parametrize("name", FRAMES)
def test_the_standard_tags_are_the_same_in_every_container(tmp_path: Path, name: str) -> None:
    expected = recorded(tmp_path, "plain.jpg", jpeg())
    found = recorded(tmp_path, name, EVERY_CONTAINER[name]())
    for column in (
        "taken_at", "body_make", "body_model", "body_serial", "lens_name", "lens_short_mm", "focal_length_mm",
        "f_number", "widest_f_number", "iso", "exposure_time_s", "exposure_bias_ev", "orientation",
        "pixel_pitch_um", "recorded_width_px", "recorded_height_px", "software",
    ):  # fmt: skip
        assert getattr(found, column) == getattr(expected, column), column


@pytest.mark.parametrize("name", WITH_XMP)
def test_the_xmp_packet_is_found_in_every_container(tmp_path: Path, name: str) -> None:
    found = recorded(tmp_path, name, EVERY_CONTAINER[name]())
    assert (found.rating, found.keywords) == (4, ("wader", "flight"))
    assert (found.af_x, found.af_y, found.af_width, found.af_height) == (0.25, 0.4, 0.1, 0.2)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("frame.jpg", (60, 40)),
        ("frame.nef", (6000, 4000)),
        ("frame.rw2", (6000, 4000)),
        ("frame.cr3", (6000, 4000)),
        ("frame.raf", (6000, 4000)),
        ("frame.hif", (6000, 4000)),
    ],
)
def test_size_of_the_picture(tmp_path: Path, name: str, size: tuple[int, int]) -> None:
    found = recorded(tmp_path, name, EVERY_CONTAINER[name]())
    assert (found.width_px, found.height_px) == size


def test_a_raw_that_records_no_size_has_that_of_its_sensor_data(tmp_path: Path) -> None:
    data = EVERY_CONTAINER["frame.dng"]()
    width, height = (struct.pack("<HHI", tag, 4, 1) for tag in (0xA002, 0xA003))
    unsaid = data.replace(width, b"\xff" * 8).replace(height, b"\xff" * 8)
    assert unsaid != data
    found = recorded(tmp_path, "frame.dng", unsaid)
    assert (found.width_px, found.height_px) == (6048, 4024)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("frame.nef", (600, 400)),
        ("frame.dng", (600, 400)),
        ("frame.orf", (600, 400)),
        ("frame.cr3", (300, 200)),
        ("frame.rw2", (60, 40)),
        ("frame.raf", (60, 40)),
    ],
)
def test_the_largest_picture_inside_a_raw(tmp_path: Path, name: str, size: tuple[int, int]) -> None:
    picture, data = embedded(tmp_path, name)
    assert picture is not None
    assert (picture.width_px, picture.height_px) == size
    inside = data[picture.offset : picture.offset + picture.size_bytes]
    assert inside.startswith(b"\xff\xd8\xff")
    assert inside.rstrip(b"\0").endswith(b"\xff\xd9")


def test_a_preview_that_only_the_makers_note_tells_of(tmp_path: Path) -> None:
    data = written_frames.orf_with_preview_in_note()
    with open_source(written(tmp_path, "frame.orf", data)) as source:
        picture = largest_embedded(source)
    assert picture is not None
    assert (picture.width_px, picture.height_px) == (640, 480)
    assert data[picture.offset :][: picture.size_bytes] == written_frames.picture(640, 480)


@pytest.mark.parametrize("name", ["frame.jpg", "frame.tif", "frame.hif", "frame.xmp"])
def test_other_files_have_none(tmp_path: Path, name: str) -> None:
    assert embedded(tmp_path, name)[0] is None


def test_a_preview_that_was_cut_off_is_not_offered(tmp_path: Path) -> None:
    data = EVERY_CONTAINER["frame.nef"]()
    with open_source(written(tmp_path, "cut.nef", data[:-100])) as source:
        assert largest_embedded(source) is None
    assert recorded(tmp_path, "cut.nef", data[:-100]).iso == 800


@pytest.mark.parametrize(
    ("name", "container", "role"),
    [
        ("frame.nef", "frame.jpg", "jpeg"),
        ("frame.jpg", "frame.hif", "heif"),
        ("frame.jpg", "frame.dng", "raw"),
        ("frame.tif", "frame.dng", "raw"),
        ("frame.tif", "frame.tif", "tiff"),
        ("frame.nef", "frame.tif", "raw"),  # built like TIFF, and nothing inside speaks against its name
        ("frame.unknown", "frame.cr3", "raw"),
    ],
)
def test_the_bytes_decide_what_a_file_is(tmp_path: Path, name: str, container: str, role: str) -> None:
    assert reading(tmp_path, name, EVERY_CONTAINER[container]()).found.role == role


@pytest.mark.parametrize("brand", [b"heic", b"heix", b"mif1", b"avif", b"hevc", b"msf1"])
def test_brands_of_heif(tmp_path: Path, brand: bytes) -> None:
    assert recorded(tmp_path, "frame.hif", heif(brand)).iso == 800


def test_heif_items_in_pieces_and_inside_the_meta_box(tmp_path: Path) -> None:
    assert recorded(tmp_path, "pieces.hif", heif(pieces=3)) == recorded(tmp_path, "whole.hif", heif())
    assert recorded(tmp_path, "inside.hif", heif(in_idat=True)) == recorded(tmp_path, "whole.hif", heif())


def test_the_turn_of_a_heif_stands_before_its_exif_tag(tmp_path: Path) -> None:
    """ISO/IEC 23008-12, 6.5: irot and imir are applied; the Exif tag is a repetition (R)."""
    sideways = exif_block(changed(MAIN, Entry(0x0112, "SHORT", (6,))))
    turned = recorded(tmp_path, "turned.hif", heif(exif=sideways, turns=[box(b"irot", b"\3")]))
    assert (turned.orientation, turned.width_px, turned.height_px) == (6, 4000, 6000)
    assert (turned.af_x, turned.af_y) == (0.6, 0.25)
    unturned = recorded(tmp_path, "unturned.hif", heif(exif=sideways))
    assert (unturned.orientation, unturned.width_px, unturned.af_x) == (1, 6000, 0.25)


@pytest.mark.parametrize("order", ["<", ">"])
def test_both_byte_orders(tmp_path: Path, order: ByteOrder) -> None:
    data = written_frames.jpeg(exif_block(order=order))
    assert recorded(tmp_path, "frame.jpg", data) == recorded(tmp_path, "plain.jpg", jpeg())


def test_rubbish_between_segments_is_passed_over(tmp_path: Path) -> None:
    data = jpeg()
    assert recorded(tmp_path, "frame.jpg", data[:2] + b"\0rubbish" + data[2:]).iso == 800


def test_an_exif_segment_without_a_block_does_not_hide_the_next(tmp_path: Path) -> None:
    empty = b"\xff\xe1" + struct.pack(">H", 16) + b"Exif\0\0".ljust(14, b"\0")
    data = jpeg()
    assert recorded(tmp_path, "frame.jpg", data[:2] + empty + data[2:]).iso == 800


def test_fill_bytes_and_other_segments_before_exif(tmp_path: Path) -> None:
    data = jpeg()
    app0 = b"\xff\xe0" + struct.pack(">H", 16) + b"JFIF\0".ljust(14, b"\0")
    assert recorded(tmp_path, "frame.jpg", data[:2] + app0 + b"\xff\xff" + data[2:]).iso == 800


@pytest.mark.parametrize("size", [10, 65_536, 65_537, 131_071, 131_072, 400_000])
def test_fingerprint_is_of_size_and_both_ends(tmp_path: Path, size: int) -> None:
    data = (jpeg() + bytes(range(256)) * 1600)[: max(size, len(jpeg()))]
    size = len(data)
    expected = blake2b(str(size).encode() + data[:65_536], digest_size=16)
    expected.update(data[65_536:][-65_536:])
    assert reading(tmp_path, "frame.jpg", data).fingerprint == expected.hexdigest()


def test_readings_and_errors_survive_a_process_border(tmp_path: Path) -> None:
    found = reading(tmp_path, "frame.jpg", EVERY_CONTAINER["frame.jpg"]())
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(UnsupportedFileError) as caught:
        reading(tmp_path, "text.jpg", b"not a picture")
    again = pickle.loads(pickle.dumps(caught.value))
    assert (type(again), again.reason, again.stage) == (
        UnsupportedFileError,
        caught.value.reason,
        "container",
    )


@pytest.mark.parametrize(
    ("name", "data", "error"),
    [
        ("empty.jpg", b"", UnsupportedFileError),
        ("text.nef", b"hello", UnsupportedFileError),
        ("other.cr3", b"\0\0\0\x14ftypqt  \0\0\0\0qt  ", UnsupportedFileError),
        ("header.raf", b"FUJIFILMCCD-RAW ", CorruptFileError),
        ("header.nef", b"II*\0", CorruptFileError),
        ("nowhere.nef", b"II*\0\xff\xff\xff\x7f", CorruptFileError),
        ("bare.heic", b"\0\0\0\x14ftypheic\0\0\0\0mif1", CorruptFileError),
        ("broken.xmp", b"<x:xmpmeta", CorruptFileError),
    ],
)
def test_what_cannot_be_read_says_so(
    tmp_path: Path, name: str, data: bytes, error: type[UnreadableFileError]
) -> None:
    with pytest.raises(error) as caught:
        reading(tmp_path, name, data)
    assert caught.value.path.endswith(name)
    assert caught.value.reason


def test_a_jpeg_that_breaks_off_after_its_exif_is_still_a_frame(tmp_path: Path) -> None:
    data = jpeg()
    assert recorded(tmp_path, "cut.jpg", data[: data.index(b"\xff\xdb")]).iso == 800


def test_no_such_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFileError) as caught:
        found_file(tmp_path / "none.jpg")
    assert caught.value.stage == "open"
    with pytest.raises(UnreadableFileError):
        found_file(tmp_path)
    gone = found_file(written(tmp_path, "gone.jpg", jpeg()))
    Path(gone.path).unlink()
    with pytest.raises(UnreadableFileError):
        read_file(gone)
    with pytest.raises(AuditorError):
        read_file(gone._replace(path="a\0b.jpg"))


def test_a_damaged_directory_says_that_it_is_damaged(tmp_path: Path) -> None:
    found = recorded(tmp_path, "frame.jpg", jpeg(bottomless_directories()[:65_000]))
    assert found.missing["iso"] == "damaged"


def test_a_value_that_lies_outside_costs_no_other_and_what_is_absent_may_have_been_recorded(
    tmp_path: Path,
) -> None:
    broken = Entry(0x8827, "RATIONAL", (1, 1))
    block = bytearray(exif_block(MAIN, [broken, *(entry for entry in PHOTO if entry.tag != 0x8827)]))
    place = bytes(block).index(struct.pack("<HHI", 0x8827, 5, 1))
    struct.pack_into("<HHII", block, place, 0x8827, 12, 1, 0xFFFFFF00)
    found = recorded(tmp_path, "frame.jpg", jpeg(bytes(block)))
    assert (found.body_model, found.f_number, found.iso) == ("N 1", 6.3, None)
    assert found.missing["iso"] == "damaged"
