"""Where the subject is: what stands out in the map of tiles, and whether the focus area touches it.

A sharp animal before a blurred background is a patch of sharper tiles; so is a soft one before one that is
more blurred. A focus area on the wing's edge, or much larger than the animal, touches that patch all the
same. An area that touches none of it says nothing of the animal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from auditor.focus.network import Tiles

Mask = NDArray[np.bool_]
APART = 0.5
"""Mean logarithms (base 2) of the blur of two layers differ by at least this: 1.4 times as blurred."""
SURE = 2.0
"""A tile is surely soft whose blur lies over the limit by so many times what it may be off by."""
FEWEST_TILES = 3
MARGIN_TILES = 2
THIN_TILES = 2.5
"""What is nowhere farther than this from its border is thin: under 5 tiles wide, 3 of which a twig fills."""
LONG = 4.0
"""And it is long where it holds as many tiles as so many squares of its width."""

How = Literal["all", "touched", "thin", "joined", "beside", "enclosed"]


@dataclass(frozen=True, slots=True)
class Subject:
    """What the focus area is likely about."""

    how: How
    """`all`: nothing stands out. `touched`: the area touches what does. `thin`: what it touches is thin, and
    before something surely soft. `joined`: the area is surely soft, and goes over into what stands out.
    `beside`: it touches nothing that stands out. `enclosed`: nor that, and what stands out is all around."""
    tiles: Mask
    """What stands out: touched, else all of it."""
    rest: Mask
    """What else lies in the area."""


def find(tiles: Tiles, area: Mask, limit_px: float) -> Subject:
    """Find what stands out, and whether the focus area touches it.

    Parameters
    ----------
    tiles
        Of the region around the focus area.
    area
        The tiles that the focus area covers, shape (tile rows, tile columns).
    limit_px
        The blur that counts as soft.

    Returns
    -------
    Subject
        The tiles that stand out, and how the area meets them.
    """
    sure = surely_soft(tiles, limit_px)
    sharper = layer(tiles.log2_sigma)
    if sharper is None or not _patches(sharper).any():  # single sharper tiles here and there are no animal
        return Subject("all", np.ones_like(area), area)
    near = _grown(_with_untold(area, ~sharper & ~sure))
    touched = _patches(sharper, near)
    if not touched.any():
        how: How = "enclosed" if enclosed(~sharper, area) else "beside"
        return Subject(how, _patches(sharper), area)
    if is_thin(touched):
        rest = area & ~_grown(touched)
        if rest.any() and sure[rest].mean() > 0.5:
            return Subject("thin", touched, rest)
        return Subject("touched", touched, area & ~touched)
    inner = layer(tiles.log2_sigma, touched)
    if inner is not None and (area & touched).any():
        softer = touched & ~inner
        if is_thin(inner) and _share(sure, softer & ~_grown(inner)) > 0.5:
            return Subject("touched", softer & ~_grown(inner), area)
        if _share(sure, area & touched) > 0.75 and not _grown(inner)[area].any():
            return Subject("joined", inner, area & touched)
    return Subject("touched", touched, area & ~touched)


def area_tiles(shape: tuple[int, int], top: float, bottom: float, left: float, right: float) -> Mask:
    """The tiles that an area covers, at least one.

    Parameters
    ----------
    shape
        Rows and columns of tiles.
    top, bottom, left, right
        In tiles, from the region's first row and column.

    Returns
    -------
    Mask
        Shape `shape`.
    """
    rows, columns = _covered(shape[0], top, bottom), _covered(shape[1], left, right)
    return np.asarray(rows[:, None] & columns[None])


def around(mask: Mask) -> Mask:
    """The rectangle around some tiles, and two more to each side: what the network was trained to read.

    Parameters
    ----------
    mask
        At least one tile, shape (tile rows, tile columns).

    Returns
    -------
    Mask
        Shape of `mask`.
    """
    box = np.zeros_like(mask)
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    top, left = (max(0, int(places[0]) - MARGIN_TILES) for places in (rows, columns))
    box[top : rows[-1] + MARGIN_TILES + 1, left : columns[-1] + MARGIN_TILES + 1] = True
    return box


def surely_soft(tiles: Tiles, limit_px: float) -> Mask:
    """Tiles whose own reading leaves hardly a doubt that they are more blurred than a limit, px.

    Parameters
    ----------
    tiles
        Of a region.
    limit_px
        The blur that counts as soft.

    Returns
    -------
    Mask
        Shape (tile rows, tile columns).
    """
    off = np.exp(tiles.log_spread)
    return np.asarray((tiles.log2_sigma - np.log2(limit_px)) / off > SURE)


def layer(log2_sigma: NDArray[Any], within: Mask | None = None) -> Mask | None:
    """The sharper of two layers; None where all is about as blurred.

    The border between them is the one that leaves the least variance within both (Otsu, A threshold selection
    method from gray-level histograms, IEEE Transactions on Systems, Man, and Cybernetics 9, 1979; R).

    Parameters
    ----------
    log2_sigma
        Blur of each tile, log2 px, shape (tile rows, tile columns).
    within
        Tiles that count; None for all.

    Returns
    -------
    Mask or None
        Shape of `log2_sigma`; None too for fewer than two times FEWEST_TILES.
    """
    values = np.sort((log2_sigma if within is None else log2_sigma[within]).ravel()).astype(np.float64)
    count = len(values)
    if count < 2 * FEWEST_TILES:
        return None
    below = np.arange(1, count)
    sums = np.cumsum(values)
    sharp, soft = sums[:-1] / below, (sums[-1] - sums[:-1]) / (count - below)
    place = int(np.argmax(below * (count - below) * (soft - sharp) ** 2))
    if soft[place] - sharp[place] < APART:
        return None
    sharper = log2_sigma <= values[place]
    return np.asarray(sharper if within is None else sharper & within)


def enclosed(soft: Mask, area: Mask) -> bool:
    """Whether what stands out is all around the focus area.

    Parameters
    ----------
    soft
        Tiles that do not stand out, shape (tile rows, tile columns).
    area
        The tiles that the focus area covers.

    Returns
    -------
    bool
        True where the part of `soft` that the area is on fills less than half of the region's border.
    """
    patch = _patches_met(soft, area)
    border = np.ones_like(patch)
    border[1:-1, 1:-1] = False
    return bool(patch[border].mean() < 0.5)


def is_thin(mask: Mask) -> bool:
    """Whether something is long and nowhere wide, as a twig is.

    Parameters
    ----------
    mask
        Shape (tile rows, tile columns).

    Returns
    -------
    bool
        False for what is small all round.
    """
    from scipy.ndimage import distance_transform_edt

    depth = float(distance_transform_edt(np.pad(mask, 1)).max())
    return depth < THIN_TILES and float(mask.sum()) > LONG * (2 * depth - 1) ** 2


def _covered(length: int, first: float, last: float) -> Mask:
    middle = min(max((first + last) / 2, 0.5), length - 0.5)
    places = np.arange(length) + 0.5
    return np.asarray(((places >= first) & (places <= last)) | (np.abs(places - middle) <= 0.5))


def _grown(mask: Mask) -> Mask:
    """With the tiles around it."""
    padded = np.pad(mask, 1)
    across = padded[:, :-2] | padded[:, 1:-1] | padded[:, 2:]
    return np.asarray(across[:-2] | across[1:-1] | across[2:])


def _labels(mask: Mask) -> NDArray[Any]:
    from scipy.ndimage import label

    return np.asarray(label(mask, np.ones((3, 3)))[0])


def _patches(mask: Mask, near: Mask | None = None) -> Mask:
    """The connected patches of more than a few tiles; where `near` is given, those that it meets."""
    labels = _labels(mask)
    sizes = np.bincount(labels.ravel())
    kept = sizes >= FEWEST_TILES
    if near is not None:
        kept &= np.bincount(labels[near].ravel(), minlength=len(sizes)) > 0
    kept[0] = False
    return np.asarray(kept[labels])


def _with_untold(area: Mask, untold: Mask) -> Mask:
    """The area with the plain tiles around it, which do not tell what they belong to."""
    return area | _patches_met(untold, area)


def _patches_met(mask: Mask, near: Mask) -> Mask:
    labels = _labels(mask)
    kept = np.bincount(labels[near].ravel(), minlength=int(labels.max()) + 1) > 0
    kept[0] = False
    return np.asarray(kept[labels])


def _share(mask: Mask, within: Mask) -> float:
    return float(mask[within].mean()) if within.any() else 0.0
