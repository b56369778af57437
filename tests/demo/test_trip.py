"""The invented trip: the same bytes for the same seed, and metadata that another library reads as meant."""

from __future__ import annotations

import csv
import hashlib
from collections import Counter, defaultdict
from datetime import date
from fractions import Fraction
from math import log2
from pathlib import Path

import exiv2
import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.demo import trip
from auditor.demo.trip import write
from auditor.derive.rebuild import rebuild
from auditor.errors import OutputError
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_images"


def truth_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "truth.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


TRUTH = truth_of(SAMPLE)


def digest(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="module")
def spring(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A short trip: rendering is what takes time here."""
    folder = tmp_path_factory.mktemp("trips") / "spring"
    write(folder, frames=12)
    return folder


def test_the_same_seed_gives_the_same_bytes(spring: Path, tmp_path: Path) -> None:
    write(tmp_path / "again", frames=12)
    write(tmp_path / "other", frames=12, seed=7)
    assert digest(tmp_path / "again") == digest(spring)
    assert digest(tmp_path / "other") != digest(spring)


def test_processes_change_no_byte(spring: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trip, "WORTH_WORKERS", 2)
    write(tmp_path / "two", frames=12, jobs=2)
    assert digest(tmp_path / "two") == digest(spring)


def test_a_trip_on_another_day_is_another_trip_of_the_logbook(spring: Path, tmp_path: Path) -> None:
    write(tmp_path / "autumn", frames=12, seed=7, first_day=date(2026, 9, 27))
    taken = [row["taken_at"] for row in truth_of(tmp_path / "autumn")]
    assert {text[:10] for text in taken} <= {"2026-09-27", "2026-09-28"}
    scan(tmp_path / "logbook.sqlite", [spring, tmp_path / "autumn"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        rebuild(book, Settings())
        starts = [row[0][:10] for row in book.query("SELECT first_at FROM trips ORDER BY first_at")]
        (frames,) = book.query("SELECT COUNT(*) FROM frames")[0]
    assert starts == ["2026-04-18", "2026-09-27"]
    assert frames == len(taken) + len(truth_of(spring))


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(OutputError, match="not empty"):
        write(tmp_path, frames=5)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_the_sample_is_the_default_trip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pixels may differ by a rounding between machines, and are left grey here; what was meant may not."""
    monkeypatch.setattr(
        trip, "render", lambda spec: np.full((spec.height_px, spec.width_px, 3), 128, np.uint8)
    )
    write(tmp_path / "trip")
    for name in ("truth.csv", "truth_deleted.csv", "README.md"):
        made = (tmp_path / "trip" / name).read_text(encoding="utf-8")
        assert made == (SAMPLE / name).read_text(encoding="utf-8"), "run `make sample`"


def test_the_sample_is_of_the_promised_size() -> None:
    frames = list(SAMPLE.rglob("*.JPG"))
    assert 80 <= len(frames) <= 120
    assert len(frames) == len(TRUTH)
    assert sum(path.stat().st_size for path in SAMPLE.rglob("*") if path.is_file()) < 12e6


def test_what_the_scenario_promises_is_in_it() -> None:
    kits = {(row["body"], row["lens"], row["converter_factor"]) for row in TRUTH}
    assert len(kits) == 6
    assert {row["kind"] for row in TRUTH} == {"sharp", "soft", "smeared", "elsewhere"}
    assert {row["camera_word"] for row in TRUTH} >= {"confirmed", "not_confirmed", "manual"}
    bodies_of = defaultdict(set)
    for row in TRUTH:
        bodies_of[row["encounter"]].add(row["body"])
    assert Counter(len(bodies) for bodies in bodies_of.values())[2] >= 3
    light = [float(row["light_value_ev"]) for row in TRUTH]
    assert min(light) < 9 < 13 < max(light)
    names = sorted(Path(row["file"]).stem for row in TRUTH)
    numbers = [int(name[-4:]) for name in names if name.startswith("F2A")]
    assert len(numbers) < numbers[-1] - numbers[0] + 1, "frames were deleted in camera"
    assert any(name.endswith("0001") or name.endswith("0002") for name in names if name.startswith("S2B"))


def exif_of(path: Path) -> dict[str, str]:
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    return {datum.key(): datum.toString() for datum in image.exifData()}


def xmp_of(path: Path) -> dict[str, str]:
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    return {datum.key(): datum.toString() for datum in image.xmpData()}


@pytest.mark.parametrize("row", TRUTH[::7], ids=lambda row: Path(row["file"]).stem)
def test_another_library_reads_what_was_meant(row: dict[str, str]) -> None:
    """exiv2 (PyPI) as the outside reader."""
    exif = exif_of(SAMPLE / row["file"])
    assert exif["Exif.Image.Model"] == row["body"]
    assert exif["Exif.Photo.LensModel"].startswith(row["lens"])
    assert exif["Exif.Photo.DateTimeOriginal"].replace(":", "-", 2) == row["taken_at"][:19].replace("T", " ")
    xmp = xmp_of(SAMPLE / row["file"])
    area = "Xmp.mwg-rs.Regions/mwg-rs:RegionList[1]/mwg-rs:Area/stArea:"
    assert (xmp[area + "x"], xmp[area + "y"]) == (row["focus_x"], row["focus_y"])
    assert xmp["Xmp.mwg-rs.Regions/mwg-rs:RegionList[1]/mwg-rs:Type"] == "Focus"


def silent(row: dict[str, str]) -> bool:
    return (row["body"], row["converter_factor"]) == ("Saltmark S2", "1.4")


@pytest.mark.parametrize("row", TRUTH[::5], ids=lambda row: Path(row["file"]).stem)
def test_exposure_is_physically_right(row: dict[str, str]) -> None:
    """Normal exposure: 2 log2 N - log2 t - log2(ISO/100) + bias is the light (Exif 2.2 annex C, S).

    Within a third of a stop, the step of ISO; behind the silent converter the numbers claim a stop less
    light than there was. A body at the end of its ISO may be darker.
    """
    exif = exif_of(SAMPLE / row["file"])
    n, t = (float(Fraction(exif[f"Exif.Photo.{name}"])) for name in ("FNumber", "ExposureTime"))
    iso = float(exif["Exif.Photo.ISOSpeedRatings"])
    bias_ev = float(Fraction(exif["Exif.Photo.ExposureBiasValue"]))
    told_ev = 2 * log2(n) - log2(t) - log2(iso / 100) + bias_ev
    expected_ev = float(row["light_value_ev"]) - (1 if silent(row) else 0)
    if iso < 12_800:
        assert_allclose(told_ev, expected_ev, atol=0.34)
    assert (float(row["f_number"]) == n) is not silent(row)


def test_the_auditor_reads_the_trip_as_it_was(tmp_path: Path) -> None:
    """Kits, camera word and focus place of every frame against the truth."""
    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [SAMPLE], Settings())
    with open_logbook(logbook) as book:
        facts = {
            Path(row["path"]).relative_to(SAMPLE).as_posix(): dict(row)
            for row in book.query("SELECT * FROM frame_facts")
        }
    assert len(facts) == len(TRUTH)
    sources: Counter[str] = Counter()
    for row in TRUTH:
        fact = facts[row["file"]]
        known_factor = 1.0 if silent(row) else float(row["converter_factor"])
        assert fact["converter_factor"] == known_factor
        assert fact["lens_name"] == row["lens"]
        assert fact["camera_word"] == row["camera_word"]
        assert fact["body_serial"]
        assert_allclose(fact["pixel_pitch_um"], 5.97 if row["body"].endswith("F2") else 3.9, rtol=1e-3)
        sources[fact["converter_source"]] += 1
        if row["camera_word"] == "manual":  # the area was there, but it was not used
            assert fact["af_x"] is None
            continue
        x, y = float(row["focus_x"]), float(row["focus_y"])
        if fact["width_px"] < fact["height_px"]:  # turned right by a quarter: left becomes top, top right
            x, y = 1 - y, x
        assert_allclose((fact["af_x"], fact["af_y"]), (x, y), atol=1e-6)
    assert set(sources) == {"none", "lens_name", "maker_note", "geometry"}
