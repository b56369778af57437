"""Each derived table follows the settings that it depends on, and no others."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from auditor.derive.rebuild import rebuild
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import derived, groups
from auditor.store.crops import crop_path
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_card

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT"


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    write_card(tmp_path / "card", [Shot(number=n, after_s=n * 2.0) for n in range(1, 7)])
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    return tmp_path / "logbook.sqlite"


def watched(monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """How many frames were inferred, and how many trips written, from now on."""
    counted = {"inferred": 0, "trips": 0}
    infer, take_over = derived.write_inferred, groups.NewGroups.take_over

    def count_inferred(book: Logbook, rows: Any) -> None:
        counted["inferred"] += len(rows)
        infer(book, rows)

    def count_trips(new: groups.NewGroups, span: Any, trips: Any) -> None:
        counted["trips"] += len(trips)
        take_over(new, span, trips)

    monkeypatch.setattr(derived, "write_inferred", count_inferred)
    monkeypatch.setattr(groups.NewGroups, "take_over", count_trips)
    return counted


@pytest.mark.parametrize(
    ("changed", "inferred", "regrouped"),
    [
        ({"focus_picture_px": 100.0}, 0, False),
        ({"least_fall": 0.1, "worth_gain": 0.1}, 0, False),
        ({"burst_gap_s": 3.0}, 0, True),
        ({"trip_gap_h": 10.0}, 0, True),
        ({"crop": 1.5}, 6, True),
    ],
)
def test_what_a_setting_makes_anew(
    logbook: Path, monkeypatch: pytest.MonkeyPatch, changed: dict[str, float], inferred: int, regrouped: bool
) -> None:
    counted = watched(monkeypatch)
    with open_logbook(logbook) as book:
        rebuild(book, replace(Settings(), **changed))
    assert counted["inferred"] == inferred
    assert bool(counted["trips"]) == regrouped


def test_a_longer_gap_joins_bursts_everywhere(logbook: Path) -> None:
    with open_logbook(logbook) as book:
        assert book.query("SELECT count(*) FROM bursts")[0][0] == 6
        rebuild(book, Settings(burst_gap_s=3.0))
        assert book.query("SELECT count(*) FROM bursts")[0][0] == 1
        rebuild(book, Settings())
        assert book.query("SELECT count(*) FROM bursts")[0][0] == 6


def test_pictures_of_focus_areas_are_cut_anew_to_another_size(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "card").mkdir()
    for path in sorted(SAMPLE.glob("*.JPG"))[:2]:
        shutil.copy2(path, tmp_path / "card")
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert measure(book, Settings(focus_picture_px=100)).measured == 2
        before = book.query("SELECT frame_id, sigma_px, region FROM readings")
        counted = watched(monkeypatch)
        outcome = measure(book, Settings(focus_picture_px=64))
        assert (outcome.measured, outcome.recut) == (0, 2)
        assert [tuple(row) for row in before] == [
            tuple(row) for row in book.query("SELECT frame_id, sigma_px, region FROM readings")
        ]
        for row in before:
            with Image.open(crop_path(book.path, row["frame_id"])) as picture:
                assert picture.size == (64, 64)
        assert counted["inferred"] == 0
        assert measure(book, Settings(focus_picture_px=64)).recut == 0
