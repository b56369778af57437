"""Measuring: the sample trip against its truth, resumed runs, stale readings, damaged pictures."""

from __future__ import annotations

import base64
import csv
import json
import shutil
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from auditor.derive.rebuild import rebuild
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.report.write import write_report
from auditor.settings import Settings
from auditor.statistics.telling import ALL_KITS
from auditor.store.crops import colour_path, crop_path
from auditor.store.files import drop_folder
from auditor.store.frame_facts import FrameFacts
from auditor.store.hit_probability import telling
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from auditor.store.trips import trips_newest_first
from auditor.store.unreadable import unreadable_files

SAMPLE = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory, measured_sample: Callable[[Path], Path]) -> Path:
    return measured_sample(tmp_path_factory.mktemp("book"))


def facts(logbook: Path) -> list[FrameFacts]:
    with open_logbook(logbook) as book:
        return selected_frames(book)


def test_verdicts_of_the_sample_trip_against_what_was_rendered(sample: Path) -> None:
    """Aims: at least 95 % right where the verdict is not unclear, at most 15 % unclear."""
    lines = (SAMPLE / "truth.csv").read_text(encoding="utf-8").splitlines()
    truth = {row["file"]: row for row in csv.DictReader(lines)}
    table: Counter[tuple[str, str]] = Counter()
    for row in facts(sample):
        table[truth[Path(row.path or "").relative_to(SAMPLE).as_posix()]["verdict"], str(row.verdict)] += 1
    told = "; ".join(f"{true} read as {read}: {count}" for (true, read), count in sorted(table.items()))
    unclear = sum(count for (_true, read), count in table.items() if read == "unclear")
    right = sum(count for (true, read), count in table.items() if true == read)
    decided = table.total() - unclear
    assert table.total() == 88
    assert right >= 0.95 * decided, told
    assert unclear <= 0.15 * table.total(), told


def test_what_probabilities_tell_is_told_from_themselves_alone(sample: Path) -> None:
    """Misses have the base in the mean, and hits the share more: against what was rendered."""
    lines = (SAMPLE / "truth.csv").read_text(encoding="utf-8").splitlines()
    truth = {row["file"]: row for row in csv.DictReader(lines)}
    likely: dict[bool, list[float]] = {True: [], False: []}
    for row in facts(sample):
        one = truth[Path(row.path or "").relative_to(SAMPLE).as_posix()]
        if row.hit_probability is None or not row.pixel_pitch_um or not row.sensor_diagonal_mm:
            continue
        # Disc diameter: diagonal / 1500; four sigma; by the bare kit's angle for all.
        limit_px = row.sensor_diagonal_mm / 1.5 / 4 / row.pixel_pitch_um * (row.converter_factor or 1)
        hit = one["kind"] != "elsewhere" and float(one["blur_sigma_px"]) < limit_px
        likely[hit].append(row.hit_probability)
    hits, misses = (sum(values) / len(values) for values in (likely[True], likely[False]))
    with open_logbook(sample) as book:
        told = telling(book)
    base, share = (json.loads(told[name])[str(ALL_KITS)] for name in ("read_base", "read_share"))
    assert base == pytest.approx(misses, abs=0.04)
    assert share == pytest.approx(hits - misses, abs=0.05)


def test_every_measured_frame_has_its_columns_or_reasons(sample: Path) -> None:
    for row in facts(sample):
        assert row.measured_on == "jpeg"
        for name in (
            "blur_px",
            "blur_um",
            "blur_urad",
            "system_blur_px",
            "system_blur_urad",
            "verdict_on_subject",
        ):
            assert (getattr(row, name) is None) == (name in row.missing), (name, row.missing)
        if row.blur_um is not None:
            assert row.blur_px is not None
            assert row.pixel_pitch_um is not None
            assert row.focal_length_mm is not None
            assert row.blur_um == pytest.approx(row.blur_px * row.pixel_pitch_um)
            assert row.blur_urad == pytest.approx(row.blur_um / row.focal_length_mm * 1000)


def test_blur_with_the_lens_is_never_less_than_without(sample: Path) -> None:
    """Also where a scene read together told more of it than the frame alone."""
    told = [row for row in facts(sample) if row.blur_px is not None]
    assert len(told) > 80
    for row in told:
        assert row.blur_px is not None
        assert row.system_blur_px is not None
        assert row.system_blur_px >= row.blur_px, row.path


def test_motion_and_misplaced_focus_are_flagged(sample: Path) -> None:
    flags = Counter(flag for row in facts(sample) for flag in row.flags)
    assert flags["smeared"] >= 3
    assert flags["focus_elsewhere"] >= 1
    assert flags["words_disagree"] >= 3


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    for path in sorted((SAMPLE / "DCIM" / "100SALT").glob("*.JPG"))[:4]:
        shutil.copy2(path, folder / path.name)
    return folder


