"""AUDITOR_DEBUG=1 shows what a decoder raised, which otherwise costs only the maker's note."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PIL import Image
from PIL.TiffImagePlugin import TiffImageFile

from auditor.errors import CorruptFileError
from auditor.readers import maker, pixels
from auditor.readers.colour import colour
from auditor.readers.frame import found_file, read_file

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT" / "F2A_0412.JPG"


@pytest.mark.parametrize("asked", [False, True])
def test_a_decoders_own_exception(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], asked: bool
) -> None:
    def wrong(_note: Any) -> Any:
        raise ZeroDivisionError("a fault in this decoder")

    monkeypatch.setattr(maker, "decoder_for", lambda _make: wrong)
    monkeypatch.setenv("AUDITOR_DEBUG", "1" if asked else "")
    recorded = read_file(found_file(SAMPLE)).recorded
    assert recorded.missing["focus_mode"] == "maker_note_unreadable"
    shown = capsys.readouterr().err
    assert ("ZeroDivisionError: a fault in this decoder" in shown) == asked
    assert ("Traceback" in shown) == asked


@pytest.mark.parametrize("asked", [False, True])
def test_what_the_raw_library_prints_past_python(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], tmp_path: Path, asked: bool
) -> None:
    """LibRaw writes "Unexpected end of file" with fprintf(stderr) (its datastream code, R)."""

    class LibRawError(Exception):
        pass

    def imread(_file: Any) -> Any:
        os.write(2, b"card.nef: Unexpected end of file\n")
        raise LibRawError

    monkeypatch.setitem(sys.modules, "rawpy", SimpleNamespace(imread=imread, LibRawError=LibRawError))
    monkeypatch.setenv("AUDITOR_DEBUG", "1" if asked else "")
    path = tmp_path / "card.nef"
    path.write_bytes(b"nothing of use")
    assert pixels._developed(str(path)) is None
    os.write(2, b"and on\n")
    shown = capfd.readouterr().err
    assert ("Unexpected end of file" in shown) == asked
    assert shown.endswith("and on\n")


def test_what_the_tiff_library_prints_past_python_while_a_page_is_made(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Libtiff prints that a strip ends early (its tif_read.c, R); a scan has said so in one line already."""
    monkeypatch.delenv("AUDITOR_DEBUG", raising=False)
    path = tmp_path / "card.tif"
    Image.new("RGB", (64, 64), "olive").save(path, compression="tiff_lzw")
    data = bytearray(path.read_bytes())
    with TiffImageFile(path) as written:
        (strip,), (size,) = written.tag_v2[273], written.tag_v2[279]  # StripOffsets, StripByteCounts
    data[strip : strip + size] = b"\xff" * size
    path.write_bytes(data)
    with pytest.raises(CorruptFileError):
        colour(str(path), None)
    assert capfd.readouterr().err == ""


def test_a_jpeg_whose_head_is_damaged_is_told_in_plain_words(tmp_path: Path) -> None:
    picture = (SAMPLE.read_bytes()[:600]) + b"\xff\xd9"
    with pytest.raises(CorruptFileError, match="the head of its JPEG is damaged or cut short"):
        pixels._jpeg(str(tmp_path / "A.JPG"), picture)
