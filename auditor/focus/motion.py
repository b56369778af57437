"""Motion against defocus: motion blurs edges across its direction and leaves those along it."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np

from auditor.focus.edges import Edges, variance_px2

BINS = 12
LEAST_EDGES_A_BIN = 6


@dataclass(frozen=True, slots=True)
class Motion:
    """How blur depends on direction: sigma^2(angle) = a + b cos 2 angle + c sin 2 angle."""

    strength: float
    """hypot(b, c) / a: 0 for blur alike in all directions, near 1 for motion alone."""
    direction_deg: float
    """Of the motion, against the rows, upwards positive: 0 along a row, 90 along a column; modulo 180."""
    sigma_px: float
    """Blur averaged over directions, whatever directions most edges have."""
    along_px: float
    """Blur along the direction of most blur."""


def motion(edges: Edges) -> Motion | None:
    """The fit over directions; None where too few directions have edges."""
    which = np.minimum((edges.angle_rad / np.pi * BINS).astype(np.int64), BINS - 1)
    weight = 1 / np.maximum(edges.coarse.astype(np.float64), 1e-6)
    count = np.bincount(which, minlength=BINS)
    fine = np.bincount(which, edges.fine * weight, minlength=BINS)
    middle = np.bincount(which, edges.middle * weight, minlength=BINS)
    variance = np.clip(variance_px2(fine, middle), 0.0, 64.0)
    usable = (count >= LEAST_EDGES_A_BIN) & np.isfinite(variance)
    if usable.sum() < 6:
        return None
    angle = (np.flatnonzero(usable) + 0.5) * np.pi / BINS
    design = np.column_stack([np.ones_like(angle), np.cos(2 * angle), np.sin(2 * angle)])
    root = np.sqrt(np.minimum(count[usable], 200))
    (level, cosine, sine), *_ = np.linalg.lstsq(design * root[:, None], variance[usable] * root, rcond=None)
    if level <= 0:
        return None
    turns = hypot(cosine, sine)
    # Rows run downwards: an angle of the array turns the other way from one of the picture.
    return Motion(
        strength=turns / level,
        direction_deg=-degrees(atan2(sine, cosine)) / 2 % 180,
        sigma_px=float(level**0.5),
        along_px=float((level + turns) ** 0.5),
    )
