"""Frames of one scene read together: how much more blurred one is than another, from ratios of spectra.

Of one subject under one camera's settings, half the logarithm of the ratio of two spectra is a straight line
over the squared frequency, whose slope is -2 pi^2 times the difference of the squared blurs: what the subject
looks like, what the lens leaves at best and what the camera does cancel. Each frame's own reading then says
where the whole scene lies, and how all of its readings are off together, which no single frame shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.ring_spectrum import PARTS, SECTORS, frequencies

Floats = NDArray[np.float64]

OVER_NOISE = 8.0
"""Rings count where both frames have so many times the noise's power."""
QUIET_FROM = 0.4
"""The noise is taken from the rings beyond this, cycles/px: the least of all frames."""
FINEST = 0.15
"""Cycles/px: beyond, what sharp frames alias, demosaicking and coding make the line bend."""
FALLEN_BY = 0.3
"""The line is followed until the amplitude has fallen by exp(-0.3): beyond, a disc is no Gaussian."""
FEWEST_RINGS = 4
STEEPER = 1.02
"""So much steeper than the truth are slopes, in the median over kinds of blur (benchmarks/scene_blur.py)."""
NOT_SHARED = 0.04
"""What share of a ring's chance two frames do not share: the subject is the same, not its borders."""
RING_SPREAD = 0.03
"""Spread of half the logarithm of a ratio in one ring beyond what counting says: shift, grain, coding."""
LEAST_SPREAD_PX2 = 0.05
"""What noise reduction and coding, which depend on the picture, leave uncertain in any difference."""
RELATIVE_SPREAD = 0.1
"""Spread of a difference as a share of itself."""
SHAPE_SPREAD = 0.35
"""Spread of the logarithm of what all differences of a scene are off by: its blur's shape is not known.

Chosen with BIAS_OF_SPREAD and OWN_SPREAD on bursts that are not scored: 90 % intervals held .94 of them, and
.88 of those scored (benchmarks/scene_blur.py).
"""
LARGEST_OFFSET = 0.12
"""Contrast may differ by exp(0.12) between frames of one subject in one light: in bursts it does by 0.1."""
LARGEST_MISFIT = 1.5
"""Where points lie farther off the line than this many expected spreads, two frames show different things."""
MAY_DISAGREE = 2
"""Of the quarters and the middle, all but two must show the same difference."""
PARTS_APART, LEAST_APART_PX2 = 0.35, 0.1
"""So far apart are parts of one subject anyway: it has depth, and its edges leave one part for the next."""
BIAS_OF_SPREAD = 0.9
"""What the readings of a scene are off by together, in logarithms, spreads by so much of what they say of
themselves: most of their errors come from what the subject looks like, which a burst's frames share."""
LEAST_BIAS, LARGEST_BIAS = 0.12, 0.6
"""That spread is at least and at most so much: no scene is known to be read without any."""
OWN_SPREAD = 0.2
"""Spread of the logarithm of a frame's own reading about that, at least."""
OUTLIERS, OUTLIER_SPREAD = 0.05, 1.0
"""So many readings are of something else (the background, a twig), and say as good as nothing."""
_LEVELS, _SHAPES, _BIASES = (
    values.ravel()
    for values in np.meshgrid(
        np.geomspace(0.1, 16.0, 160),
        SHAPE_SPREAD * np.linspace(-2, 2, 5),
        np.linspace(-2.4, 2.4, 9),
        indexing="ij",
    )
)
"""Blur of the sharpest frame, px, logarithm of a factor to all differences, and bias in units of its spread:
what is looked at."""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Differences of squared blur between pairs of frames, px^2."""

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    difference: Floats
    """Squared blur of the first less that of the second."""
    spread: Floats
    joined: NDArray[np.bool_]
    """Whether both frames show the same subject, as far as spectra tell."""
    misfit: Floats
    """About the line, in expected spreads."""
    offset: Floats
    """Logarithm of the ratio of contrast, blur apart."""


@dataclass(frozen=True, slots=True)
class Joined:
    """A frame's blur by its scene, px: without the camera's own, as in the readings that went in."""

    sigma_px: float
    low_px: float
    high_px: float
    group: int
    """Frames of one group have been read together."""
    rank: int
    """In its group, 0 for the sharpest."""


def compared(spectra: Floats, first: NDArray[Any], second: NDArray[Any]) -> Pairs:
    """Compare pairs of frames.

    Parameters
    ----------
    spectra
        Power of each frame under the same settings, shape (frames, ROWS, rings), as `ring_spectrum` gives it.
    first, second
        Indices of the frames of each pair.

    Returns
    -------
    Pairs
        One entry a pair in each of its arrays, in the order of `first`.
    """
    counts = _ring_weights()
    rows = [_fitted(*_pair(spectra[:, row], first, second), counts / SECTORS) for row in range(SECTORS)]
    slopes, spreads, misfits, told_rows, offsets = (np.stack(values) for values in zip(*rows, strict=True))
    fitted = told_rows.all(axis=0)
    # The mean variance of both axes is the mean over all directions.
    slope, spread = slopes.mean(axis=0), np.sqrt(np.square(spreads).sum(axis=0)) / SECTORS
    misfit, offset = np.sqrt(np.square(misfits).mean(axis=0)), offsets.mean(axis=0)
    agree = np.zeros(len(first), int)
    for part in range(SECTORS, SECTORS + PARTS):
        part_slope, part_spread, _, part_told, _ = _fitted(
            *_pair(spectra[:, part], first, second), counts / PARTS
        )
        limit = 2 * np.hypot(part_spread, spread) + PARTS_APART * np.abs(slope) + LEAST_APART_PX2
        agree += ~part_told | (np.abs(part_slope - slope) <= limit)
    joined = fitted & (misfit <= LARGEST_MISFIT) & (np.abs(offset) <= LARGEST_OFFSET)
    joined &= agree >= PARTS - MAY_DISAGREE
    return Pairs(
        np.asarray(first, np.intp),
        np.asarray(second, np.intp),
        slope / STEEPER,
        np.sqrt((spread**2 + (RELATIVE_SPREAD * slope) ** 2) / STEEPER**2 + LEAST_SPREAD_PX2**2),
        joined,
        misfit,
        offset,
    )


def together(pairs: Pairs, readings_px: Floats, spreads: Floats) -> list[Joined | None]:
    """Blur of each frame from the differences and from all readings of its group.

    Parameters
    ----------
    pairs
        From `compared`; frames that no joined pair links with another are left alone.
    readings_px
        Each frame's own reading, sigma in px; NaN where there is none that counts.
    spreads
        Spread of its logarithm.

    Returns
    -------
    One for each frame; None where it is alone, or nothing in its group was read.
    """
    blurs: list[Joined | None] = [None] * len(readings_px)
    for number, members in enumerate(_groups(pairs, len(readings_px))):
        for member, blur in _group(number, members, pairs, readings_px, spreads):
            blurs[member] = blur
    return blurs


def _pair(power: Floats, first: NDArray[Any], second: NDArray[Any]) -> tuple[Floats, Floats, float]:
    """Spectra of both frames of each pair, and the noise in all."""
    floor = float(power[:, frequencies() > QUIET_FROM].mean(axis=1).min()) if len(power) else 0.0
    return power[first], power[second], floor


def _ring_weights() -> Floats:
    """How many independent figures a ring holds, about: the window makes neighbours alike."""
    edges = frequencies()
    width = np.gradient(edges)
    return np.asarray(math.pi * edges * width * 256**2 / 2 * PARTS / 2)


def _fitted(
    one: Floats, other: Floats, floor: float, counts: Floats
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_], Floats]:
    """Lines through half the logarithm of the ratio, over -2 pi^2 f^2: one a row.

    Returns slope and its spread (px^2), misfit (1 is as expected), whether rings were enough, and offset.
    """
    x = -2 * math.pi**2 * frequencies() ** 2
    usable = (one > OVER_NOISE * floor) & (other > OVER_NOISE * floor) & (frequencies() <= FINEST)
    usable = np.logical_and.accumulate(usable, axis=1)  # from the lowest up, without a gap
    clean = np.maximum(one - floor, 1e-12), np.maximum(other - floor, 1e-12)
    y = 0.5 * np.log(clean[0] / clean[1])
    weight = 1 / (RING_SPREAD**2 + NOT_SHARED * 0.5 / counts)
    w = usable * weight
    # All lines from the first ring to the k-th at once, by running sums.
    s, sx, sy = (np.cumsum(values, axis=1) for values in (w, w * x, w * y))
    sxx, sxy, syy = (np.cumsum(values, axis=1) for values in (w * x * x, w * x * y, w * y * y))
    within = s * sxx - sx**2
    safe = np.where(within > 0, within, 1.0)
    slopes = np.where(within > 0, (s * sxy - sx * sy) / safe, 0.0)
    rings = np.cumsum(usable, axis=1)
    fallen = np.abs(slopes * x)
    fits = usable & (rings >= FEWEST_RINGS)
    fits &= (fallen <= FALLEN_BY) | (rings == FEWEST_RINGS)
    last = np.where(fits.any(axis=1), fits.shape[1] - 1 - np.argmax(fits[:, ::-1], axis=1), 0)
    # The first stop counts: beyond it a line could come back under the limit by chance.
    stopped = usable & (rings >= FEWEST_RINGS) & ~fits
    first_stop = np.where(stopped.any(axis=1), np.argmax(stopped, axis=1) - 1, fits.shape[1] - 1)
    last = np.minimum(last, np.maximum(first_stop, 0))
    rows = np.arange(len(one))
    fitted = fits[rows, last]
    slope = slopes[rows, last]
    total = np.maximum(s[rows, last], 1e-12)
    offset = (sy[rows, last] - slope * sx[rows, last]) / total
    spread = np.sqrt(total / np.where(within[rows, last] > 0, within[rows, last], np.inf))
    rest = syy[rows, last] - offset * sy[rows, last] - slope * sxy[rows, last]
    misfit = np.sqrt(np.maximum(rest, 0) / np.maximum(rings[rows, last] - 2, 1))
    spread = np.where(fitted, spread * np.maximum(misfit, 1), np.inf)
    return slope, spread, misfit, fitted, offset


def _groups(pairs: Pairs, frames: int) -> list[list[int]]:
    """Frames that joined pairs link, each group in order; those alone are left away."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    linked = pairs.joined
    links = coo_array((np.ones(linked.sum()), (pairs.first[linked], pairs.second[linked])), (frames, frames))
    _, label = connected_components(links, directed=False)
    groups: dict[int, list[int]] = {}
    for frame, name in enumerate(label):
        groups.setdefault(int(name), []).append(frame)
    return [members for members in groups.values() if len(members) > 1]


