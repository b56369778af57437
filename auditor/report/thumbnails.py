"""The whole frame, small: made while the report is written, of frames whose file is still there."""

from __future__ import annotations

import base64
import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LONGEST_PX = 216
QUALITY = 72
LARGEST_FILE_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class Thumbnail:
    """A small picture as text for the page, upright."""

    data: str
    """A JPEG in base64."""
    width_px: int
    height_px: int


def thumbnails(frames: Iterable[tuple[int, str | None, int | None]]) -> dict[int, Thumbnail]:
    """Small pictures by frame id; a frame whose file is gone or cannot be decoded has none.

    Parameters
    ----------
    frames
        (frame_id, path, orientation as in Exif).
    """
    wanted = [frame for frame in frames if frame[1] is not None]
    with ThreadPoolExecutor(max_workers=min(8, os.cpu_count() or 1)) as workers:
        made = workers.map(lambda frame: thumbnail(Path(frame[1] or ""), frame[2]), wanted)
        return {frame[0]: picture for frame, picture in zip(wanted, made, strict=True) if picture is not None}


def thumbnail(path: Path, orientation: int | None) -> Thumbnail | None:
    """The small picture of one file; None where there is none."""
    import numpy as np
    import simplejpeg

    try:
        jpeg = _jpeg_in(path)
        picture = _with_pillow(path, orientation) if jpeg is None else _from_jpeg(jpeg, orientation)
        data = simplejpeg.encode_jpeg(np.ascontiguousarray(picture), quality=QUALITY, colorsubsampling="420")
    except Exception:  # noqa: BLE001  # decoders raise what they like; the page does without this picture
        return None
    return Thumbnail(base64.b64encode(data).decode("ascii"), picture.shape[1], picture.shape[0])


def _jpeg_in(path: Path) -> bytes | None:
    """The bytes of the file's JPEG, or of the largest one inside a raw; None where there is none."""
    from auditor.readers.containers import kind_of, largest_embedded
    from auditor.readers.source import open_source

    if path.stat().st_size > LARGEST_FILE_BYTES:
        raise ValueError(f"{path} is too large to make a small picture of")
    with open_source(str(path)) as source:
        kind = kind_of(source)
        preview = None if kind in ("jpeg", "heif") else largest_embedded(source)
    if kind == "jpeg":
        return path.read_bytes()
    if preview is None:
        return None
    with path.open("rb") as file:
        file.seek(preview.offset)
        return file.read(preview.size_bytes)


def _from_jpeg(jpeg: bytes, orientation: int | None) -> NDArray[np.uint8]:
    """Decoded at an eighth of its size, which costs little more than reading it."""
    import simplejpeg

    from auditor.readers.pixels import MOST_PIXELS

    height_px, width_px, *_ = simplejpeg.decode_jpeg_header(jpeg, strict=False)
    if height_px * width_px > MOST_PIXELS:
        raise ValueError(f"it states {width_px} x {height_px} px")
    scale = LONGEST_PX / max(height_px, width_px)
    rough = simplejpeg.decode_jpeg(
        jpeg,
        colorspace="RGB",
        fastdct=True,
        fastupsample=True,
        min_height=max(1, round(height_px * scale)),
        min_width=max(1, round(width_px * scale)),
        strict=False,
    )
    return _upright(_shrunk(rough), orientation)


def _with_pillow(path: Path, orientation: int | None) -> NDArray[np.uint8]:
    import numpy as np
    import pillow_heif
    from PIL import Image

    pillow_heif.register_heif_opener()
    with Image.open(path) as picture:
        turned = picture.format == "HEIF"  # its library turns pictures upright itself
        picture.thumbnail((LONGEST_PX, LONGEST_PX))
        return _upright(np.asarray(picture.convert("RGB")), None if turned else orientation)


def _shrunk(picture: NDArray[np.uint8]) -> Any:
    import numpy as np
    from PIL import Image

    rows, columns = picture.shape[:2]
    scale = LONGEST_PX / max(rows, columns)
    if scale >= 1:
        return picture
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    return np.asarray(Image.fromarray(picture).resize(size, Image.Resampling.HAMMING))


def _upright(picture: NDArray[np.uint8], orientation: int | None) -> NDArray[np.uint8]:
    import numpy as np

    from auditor.readers.pixels import upright

    return np.dstack([upright(picture[..., band], orientation) for band in range(3)])
