"""Standard tags and XMP against the exiv2 library (R: exiv2, the version that is installed).

Runs on files that this test writes, on ../shared/real_frames when it is there, and on the folder that
AUDITOR_CORPUS names. Where the two differ for a reason, EXPLAINED says which.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import exiv2
import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from auditor.errors import AuditorError
from auditor.readers.folder import walk
from auditor.readers.frame import found_file, read_file
from auditor.readers.tiff import ByteOrder
from auditor.records import FileReading, Recorded

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.beside import REAL_FRAMES, needs_real_frames
from tests.readers.written_frames import EVERY_CONTAINER, exif_block, jpeg
from tests.reference.real_files import CORPUS

exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)

Theirs = dict[str, str]


def quotient(text: str) -> float | None:
    """The first number of exiv2's text; None where that divides by zero."""
    try:
        return float(Fraction(text.split()[0]))
    except (ValueError, ZeroDivisionError, IndexError):
        return None


def apex_f_number(text: str) -> float | None:
    apex = quotient(text)
    return 2 ** (apex / 2) if apex is not None and abs(apex) < 100 else None


def local_time(text: str) -> str:
    return text.strip().replace(":", "-", 2).replace(" ", "T")


def words(text: str) -> str:
    return " ".join(text.split())


# column -> (exiv2's keys, the first that is there; its text in our form)
COLUMNS: dict[str, tuple[tuple[str, ...], Callable[[str], Any]]] = {
    "body_make": (("Exif.Image.Make",), words),
    "body_model": (("Exif.Image.Model",), words),
    "software": (("Exif.Image.Software",), words),
    "orientation": (("Exif.Image.Orientation",), quotient),
    "taken_at": (("Exif.Photo.DateTimeOriginal", "Exif.Image.DateTimeOriginal"), local_time),
    "utc_offset": (("Exif.Photo.OffsetTimeOriginal",), words),
    "exposure_time_s": (("Exif.Photo.ExposureTime", "Exif.Image.ExposureTime"), quotient),
    "f_number": (("Exif.Photo.FNumber", "Exif.Image.FNumber"), quotient),
    "iso": (("Exif.Photo.ISOSpeedRatings", "Exif.Image.ISOSpeedRatings"), quotient),
    "exposure_bias_ev": (("Exif.Photo.ExposureBiasValue", "Exif.Image.ExposureBiasValue"), quotient),
    "exposure_program": (("Exif.Photo.ExposureProgram", "Exif.Image.ExposureProgram"), quotient),
    "exposure_mode": (("Exif.Photo.ExposureMode",), quotient),
    "focal_length_mm": (("Exif.Photo.FocalLength", "Exif.Image.FocalLength"), quotient),
    "focal_length_35mm_mm": (("Exif.Photo.FocalLengthIn35mmFilm",), quotient),
    "widest_f_number": (("Exif.Photo.MaxApertureValue", "Exif.Image.MaxApertureValue"), apex_f_number),
    "lens_name": (("Exif.Photo.LensModel",), words),
    "body_serial": (("Exif.Photo.BodySerialNumber", "Exif.Image.CameraSerialNumber"), words),
    "recorded_width_px": (("Exif.Photo.PixelXDimension",), quotient),
    "recorded_height_px": (("Exif.Photo.PixelYDimension",), quotient),
    "focus_distance_m": (("Exif.Photo.SubjectDistance",), quotient),
    "rating": (("Xmp.xmp.Rating", "Exif.Image.Rating"), quotient),
}


# (column, why the two differ, when)
EXPLAINED: list[tuple[str, str, Callable[[Recorded, Any], bool]]] = [
    *(
        (column, "0 is no value: left out, or another source stands in", lambda _, theirs: theirs == 0)
        for column in (
            "recorded_width_px", "recorded_height_px", "focal_length_35mm_mm", "focus_distance_m", "f_number",
            "exposure_time_s", "focal_length_mm", "iso", "orientation",
        )
    ),
    ("iso", "65535 is the end of the scale: the figure that SensitivityType names counts",
     lambda mine, theirs: theirs == 65535 and (mine.iso or 1e9) > 65535),
    ("widest_f_number", "an aperture of Av 0 or less is what bodies write for a lens they do not know",
     lambda mine, theirs: theirs is not None and theirs <= 1),
    ("lens_name", "a name of dashes, or of zeros, names no lens",
     lambda mine, theirs: not theirs.strip("-0. mf/")),
    ("body_serial", "empty text: the maker's note stands in", lambda mine, theirs: not theirs),
    ("taken_at", "a date that no calendar has",
     lambda mine, theirs: mine.taken_at is None and mine.missing["taken_at"] == "out_of_range"),
    ("taken_at", "zeros and blanks are no date", lambda mine, theirs: not theirs.strip("0 :-T")),
    ("utc_offset", "blanks are no offset", lambda mine, theirs: not theirs.strip(" :")),
    ("orientation", "an orientation is 1 to 8", lambda mine, theirs: not 1 <= (theirs or 0) <= 8),
    ("focus_distance_m", "4294967295 is infinity", lambda mine, theirs: theirs > 1e6),
    ("rating", "a rating is -1 or 0 to 5", lambda mine, theirs: theirs is None or not -1 <= theirs <= 5),
]  # fmt: skip


