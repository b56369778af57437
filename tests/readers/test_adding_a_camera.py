"""The example in docs/adding-a-camera.md is run as it stands there."""

from __future__ import annotations

import io
import re
import struct
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import AuditorError
from auditor.readers.makernotes import MakerNote, decoder_for, installed
from auditor.readers.source import ByteSource
from auditor.readers.tiff import TiffBlock

PAGE = Path(__file__).parents[2] / "docs" / "adding-a-camera.md"


@pytest.fixture(scope="module")
def decode() -> Any:
    (code,) = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    names: dict[str, Any] = {}
    exec(compile(code, str(PAGE), "exec"), names)
    return names["decode"]


def note_of(data: bytes) -> MakerNote:
    source = ByteSource(io.BytesIO(data), "note", len(data))
    return MakerNote(TiffBlock(source, 0, "<"), 0, len(data), "Mudlark", "One")


def mudlark(focus_found: int, x: int, y: int) -> bytes:
    entries = struct.pack("<HHIHHHHIHH", 1, 3, 1, focus_found, 0, 2, 3, 2, x, y)
    return b"MUDLARK\0" + struct.pack("<H", 2) + entries + struct.pack("<I", 0)


def test_the_example_reads_its_note(decode: Any) -> None:
    facts = decode(note_of(mudlark(1, 250, 600)))
    assert facts.camera_word == "confirmed"
    assert [(area.x, area.y) for area in facts.focus_areas] == [(0.25, 0.6)]
    assert decode(note_of(mudlark(0, 250, 600))).camera_word == "not_confirmed"


def test_the_example_leaves_other_notes_alone(decode: Any) -> None:
    assert decode(note_of(b"SOMEBODY ELSE")).camera_word is None


def test_a_note_cut_short_raises_only_our_own_error(decode: Any) -> None:
    whole = mudlark(1, 250, 600)
    for length in range(len(whole)):
        try:
            decode(note_of(whole[:length]))
        except AuditorError:
            continue


def test_the_door_is_open_for_the_invented_maker_and_shut_for_strangers() -> None:
    assert "saltmark" in installed()
    assert decoder_for("SALTMARK Imaging") is not None
    assert decoder_for("Nobody") is None
