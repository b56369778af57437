"""Small files that state large pictures are refused by their statements; large pictures are read."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from auditor.errors import UnreadableFileError
from auditor.readers.picture_size import MOST_SCANS, check_jpeg, check_size
from auditor.readers.pixels import decode
from tests.share import WHOLE


def jpeg(width_px: int = 640, height_px: int = 480, **options: object) -> bytes:
    noise = np.random.default_rng(1).integers(0, 255, (height_px, width_px), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(noise).save(file, "JPEG", quality=80, **options)
    return file.getvalue()


def scans_of(data: bytes) -> bytes:
    """The last pass of a progressive JPEG, its tables with it, without the end marker."""
    return data[data.rindex(b"\xff\xda") : -2]


def drawn_over(times: int, filling: bytes = b"", data: bytes | None = None) -> bytes:
    """A progressive JPEG whose last pass comes again and again."""
    data = data or jpeg(progressive=True)
    return data[:-2] + (filling + scans_of(data)) * times + b"\xff\xd9"


def stating(data: bytes, width_px: int, height_px: int) -> bytes:
    """The same JPEG with another size in its frame header (T.81, B.2.2)."""
    place = max(data.find(marker) for marker in (b"\xff\xc0", b"\xff\xc2"))
    return data[: place + 5] + struct.pack(">HH", height_px, width_px) + data[place + 9 :]


def refused(tmp_path: Path, data: bytes, name: str = "bomb.jpg") -> str:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(UnreadableFileError) as caught:
        decode(str(path))
    assert caught.value.stage == "pixels"
    return caught.value.reason


def test_a_progressive_picture_as_libraries_write_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg(progressive=True))
    assert decode(str(path)).luma.shape == (480, 640)


@pytest.mark.parametrize("filling", [b"", b"\xff\xfe\x00\x06\xff\xd9\xff\xd9"])
def test_a_picture_drawn_over_a_thousand_times_is_refused(tmp_path: Path, filling: bytes) -> None:
    """Also where a comment between the passes holds what looks like an end."""
    assert "drawn over more than 100 times" in refused(tmp_path, drawn_over(1000, filling))


def test_passes_in_a_preview_do_not_count() -> None:
    thumbnail = drawn_over(MOST_SCANS - 20)
    data = jpeg()
    inside = b"\xff\xe1" + struct.pack(">H", 2 + 20_000) + thumbnail[:20_000].ljust(20_000, b"\0")
    check_jpeg("a.jpg", 640, 480, data[:2] + inside + data[2:])


def test_few_passes_over_a_great_many_pixels_are_refused() -> None:
    data = drawn_over(30)
    with pytest.raises(UnreadableFileError, match="drawn over 36 times"):
        check_jpeg("a.jpg", 20_000, 19_000, data.ljust(20_000 * 19_000 // 512 + 1, b"\0"))


def test_a_header_that_states_a_huge_picture_is_refused(tmp_path: Path) -> None:
    data = stating(jpeg(8, 8), 20_000, 20_000)
    assert len(data) < 1000
    assert "cannot hold the 20000 x 20000 px that it states" in refused(tmp_path, data)


def test_a_header_alone_is_refused_in_other_kinds_too(tmp_path: Path) -> None:
    """A TIFF of one empty strip that states 20,000 px square (TIFF 6.0, tags 256, 257, 273, 279)."""
    entries = [(256, 4, 1, 20_000), (257, 4, 1, 20_000), (258, 3, 1, 8), (259, 3, 1, 8), (262, 3, 1, 1),
               (273, 4, 1, 8), (277, 3, 1, 1), (278, 4, 1, 20_000), (279, 4, 1, 100)]  # fmt: skip
    table = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", *entry) for entry in entries)
    data = b"II*\0" + struct.pack("<I", 8) + table + bytes(4) + bytes(300)
    assert "cannot hold the 20000 x 20000 px" in refused(tmp_path, data, "bomb.tif")


@pytest.mark.parametrize(("width_px", "height_px"), [(8, 8), (640, 480), (3000, 2000)])
def test_the_emptiest_picture_that_there_can_be_has_bytes_enough(width_px: int, height_px: int) -> None:
    """One grey all over, progressive, the strongest compression: nothing real is smaller."""
    file = io.BytesIO()
    Image.new("L", (width_px, height_px), 90).save(file, "JPEG", quality=1, progressive=True, optimize=True)
    check_jpeg("a.jpg", width_px, height_px, file.getvalue())


def test_the_limit_is_the_same_for_every_kind() -> None:
    check_size("a", 20_000, 20_000, 400_000_000)
    with pytest.raises(UnreadableFileError, match="more than any camera writes"):
        check_size("a", 20_001, 20_000, 400_000_000)


@pytest.mark.parametrize("name", ["scan.tif", *(["scan.heic"] if WHOLE else [])])
@pytest.mark.long
def test_a_large_format_scan_is_read(tmp_path: Path, name: str) -> None:
    """201 million px: more than decoders allow of themselves, half of our limit."""
    path = tmp_path / name
    grey = np.full((14_000, 14_400), 90, np.uint8)
    grey[::64] = 140
    if path.suffix == ".heic":
        import pillow_heif

        pillow_heif.options.GRID_TILE_SIZE = 2048
        pillow_heif.from_pillow(Image.fromarray(grey).convert("RGB")).save(path, quality=10)
    else:
        Image.fromarray(grey).save(path, compression="tiff_deflate")
    luma = decode(str(path)).luma
    assert luma.shape == grey.shape
    assert abs(float(luma[:640, :640].mean()) - float(grey[:640, :640].mean())) < 2


def test_a_damaged_picture_says_nothing_past_the_auditor(tmp_path: Path) -> None:
    """Pillow warns of a tag that leads outside the file; tests turn warnings into errors."""
    file = io.BytesIO()
    Image.fromarray(np.arange(4096, dtype=np.uint8).reshape(64, 64)).save(file, "TIFF")
    data = bytearray(file.getvalue())
    table = int.from_bytes(data[4:8], "little")
    data[table + 2 : table + 14] = struct.pack("<HHII", 700, 1, 60_000, 5_000)
    reason = refused(tmp_path, bytes(data), "damaged.tif")
    assert "Tag data" not in reason
