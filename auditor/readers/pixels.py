"""The luma of a frame, decoded once at full resolution."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from auditor.errors import (
    CorruptFileError,
    FileAccessError,
    IncompleteFileError,
    MissingPackageError,
    UnreadableFileError,
    debugging,
    show_when_debugging,
)
from auditor.file_names import as_path
from auditor.readers.containers import is_cut_short, kind_of, largest_embedded
from auditor.readers.kinds import role_of_name
from auditor.readers.picture_size import STAGE, check_jpeg, check_size, opened_by_pillow
from auditor.readers.source import open_source
from auditor.words import FileRole

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SMALL_PREVIEW = 0.6
"""A preview with less than this share of the raw's width cannot show its focus: the raw is developed."""
RAW_PACKAGE = 'python -m pip install "auditor[raw]"'
CUT_SHORT = "the file is cut short"
COPY_AGAIN = "copy the file again from its card or a backup"
HEADER_DAMAGED = f"the head of its JPEG is damaged or cut short; {COPY_AGAIN}"
PICTURE_DAMAGED = f"its picture is damaged; {COPY_AGAIN}"
NOT_DECODED = f"its picture cannot be decoded; if nothing else opens it either, {COPY_AGAIN}"
_ENDS_EARLY = "Premature end of JPEG file"
_HARMLESS = ("extraneous bytes", "Invalid SOS parameters", "Unknown Adobe color transform")
"""Warnings of libjpeg (its jerror.h, R) over files that some cameras write: the picture is whole."""
_FILLED_WITH = 128
"""libjpeg leaves blocks that never came at coefficients of zero, which is mid-grey (jdhuff.c, R)."""
_STDERR = 2
"""The number of the error output (POSIX, unistd.h STDERR_FILENO)."""
_LUMA = (0.299, 0.587, 0.114)
"""ITU-R BT.601, as JPEG has it."""


@dataclass(frozen=True, slots=True)
class Pixels:
    """A decoded frame."""

    luma: NDArray[np.uint8]
    """Upright, shape (rows, columns)."""
    source: str
    """jpeg, embedded (the JPEG inside a raw), developed (a raw at half size), heif or tiff."""
    flags: tuple[str, ...] = ()
    """small_preview: nothing larger could be read; half_size: a raw was developed."""


def decode(path: str, *, orientation: int | None = None, raw_width_px: int | None = None) -> Pixels:
    """Decode the picture of a file.

    Parameters
    ----------
    orientation
        As recorded (Exif), 1 to 8.
    raw_width_px
        The longer side that a raw's metadata states, to tell a small preview.

    Raises
    ------
    IncompleteFileError
        where the file ends before its picture does.
    CorruptFileError
        where there is no picture, it is damaged, or it states a size that none has.
    FileAccessError
        where the file cannot be got at, or memory does not suffice now.
    MissingPackageError
        where a package that decodes it is not installed.
    """
    with decoding(path):
        return _decode(path, orientation, raw_width_px)


@contextlib.contextmanager
def decoding(path: str) -> Iterator[None]:
    """Whatever a decoder raises inside, as one of the errors that name the file.

    Raises
    ------
    FileAccessError
        where the file cannot be got at, or memory does not suffice now.
    CorruptFileError
        for everything else that is no UnreadableFileError already.
    """
    try:
        yield
    except UnreadableFileError:
        raise
    except MemoryError as error:
        raise FileAccessError(path, "too large for this machine's memory", stage=STAGE) from error
    except Exception as error:  # decoders raise what they like; one bad file is one row in `unreadable`
        if isinstance(error, OSError) and error.errno is not None:  # decoders raise OSError without a number
            raise FileAccessError(path, error.strerror or str(error), stage=STAGE) from error
        show_when_debugging()
        raise CorruptFileError(path, NOT_DECODED, stage=STAGE) from error


def _decode(path: str, orientation: int | None, raw_width_px: int | None) -> Pixels:
    with open_source(path) as source:
        kind = kind_of(source)
        if is_cut_short(source):
            raise IncompleteFileError(path, CUT_SHORT, stage=STAGE)
        preview = largest_embedded(source)
    if kind == "jpeg":
        return Pixels(upright(_jpeg(path, as_path(path).read_bytes()), orientation), "jpeg")
    if kind == "heif":
        return _with_pillow(path, "heif", orientation)
    small = preview is None or (raw_width_px or 0) * SMALL_PREVIEW > max(preview.width_px, preview.height_px)
    if small:
        developed = _developed(path)
        if developed is not None:
            return Pixels(upright(developed, orientation), "developed", ("half_size",))
    if preview is None:
        return _with_pillow(path, "tiff", orientation)
    with open(as_path(path), "rb") as file:
        file.seek(preview.offset)
        luma = _jpeg(path, file.read(preview.size_bytes))
    return Pixels(upright(luma, orientation), "embedded", ("small_preview",) if small else ())


