"""What is cut from a frame for looking at, in colour: its focus area at 100 %, and the whole frame, small."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditor.errors import UnreadableFileError
from auditor.file_names import as_path

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

AREA_PX = 528
"""Side of a focus area: two of them fill a phone of 390 points with three pixels to a point."""
WHOLE_PX = 288
"""The longer side of a whole frame."""
FINER_THAN_WHOLE = 4
"""What a whole frame is made from is so many times as large: enough to average over."""
AREA_QUALITY = 70
WHOLE_QUALITY = 72
LARGEST_FILE_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class Cuts:
    """Two pictures of a frame, as JPEG."""

    area: bytes
    whole: bytes


def cuts(path: str | None, orientation: int | None, centre: tuple[float, float]) -> Cuts | None:
    """Cut a file's picture; None where it is not there or cannot be decoded.

    A JPEG is decoded whole: libjpeg can leave out rows or scale, and none of its Python packages here lets a
    part be cut at 100 %.

    Parameters
    ----------
    path
        As the logbook has it; None where no file is there.
    orientation
        As recorded (Exif), 1 to 8.
    centre
        Of the focus area, x and y as fractions of the upright picture.

    Returns
    -------
    Cuts or None
        Upright, a focus area of at most AREA_PX and a whole of at most WHOLE_PX.
    """
    from auditor.readers.colour import colour

    try:
        if path is None or as_path(path).stat().st_size > LARGEST_FILE_BYTES:
            return None
        picture = colour(path, orientation)
    except (UnreadableFileError, OSError):
        return None
    area = as_jpeg(cut(picture, centre, AREA_PX), AREA_QUALITY)
    return Cuts(area, as_jpeg(_shrunk(picture), WHOLE_QUALITY))


def cut(picture: NDArray[np.uint8], centre: tuple[float, float], side_px: int) -> NDArray[np.uint8]:
    """A square of a picture, moved inside it where its centre lies near the border.

    Parameters
    ----------
    picture
        Shape (rows, columns, 3).
    centre
        x and y as fractions.
    side_px
        Less where the picture is smaller.
    """
    side = min(side_px, *picture.shape[:2])
    return part(picture, centre, side, side)


def part(
    picture: NDArray[np.uint8], centre: tuple[float, float], height_px: int, width_px: int
) -> NDArray[np.uint8]:
    """A part of a picture, moved inside it where its centre lies near the border.

    Parameters
    ----------
    picture
        Shape (rows, columns, 3).
    centre
        x and y as fractions.
    height_px, width_px
        All there is where the picture is smaller.
    """
    rows, columns = picture.shape[:2]
    height, width = min(height_px, rows), min(width_px, columns)
    top = min(max(round(centre[1] * rows - height / 2), 0), rows - height)
    left = min(max(round(centre[0] * columns - width / 2), 0), columns - width)
    return picture[top : top + height, left : left + width]


def as_jpeg(picture: NDArray[np.uint8], quality: int) -> bytes:
    """A picture in colour as a JPEG."""
    import numpy as np
    import simplejpeg

    data: bytes = simplejpeg.encode_jpeg(
        np.ascontiguousarray(picture), quality=quality, colorsubsampling="420"
    )
    return data


def _shrunk(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The whole frame, small; of a large one every so many pixels are enough, and quicker."""
    import numpy as np
    from PIL import Image

    rows, columns = picture.shape[:2]
    scale = WHOLE_PX / max(rows, columns)
    if scale >= 1:
        return picture
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    step = max(1, round(1 / scale) // FINER_THAN_WHOLE)
    whole = Image.fromarray(np.ascontiguousarray(picture[::step, ::step]))
    return np.asarray(whole.resize(size, Image.Resampling.HAMMING))
