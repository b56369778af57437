"""The kinds of files that are read, by the ends of their names.

The folder walk goes by the name, since it opens nothing; the reader goes by the bytes.
"""

from __future__ import annotations

from auditor.words import FileRole

_EXTENSIONS: dict[FileRole, str] = {
    FileRole.JPEG: "jpg jpeg jpe jfif",
    FileRole.RAW: (
        "3fr arw cr2 cr3 dcr dng erf fff iiq kdc mef mos nef nrw orf ori pef raf raw rw2 rwl sr2 srf srw "
        "crw mrw x3f"  # not read: listed as such rather than passed over in silence
    ),
    FileRole.HEIF: "heic heif hif avif",
    FileRole.TIFF: "tif tiff",
    FileRole.SIDECAR: "xmp",
}

ROLE_BY_EXTENSION: dict[str, FileRole] = {
    f".{extension}": role for role, extensions in _EXTENSIONS.items() for extension in extensions.split()
}


def role_of_name(name: str) -> FileRole | None:
    """The role that a file's name promises; None for files that are none of ours."""
    dot = name.rfind(".")
    return ROLE_BY_EXTENSION.get(name[dot:].lower()) if dot > 0 else None


_NO_PHOTOGRAPHS = (
    "mp4 mov m4v mts m2ts avi mpg mpeg mxf 3gp mkv wmv webm insv crm nev r3d braw",
    "wav mp3 m4a aac",
    "png gif bmp webp psd psb jxl jp2",
)
PASSED_OVER = frozenset(ending for endings in _NO_PHOTOGRAPHS for ending in endings.split())
"""Video, sound and pictures of other kinds: a photographer may ask after them. What cameras and programs keep
beside pictures is nothing to speak of."""


def passed_over(ending: str) -> str | None:
    """The kind of a file that is not read and that a photographer may ask after; None for any other.

    Parameters
    ----------
    ending
        Of its name, from the last dot on.

    Returns
    -------
    str or None
        Its ending in small letters, without the dot.
    """
    kind = ending[1:].lower()
    return kind if kind in PASSED_OVER else None
