"""Which container a file is, by its bytes, and what it holds for the readers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress

from auditor.errors import AuditorError, UnsupportedFileError
from auditor.readers import cr3, heif, isobmff, jpeg, raf, tiff_like
from auditor.readers.contents import Contents, EmbeddedPicture
from auditor.readers.source import ByteSource

_HEIF_BRANDS = frozenset(
    (
        b"heic",
        b"heix",
        b"heim",
        b"heis",
        b"hevc",
        b"hevx",
        b"mif1",
        b"mif2",
        b"msf1",
        b"avif",
        b"avis",
        b"miaf",
    )
)
_CR3_BRAND = b"crx "


def contents(source: ByteSource) -> Contents:
    """The metadata of a file, wherever its container keeps it.

    Raises
    ------
    UnsupportedFileError
        for bytes that are no container known here.
    CorruptFileError
        for one that is broken from the start.
    """
    kind = kind_of(source)
    readers: dict[str, Callable[[ByteSource], Contents]] = {
        "jpeg": jpeg.contents,
        "tiff": tiff_like.contents,
        "raf": raf.contents,
        "cr3": cr3.contents,
        "heif": heif.contents,
    }
    if kind is None:
        what = "not a picture of a kind that is read" if source.size_bytes else "an empty file"
        raise UnsupportedFileError(source.path, what, stage="container")
    return readers[kind](source)


def largest_embedded(source: ByteSource) -> EmbeddedPicture | None:
    """The largest JPEG inside a raw; None for other files, and for raws that have none that can be read."""
    readers: dict[str | None, Callable[[ByteSource], Iterator[EmbeddedPicture]]] = {
        "tiff": tiff_like.embedded_pictures,
        "raf": raf.embedded_pictures,
        "cr3": cr3.embedded_pictures,
    }
    find = readers.get(kind_of(source))
    pictures: list[EmbeddedPicture] = []
    with suppress(AuditorError):  # a raw cut short: what was found before still counts
        pictures.extend(find(source) if find else ())
    return max(pictures, key=lambda picture: picture.width_px * picture.height_px, default=None)


def is_cut_short(source: ByteSource) -> bool:
    """Whether a file states that it is longer than it is. JPEGs state no length: decoding them shows it."""
    ends: dict[str | None, Callable[[ByteSource], int]] = {
        "tiff": tiff_like.stated_end,
        "cr3": isobmff.stated_end,
        "heif": isobmff.stated_end,
    }
    find = ends.get(kind_of(source))
    with suppress(AuditorError):  # damaged: whatever decodes it says how
        return find is not None and find(source) > source.size_bytes
    return False


def kind_of(source: ByteSource) -> str | None:
    """jpeg, tiff, raf, cr3 or heif, by the first bytes; None for others."""
    start = source.read_up_to(0, 64)
    if start.startswith(jpeg.START):
        return "jpeg"
    if start.startswith(tiff_like.HEADERS):
        return "tiff"
    if start.startswith(raf.START):
        return "raf"
    if start[4:8] != b"ftyp":
        return None
    length = min(int.from_bytes(start[:4]), len(start))
    brands = {start[place : place + 4] for place in (8, *range(16, length - 3, 4))}
    if _CR3_BRAND in brands:
        return "cr3"
    return "heif" if brands & _HEIF_BRANDS else None
