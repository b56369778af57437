"""Any bytes at all: a record or an AuditorError, never anything else, and never much work or memory.

benchmarks/mutated_files.py does the same for 20,000 damaged files, and measures.
"""

from __future__ import annotations

import json
import math
import random
import struct
import sys
import tempfile
import tracemalloc
from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.errors import AuditorError, UnreadableFileError
from auditor.readers import exif_tags, xmp
from auditor.readers.containers import largest_embedded
from auditor.readers.frame import UNFORESEEN, found_file, read_file
from auditor.readers.source import READ_LIMIT_CALLS, ByteSource, open_source
from auditor.records import Recorded
from auditor.words import MissingReason

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.beside import REAL_FRAMES, needs_real_frames
from tests.readers.mutation import bottomless_directories, mutated
from tests.readers.note_builder import Entry, directory
from tests.readers.written_frames import EVERY_CONTAINER, box, cr3, heif, jpeg, tiff_raw
from tests.share import cases

STARTS = [
    b"\xff\xd8\xff\xe1",
    b"II*\0\x08\0\0\0",
    b"MM\0*\0\0\0\x08",
    b"IIU\0",
    b"FUJIFILMCCD-RAW ",
    b"\0\0\0\x18ftypcrx \0\0\0\1crx isom",
    b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    b"<?xpacket",
    b"",
]


def read(path: Path) -> Recorded | None:
    """What is read, after checks that hold for any file; None where it cannot be read."""
    try:
        with open_source(path) as source:
            picture = largest_embedded(source)
            assert picture is None or 0 < picture.offset + picture.size_bytes <= source.size_bytes
        recorded = read_file(found_file(path)).recorded
    except UnreadableFileError as error:
        # The last net is there for what nobody foresaw: what falls into it here is a bug.
        if error.reason.startswith(UNFORESEEN):
            raise AssertionError(error.reason) from error.__cause__
        return None
    check(recorded)
    return recorded


def check(recorded: Recorded) -> None:
    values = {field.name: getattr(recorded, field.name) for field in fields(recorded)}
    for name, value in values.items():
        assert not isinstance(value, float) or math.isfinite(value), name
    assert set(recorded.missing.values()) <= set(MissingReason)
    assert all(values[name] in (None, ()) for name in recorded.missing)
    for name in ("af_x", "af_y", "af_width", "af_height"):
        assert values[name] is None or 0 <= values[name] <= 1
    for name in ("focal_length_mm", "f_number", "iso", "exposure_time_s", "pixel_pitch_um", "width_px"):
        assert values[name] is None or values[name] > 0
    # Text that no database and no JSON can hold must not get out.
    json.dumps([value for value in values.values() if isinstance(value, str)]).encode("utf-8")
    for value in values.values():
        if isinstance(value, str):
            value.encode("utf-8")


def read_bytes(data: bytes, name: str = "frame.jpg") -> Recorded | None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        return read(path)


@pytest.mark.long
@settings(max_examples=cases(2000, share=60), deadline=None)
@given(start=st.sampled_from(STARTS), rest=st.binary(max_size=600), name=st.sampled_from(["a.jpg", "a.xmp"]))
def test_any_bytes_after_any_start(start: bytes, rest: bytes, name: str) -> None:
    read_bytes(start + rest, name)


