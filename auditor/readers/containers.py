"""Which container a file is, by its bytes, and what it holds for the readers."""

from __future__ import annotations

from auditor.errors import UnsupportedFileError
from auditor.readers import jpeg, tiff_like
from auditor.readers.contents import Contents
from auditor.readers.source import ByteSource


def contents(source: ByteSource) -> Contents:
    """The metadata of a file, wherever its container keeps it.

    Raises
    ------
    UnsupportedFileError
        for bytes that are no container known here.
    CorruptFileError
        for one that is broken from the start.
    """
    start = source.read_up_to(0, 16)
    if start.startswith(jpeg.START):
        return jpeg.contents(source)
    if start.startswith(tiff_like.HEADERS):
        return tiff_like.contents(source)
    what = "an empty file" if not start else "not a picture of a kind that is read"
    raise UnsupportedFileError(source.path, what, stage="container")
