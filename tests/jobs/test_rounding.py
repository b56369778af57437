"""Processors round differently: no verdict of the sample trip may hang on that."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from auditor.focus import network
from auditor.focus.network import Tiles
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames

SAMPLE = Path(__file__).parents[2] / "sample_images"
MARGIN = 1e-3
"""Ten times what two programs that run the network on one processor differ by, as tested below."""


def verdicts(logbook: Path) -> dict[str, str]:
    with open_logbook(logbook) as book:
        return {Path(row.path or "").name: str(row.verdict) for row in selected_frames(book)}


@pytest.mark.parametrize("share", [1 - MARGIN, 1 + MARGIN])
def test_no_verdict_of_the_sample_hangs_on_rounding(
    share: float,
    measured_sample: Callable[[Path], Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    look = network.look

    def rounded_otherwise(luma: np.ndarray) -> Tiles:
        tiles = look(luma)
        return replace(
            tiles,
            features=tiles.features * np.float32(share),
            log2_sigma=tiles.log2_sigma * np.float32(share),
            log_spread=tiles.log_spread * np.float32(share),
        )

    monkeypatch.setattr(network, "look", rounded_otherwise)
    scan(tmp_path / "other.sqlite", [SAMPLE], Settings())
    with open_logbook(tmp_path / "other.sqlite") as book:
        measure(book)
    (tmp_path / "first").mkdir()
    told, expected = verdicts(tmp_path / "other.sqlite"), verdicts(measured_sample(tmp_path / "first"))
    assert {name: (told[name], expected[name]) for name in told if told[name] != expected[name]} == {}


def test_two_programs_that_run_the_network_agree_within_the_margin() -> None:
    """OpenCV's own runner (read from the same file) against ONNX Runtime, on a picture of the sample."""
    path = sorted((SAMPLE / "DCIM" / "100SALT").glob("*.JPG"))[0]
    luma = np.asarray(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE), np.uint8)[:256, :320]
    here = network.look(luma)
    net = cv2.dnn.readNetFromONNX(np.frombuffer(network.trunk_file(), np.uint8))
    net.setInput(luma.astype(np.float32)[None, None] / 255)
    features, tiles = (np.asarray(out) for out in net.forward(["features", "tiles"]))
    apart = np.abs(features[0].transpose(1, 2, 0) - here.features).max()
    assert apart < MARGIN / 10 * np.abs(here.features).max()
    assert np.abs(tiles[0, 0] - here.log2_sigma).max() < MARGIN / 10 * np.abs(here.log2_sigma).max()
