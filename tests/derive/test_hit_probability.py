"""How likely frames are hits: rates with unclear frames in them, and how often the camera's word is right."""

from __future__ import annotations

import math
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from auditor.analysis.kit_encounters import kit_encounters
from auditor.analysis.kit_table import kit_table
from auditor.analysis.losses import arms_of
from auditor.derive.rebuild import rebuild
from auditor.focus.network import LEVELS
from auditor.frames.declared import ForFrame
from auditor.frames.facts import frame_facts
from auditor.frames.kit import Kit
from auditor.jobs.scan import scan
from auditor.records import Inferred, Recorded
from auditor.settings import Settings
from auditor.store import readings
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_card
from tests.written_readings import reading

ENCOUNTERS, FRAMES = 8, 25
APART_S = 900.0
"""All within two hours: the camera's own blur is not calibrated then, and readings stay as written."""
LIMIT_PX = 1.208
"""A disc of 28.84 um (C: full diagonal / 1500) on pixels of 5.97 um, as the sigma of a Gaussian (D)."""


@pytest.fixture
def card(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A logbook of 8 encounters of 25 frames, nothing measured."""

    def with_pixels(recorded: Recorded, declared: ForFrame, **seen: bool) -> tuple[Kit, Inferred]:
        kit, facts = frame_facts(recorded, declared, **seen)
        return kit, facts._replace(pixel_pitch_um=5.97, sensor_diagonal_mm=43.267, converter_factor=1.0)

    monkeypatch.setattr("auditor.derive.rebuild.frame_facts", with_pixels)
    shots = [
        Shot(number=1 + encounter * FRAMES + place, after_s=encounter * APART_S + place * 0.5)
        for encounter in range(ENCOUNTERS)
        for place in range(FRAMES)
    ]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    return path


def sharp_and_soft(rng: np.random.Generator, number: int) -> tuple[list[Any], list[bool]]:
    """Readings of frames, and whether each is in focus.

    Half are sharp and read well; half lie about the criterion and read badly (invented). Given a reading,
    the logarithm of blur is normal, by its kind (D: the product of two normal densities), so the quantiles
    are right.
    """
    z = np.array([NormalDist().inv_cdf(level) for level in LEVELS])
    found, hits = [], []
    for place in range(number):
        centre, width, error = (-0.29, 0.25, 0.1) if place % 2 else (0.05, 0.2, 0.4)
        blur = rng.normal(centre, width)
        weight = width**2 / (width**2 + error**2)
        middle = weight * (blur + rng.normal(0, error)) + (1 - weight) * centre
        quantiles = LIMIT_PX * np.exp(middle + math.sqrt(weight) * error * z)
        found.append(tuple(float(one) for one in quantiles))
        hits.append(bool(blur < 0))
    return found, hits


def write(book: Logbook, frame_ids: list[int], quantiles: list[Any]) -> None:
    written = [
        reading(own[4], frame_id=one, quantiles_px=own, sigma_low_px=own[0], sigma_high_px=own[-1])
        for one, own in zip(frame_ids, quantiles, strict=True)
    ]
    with book.writing():
        readings.write(book, written)


def ids(book: Logbook) -> list[int]:
    return [row[0] for row in book.query("SELECT frame_id FROM frames ORDER BY file_number")]


def test_a_rate_counts_unclear_frames_by_how_likely_they_are_hits(card: Path) -> None:
    """Most misses are unclear here: of the decided frames far too many are hits."""
    quantiles, hits = sharp_and_soft(np.random.default_rng(5), ENCOUNTERS * FRAMES)
    truth = sum(hits) / len(hits)
    with open_logbook(card) as book:
        write(book, ids(book), quantiles)
        rebuild(book, Settings())
        (row,) = kit_table(book)
        table = kit_encounters(book)
    assert row.hits / row.judged > truth + 0.1
    assert row.hit_rate == pytest.approx(truth, abs=0.05)
    assert row.hit_rate_low is not None
    assert row.hit_rate_high is not None
    assert row.hit_rate_low < truth < row.hit_rate_high
    assert row.hit_rate_frames == ENCOUNTERS * FRAMES
    # Counts stay what was decided, and comparisons see what the rate sees.
    assert row.judged + row.unclear == ENCOUNTERS * FRAMES
    assert row.unclear > 0.2 * ENCOUNTERS * FRAMES
    arms = arms_of(table, row.kit_id, row.kit_id)
    assert arms.hits.sum() / arms.frames.sum() == pytest.approx(row.hit_rate)


def with_word(book: Logbook, word: str) -> None:
    with book.writing():
        book.execute("UPDATE frames SET camera_word = ?", (word,))
        book.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames")


def test_the_cameras_word_counts_by_how_often_it_was_right(card: Path) -> None:
    """Measured frames with the word `confirmed` are hits in 0.3 of cases: so are those not measured."""
    z = np.array([NormalDist().inv_cdf(level) for level in LEVELS])
    middle = -0.2 * NormalDist().inv_cdf(0.3)
    quantiles = [tuple(float(one) for one in LIMIT_PX * np.exp(middle + 0.2 * z))] * 100
    with open_logbook(card) as book:
        with_word(book, "confirmed")
        write(book, ids(book)[:100], quantiles)
        rebuild(book, Settings())
        rows = book.query(
            "SELECT verdict, hit_probability FROM frame_facts WHERE verdict_source = 'camera_word'"
        )
        (row,) = kit_table(book)
    assert len(rows) == 100
    assert {tuple(one) for one in rows} == {("hit", 0.3)}
    assert row.hit_rate == pytest.approx(0.3, abs=0.01)


def test_too_few_measured_frames_say_nothing_of_the_cameras_word(card: Path) -> None:
    quantiles, _hits = sharp_and_soft(np.random.default_rng(5), 10)
    with open_logbook(card) as book:
        with_word(book, "not_confirmed")
        write(book, ids(book)[:10], quantiles)
        rebuild(book, Settings())
        rows = book.query(
            "SELECT hit_probability, json_extract(missing, '$.hit_probability') FROM frame_facts "
            "WHERE verdict_source = 'camera_word'"
        )
    assert {tuple(one) for one in rows} == {(None, "not_measured")}


def test_a_body_with_few_measured_frames_borrows_from_all_bodies(card: Path) -> None:
    """90 frames of one body hit in 0.3 of cases, 10 of another in 0.7: in all 0.34, so (7 + 3.4) / 20 = 0.52.

    A. Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), section 2.4: the mean of a beta posterior
    whose prior is worth ten frames (R).
    """
    z = np.array([NormalDist().inv_cdf(level) for level in LEVELS])

    def hit_in(share: float) -> tuple[float, ...]:
        middle = -0.2 * NormalDist().inv_cdf(share)
        return tuple(float(one) for one in LIMIT_PX * np.exp(middle + 0.2 * z))

    with open_logbook(card) as book:
        with book.writing():
            book.execute("UPDATE frames SET body_serial = 'other' WHERE file_number > 150")
        with_word(book, "confirmed")
        own, others = ids(book)[:90], ids(book)[150:160]
        write(book, own + others, [hit_in(0.3)] * 90 + [hit_in(0.7)] * 10)
        rebuild(book, Settings())
        rows = book.query(
            "SELECT DISTINCT body_serial = 'other', hit_probability FROM frame_facts "
            "WHERE verdict_source = 'camera_word' ORDER BY 1"
        )
    assert [row[1] for row in rows] == pytest.approx([0.304, 0.52], abs=0.011)  # in hundredths
