"""Decoding: upright in all eight positions, the JPEG inside a raw, damaged and impossible pictures."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from auditor.errors import IncompleteFileError, MissingPackageError, UnreadableFileError
from auditor.readers.pixels import decode
from tests.beside import REAL_FRAMES, needs_real_frames
from tests.readers.written_frames import raf


def picture(width_px: int = 96, height_px: int = 64) -> Image.Image:
    rows, columns = np.mgrid[0:height_px, 0:width_px]
    grey = (rows * 2 + columns).astype(np.uint8)
    return Image.fromarray(np.dstack([grey] * 3))


def jpeg(orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    out = io.BytesIO()
    picture().save(out, "JPEG", quality=97, exif=exif)
    return out.getvalue()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_upright_as_pillow_turns_it(tmp_path: Path, orientation: int) -> None:
    """Reference: Pillow's ImageOps.exif_transpose."""
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg(orientation))
    with Image.open(path) as stored:
        expected = np.asarray(ImageOps.exif_transpose(stored).convert("L"))
    found = decode(str(path), orientation=orientation)
    assert found.source == "jpeg"
    assert found.luma.shape == expected.shape
    assert np.abs(found.luma.astype(int) - expected).max() <= 3


def test_a_picture_cut_short_is_refused_and_says_how_much_is_missing(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    data = jpeg()
    path.write_bytes(data[: len(data) * 2 // 3])
    with pytest.raises(IncompleteFileError, match="cut short: the lowest 50 % of its picture"):
        decode(str(path))


def test_a_picture_that_states_an_impossible_size_is_refused(tmp_path: Path) -> None:
    data = bytearray(jpeg())
    frame = data.index(b"\xff\xc0")
    data[frame + 5 : frame + 9] = (30_000).to_bytes(2) * 2
    path = tmp_path / "bomb.jpg"
    path.write_bytes(data)
    with pytest.raises(UnreadableFileError, match="more than any camera writes") as caught:
        decode(str(path))
    assert caught.value.stage == "pixels"


@pytest.mark.parametrize(
    "data", [b"", b"\xff\xd8", b"\xff\xd8\xff\xe0 nothing", b"nothing", b"II*\0" + b"\0" * 40]
)
def test_what_is_no_picture_is_refused_with_a_reason(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(data)
    with pytest.raises(UnreadableFileError) as caught:
        decode(str(path))
    assert caught.value.stage == "pixels"
    assert caught.value.reason


def test_a_raw_without_its_package_says_what_to_install_and_other_files_are_still_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "rawpy", None)
    raw, scan = tmp_path / "a.dng", tmp_path / "a.tif"
    for path in (raw, scan):
        picture().save(path, "TIFF")
    with pytest.raises(MissingPackageError, match=r"auditor\[raw\]"):
        decode(str(raw))
    assert decode(str(scan)).source == "tiff"


@pytest.mark.parametrize(("raw_width_px", "flags"), [(99, ()), (101, ("small_preview",))])
def test_a_preview_under_six_tenths_of_the_raw_is_told_to_be_small(
    tmp_path: Path, raw_width_px: int, flags: tuple[str, ...]
) -> None:
    """Of 60 px; there is no raw data that could be developed in its place."""
    path = tmp_path / "a.raf"
    path.write_bytes(raf())
    found = decode(str(path), raw_width_px=raw_width_px)
    assert (found.luma.shape, found.source, found.flags) == ((40, 60), "embedded", flags)


def test_heif_is_decoded(tmp_path: Path) -> None:
    import pillow_heif

    pillow_heif.register_heif_opener()
    path = tmp_path / "a.heic"
    picture().save(path, quality=90)
    found = decode(str(path))
    assert found.source == "heif"
    assert found.luma.shape == (64, 96)


@needs_real_frames
@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("Canon_EOS_RP___MG_0635.JPG", "jpeg"),
        ("Canon_EOS_R6__Canon-R6-pruned.CR3", "embedded"),
        ("ILCE-1__Sony.HIF", "heif"),
    ],
)
def test_real_frames_are_decoded(name: str, source: str) -> None:
    found = decode(str(REAL_FRAMES / name))
    assert found.source == source
    assert min(found.luma.shape) > 90


@needs_real_frames
@pytest.mark.parametrize("name", ["PENTAX_K-3_II__j_lstravatnet.pef", "DSLR-A330__sample.arw"])
def test_a_raw_whose_data_is_missing_is_no_hit_by_its_preview(name: str) -> None:
    """These were cut off behind their metadata: a sharp preview must not hand over a raw without its data."""
    with pytest.raises(IncompleteFileError, match="cut short"):
        decode(str(REAL_FRAMES / name))
