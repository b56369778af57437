"""Pictures that a page shows: in colour, upright, at 100 %, kept; grey where the file has gone."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from auditor.readers.colour_cuts import AREA_PX, WHOLE_PX, cut
from auditor.report.frame_pictures import FramePictures, Picture, frame_pictures, true_sizes
from auditor.store.crops import colour_path, crop_path, forget_colour, remove_crops
from auditor.store.listed_frames import FrameToShow

RED, BLUE = (220, 20, 20), (20, 20, 220)


def picture(path: Path, size: tuple[int, int] = (1200, 800)) -> Path:
    """Its left upper quarter is red, the rest blue."""
    image = Image.new("RGB", size, BLUE)
    image.paste(RED, (0, 0, size[0] // 2, size[1] // 2))
    image.save(path, quality=90)
    return path


def shown(
    path: Path | None, frame_id: int = 1, *, orientation: int | None = 1, x: float = 0.5
) -> FrameToShow:
    return FrameToShow(
        frame_id=frame_id,
        path=None if path is None else str(path),
        orientation=orientation,
        x=x,
        y=0.5,
    )


def made(folder: Path, frame: FrameToShow) -> FramePictures:
    return frame_pictures(folder / "logbook.sqlite", [frame])[frame.frame_id]


def opened(small: Picture | None) -> Image.Image:
    assert small is not None
    image = Image.open(io.BytesIO(base64.b64decode(small.data)))
    assert image.size == (small.width_px, small.height_px)
    return image.convert("RGB")


def colour(image: Image.Image, place: tuple[int, int]) -> tuple[int, ...]:
    found = image.getpixel(place)
    assert isinstance(found, tuple)
    return found


def red_corner(image: Image.Image) -> tuple[bool, bool]:
    """Whether the red quarter is on the right, and at the bottom."""
    width, height = image.size
    for right in (False, True):
        for bottom in (False, True):
            place = (width * (3 if right else 1) // 4, height * (3 if bottom else 1) // 4)
            red, _green, blue = colour(image, place)
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
    image = opened(made(tmp_path, shown(picture(tmp_path / "a.jpg"), orientation=orientation)).whole)
    assert image.size == ((192, WHOLE_PX) if sideways else (WHOLE_PX, 192))
    assert red_corner(image) == corner


def test_a_tiff_and_a_small_picture(tmp_path: Path) -> None:
    tiff = made(tmp_path, shown(picture(tmp_path / "a.tif"), 1, orientation=6))
    assert opened(tiff.whole).size == (192, WHOLE_PX)
    small = made(tmp_path, shown(picture(tmp_path / "b.jpg", (60, 40)), 2))
    assert (opened(small.whole).size, opened(small.area).size) == ((60, 40), (40, 40))


def test_the_focus_area_is_cut_at_its_place_pixel_by_pixel(tmp_path: Path) -> None:
    """A quarter from the left the red and the blue half of the picture meet on the middle row."""
    area = opened(made(tmp_path, shown(picture(tmp_path / "a.jpg"), x=0.25)).area)
    assert area.size == (AREA_PX, AREA_PX)
    above, below = colour(area, (264, 200)), colour(area, (264, 330))
    assert above[0] > 200 > 60 > above[2]
    assert below[2] > 200 > 60 > below[0]


@pytest.mark.parametrize(("x", "y", "first"), [(0.0, 0.0, (0, 0)), (0.5, 0.5, (3, 1)), (1.0, 1.0, (6, 2))])
def test_a_cut_near_the_border_is_moved_inside(x: float, y: float, first: tuple[int, int]) -> None:
    rows, columns = np.mgrid[0:6, 0:10]
    numbered = np.dstack([columns, rows, rows]).astype(np.uint8)
    piece = cut(numbered, (x, y), 4)
    assert piece.shape == (4, 4, 3)
    assert tuple(piece[0, 0, :2]) == first


def test_pictures_are_kept_for_when_the_card_is_gone(tmp_path: Path) -> None:
    file = picture(tmp_path / "a.jpg")
    first = made(tmp_path, shown(file))
    file.unlink()
    assert made(tmp_path, shown(None)) == made(tmp_path, shown(file)) == first
    forget_colour(tmp_path / "logbook.sqlite", 1)  # as measuring anew does
    assert made(tmp_path, shown(None)) == FramePictures(None, None)


def test_where_the_file_has_gone_the_grey_picture_stays(tmp_path: Path) -> None:
    grey = crop_path(tmp_path / "logbook.sqlite", 1)
    grey.parent.mkdir(parents=True)
    Image.new("L", (240, 240), 90).save(grey)
    pictures = made(tmp_path, shown(tmp_path / "gone.jpg"))
    assert opened(pictures.area).size == (240, 240)
    assert pictures.whole is None
    assert true_sizes([pictures.area, None, pictures.area]) == ".own-240 { --own: 240px; }\n"


def test_pictures_go_with_their_frame(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite"
    made(tmp_path, shown(picture(tmp_path / "a.jpg")))
    assert colour_path(logbook, 1, "area").exists()
    remove_crops(logbook, [1])
    assert [path for path in (tmp_path / "logbook-focus").rglob("*") if path.is_file()] == []


def test_a_folder_that_cannot_be_written_to_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "logbook-focus").write_text("in the way")
    assert opened(made(tmp_path, shown(picture(tmp_path / "a.jpg"))).area).size == (AREA_PX, AREA_PX)


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
    paths = {1: whole, 2: torn, 3: tmp_path / "gone.jpg", 4: vast, 5: tmp_path, 6: None}
    found = frame_pictures(
        tmp_path / "logbook.sqlite", [shown(path, number) for number, path in paths.items()]
    )
    assert {number for number, pictures in found.items() if pictures.whole} == {1}
    assert {number for number, pictures in found.items() if pictures.area} == {1}
