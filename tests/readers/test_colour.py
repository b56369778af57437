"""Pictures in colour: upright, and with one line where there is none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from auditor.errors import CorruptFileError, FileAccessError
from auditor.readers.colour import colour


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """A picture whose upper left quarter is red."""
    pixels = np.zeros((64, 96, 3), np.uint8)
    pixels[:32, :48] = (200, 0, 0)
    Image.fromarray(pixels).save(tmp_path / "a.jpg", quality=95, subsampling=0)
    return tmp_path / "a.jpg"


@pytest.mark.parametrize(
    ("orientation", "shape", "corner"),
    [
        (1, (64, 96, 3), (8, 8)),
        (3, (64, 96, 3), (-8, -8)),
        (6, (96, 64, 3), (8, -8)),
        (8, (96, 64, 3), (-8, 8)),
    ],
)  # Exif 2.3, 4.6.4 A: 3 is turned by 180 degrees, 6 by 90 clockwise, 8 counterclockwise
def test_a_turned_camera_gives_an_upright_picture(
    picture: Path, orientation: int, shape: tuple[int, ...], corner: tuple[int, int]
) -> None:
    shown = colour(str(picture), orientation)
    assert shown.shape == shape
    red, green, blue = (int(value) for value in shown[corner])
    assert abs(red - 200) < 12
    assert max(green, blue) < 12


def test_a_file_that_is_gone_or_no_picture_says_so(tmp_path: Path) -> None:
    with pytest.raises(FileAccessError):
        colour(str(tmp_path / "gone.jpg"), None)
    (tmp_path / "b.jpg").write_bytes(b"\xff\xd8\xff\xe0" + bytes(400))
    with pytest.raises(CorruptFileError):
        colour(str(tmp_path / "b.jpg"), None)