def _group(
    number: int, members: list[int], pairs: Pairs, readings_px: Floats, spreads: Floats
) -> list[tuple[int, Joined]]:
    above, spread = _above_sharpest(members, pairs)
    read = np.isfinite(readings_px[members]) & (readings_px[members] > 0)
    if not read.any():
        return []
    blurs = np.sqrt(_LEVELS[:, None] ** 2 + np.exp(_SHAPES)[:, None] * above[None])
    own_spread = spreads[members][read]
    weight = _weights(
        blurs[:, read],
        spread[read],
        readings_px[members][read],
        np.maximum(own_spread, OWN_SPREAD),
        float(np.clip(BIAS_OF_SPREAD * np.median(own_spread), LEAST_BIAS, LARGEST_BIAS)),
    )
    ranks = np.argsort(np.argsort(above, kind="stable"), kind="stable")
    members_read = []
    for place, member in enumerate(members):
        low, middle, high = _quantiles(blurs[:, place], weight)
        by_difference = 1.645 * spread[place] / (2 * middle**2)
        low = middle * math.exp(-math.hypot(math.log(middle / low), by_difference))
        high = middle * math.exp(math.hypot(math.log(high / middle), by_difference))
        members_read.append((member, Joined(middle, low, high, number, int(ranks[place]))))
    return members_read


