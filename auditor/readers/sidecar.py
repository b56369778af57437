"""XMP sidecars: files of their own, which add rating, keywords and focus regions to a frame."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from auditor.errors import AuditorError, CorruptFileError
from auditor.file_names import as_path
from auditor.readers import exif, xmp
from auditor.readers.containers import contents
from auditor.readers.contents import LONGEST_XMP_BYTES
from auditor.readers.exif_tags import standard_tags
from auditor.readers.focus_place import placed
from auditor.readers.kinds import ROLE_BY_EXTENSION
from auditor.readers.source import ByteSource, open_source
from auditor.records import Recorded
from auditor.words import FileRole


def recorded(source: ByteSource) -> Recorded:
    """What a sidecar says.

    Its regions lie in the picture as stored. Where it does not say how that is turned
    (tiff:Orientation), the picture beside it does.

    Raises
    ------
    CorruptFileError
        when it cannot be read as XMP.
    """
    if source.size_bytes > LONGEST_XMP_BYTES:
        raise CorruptFileError(source.path, "larger than any sidecar can need", stage="sidecar")
    try:
        facts = xmp.facts(source.read_at(0, source.size_bytes), source.path)
    except CorruptFileError as error:
        raise CorruptFileError(source.path, error.reason, stage="sidecar") from error
    missing = {"rating": facts.rating_missing} if facts.rating is None else {}
    orientation = facts.orientation
    if facts.focus_areas and orientation is None:
        orientation = _orientation_beside(as_path(source.path))
    return Recorded(
        rating=facts.rating,
        keywords=facts.keywords,
        missing=missing,
        **placed(facts.focus_areas, orientation),
    )


def _orientation_beside(sidecar: Path) -> int | None:
    """Orientation of the first picture that the sidecar can belong to."""
    for picture in _pictures(sidecar):
        try:
            with open_source(picture) as source:
                inside = contents(source)
                return inside.orientation or exif.orientation(standard_tags(inside))
        except AuditorError:
            continue
    return None


def _pictures(sidecar: Path) -> Iterator[Path]:
    """`name.ext` for `name.ext.xmp`; every picture called `name` for `name.xmp`."""
    named = sidecar.with_suffix("")
    if named.is_file():
        yield named
        return
    for extension, role in ROLE_BY_EXTENSION.items():
        if role != FileRole.SIDECAR:
            for written in (extension, extension.upper()):
                picture = sidecar.with_suffix(written)
                if picture.is_file():
                    yield picture
