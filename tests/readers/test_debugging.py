"""AUDITOR_DEBUG=1 shows what a decoder raised, which otherwise costs only the maker's note."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
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


def corrupted_scan(path: Path) -> Path:
    """Zeros where the picture's data was, as of a card that read badly."""
    data = bytearray(SAMPLE.read_bytes())
    start = data.rindex(b"\xff\xda") + 200  # start of scan (ITU-T T.81, table B.1)
    data[start : start + 4000] = b"\xff\xb5" * 2000
    return _written(path / "scan.jpg", bytes(data))


def no_picture(path: Path) -> Path:
    """A HEIF without its items."""
    return _written(path / "frame.heic", b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00" * 64)


def damaged_tiff(path: Path) -> Path:
    """A strip that is no LZW."""
    Image.new("RGB", (64, 64), "olive").save(path / "card.tif", compression="tiff_lzw")
    data = bytearray((path / "card.tif").read_bytes())
    with TiffImageFile(path / "card.tif") as written:
        (strip,), (size,) = written.tag_v2[273], written.tag_v2[279]
    data[strip : strip + size] = b"\xff" * size
    return _written(path / "card.tif", bytes(data))


def _written(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("asked", [False, True])
@pytest.mark.parametrize("damaged", [corrupted_scan, no_picture, damaged_tiff])
def test_what_a_library_says_of_a_damaged_picture(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    damaged: Callable[[Path], Path],
    asked: bool,
) -> None:
    """A photographer is told what is wrong and what to do, in words that a test of ours holds whole."""
    monkeypatch.setenv("AUDITOR_DEBUG", "1" if asked else "")
    path = str(damaged(tmp_path))
    with pytest.raises(CorruptFileError) as error:
        pixels.decode(path)
    assert error.value.reason in (pixels.PICTURE_DAMAGED, pixels.NOT_DECODED)
    assert ("Traceback" in capsys.readouterr().err) == asked


@pytest.mark.parametrize("damaged", [no_picture, damaged_tiff])
def test_a_picture_that_is_looked_at_is_refused_in_the_same_words(
    tmp_path: Path, damaged: Callable[[Path], Path]
) -> None:
    with pytest.raises(CorruptFileError) as error:
        colour(str(damaged(tmp_path)), None)
    assert error.value.reason in (pixels.PICTURE_DAMAGED, pixels.NOT_DECODED)


@pytest.mark.parametrize("read", [lambda path: pixels.decode(path), lambda path: colour(path, None)])
@pytest.mark.parametrize("kept", [300, 600])
def test_a_jpeg_whose_head_is_damaged_is_told_in_plain_words(
    tmp_path: Path, read: Callable[[str], object], kept: int
) -> None:
    """Whether it is measured or looked at."""
    path = _written(tmp_path / "A.JPG", SAMPLE.read_bytes()[:kept] + b"\xff\xd9")
    with pytest.raises(CorruptFileError) as error:
        read(str(path))
    assert error.value.reason == pixels.HEADER_DAMAGED
    assert error.value.reason.startswith("the head of its JPEG is damaged or cut short; copy the file again")
