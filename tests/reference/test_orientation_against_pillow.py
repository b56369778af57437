"""Focus areas turned upright, against what Pillow does to pixels (R: Pillow, ImageOps.exif_transpose)."""

from __future__ import annotations

import itertools
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from PIL import Image, ImageOps

from auditor.readers.frame import found_file, read_file
from auditor.readers.orientation import combined, upright, upright_size
from auditor.records import FocusArea

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers.note_builder import Entry
from tests.readers.written_frames import MAIN, PHOTO, changed, exif_block

WIDTH_PX, HEIGHT_PX = 60, 40
SPOT = (slice(8, 12), slice(42, 54))
"""Rows and columns of a bright rectangle: no turn and no mirror leaves it in its place."""
STORED = FocusArea(x=48 / 60, y=10 / 40, width=12 / 60, height=4 / 40, used=True)


def stored_picture() -> Image.Image:
    pixels = np.zeros((HEIGHT_PX, WIDTH_PX), np.uint8)
    pixels[SPOT] = 255
    return Image.fromarray(pixels)


Box = NDArray[np.float64]


def box_of(area: FocusArea) -> Box:
    return np.array((area.x, area.y, area.width, area.height), float)


def seen_upright(picture: Image.Image) -> Box:
    """Centre and size of the bright rectangle, as fractions."""
    rows, columns = np.nonzero(np.asarray(picture.convert("L")) > 128)
    width, height = picture.size
    left, right, top, bottom = columns.min(), columns.max() + 1, rows.min(), rows.max() + 1
    return np.array(
        (
            (left + right) / 2 / width,
            (top + bottom) / 2 / height,
            (right - left) / width,
            (bottom - top) / height,
        )
    )


def transposed(picture: Image.Image, orientation: int) -> Image.Image:
    picture.getexif()[0x0112] = orientation
    turned = ImageOps.exif_transpose(picture)
    assert turned is not None
    return turned


@pytest.mark.parametrize("orientation", range(1, 9))
def test_area_lies_where_the_pixels_lie(orientation: int) -> None:
    picture = transposed(stored_picture(), orientation)
    area = upright(STORED, orientation)
    assert_allclose(box_of(area), seen_upright(picture), atol=1e-12)
    assert upright_size(WIDTH_PX, HEIGHT_PX, orientation) == picture.size
    assert area.used is True


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_file_is_turned_exactly_once(tmp_path: Path, orientation: int) -> None:
    main = changed(MAIN, Entry(0x0112, "SHORT", (orientation,)))
    photo = changed(
        PHOTO,
        Entry(0xA002, "LONG", (WIDTH_PX,)),
        Entry(0xA003, "LONG", (HEIGHT_PX,)),
        Entry(0x9214, "SHORT", (48, 10, 12, 4)),  # SubjectArea: centre, width, height, before rotation
    )
    path = tmp_path / "turned.jpg"
    stored_picture().save(path, exif=b"Exif\0\0" + exif_block(main, photo), quality=95)
    recorded = read_file(found_file(path)).recorded
    with Image.open(path) as picture:
        turned = ImageOps.exif_transpose(picture)
    assert turned is not None
    found = (recorded.af_x, recorded.af_y, recorded.af_width, recorded.af_height)
    # JPEG blurs the edges of the rectangle by up to a pixel.
    assert_allclose(np.array(found, float), seen_upright(turned), atol=1.1 / HEIGHT_PX)
    assert (recorded.width_px, recorded.height_px) == turned.size
    assert recorded.orientation == orientation


@pytest.mark.parametrize(("first", "second"), list(itertools.product(range(1, 9), repeat=2)))
def test_two_turns_are_one(first: int, second: int) -> None:
    picture = transposed(transposed(stored_picture(), first), second)
    area = upright(STORED, combined(first, second))
    assert_allclose(box_of(area), seen_upright(picture), atol=1e-12)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_avif_turns_as_pillow_shows_it(tmp_path: Path, orientation: int) -> None:
    """Pillow writes the turn as irot and imir boxes, and libavif reads them back."""
    path = tmp_path / "turned.avif"
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x0110] = "N 1"
    stored_picture().convert("RGB").save(path, exif=exif)
    recorded = read_file(found_file(path)).recorded
    with Image.open(path) as picture:
        turned = ImageOps.exif_transpose(picture)
    assert turned is not None
    assert (recorded.width_px, recorded.height_px) == turned.size
    area = upright(STORED, recorded.orientation)
    assert_allclose(box_of(area), seen_upright(turned), atol=1.6 / HEIGHT_PX)
    assert recorded.body_model == "N 1"
