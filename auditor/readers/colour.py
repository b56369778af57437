"""A frame's picture in colour, for looking at; measuring reads the luma alone (pixels.py)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditor.file_names import as_path
from auditor.readers.containers import kind_of, largest_embedded
from auditor.readers.picture_size import check_jpeg, opened_by_pillow
from auditor.readers.pixels import decoding, jpeg_size, upright, without_words_of_its_own
from auditor.readers.source import open_source

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def colour(path: str, orientation: int | None) -> NDArray[np.uint8]:
    """The picture of a file: of a raw, the largest JPEG in it.

    Parameters
    ----------
    path
        As the logbook has it.
    orientation
        As recorded (Exif), 1 to 8.

    Returns
    -------
    Upright, shape (rows, columns, 3), red, green, blue.

    Raises
    ------
    FileAccessError
        where the file cannot be got at.
    CorruptFileError
        where there is no picture that can be decoded.
    """
    with decoding(path):
        return _decoded(path, orientation)


def _decoded(path: str, orientation: int | None) -> NDArray[np.uint8]:
    with open_source(path) as source:
        kind = kind_of(source)
        preview = largest_embedded(source)
    if kind == "jpeg":
        return upright(_jpeg(path, as_path(path).read_bytes()), orientation)
    if kind == "heif" or preview is None:
        return _with_pillow(path, orientation)
    with open(as_path(path), "rb") as file:
        file.seek(preview.offset)
        return upright(_jpeg(path, file.read(preview.size_bytes)), orientation)


def _jpeg(path: str, data: bytes) -> NDArray[np.uint8]:
    import simplejpeg

    check_jpeg(path, *jpeg_size(path, data), data)
    picture: NDArray[np.uint8] = simplejpeg.decode_jpeg(data, colorspace="RGB", strict=False)
    return picture


def _with_pillow(path: str, orientation: int | None) -> NDArray[np.uint8]:
    import numpy as np

    with without_words_of_its_own(), opened_by_pillow(path) as picture:
        turned = picture.format == "HEIF"  # its library turns pictures upright itself
        return upright(np.asarray(picture.convert("RGB")), None if turned else orientation)
