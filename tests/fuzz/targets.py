"""What is fed with any bytes: each takes them, and may raise AuditorError alone.

A target begins from files that the tests write themselves; nothing of any camera is among them.
"""

from __future__ import annotations

import io
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from auditor.errors import AuditorError, OutputError
from auditor.keepers import sidecar_text
from auditor.readers import pixels, xmp
from auditor.readers.containers import contents, is_cut_short, kind_of, largest_embedded
from auditor.readers.makernotes import Decoder, MakerNote, installed
from auditor.readers.merging import recorded
from auditor.readers.sidecar import recorded as sidecar_recorded
from auditor.readers.source import ByteSource
from auditor.readers.tiff import TiffBlock
from tests.readers import canon_nikon_notes, written_notes
from tests.readers.note_builder import NOTE_AT
from tests.readers.written_frames import EVERY_CONTAINER
from tests.readers.written_frames import xmp as packet

SIDE_PX = 48
"""Of the pictures that decoding begins from: small ones are decoded thousands of times a second."""


@dataclass(frozen=True, slots=True)
class Target:
    """Something that reads bytes."""

    seeds: Callable[[], list[bytes]]
    run: Callable[[bytes], None]


def containers(data: bytes) -> None:
    """Everything that is read of a frame but its pixels: container, standard tags, note and packet."""
    source = ByteSource.of_bytes(data, "frame.nef")
    largest_embedded(source)
    is_cut_short(source)
    try:
        recorded(contents(ByteSource.of_bytes(data, "frame.nef")))
    except AuditorError:
        return


@cache
def makers() -> list[tuple[str, Decoder]]:
    """Every decoder of a maker's notes, by name; some makers share one."""
    return [(name, installed()[name].load()) for name in sorted(installed())]


def notes(data: bytes) -> None:
    """A maker's note inside its block, to the decoder that the first byte names."""
    if not data:
        return
    name, decode = makers()[data[0] % len(makers())]
    block = data[1:]
    try:
        tiff, _first = TiffBlock.at_header(ByteSource.of_bytes(block, "frame.jpg"), 0)
        if len(block) > NOTE_AT:
            decode(MakerNote(tiff, NOTE_AT, len(block) - NOTE_AT, name, "", width_px=6000, height_px=4000))
    except AuditorError:
        return


def packets(data: bytes) -> None:
    """XMP: read as a packet and as a sidecar, and written anew with a rating and a keyword."""
    with suppress(AuditorError):
        xmp.facts(data, "frame.xmp")
    with suppress(AuditorError):
        sidecar_recorded(ByteSource.of_bytes(data, "frame.xmp"))
    try:
        sidecar_text.rating_of(data)
        written = sidecar_text.with_facts(data, rating=3, keywords=["heron"], replace_rating=True)
    except OutputError:
        return
    assert sidecar_text.rating_of(written) == "3", "what was written is read"


def pictures(data: bytes) -> None:
    """Decoding, by whatever library the bytes lead to."""
    path = _file()
    path.write_bytes(data)
    if kind_of(ByteSource.of_bytes(data, str(path))) is None and not data.startswith(b"\xff\xd8"):
        return
    try:
        luma = pixels.decode(str(path)).luma
    except AuditorError:
        return
    assert luma.ndim == 2
    assert luma.size


@cache
def _file() -> Path:
    """In memory where there is such a place: a disk would be most of the time."""
    memory = "/dev/shm"
    handle, name = tempfile.mkstemp(suffix=".jpg", dir=memory if os.access(memory, os.W_OK) else None)
    os.close(handle)
    return Path(name)


def _written_pictures() -> list[bytes]:
    import numpy as np
    import pillow_heif
    from PIL import Image

    pillow_heif.register_heif_opener()
    rows, columns = np.indices((SIDE_PX, SIDE_PX))
    grey = Image.fromarray(np.asarray(128 + 60 * np.sin(rows / 3) * np.cos(columns / 5), np.uint8))
    ways: list[tuple[str, dict[str, object]]] = [
        ("JPEG", {"quality": 60}), ("JPEG", {"quality": 60, "progressive": True}), ("TIFF", {}),
        ("TIFF", {"compression": "tiff_lzw"}), ("TIFF", {"compression": "tiff_deflate"}),
        ("TIFF", {"compression": "jpeg"}), ("HEIF", {"quality": 40}), ("AVIF", {"quality": 40}),
    ]  # fmt: skip
    made = []
    for kind, options in ways:
        for picture in (grey, grey.convert("RGB")):
            file = io.BytesIO()
            picture.save(file, kind, **options)
            made.append(file.getvalue())
    return made


def _written_notes() -> list[bytes]:
    blocks = {
        "canon": canon_nikon_notes.canon(), "nikon": canon_nikon_notes.nikon(), "sony": written_notes.sony(),
        "fujifilm": written_notes.fujifilm(), "olympus": written_notes.olympus(),
        "panasonic": written_notes.panasonic(), "pentax": written_notes.pentax(),
    }  # fmt: skip
    names = [name for name, _decode in makers()]
    blocks["saltmark"] = written_notes.sony()
    return [bytes([names.index(name)]) + block for name, block in blocks.items()]


TARGETS = {
    "containers": Target(lambda: [write() for write in EVERY_CONTAINER.values()], containers),
    "notes": Target(_written_notes, notes),
    "packets": Target(
        lambda: [
            packet(),
            packet(rating="5", keywords=["estuary"]),
            sidecar_text.with_facts(None, rating=1, keywords=[]),
        ],
        packets,
    ),
    "pictures": Target(_written_pictures, pictures),
}
