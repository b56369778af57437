"""XMP sidecars: files of their own, which add rating, keywords and focus regions to a frame."""

from __future__ import annotations

from auditor.errors import CorruptFileError
from auditor.readers import xmp
from auditor.readers.contents import LONGEST_XMP_BYTES
from auditor.readers.focus_place import sound
from auditor.readers.source import ByteSource
from auditor.records import Recorded


def recorded(source: ByteSource) -> Recorded:
    """What a sidecar says. Regions stay as it gives them: a sidecar has no picture to turn them by."""
    if source.size_bytes > LONGEST_XMP_BYTES:
        raise CorruptFileError(source.path, "larger than any sidecar can need", stage="sidecar")
    try:
        facts = xmp.facts(source.read_at(0, source.size_bytes), source.path)
    except CorruptFileError as error:
        raise CorruptFileError(source.path, error.reason, stage="sidecar") from error
    missing = {} if facts.rating is not None else {"rating": facts.rating_missing}
    return Recorded(
        rating=facts.rating, keywords=facts.keywords, focus_areas=sound(facts.focus_areas), missing=missing
    )