def test_a_second_run_measures_nothing_and_a_new_version_everything(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "logbook.sqlite"
    scan(path, [card], Settings())
    with open_logbook(path) as book:
        assert measure(book).measured == 4
        assert measure(book).measured == 0
        monkeypatch.setattr("auditor.focus.sharpness.VERSION", "next")
        outcome = measure(book)
        assert (outcome.measured, outcome.measured_again) == (4, 4)
        assert measure(book).measured_again == 0


def test_a_stopped_run_keeps_what_it_has_and_the_next_goes_on(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import auditor.jobs.measure as job

    path = tmp_path / "logbook.sqlite"
    scan(path, [card], Settings())
    monkeypatch.setattr(job, "CHUNK", 1)
    original, calls = job.measure_chunk, iter(range(9))

    def dies_on_the_third(frames: list[Any], **options: Any) -> list[Any]:
        if next(calls) == 2:
            raise KeyboardInterrupt
        return original(frames, **options)

    monkeypatch.setattr(job, "measure_chunk", dies_on_the_third)
    with open_logbook(path) as book:
        with pytest.raises(KeyboardInterrupt):
            measure(book)
        monkeypatch.setattr(job, "measure_chunk", original)
        assert measure(book).measured == 2


def test_a_picture_that_cannot_be_decoded_is_listed_once_and_the_others_go_on(
    card: Path, tmp_path: Path
) -> None:
    broken = sorted(card.iterdir())[1]
    data = broken.read_bytes()
    place = data.index(b"\xff\xda")  # Exif stays, the picture's data goes
    broken.write_bytes(data[:place])
    path = tmp_path / "logbook.sqlite"
    scan(path, [card], Settings())
    with open_logbook(path) as book:
        outcome = measure(book)
        assert (outcome.measured, len(outcome.unreadable)) == (3, 1)
        assert measure(book).unreadable == []
        assert [file.stage for file in unreadable_files(book)] == ["pixels"]
    (again,) = scan(path, [card], Settings())
    assert again.read == 0
    assert again.unreadable == []  # its metadata is in the logbook
    assert [Path(name).name for name, _reason in again.undecodable] == [broken.name]
    with open_logbook(path) as book:
        assert [file.stage for file in unreadable_files(book)] == ["pixels"]


@pytest.mark.parametrize(
    ("error", "tried_again"), [(IndexError("index 0 is out of bounds"), False), (MemoryError(), True)]
)
def test_what_nobody_foresaw_in_one_picture_costs_that_picture_alone(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, tried_again: bool
) -> None:
    from auditor.focus import frame_measurement

    original, calls = frame_measurement.measure_frame, iter(range(9))

    def fails_at_the_second(*given: Any, **options: Any) -> Any:
        if next(calls) == 1:
            raise error
        return original(*given, **options)

    path = tmp_path / "logbook.sqlite"
    scan(path, [card], Settings())
    monkeypatch.setattr(frame_measurement, "measure_frame", fails_at_the_second)
    with open_logbook(path) as book:
        outcome = measure(book)
        monkeypatch.setattr(frame_measurement, "measure_frame", original)
        ((_path, reason),) = outcome.out_of_reach if tried_again else outcome.unreadable
        assert outcome.measured == 3
        assert reason == (
            "too large for this machine's memory"
            if tried_again
            else "the auditor failed at measuring it, which is its fault and not the file's (IndexError)"
        )
        assert measure(book).measured == int(tried_again)
        assert measure(book, again=True).measured == int(not tried_again)


def test_the_focus_area_is_kept_at_full_size_beside_the_logbook(card: Path, tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    scan(path, [card], Settings())
    with open_logbook(path) as book:
        measure(book, Settings(focus_picture_px=100))
        for row in book.query("SELECT frame_id FROM readings"):
            with Image.open(crop_path(path, row["frame_id"])) as picture:
                assert (picture.size, picture.mode) == ((100, 100), "L")
    with open_logbook(path) as book:
        rebuild(book, Settings())
        page = write_report(book, tmp_path / "report", trip=trips_newest_first(book)[0]).read_text(
            encoding="utf-8"
        )
        flagged = [row for row in selected_frames(book) if row.flags]
        shown = [colour_path(path, row.frame_id, "area") for row in flagged]
        kept = [base64.b64encode(picture.read_bytes()).decode() for picture in shown]
    assert kept
    assert all(picture in page for picture in kept)


def test_forgetting_a_folder_takes_its_pictures_of_focus_areas_away(card: Path, tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    scan(path, [card], Settings())
    with open_logbook(path) as book:
        measure(book)
        places = [crop_path(path, row["frame_id"]) for row in book.query("SELECT frame_id FROM frames")]
        assert all(place.exists() for place in places)
        with book.writing():
            drop_folder(book, str(card.resolve()))
        assert len(places) == 4
        assert not any(place.exists() for place in places)


def test_the_scanned_folder_is_not_written_to(card: Path, tmp_path: Path) -> None:
    def listing() -> list[tuple[str, int, int]]:
        return sorted((one.name, one.stat().st_size, one.stat().st_mtime_ns) for one in card.iterdir())

    before = listing()
    path = tmp_path / "logbook.sqlite"
    scan(path, [card], Settings())
    with open_logbook(path) as book:
        measure(book)
    assert listing() == before


def test_a_raw_that_lacked_its_package_is_measured_once_it_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "card").mkdir()
    Image.effect_noise((600, 600), 40).save(tmp_path / "card" / "a.dng", "TIFF")
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        with monkeypatch.context() as patch:
            patch.setitem(sys.modules, "rawpy", None)
            ((_path, reason),) = measure(book).unreadable
            assert 'pip install "auditor[raw]"' in reason
        assert measure(book).measured == 1
        assert unreadable_files(book) == []


def test_a_picture_that_needs_a_missing_package_is_counted_once(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second pass looks for other files of frames that failed: it must not take up those that only wait."""
    from auditor.errors import CorruptFileError, MissingPackageError
    from auditor.readers import pixels

    decode = pixels.decode

    def two_fail(path: str, **details: Any) -> Any:
        if path.endswith("0412.JPG"):
            raise MissingPackageError(path, "developing it needs a package", stage="pixels")
        if path.endswith("0413.JPG"):
            raise CorruptFileError(path, "its head is damaged", stage="pixels")
        return decode(path, **details)

    monkeypatch.setattr(pixels, "decode", two_fail)
    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [card], Settings())
    with open_logbook(logbook) as book:
        outcome = measure(book, Settings())
    assert sorted(Path(path).name[-8:] for path, _reason in outcome.unreadable) == ["0412.JPG", "0413.JPG"]
