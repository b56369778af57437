"""What a container holds for the readers: where its metadata lies, whatever the kind of file."""

from __future__ import annotations

from dataclasses import dataclass, field

from auditor.readers.source import ByteSource
from auditor.words import FileRole

LONGEST_XMP_BYTES = 1024 * 1024


@dataclass(frozen=True, slots=True)
class ExifBlock:
    """A TIFF structure: `base` is the absolute offset of its header in `source`."""

    source: ByteSource
    base: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class EmbeddedPicture:
    """A JPEG that lies inside another file."""

    offset: int
    size_bytes: int
    width_px: int
    height_px: int


@dataclass(slots=True, kw_only=True)
class Contents:
    """Metadata of one file. Sizes are those of the picture as stored, before orientation."""

    role: FileRole
    main: ExifBlock | None = None
    """The Exif block, its first directory the main one."""
    photo: ExifBlock | None = None
    """The Exif directory, where it is a block of its own (CR3)."""
    note: ExifBlock | None = None
    """The maker note, where it is a block of its own (CR3)."""
    xmp: list[bytes] = field(default_factory=list)
    width_px: int | None = None
    height_px: int | None = None
    orientation: int | None = None
    """As the container states it (HEIF): it then stands before the Exif tag, which HEIF only repeats."""
