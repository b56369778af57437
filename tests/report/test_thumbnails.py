"""Small pictures of whole frames: upright, small, and absent rather than wrong."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import pytest
from PIL import Image

from auditor.report.thumbnails import LONGEST_PX, Thumbnail, thumbnail, thumbnails

RED, BLUE = (220, 20, 20), (20, 20, 220)


def picture(path: Path, size: tuple[int, int] = (1200, 800)) -> Path:
    """Its left upper quarter is red, the rest blue."""
    image = Image.new("RGB", size, BLUE)
    image.paste(RED, (0, 0, size[0] // 2, size[1] // 2))
    image.save(path, quality=90)
    return path


def opened(small: Thumbnail | None) -> Image.Image:
    assert small is not None
    image = Image.open(io.BytesIO(base64.b64decode(small.data)))
    assert image.size == (small.width_px, small.height_px)
    return image.convert("RGB")


def red_corner(image: Image.Image) -> tuple[bool, bool]:
    """Whether the red quarter is on the right, and at the bottom."""
    width, height = image.size
    for right in (False, True):
        for bottom in (False, True):
            place = (width * (3 if right else 1) // 4, height * (3 if bottom else 1) // 4)
            red, _green, blue = image.getpixel(place)  # type: ignore[misc]
            if red > blue:
                return right, bottom
    raise AssertionError("no corner is red")


@pytest.mark.parametrize(
    ("orientation", "sideways", "corner"),
    [
        (None, False, (False, False)),
        (1, False, (False, False)),
        (3, False, (True, True)),
        (6, True, (True, False)),
        (8, True, (False, True)),
    ],
)
def test_pictures_are_turned_upright(
    tmp_path: Path, orientation: int | None, sideways: bool, corner: tuple[bool, bool]
) -> None:
    """Exif 2.3, 4.6.4 A: 6 has row 0 on the right side as seen, 8 on the left (S)."""
    image = opened(thumbnail(picture(tmp_path / "a.jpg"), orientation))
    assert image.size == ((144, LONGEST_PX) if sideways else (LONGEST_PX, 144))
    assert red_corner(image) == corner


def test_a_tiff_and_a_small_picture(tmp_path: Path) -> None:
    assert opened(thumbnail(picture(tmp_path / "a.tif"), 6)).size == (144, LONGEST_PX)
    assert opened(thumbnail(picture(tmp_path / "b.jpg", (60, 40)), 1)).size == (60, 40)


def test_what_cannot_be_shown_is_left_out(tmp_path: Path) -> None:
    whole = picture(tmp_path / "whole.jpg")
    torn = tmp_path / "torn.jpg"
    torn.write_bytes(b"\xff\xd8\xff\xe0nothing")
    # A header that states a size no camera writes: refused before memory is taken for it.
    vast = tmp_path / "vast.jpg"
    data = bytearray(whole.read_bytes())
    start = data.index(b"\xff\xc0") + 5
    data[start : start + 4] = b"\xff\xff\xff\xff"
    vast.write_bytes(bytes(data))
    paths = {1: whole, 2: torn, 3: tmp_path / "gone.jpg", 4: vast, 5: tmp_path}
    made = thumbnails([(number, str(path), 1) for number, path in paths.items()] + [(6, None, 1)])
    assert set(made) == {1}
    assert len(made[1].data) < 20_000
