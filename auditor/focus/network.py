"""The network that reads blur: a trunk that looks at luma, and a head that reads any set of its tiles.

The trunk takes the time; the head is a few small matrices. Both were trained by
benchmarks/train_focus.py; where, on what and with what score is in blur_provenance.json. There are two sets
of weights: one learned what lights far brighter than white look like out of focus (glints on water, sky
between leaves), whose discs have clear rims; the other reads regions without such lights a little better.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any

import numpy as np
from numpy.typing import NDArray

TRUNK, HEAD, CALIBRATION = "blur_trunk.onnx", "blur_head.npz", "blur_calibration.json"
OF_LIGHTS = "lights_"
"""The weights for regions with lights have this before their names."""
LIGHTS_SHARE, LIGHTS_OVER = 0.0002, 90
"""A region holds lights where this share of it is so many grey levels of 255 over its median. Of the pieces
to calibrate on, those with lights read better by the weights that are for them, the others by the others."""
TILE_PX = 16
LEVELS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95)
"""Of the quantiles that the head gives."""

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Tiles:
    """What the trunk says of each tile of 16 x 16 px."""

    features: Floats
    """(tile rows, tile columns, numbers)"""
    log2_sigma: Floats
    """(tile rows, tile columns): blur of each tile alone, log2 px."""
    log_spread: Floats
    """How far off that may be: the natural logarithm of the mean distance, which is in log2 px."""
    lights: bool = False
    """Which weights looked at it, and read it."""


@dataclass(frozen=True, slots=True)
class Told:
    """What the head says of a set of tiles."""

    sigma_px: tuple[float, ...]
    """Blur without the camera's own, at LEVELS."""
    system_px: tuple[float, ...]
    """Blur with lens and camera, at LEVELS."""
    motion_share: float
    """How likely motion is, 0 to 1."""
    direction_deg: float
    """0 along a row, counterclockwise, modulo 180; of motion, if there is any."""


def look(luma: NDArray[np.uint8] | Floats) -> Tiles:
    """Run the trunk over a region.

    Parameters
    ----------
    luma
        0 to 255, shape (rows, columns), gamma-coded as in a JPEG.

    Returns
    -------
    Tiles
        Features, blur and its spread of each whole tile; what is left at the right and below is left away.
    """
    lights = has_lights(luma)
    scaled = np.ascontiguousarray(luma, np.float32)[None, None] * np.float32(1 / 255)
    features, tiles = _trunk(lights)(scaled)
    return Tiles(np.ascontiguousarray(features[0].transpose(1, 2, 0)), tiles[0, 0], tiles[0, 1], lights)


def has_lights(luma: NDArray[np.uint8] | Floats) -> bool:
    """Whether a region holds lights far brighter than the rest of it.

    Parameters
    ----------
    luma
        0 to 255, shape (rows, columns).

    Returns
    -------
    bool
        By every second pixel of every second row.
    """
    some = luma[::2, ::2].ravel()
    middle, high = len(some) // 2, len(some) - 1 - int(len(some) * LIGHTS_SHARE)
    ranked = np.partition(some, (middle, high))
    return bool(float(ranked[high]) - float(ranked[middle]) >= LIGHTS_OVER)


def read(tiles: Tiles, within: NDArray[np.bool_] | None = None, *, iso: float | None = None) -> Told:
    """Read the blur of a set of tiles: that of the sharpest thing that fills more than a little of them.

    Parameters
    ----------
    tiles
        Of a region, as `look` gave them.
    within
        Shape (tile rows, tile columns); None for all.
    iso
        Chooses the calibration; None for that of all frames.

    Returns
    -------
    Told
        Quantiles of both blurs, px, and motion.

    Raises
    ------
    ValueError
        where no tile is chosen.
    """
    seen = tiles.features.reshape(-1, tiles.features.shape[-1])
    if within is not None:
        seen = seen[within.ravel()]
    if not len(seen):
        raise ValueError("within must hold at least one tile")
    raw = _through(_head(tiles.lights), seen)
    count = len(LEVELS)
    shift = _shifts(iso, lights=tiles.lights)
    sigma = np.maximum.accumulate(_quantiles(raw[:count]) + shift["sigma"])
    system = np.maximum.accumulate(_quantiles(raw[count : 2 * count]) + shift["system"])
    motion, cosine, sine = raw[2 * count :]
    return Told(
        sigma_px=tuple(float(value) for value in 2.0**sigma),
        system_px=tuple(float(value) for value in 2.0**system),
        motion_share=float(1 / (1 + np.exp(-motion))),
        direction_deg=float(np.degrees(np.arctan2(sine, cosine)) / 2 % 180),
    )