@pytest.mark.long
@settings(max_examples=cases(2000, share=60), deadline=None)
@given(
    entries=st.lists(
        st.tuples(
            st.sampled_from(
                [0x10F, 0x112, 0x14A, 0x201, 0x2BC, 0x8769, 0x829D, 0x8827, 0x9003, 0x920A, 0x927C]
            )
            | st.integers(0, 0xFFFF),
            st.integers(0, 14),
            st.sampled_from([0, 1, 2, 4, 999, 1000, 0x7FFFFFFF, 0xFFFFFFFF]),
            st.integers(0, 0xFFFFFFFF) | st.integers(0, 200),
        ),
        max_size=20,
    ),
    order=st.sampled_from("<>"),
    in_jpeg=st.booleans(),
)
def test_directories_of_any_entries(
    entries: list[tuple[int, int, int, int]], order: str, in_jpeg: bool
) -> None:
    block = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "IH", 8, len(entries))
    block += b"".join(struct.pack(order + "HHII", *entry) for entry in entries) + bytes(200)
    read_bytes(jpeg(block) if in_jpeg else block)


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(EVERY_CONTAINER))
def test_damaged_copies_of_written_files(tmp_path: Path, name: str) -> None:
    data, path = EVERY_CONTAINER[name](), tmp_path / name
    for case in range(cases(400, share=30)):
        path.write_bytes(mutated(data, random.Random(f"{name}/{case}")))
        read(path)


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(EVERY_CONTAINER))
def test_files_cut_short_anywhere(tmp_path: Path, name: str) -> None:
    data, path = EVERY_CONTAINER[name](), tmp_path / name
    for end in range(0, len(data), max(1, len(data) // cases(400, share=30))):
        path.write_bytes(data[:end])
        read(path)


@pytest.mark.long
@needs_real_frames
def test_damaged_copies_of_real_files(tmp_path: Path) -> None:
    for original in sorted(REAL_FRAMES.iterdir()):
        data, path = original.read_bytes(), tmp_path / f"frame{original.suffix}"
        for case in range(cases(40, share=6)):
            path.write_bytes(mutated(data, random.Random(f"{original.name}/{case}")))
            read(path)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("entries", [5400, 60_000])
def test_directories_without_a_bottom_take_a_bounded_number_of_reads(
    tmp_path: Path, order: str, entries: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """exifread alone would read here 65,535 entries of up to 999 values, over and over."""
    data = bottomless_directories(order, entries=entries)
    calls = [0]
    counted = ByteSource.read_at

    def read_counted(source: ByteSource, offset: int, count: int) -> bytes:
        calls[0] += 1
        return counted(source, offset, count)

    monkeypatch.setattr(ByteSource, "read_at", read_counted)
    path = tmp_path / "frame.nef"
    path.write_bytes(data)
    read(path)
    path.write_bytes(jpeg(data[:65_000]))
    read(path)
    assert 10 < calls[0] < 2 * (exif_tags.READ_LIMIT_CALLS + 1000)


def big_files() -> dict[str, bytes]:
    """Files that ask for much memory: long values, many boxes, many elements, many links."""
    many = b"".join(box(b"moov", *[box(b"uuid", bytes(16))] * 50) for _ in range(3000))
    entries = [Entry(0x014A, "LONG", tuple(range(8, 4008)))]
    entries += [Entry(tag, "LONG", (8,)) for tag in range(256, 290)]
    links = tiff_raw()[:4] + struct.pack("<I", 8) + directory(entries, "<", 8)
    packet = b"<x>" + b"<y z='Rating'/>" * 60_000 + b"</x>"
    return {
        "boxes.cr3": cr3()[:24] + many,
        "boxes.heic": heif()[:24] + many,
        "links.nef": links * 40,
        "elements.xmp": packet,
        "text.xmp": b"<x>" + b"Rating " * 140_000 + b"</x>",
        "segments.jpg": b"\xff\xd8" + b"\xff\xe1\x00\x02" * 200_000,
        "packets.jpg": b"\xff\xd8"
        + (b"\xff\xe1\xff\xffhttp://ns.adobe.com/xap/1.0/\0".ljust(65537, b"R")) * 300,
        "fill.jpg": b"\xff\xd8" + b"\xff" * 1_000_000,
    }


@pytest.mark.parametrize("name", sorted(big_files()))
def test_files_that_ask_for_much_get_little_memory(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(big_files()[name])
    tracemalloc.start()
    try:
        read(path)
        assert tracemalloc.get_traced_memory()[1] < 64 * 2**20
    finally:
        tracemalloc.stop()


def test_a_source_stops_after_its_limits() -> None:
    source = ByteSource.of_bytes(bytes(100), "frame.jpg")
    for _ in range(READ_LIMIT_CALLS):
        source.read_at(0, 1)
    with pytest.raises(AuditorError):
        source.read_at(0, 1)


@pytest.mark.long
@settings(max_examples=cases(2000, share=40), deadline=None)
@given(st.binary(max_size=300), st.sampled_from(["utf-8", "utf-16", "utf-32"]))
def test_any_bytes_as_xmp(rest: bytes, encoding: str) -> None:
    try:
        xmp.facts("<x:xmpmeta xmlns:x='adobe:ns:meta/'>Rating".encode(encoding) + rest, "frame.xmp")
    except AuditorError:
        return
