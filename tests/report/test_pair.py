"""The pair: the same animal with a converter and without, cut to one angle, and what is said of it."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from auditor.report.pair import Pair, pair_of
from auditor.report.text.pair import PROVES_NOTHING, caption, label
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.pairs import pairs_of_trip, sharpest_of_kit
from benchmarks.simulated_logbook import FACTS_STAMP

NAMES = {1: "Bare", 2: "With", 3: "Other body"}
URAD = {1: 12.0, 2: 6.0, 3: 13.0}


def frame(frame_id: int, kit_id: int, at: str, **more: Any) -> dict[str, Any]:
    return {
        "frame_id": frame_id, "kit_id": kit_id, "at": f"2026-04-18T10:{at}", "encounter": 1, "keywords": "[]",
        "verdict": "hit", "blur_px": 1.0, "shift_s": 0, "iso": 400.0 * kit_id, **more,
    }  # fmt: skip


def logbook_of(folder: Path, *frames: dict[str, Any], pictures: bool = True) -> Path:
    """A logbook of one trip: kit 1 bare, kit 2 the same behind a 2x, kit 3 another body bare."""
    path = folder / "logbook.sqlite"
    with open_logbook(path, create=True) as book, book.writing():
        for kit_id, body, factor in ((1, "1", 1.0), (2, "1", 2.0), (3, "2", 1.0)):
            book.execute(
                "INSERT INTO kits VALUES (?, ?, ?, 'Saltmark', 'F2', ?, 'Long 500mm', ?)",
                (kit_id, str(kit_id), NAMES[kit_id], body, factor),
            )
        for one in frames:
            _put(book, folder, one, pictures)
        book.execute(
            "INSERT INTO trips VALUES (1, 'Marsh', '2026-04-18T10:00:00', '2026-04-18T11:00:00', ?, 'x')",
            (len(frames),),
        )
    return path


def _put(book: Logbook, folder: Path, one: dict[str, Any], pictures: bool) -> None:
    number = one["frame_id"]
    file = folder / f"{number}.jpg"
    if pictures:  # chequers from the middle on, twice as large behind the converter: one angle
        rows, columns = np.mgrid[-600:600, -900:900] // (32 if one["kit_id"] == 2 else 16)
        chequers = np.where((rows + columns) % 2, 220, 30).astype(np.uint8)
        Image.fromarray(np.dstack([chequers, chequers // 2, chequers // 4])).save(file, quality=95)
    book.execute(
        "INSERT INTO frames (frame_id, exposure_key, taken_at, iso, keywords, orientation, width_px, "
        "height_px) VALUES (?, ?, ?, ?, ?, 1, 1800, 1200)",
        (number, str(number), one["at"], one["iso"], one["keywords"]),
    )
    book.execute(
        "INSERT INTO files (frame_id, role, volume, path, stem, present, size_bytes, modified_at, "
        "fingerprint, recorded) VALUES (?, 'jpeg', '/', ?, ?, 1, 1, '2026', ?, '{}')",
        (number, str(file), str(number), str(number)),
    )
    book.execute(
        "INSERT INTO inferred (frame_id, taken_at, kit_id, focal_length_mm, pixel_pitch_um, "
        "converter_factor, converter_source, excluded, flags, missing, stamp, blur_px) "
        "VALUES (?, ?, ?, 500, ?, ?, 'none', 0, '[]', 0, ?, ?)",
        (number, one["at"], one["kit_id"], URAD[one["kit_id"]] / 2, 2.0 if one["kit_id"] == 2 else 1.0,
         FACTS_STAMP, one["blur_px"]),
    )  # fmt: skip
    book.execute(
        "INSERT INTO membership VALUES (?, 1, 1, ?, 1, 0, ?)",
        (number, one["encounter"], one.get("shift_s", 0)),
    )
    book.execute(
        "INSERT INTO verdicts VALUES (?, ?, 'pixels', ?, ?, NULL)",
        (number, one["verdict"], one["verdict"], FACTS_STAMP),
    )
    book.execute(
        "INSERT INTO readings (frame_id, measured_on, reading_version, fingerprint, scale, region, noise, "
        "texture, kind, flags) VALUES (?, 'jpeg', '1', 'f', 1, ?, 2.0, 1.0, 'sharp', '[]')",
        (number, '{"x": 0.5, "y": 0.5, "width": 0.3, "height": 0.3}'),
    )


def chosen(path: Path) -> list[tuple[int, int]]:
    with open_logbook(path) as book:
        return [(one.converted.frame_id, one.bare.frame_id) for one in pairs_of_trip(book, 1, most=20)]


@pytest.mark.parametrize(
    ("frames", "pairs"),
    [
        ([frame(1, 1, "00:00"), frame(2, 2, "00:59")], [(2, 1)]),
        ([frame(1, 1, "00:00"), frame(2, 2, "01:01")], []),
        # Another body whose clock is at home: times of one clock are compared.
        ([frame(1, 3, "00:00"), frame(2, 2, "30:20", shift_s=-1800)], [(2, 1)]),
        ([frame(1, 3, "00:00"), frame(2, 2, "00:20", shift_s=1800)], []),
        (
            [
                frame(1, 1, "00:00", keywords='["tern"]'),
                frame(2, 2, "05:00", keywords='["tern"]'),
            ],
            [(2, 1)],
        ),
        (
            [
                frame(1, 1, "00:00", keywords='["tern"]'),
                frame(2, 2, "00:10", keywords='["heron"]'),
            ],
            [],
        ),
        ([frame(1, 1, "00:00", verdict="miss"), frame(2, 2, "00:10")], []),
        ([frame(1, 1, "00:00", encounter=2), frame(2, 2, "00:10")], []),
        # The same body and lens before another body, however near that is.
        (
            [frame(1, 1, "00:00"), frame(2, 2, "00:50"), frame(3, 3, "00:51")],
            [(2, 1), (2, 3)],
        ),
        # The nearest in time, then the sharpest.
        (
            [
                frame(1, 1, "00:00"),
                frame(4, 1, "00:40", blur_px=2.0),
                frame(5, 1, "00:41", blur_px=0.5),
                frame(2, 2, "00:42"),
            ],
            [(2, 5), (2, 4), (2, 1)],
        ),
    ],
)
def test_which_frames_are_a_pair(
    tmp_path: Path, frames: list[dict[str, Any]], pairs: list[tuple[int, int]]
) -> None:
    assert chosen(logbook_of(tmp_path, *frames, pictures=False)) == pairs


def shown(path: Path) -> Pair | None:
    with open_logbook(path) as book:
        return pair_of(book, 1, [(2, 1)], NAMES)


def pixels(data: str) -> Any:
    with Image.open(io.BytesIO(base64.b64decode(data))) as picture:
        return np.asarray(picture.convert("RGB")).astype(float)


def test_both_are_cut_to_one_angle_and_the_finer_one_stays_at_true_size(tmp_path: Path) -> None:
    """A pixel of the 2x is half the angle of a bare one: 16 px bare show what 32 px show behind it."""
    pair = shown(logbook_of(tmp_path, frame(1, 1, "00:00"), frame(2, 2, "00:20")))
    assert pair is not None
    assert (pair.converted.kit_name, pair.bare.kit_name) == ("With", "Bare")
    assert (pair.converted.scaled, pair.bare.scaled) == (1.0, 2.0)
    assert pair.seconds_apart == pytest.approx(20, abs=0.01)
    with_it, bare = pixels(pair.converted.picture.data), pixels(pair.bare.picture.data)
    assert with_it.shape == bare.shape == (528, 528, 3)
    assert float(np.median(np.abs(with_it - bare))) < 12
    assert float(np.abs(with_it[..., 0] - with_it[..., 2]).max()) > 100  # in colour


def test_where_no_animal_has_both_the_sharpest_of_each_kit_stand_for_it(tmp_path: Path) -> None:
    path = logbook_of(
        tmp_path,
        frame(1, 1, "00:00", encounter=1, blur_px=0.9),
        frame(4, 1, "01:00", encounter=1, blur_px=0.7),
        frame(2, 2, "30:00", encounter=2),
    )
    with open_logbook(path) as book:
        assert sharpest_of_kit(book, 1, 1, most=1)[0].frame_id == 4
    pair = shown(path)
    assert pair is not None
    assert pair.seconds_apart is None
    assert "of other moments" in caption(pair.seconds_apart, pair.keywords, same_lens=pair.same_lens)


def test_there_is_no_pair_without_pictures_or_without_a_second_kit(tmp_path: Path) -> None:
    (tmp_path / "none").mkdir()
    (tmp_path / "one").mkdir()
    assert (
        shown(logbook_of(tmp_path / "none", frame(1, 1, "00:00"), frame(2, 2, "00:20"), pictures=False))
        is None
    )
    assert shown(logbook_of(tmp_path / "one", frame(1, 1, "00:00"))) is None


def test_the_caption_says_how_far_apart_and_that_one_pair_proves_nothing() -> None:
    told = caption(14.2, ["heron"], same_lens=True)
    assert (
        told == f"One encounter (heron), 14 seconds apart, both in focus, cut to one angle. {PROVES_NOTHING}"
    )
    assert "One encounter, two bodies, at" in caption(0.2, [], same_lens=False)
    assert "at the same moment" in caption(0.2, [], same_lens=False)
    assert label("F2 500 mm x 2", 1600, 1.0) == "F2 500 mm x 2, ISO 1600, at true size"
    assert label("F2 500 mm", None, 2.04) == "F2 500 mm, ISO –, scaled up 2.0 times"