def read_plain(tiles: Tiles) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What calibration starts from: quantiles before any shift.

    Parameters
    ----------
    tiles
        All of them are read.

    Returns
    -------
    tuple of arrays
        Blur without the camera's own, and system blur, at LEVELS; log2 px.
    """
    raw = _through(_head(tiles.lights), tiles.features.reshape(-1, tiles.features.shape[-1]))
    count = len(LEVELS)
    return _quantiles(raw[:count]), _quantiles(raw[count : 2 * count])


def iso_band(iso: float | None) -> str:
    """Calibration goes by these.

    Parameters
    ----------
    iso
        As set; None where it is not known.

    Returns
    -------
    str
        A key of the calibration: `any`, `low`, `middle`, `high` or `highest`.
    """
    if iso is None or not iso > 0:
        return "any"
    return "low" if iso < 400 else "middle" if iso < 1600 else "high" if iso < 6400 else "highest"


def _through(weights: dict[str, NDArray[Any]], seen: Floats) -> NDArray[np.float64]:
    looks = seen @ weights["look.weight"].T + weights["look.bias"]
    looks = np.exp(looks - looks.max(0))
    looks /= looks.sum(0)
    mean = seen.mean(0)
    spread = np.sqrt(np.square(seen - mean).mean(0) + 1e-6)
    row = np.concatenate([(looks.T @ seen).ravel(), mean, spread])
    inner = np.maximum(weights["first.weight"] @ row + weights["first.bias"], 0)
    inner = inner + np.maximum(weights["second.weight"] @ inner + weights["second.bias"], 0)
    return np.asarray(weights["out.weight"] @ inner + weights["out.bias"], np.float64)


def _quantiles(raw: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ordered quantiles from a middle and steps away from it."""
    half = len(raw) // 2
    steps = np.logaddexp(0, raw)
    below = raw[half] - np.cumsum(steps[:half][::-1])[::-1]
    return np.concatenate([below, raw[half : half + 1], raw[half] + np.cumsum(steps[half + 1 :])])


def trunk_file(lights: bool = False) -> bytes:
    """The trunk as ONNX, for any program that runs it.

    Parameters
    ----------
    lights
        Of the weights for regions with lights.

    Returns
    -------
    bytes
        The file.
    """
    return _file(TRUNK, lights).read_bytes()


def _file(name: str, lights: bool) -> Traversable:
    return resources.files("auditor.focus") / (OF_LIGHTS + name if lights else name)


@cache
def _trunk(lights: bool) -> Callable[[Floats], tuple[Floats, Floats]]:
    import onnxruntime

    stored = trunk_file(lights)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1  # the workers share the cores
    options.log_severity_level = 3
    session = onnxruntime.InferenceSession(stored, options, providers=["CPUExecutionProvider"])

    def by_onnxruntime(luma: Floats) -> tuple[Floats, Floats]:
        features, tiles = session.run(None, {"luma": luma})
        return features, tiles

    return by_onnxruntime


@cache
def _head(lights: bool) -> dict[str, NDArray[Any]]:
    with _file(HEAD, lights).open("rb") as file, np.load(file) as stored:
        return {name: stored[name] for name in stored.files}


@cache
def _calibration(lights: bool) -> dict[str, Any]:
    return dict(json.loads(_file(CALIBRATION, lights).read_text(encoding="utf-8")))


def _shifts(iso: float | None, *, lights: bool) -> dict[str, NDArray[np.float64]]:
    """How far each quantile is moved (log2) so that it holds on scenes that training had not seen."""
    of_band = _calibration(lights)[iso_band(iso)]
    return {name: np.array(of_band[name]) for name in ("sigma", "system")}
