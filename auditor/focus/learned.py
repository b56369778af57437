"""The learned reading: boosted trees, trained on simulated frames, evaluated with numpy alone.

What it was trained on, with licences and figures, is in learned_provenance.json beside it; how, in
benchmarks/train_focus.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

WEIGHTS = "learned.npz"
DEEPEST = 40
MOST_OUTSIDE = 2
"""So many numbers may lie outside what training saw before the reading is not trusted."""


@dataclass(frozen=True, slots=True)
class Trees:
    """A sum of regression trees, all nodes in one row of arrays; a leaf points to itself."""

    feature: NDArray[np.int64]
    threshold: NDArray[np.float64]
    left: NDArray[np.int64]
    right: NDArray[np.int64]
    missing_left: NDArray[np.bool_]
    value: NDArray[np.float64]
    roots: NDArray[np.int64]
    start: float

    def total(self, row: NDArray[np.float64]) -> float:
        """The sum for one row of features."""
        nodes = self.roots
        for _step in range(DEEPEST):
            values = row[self.feature[nodes]]
            go_left = np.where(np.isnan(values), self.missing_left[nodes], values <= self.threshold[nodes])
            following = np.where(go_left, self.left[nodes], self.right[nodes])
            if np.array_equal(following, nodes):
                break
            nodes = following
        return self.start + float(self.value[nodes].sum())


@dataclass(frozen=True, slots=True)
class Learned:
    """What the trees say of a region."""

    sigma_px: float
    """Blur without the camera's own, px."""
    low_px: float
    high_px: float
    """90 % interval, widened until it held on scenes that training had not seen."""
    motion_share: float
    """How likely motion is, 0 to 1."""
    outside: bool
    """Whether the region is unlike everything that training saw."""


def read(row: NDArray[np.float64]) -> Learned:
    """Read a row of `features.features`."""
    model = _model()
    middle, low, high = (model[name].total(row) for name in ("middle", "low", "high"))
    ranges, widen = _limits()
    outside = int(((row < ranges[0]) | (row > ranges[1])).sum())
    return Learned(
        sigma_px=float(np.exp(middle)),
        low_px=float(np.exp(min(low, middle) - widen[0])),
        high_px=float(np.exp(max(high, middle) + widen[1])),
        motion_share=float(1 / (1 + np.exp(-model["motion"].total(row)))),
        outside=outside > MOST_OUTSIDE,
    )


@cache
def _arrays() -> dict[str, NDArray[np.float64]]:
    place = resources.files("auditor.focus") / WEIGHTS
    with place.open("rb") as file, np.load(file) as stored:
        return {name: stored[name] for name in stored.files}


@cache
def _model() -> dict[str, Trees]:
    stored = _arrays()
    return {
        name: Trees(
            feature=stored[f"{name}_feature"].astype(np.int64),
            threshold=stored[f"{name}_threshold"].astype(np.float64),
            left=stored[f"{name}_left"].astype(np.int64),
            right=stored[f"{name}_right"].astype(np.int64),
            missing_left=stored[f"{name}_missing_left"].astype(np.bool_),
            value=stored[f"{name}_value"].astype(np.float64),
            roots=stored[f"{name}_roots"].astype(np.int64),
            start=float(stored[f"{name}_start"]),
        )
        for name in ("middle", "low", "high", "motion")
    }


@cache
def _limits() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest of each feature in training, shape (2, features); how much to widen the interval."""
    stored = _arrays()
    return stored["ranges"].astype(np.float64), stored["widen"].astype(np.float64)
