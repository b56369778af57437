"""A frame's picture in colour, decoded once at full resolution: for showing it, never for measuring."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditor.file_names import as_path
from auditor.readers.containers import kind_of, largest_embedded
from auditor.readers.pixels import allow_heif, check_size, developed, is_small_preview, upright
from auditor.readers.source import open_source

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def decode_colour(
    path: str, *, orientation: int | None = None, raw_width_px: int | None = None
) -> NDArray[np.uint8]:
    """Decode the picture that `pixels.decode` measures, in colour; damage that can be decoded is no error.

    Parameters
    ----------
    orientation
        As recorded (Exif), 1 to 8.
    raw_width_px
        The longer side that a raw's metadata states, to tell a small preview.

    Returns
    -------
    Upright, shape (rows, columns, 3), red first.

    Raises
    ------
    CorruptFileError
        where it states a size that no camera writes; decoders raise errors of their own besides.
    """
    import simplejpeg

    with open_source(path) as source:
        kind = kind_of(source)
        preview = None if kind in ("jpeg", "heif") else largest_embedded(source)
    if kind == "jpeg":
        data = as_path(path).read_bytes()
    elif kind == "heif" or preview is None:
        half = None if kind == "heif" else developed(path)
        return _with_pillow(path, orientation) if half is None else upright(half, orientation)
    else:
        if is_small_preview(preview, raw_width_px) and (half := developed(path)) is not None:
            return upright(half, orientation)
        with as_path(path).open("rb") as file:
            file.seek(preview.offset)
            data = file.read(preview.size_bytes)
    height_px, width_px, *_ = simplejpeg.decode_jpeg_header(data, strict=False)
    check_size(path, width_px, height_px)
    rgb: NDArray[np.uint8] = simplejpeg.decode_jpeg(data, colorspace="RGB", strict=False)
    return upright(rgb, orientation)


def _with_pillow(path: str, orientation: int | None) -> NDArray[np.uint8]:
    import numpy as np
    from PIL import Image

    allow_heif()
    with Image.open(as_path(path)) as picture:
        check_size(path, *picture.size)
        turned = picture.format == "HEIF"  # its library turns pictures upright itself
        return upright(np.asarray(picture.convert("RGB")), None if turned else orientation)