def _quantiles(values: Floats, weight: Floats) -> tuple[float, float, float]:
    """5, 50 and 95 of 100."""
    order = np.argsort(values)
    running = np.cumsum(weight[order]) - weight[order] / 2
    low, middle, high = (float(np.interp(share, running, values[order])) for share in (0.05, 0.5, 0.95))
    return low, middle, high


def _above_sharpest(members: list[int], pairs: Pairs) -> tuple[Floats, Floats]:
    """Squared blur of each member beyond the sharpest's, and its spread: least squares over joined pairs."""
    place = {member: number for number, member in enumerate(members)}
    chosen = [k for k in np.flatnonzero(pairs.joined) if int(pairs.first[k]) in place]
    rows = np.zeros((len(chosen) + 1, len(members)))
    target = np.zeros(len(chosen) + 1)
    for row, k in enumerate(chosen):
        weight = 1 / max(float(pairs.spread[k]), 1e-6)
        rows[row, place[int(pairs.first[k])]] = weight
        rows[row, place[int(pairs.second[k])]] = -weight
        target[row] = weight * pairs.difference[k]
    rows[-1] = 1  # differences alone leave the level open
    inverse = np.linalg.pinv(rows.T @ rows)
    squares = inverse @ rows.T @ target
    sharpest = int(np.argmin(squares))
    variance = np.diag(inverse) + inverse[sharpest, sharpest] - 2 * inverse[:, sharpest]
    return squares - squares[sharpest], np.sqrt(np.maximum(variance, 0))


def _weights(
    expected: Floats, spread: Floats, readings_px: Floats, own_spread: Floats, bias_spread: float
) -> Floats:
    """How likely each level, shape and bias is, by all readings; sums to 1.

    Parameters
    ----------
    expected
        Blur of each frame at each level, shape and bias, px.
    spread
        Of the squared blur beyond the sharpest's, px^2.
    bias_spread
        Of what all readings are off by, in logarithms.
    """
    biases = bias_spread * _BIASES
    spread_log = np.sqrt(own_spread[None] ** 2 + (spread[None] / (2 * expected**2)) ** 2)
    rest = np.log(readings_px)[None] - np.log(expected)
    near = (1 - OUTLIERS) * np.exp(-0.5 * ((rest - biases[:, None]) / spread_log) ** 2) / spread_log
    far = OUTLIERS * np.exp(-0.5 * (rest / OUTLIER_SPREAD) ** 2) / OUTLIER_SPREAD
    logged = np.log(near + far + 1e-30).sum(axis=1)
    logged -= 0.5 * (_SHAPES / SHAPE_SPREAD) ** 2 + 0.5 * _BIASES**2
    weight = np.exp(logged - logged.max())
    return np.asarray(weight / weight.sum())
