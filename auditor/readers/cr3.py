"""CR3 raws: ISO boxes with four TIFF blocks (main, Exif, maker's note, position).

Reference: the boxes were compared with exiv2's reading of real files; the layout of PRVW is
from memory of public descriptions, and is not relied on: its JPEG is found by its first bytes.
"""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from auditor.errors import AuditorError
from auditor.readers import jpeg
from auditor.readers.contents import LONGEST_XMP_BYTES, Contents, EmbeddedPicture, ExifBlock
from auditor.readers.isobmff import Box, boxes, child, children, payload
from auditor.readers.source import ByteSource
from auditor.words import FileRole

METADATA = UUID("85c0b687-820f-11e0-8111-f4ce462b6a48").bytes
XMP = UUID("be7acfcb-97a9-42e8-9c71-999491e3afac").bytes
PREVIEW = UUID("eaf42b5e-1c98-4b88-b9fb-b7dc406e4d16").bytes

_LONGEST_BLOCK_BYTES = 1024 * 1024
_PREVIEW_HEADER_BYTES = 64
_MOST_TRACKS = 8


def contents(source: ByteSource) -> Contents:
    """The TIFF blocks and the XMP packet."""
    held = Contents(role=FileRole.RAW)
    for box in boxes(source, 0, source.size_bytes):
        if box.kind == b"moov":
            for inner in children(source, box):
                if _uuid(source, inner) == METADATA:
                    _take_blocks(source, inner, held)
        elif box.kind == b"uuid" and _uuid(source, box) == XMP and box.size_bytes <= LONGEST_XMP_BYTES:
            held.xmp.append(source.read_at(box.offset + 16, box.size_bytes - 16))
    return held


def embedded_pictures(source: ByteSource) -> Iterator[EmbeddedPicture]:
    """The preview, and the tracks that are JPEG."""
    for box in boxes(source, 0, source.size_bytes):
        if box.kind == b"moov":
            for track in [inner for inner in children(source, box) if inner.kind == b"trak"][:_MOST_TRACKS]:
                yield from _track(source, track)
        elif _uuid(source, box) == PREVIEW:
            start = source.read_up_to(box.offset, min(box.size_bytes, _PREVIEW_HEADER_BYTES))
            where = start.find(jpeg.START + b"\xff")
            if where > 0:
                yield from _picture(source, box.offset + where, box.size_bytes - where)


def _take_blocks(source: ByteSource, metadata: Box, held: Contents) -> None:
    for box in children(source, metadata, skip_bytes=16):
        if box.kind not in (b"CMT1", b"CMT2", b"CMT3"):
            continue
        block = ExifBlock(ByteSource.of_bytes(payload(source, box, _LONGEST_BLOCK_BYTES), source.path))
        if box.kind == b"CMT1":
            held.main = block
        elif box.kind == b"CMT2":
            held.photo = block
        else:
            held.note = block


def _track(source: ByteSource, track: Box) -> Iterator[EmbeddedPicture]:
    """The first sample of a track, where that is a JPEG."""
    table: Box | None = track
    for kind in (b"mdia", b"minf", b"stbl"):
        table = child(source, table, kind)
    sizes, offsets = child(source, table, b"stsz"), child(source, table, b"co64")
    width_bytes = 8
    if offsets is None:
        offsets, width_bytes = child(source, table, b"stco"), 4
    if sizes is None or offsets is None:
        return
    try:
        # Version and flags, the size of every sample (0: each has its own), their number, their sizes.
        head = source.read_at(sizes.offset, 12)
        size_bytes = int.from_bytes(head[4:8]) or int.from_bytes(source.read_up_to(sizes.offset + 12, 4))
        where = int.from_bytes(source.read_at(offsets.offset + 8, width_bytes))
    except AuditorError:
        return
    yield from _picture(source, where, size_bytes)


def _picture(source: ByteSource, offset: int, size_bytes: int) -> Iterator[EmbeddedPicture]:
    size = jpeg.size_px(source, offset)
    if size and 0 < size_bytes <= source.size_bytes - offset:
        yield EmbeddedPicture(offset=offset, size_bytes=size_bytes, width_px=size[0], height_px=size[1])


def _uuid(source: ByteSource, box: Box) -> bytes:
    return source.read_up_to(box.offset, 16) if box.kind == b"uuid" and box.size_bytes >= 16 else b""