def upright(stored: NDArray[np.uint8], orientation: int | None) -> NDArray[np.uint8]:
    """The picture as it is seen, with or without bands: a view, no copy. Exif 2.3, 4.6.4 A, Orientation."""
    turned = stored.swapaxes(0, 1) if orientation in (5, 6, 7, 8) else stored
    down = -1 if orientation in (3, 4, 7, 8) else 1
    across = -1 if orientation in (2, 3, 6, 7) else 1
    return turned[::down, ::across]


def _jpeg(path: str, data: bytes) -> NDArray[np.uint8]:
    """A whole JPEG's luma, shape (rows, columns).

    Raises
    ------
    IncompleteFileError
        where it ends before its end marker.
    CorruptFileError
        where its data is damaged: what follows the damage is not what was photographed.
    """
    import simplejpeg

    check_jpeg(path, *jpeg_size(path, data), data)
    luma: NDArray[np.uint8]
    try:
        luma = simplejpeg.decode_jpeg(data, colorspace="GRAY")[..., 0]
        return luma
    except ValueError as error:
        warning = str(error)
        luma = simplejpeg.decode_jpeg(data, colorspace="GRAY", strict=False)[..., 0]
        if _ENDS_EARLY in warning:
            raise IncompleteFileError(path, _how_much_is_missing(luma), stage=STAGE) from error
        if not any(harmless in warning for harmless in _HARMLESS):
            show_when_debugging()
            raise CorruptFileError(path, PICTURE_DAMAGED, stage=STAGE) from error
    return luma


def jpeg_size(path: str, data: bytes) -> tuple[int, int]:
    """The width and height that a JPEG states, px.

    Raises
    ------
    CorruptFileError
        where its head cannot be read.
    """
    import simplejpeg

    try:
        height_px, width_px, *_ = simplejpeg.decode_jpeg_header(data, strict=False)
    except (ValueError, KeyError) as error:  # KeyError where it knows no name for the subsampling
        show_when_debugging()
        raise CorruptFileError(path, HEADER_DAMAGED, stage=STAGE) from error
    return width_px, height_px


def _how_much_is_missing(luma: NDArray[np.uint8]) -> str:
    """In words. Of a progressive JPEG no rows are missing: it lacks detail all over."""
    import numpy as np

    decoded = np.flatnonzero((luma != _FILLED_WITH).any(axis=1))
    missing = 1 - (int(decoded[-1]) + 1) / len(luma) if len(decoded) else 1.0
    if missing <= 0:
        return CUT_SHORT
    return f"{CUT_SHORT}: the lowest {100 * missing:.0f} % of its picture is missing"


def _with_pillow(path: str, source: str, orientation: int | None) -> Pixels:
    import numpy as np

    with without_words_of_its_own(), opened_by_pillow(path) as picture:
        # The HEIF library turns pictures upright itself; that of AVIF and TIFF leaves it to us.
        turned = picture.format == "HEIF"
        luma = np.asarray(picture.convert("L"))
    return Pixels(upright(luma, None if turned else orientation), source)


def _developed(path: str) -> Any:
    """A raw at half size: one pixel for each square of its colour mosaic; None for no raw."""
    import numpy as np

    try:
        import rawpy
    except ImportError as error:
        if role_of_name(path) != FileRole.RAW:
            return None
        reason = f"it holds no JPEG of full size, and developing it needs a package: {RAW_PACKAGE}"
        raise MissingPackageError(path, reason, stage=STAGE) from error

    try:
        with without_words_of_its_own(), open(as_path(path), "rb") as file, rawpy.imread(file) as raw:
            check_size(path, raw.sizes.raw_width, raw.sizes.raw_height, os.fstat(file.fileno()).st_size)
            rgb = raw.postprocess(half_size=True, use_camera_wb=True, no_auto_bright=True, user_flip=0)
    except rawpy.LibRawError:
        return None
    return (rgb @ np.array(_LUMA, np.float32)).astype(np.uint8)


@contextlib.contextmanager
def without_words_of_its_own() -> Iterator[None]:
    """LibRaw and libtiff print to the process's error output, past Python; AUDITOR_DEBUG=1 lets them."""
    if debugging():
        yield
        return
    sys.stderr.flush()
    try:
        kept = os.dup(_STDERR)
    except OSError:  # a process without an error output has nothing to silence
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, _STDERR)
        yield
    finally:
        os.dup2(kept, _STDERR)
        os.close(kept)
        os.close(nowhere)