def exiv2_reads(path: Path) -> Theirs | None:
    try:
        image = exiv2.ImageFactory.open(str(path))
        image.readMetadata()
        found = {datum.key(): datum.toString() for datum in image.exifData()}
        return found | {datum.key(): datum.toString() for datum in image.xmpData()}
    except (exiv2.Exiv2Error, UnicodeDecodeError):
        return None


def same(column: str, mine: Any, theirs: Any) -> bool:
    if column == "taken_at":
        return str(mine)[:19] == str(theirs)
    if isinstance(mine, int | float) and isinstance(theirs, float):
        return bool(abs(mine - theirs) <= 1e-9 * max(1.0, abs(theirs)))
    return bool(mine == theirs)


def differences(reading: FileReading, theirs: Theirs) -> tuple[int, list[str]]:
    """How many facts exiv2 has too, and those on which the two differ without a reason."""
    recorded = reading.recorded
    # A HEIF is turned by its own boxes; its Exif tag at best repeats them.
    turned_by_boxes = reading.found.role == "heif"
    compared, unlike = 0, []
    for column, (keys, in_our_form) in COLUMNS.items():
        text = next((theirs[key] for key in keys if key in theirs), None)
        if text is None or (column == "orientation" and turned_by_boxes):
            continue
        mine, expected = getattr(recorded, column), in_our_form(text)
        compared += 1
        if same(column, mine, expected):
            continue
        if not any(column == name and when(recorded, expected) for name, _, when in EXPLAINED):
            unlike.append(f"{column}: {mine!r} here, {text!r} there")
    return compared, unlike


def compare(path: Path, at_least: int) -> None:
    theirs = exiv2_reads(path)
    assert theirs is not None
    compared, unlike = differences(read_file(found_file(path)), theirs)
    assert unlike == []
    assert compared >= at_least


# exiv2 does not read a CR3 without its picture tracks, a RAF without its raw directories, nor an RW2
# without the sensor's tags: those containers are compared on real files.
@pytest.mark.parametrize(
    "name", ["frame.jpg", "frame.tif", "frame.nef", "frame.dng", "frame.orf", "frame.hif"]
)
def test_written_containers(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(EVERY_CONTAINER[name]())
    compare(path, at_least=19)


@pytest.mark.parametrize("order", ["<", ">"])
def test_both_byte_orders_as_exiv2_reads_them(tmp_path: Path, order: ByteOrder) -> None:
    path = tmp_path / "frame.jpg"
    path.write_bytes(jpeg(exif_block(order=order)))
    compare(path, at_least=19)


@pytest.mark.parametrize("kind", ["jpg", "avif"])
@pytest.mark.parametrize("number", range(6))
def test_frames_written_by_pillow(tmp_path: Path, kind: str, number: int) -> None:
    path = tmp_path / f"frame.{kind}"
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0131] = "Northlight ", f"N {number}", "  Firmware   2 "
    photo = exif.get_ifd(0x8769)
    photo[0x829A] = IFDRational(1, 50 * 2**number)
    photo[0x829D] = IFDRational(28 + 7 * number, 10)
    photo[0x8827] = 100 * 2**number
    photo[0x9003] = f"2026:0{number + 1}:1{number} 0{number}:59:0{number}"
    photo[0x9204] = IFDRational(number - 3, 3)
    photo[0x9205] = IFDRational(497 + number, 100)
    photo[0x920A] = IFDRational(1001 + number * 333, 10)
    photo[0x9206] = IFDRational(7 * number, 4)
    photo[0xA405] = 150 * number
    photo[0xA431] = f"00{number}7"
    photo[0xA434] = f"Heron {number}00mm f/4"
    photo[0x9011] = f"-0{number}:30"
    Image.new("RGB", (32, 24)).save(path, exif=exif)
    compare(path, at_least=13)


@needs_real_frames
@pytest.mark.parametrize(
    "path",
    [path for path in sorted(REAL_FRAMES.iterdir()) if path.suffix not in (".md", ".toml", ".json")]
    if REAL_FRAMES.is_dir()
    else [],
    ids=lambda path: path.name,
)
def test_real_frames(path: Path) -> None:
    compare(path, at_least=10)


@needs_real_frames
def test_every_real_frame_as_expected_json_has_it() -> None:
    """Values that exiv2 read elsewhere, kept beside the files."""
    documents = json.loads((REAL_FRAMES / "expected.json").read_text(encoding="utf-8"))
    assert len(documents) >= 24
    for document in documents:
        reading = read_file(found_file(REAL_FRAMES / document["file"]))
        compared, unlike = differences(reading, document["exiv2"])
        assert unlike == [], document["file"]
        assert compared >= 6, document["file"]


@pytest.mark.skipif(not CORPUS, reason="AUDITOR_CORPUS names no folder")
def test_corpus() -> None:
    """99.5 % of all facts that both read are the same, or their difference is explained."""
    total, unlike, unread = 0, [], []
    for file in walk(Path(CORPUS or "")):
        theirs = exiv2_reads(Path(file.path))
        if file.role == "sidecar" or not theirs or "Exif.Image.Model" not in theirs:
            continue
        try:
            reading = read_file(file)
        except AuditorError as error:
            unread.append(str(error))
            continue
        compared, lines = differences(reading, theirs)
        total += compared
        unlike += [f"{Path(file.path).name} {line}" for line in lines]
    report = "\n".join([f"{total} compared, {len(unlike)} unlike, {len(unread)} unread", *unlike, *unread])
    assert total > 0, report
    assert len(unlike) <= 0.005 * total, report
    assert len(unread) <= 0.005 * total, report
