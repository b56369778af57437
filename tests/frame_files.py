"""Frames that tests write themselves: small JPEGs with the Exif tags that matter."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from PIL import Image
from PIL.TiffImagePlugin import IFDRational

START = datetime(2026, 4, 18, 6, 0, 0)


@dataclass(frozen=True, kw_only=True)
class Shot:
    """What a test frame records; the defaults are a bare 500 mm f/5.6 at 1/1000 s."""

    after_s: float = 0.0
    number: int = 1
    model: str = "Body One"
    serial: str | None = "1001"
    lens: str | None = "Long 500mm f/5.6"
    focal_mm: float = 500.0
    f_number: float = 5.6
    iso: int = 800
    exposure_time_s: float = 1 / 1000
    program: int = 4
    whole_seconds: bool = False
    crop: float = 1.0
    side_px: int = 8
    """Of the square picture; from 2000 on a full-frame sensor's pixels are of a size that there is."""
    utc_offset: str | None = None


def write_frame(path: Path, shot: Shot) -> Path:
    """Write one frame as a JPEG of a few pixels."""
    taken = START + timedelta(seconds=shot.after_s)
    exif = Image.Exif()
    exif[0x010F] = "Testmaker"
    exif[0x0110] = shot.model
    details = exif.get_ifd(0x8769)
    details[0x829A] = IFDRational(1, round(1 / shot.exposure_time_s))
    details[0x829D] = IFDRational(round(shot.f_number * 10), 10)
    details[0x8822] = shot.program
    details[0x8827] = shot.iso
    details[0x9003] = taken.strftime("%Y:%m:%d %H:%M:%S")
    if not shot.whole_seconds:
        details[0x9291] = f"{taken.microsecond // 1000:03d}"
    if shot.utc_offset:
        details[0x9011] = shot.utc_offset
    details[0x9204] = IFDRational(0, 1)
    details[0x9209] = 0
    details[0x920A] = IFDRational(round(shot.focal_mm * 10), 10)
    details[0xA405] = round(shot.focal_mm * shot.crop)
    if shot.serial:
        details[0xA431] = shot.serial
    if shot.lens:
        details[0xA434] = shot.lens if shot.lens.isascii() else shot.lens.encode()
    path.parent.mkdir(parents=True, exist_ok=True)
    # The shade keeps the bytes of different frames different, as those of real frames are.
    Image.new("L", (shot.side_px, shot.side_px), shot.number % 256).save(path, exif=exif)
    return path


def write_card(folder: Path, shots: list[Shot]) -> list[Path]:
    """Write frames as a card holds them."""
    return [write_frame(folder / "DCIM" / "100TEST" / f"TST_{shot.number:04d}.JPG", shot) for shot in shots]
